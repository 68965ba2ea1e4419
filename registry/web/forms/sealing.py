"""The forms of the sealing table."""

from collections.abc import Iterator
from typing import Any

from django import forms

from registry.rules.keeping_parts import Asked
from registry.usecases.sealing import AskedQuestion, SealingPage

YES_OR_NO = (("yes", "yes"), ("no", "no"))
PAPERS = (
    ("", "choose"),
    ("thermal", "thermal paper"),
    ("plain", "plain paper, ink or toner"),
    ("unknown", "not known"),
)
LONGEST = 400
WORD_OF_CAUTION = {
    "storing-units": "Mind the cautions on storing units.",
    "sealing": "Mind the cautions on sealing: wax and flame near paper.",
    "lifting": "Mind the cautions on lifting.",
}


class BeginSealingForm(forms.Form):
    """Which station comes to the table."""

    scanned = forms.CharField(
        label="Tag or serial of the unit, or number of the station",
        max_length=80,
        widget=forms.TextInput(
            attrs={"autocomplete": "off", "data-scan": True, "autofocus": True}
        ),
        error_messages={
            "required": "Scan the unit’s tag, or type the station’s number."
        },
    )
    contest = forms.ChoiceField(
        label="Constituency being sealed",
        required=False,
        help_text="A station’s number needs it; a serial does not.",
    )
    room = forms.ChoiceField(label="Table of the strong room")
    intake = forms.ChoiceField(
        label="On the receipt of intake",
        required=False,
        help_text="What is sealed then stands on the receipt of that intake.",
    )

    def __init__(
        self,
        *args: Any,
        contests: Any,
        rooms: Any,
        intakes: Any,
        chosen: dict[str, str],
        **more: Any,
    ) -> None:
        super().__init__(*args, **more, initial=chosen)  # type: ignore[misc]
        self.fields["contest"].choices = [("", "any"), *contests]  # type: ignore[attr-defined]
        self.fields["room"].choices = list(rooms)  # type: ignore[attr-defined]
        self.fields["intake"].choices = [("", "none"), *intakes]  # type: ignore[attr-defined]
        asked = chosen.get("intake", "")
        if asked and asked not in dict(intakes):  # an older one, followed from its page
            self.fields["intake"].choices.append((asked, asked))  # type: ignore[attr-defined]


class LeaveOffForm(forms.Form):
    """Why a station leaves the table unsealed."""

    because = forms.CharField(
        label="Why it is not sealed now",
        max_length=LONGEST,
        error_messages={"required": "Say why this station is not sealed now."},
    )


class SealingForm(forms.Form):
    """Every question of one station; the answers are judged where they are kept."""

    def __init__(self, *args: Any, page: SealingPage, **more: Any) -> None:
        super().__init__(*args, **more)
        self.page = page
        for section in page.sections:
            for asked in section.questions:
                self.fields[asked.field] = _field(asked, page.carried)
            if section.absent_field:
                self.fields[section.absent_field] = forms.CharField(
                    label=f"{section.title} is not on the table, because",
                    required=False,
                    max_length=LONGEST,
                    initial=section.absent,
                    help_text="Its questions fall away; a discrepancy is opened.",
                    widget=forms.TextInput(attrs={"autocomplete": "off"}),
                )
        self._give_focus()

    def _give_focus(self) -> None:
        """Begin where nothing was answered yet, this person's or another's."""
        for section in self.page.sections:
            for asked in section.questions:
                if not asked.answer and asked.field not in self.page.carried:
                    self.fields[asked.field].widget.attrs["autofocus"] = True
                    return

    def sections(self) -> Iterator[dict[str, Any]]:
        """Yield each section, its questions with their fields, and its absence."""
        for section in self.page.sections:
            yield {
                "section": section,
                "questions": [(self[q.field], q) for q in section.questions],
                "absent": self[section.absent_field] if section.absent_field else None,
            }

    def answers(self) -> dict[str, str]:
        """Return what was typed, by field; a field the page did not send is not in it.

        A group of radio buttons of which none is pressed is not sent. What the form
        would not take is sent on as well: the use case says what is wrong with it.
        """
        return {n: str(self.data[n]) for n in self.fields if n in self.data}


def _field(asked: AskedQuestion, carried: dict[str, str]) -> forms.Field:
    step = asked.step
    attrs: dict[str, Any] = {"autocomplete": "off"}
    if asked.field in carried:
        attrs["data-carried"] = True
    if step.required:
        attrs["data-required"] = True
    more: dict[str, Any] = {
        "label": step.title,
        "help_text": " ".join(
            words for words in (step.help, WORD_OF_CAUTION.get(step.caution)) if words
        ),
        "required": False,
        "initial": carried.get(asked.field, asked.answer),
    }
    if step.asked is Asked.TICK:
        widget = forms.RadioSelect(attrs=attrs)
        return forms.ChoiceField(choices=YES_OR_NO, widget=widget, **more)
    if step.asked is Asked.PAPER:
        select = forms.Select(attrs=attrs)
        return forms.ChoiceField(choices=PAPERS, widget=select, **more)
    if step.asked is Asked.COUNT:
        attrs["inputmode"] = "numeric"
    if step.asked is Asked.SCAN:
        attrs["data-scan"] = True
    text = forms.TextInput(attrs=attrs)
    return forms.CharField(max_length=LONGEST, widget=text, **more)
