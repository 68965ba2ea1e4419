"""Forms about incidents: what went wrong, what it touches, the follow-up."""

from collections.abc import Iterable
from typing import Any

from django import forms

from registry.usecases.incident_looks import KINDS
from registry.usecases.incidents import Touched
from registry.web.forms.days import DayField
from registry.web.forms.moments import MomentField
from registry.web.forms.scans import ScanField

SHOW = (("open", "open"), ("closed", "closed"), ("all", "open and closed"))


class IncidentFilter(forms.Form):
    """What the list of incidents is narrowed to."""

    show = forms.ChoiceField(label="Show", required=False, choices=SHOW)


class TouchedField(forms.CharField):
    """Containers, one to a line, each with the state it was found in."""

    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault("label", "Which containers it touches")
        kwargs.setdefault(
            "help_text",
            "One to a line: scan or type the number, then the state in which it was "
            "found, such as BX-000123-K wet at the lower edge.",
        )
        kwargs.setdefault(
            "widget", forms.Textarea(attrs={"rows": 4, "autocomplete": "off"})
        )
        super().__init__(**kwargs)

    def clean(self, value: Any) -> tuple[Touched, ...]:
        """Return what each line names."""
        lines = (line.strip() for line in super().clean(value).splitlines())
        parts = [line.partition(" ") for line in lines if line]
        return tuple(Touched(number, state.strip(" ,;:")) for number, _, state in parts)


class ReportIncidentForm(forms.Form):
    """What went wrong, and what it touches."""

    kind = forms.ChoiceField(
        label="What went wrong",
        choices=(("", "choose what went wrong"), *KINDS),
        error_messages={"required": "Say what went wrong."},
    )
    what = forms.CharField(
        label="What was found, where, and in which state",
        max_length=4000,
        widget=forms.Textarea(attrs={"rows": 4}),
        help_text="What you saw, not what you suppose. Where the pieces of a broken "
        "seal are kept. No telephone numbers and no addresses of visitors.",
        error_messages={"required": "Say what was found, where, in which state."},
    )
    room = forms.ChoiceField(
        label="In which room",
        error_messages={"required": "Choose the room."},
    )
    containers = TouchedField(required=False)
    whole_room = forms.BooleanField(
        label="It touches every container of the room",
        required=False,
        help_text="Those there now stay held wherever they are taken.",
    )
    noticed_at = MomentField(label="When it was noticed")
    noticed_by = forms.CharField(
        label="Who noticed it (name and post)",
        max_length=160,
        error_messages={"required": "Name the person who noticed it."},
    )
    occurred_at = MomentField(
        label="When it happened", required=False, help_text="Where that is known."
    )
    owner = forms.ChoiceField(
        label="Who follows it up", required=False, help_text="You, unless you choose."
    )
    due_on = DayField(label="By which day", required=False)

    def __init__(
        self,
        *args: Any,
        rooms: Iterable[tuple[str, str]],
        owners: Iterable[tuple[str, str]],
        **more: Any,
    ) -> None:
        super().__init__(*args, **more)
        self.fields["room"].choices = tuple(rooms)  # type: ignore[attr-defined]
        self.fields["owner"].choices = (("", "you"), *owners)  # type: ignore[attr-defined]


class AddContainersForm(forms.Form):
    """Further containers that an incident touches."""

    containers = TouchedField(
        error_messages={"required": "Name the containers that it touches as well."}
    )


class StepForm(forms.Form):
    """One step of the follow-up."""

    act = forms.ChoiceField(
        label="Step", error_messages={"required": "Choose which step was taken."}
    )
    text = forms.CharField(
        label="What was done, and by whom",
        max_length=400,
        widget=forms.Textarea(attrs={"rows": 3}),
        error_messages={"required": "Say what was done, by whom."},
    )
    reference = forms.CharField(
        label="Number and date of the paper",
        required=False,
        max_length=200,
        help_text="A direction needs it.",
    )
    occurred_on = DayField(label="On which day")
    document = ScanField()

    def __init__(
        self, *args: Any, steps: Iterable[tuple[str, str]], **more: Any
    ) -> None:
        super().__init__(*args, **more)
        self.fields["act"].choices = (("", "choose the step"), *steps)  # type: ignore[attr-defined]


class CloseIncidentForm(forms.Form):
    """Why an incident can be closed."""

    because = forms.CharField(
        label="Why it can be closed, and on whose word",
        max_length=400,
        widget=forms.Textarea(attrs={"rows": 3}),
        error_messages={"required": "Say why it can be closed, and on whose word."},
    )
