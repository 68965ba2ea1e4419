"""Forms about numbered paper forms."""

from collections.abc import Iterable
from typing import Any

from django import forms

from registry.usecases.paper_forms import KINDS, MOST, STATES
from registry.web.forms.scans import ScanField

ANY = ("", "any")
# What stands on a form of moves or of seals, and the act page that enters it.
LINES = {
    "moves": (
        ("put-in", "put into a box"),
        ("shelve", "put on a shelf"),
        ("hand-over", "handed over"),
        ("not-found", "not found"),
        ("found", "found"),
    ),
    "seals": (("check-seal", "seal looked at"),),
}


class PaperFormFilter(forms.Form):
    """What the list is narrowed to."""

    room = forms.ChoiceField(label="Strong room", required=False)
    kind = forms.ChoiceField(label="Kind", required=False, choices=(ANY, *KINDS))
    state = forms.ChoiceField(label="State", required=False, choices=(ANY, *STATES))
    after = forms.IntegerField(required=False, min_value=0, widget=forms.HiddenInput)

    def offer(self, rooms: Iterable[tuple[str, str]]) -> None:
        """Offer the rooms in scope."""
        self.fields["room"].choices = (ANY, *rooms)  # type: ignore[attr-defined]


class IssueForm(forms.Form):
    """How many forms of which kind are wanted for which room."""

    room = forms.ChoiceField(
        label="Strong room",
        error_messages={"required": "Choose the strong room they are for."},
    )
    kind = forms.ChoiceField(
        label="What they take down",
        choices=KINDS,
        error_messages={"required": "Say what the forms are for."},
    )
    count = forms.IntegerField(
        label="How many",
        min_value=1,
        max_value=MOST,
        initial=10,
        help_text="Each number is accounted for afterwards: print what one night may "
        "need, not more.",
        error_messages={
            "required": "Say how many.",
            "invalid": "Write a whole number, such as 10.",
        },
    )

    def __init__(
        self, *args: Any, rooms: Iterable[tuple[str, str]], **more: Any
    ) -> None:
        super().__init__(*args, **more)
        self.fields["room"].choices = list(rooms)  # type: ignore[attr-defined]


class NextLineForm(forms.Form):
    """The next line of a form: which container, and what was done with it."""

    container = forms.CharField(
        label="Container on the next line",
        max_length=20,
        widget=forms.TextInput(
            attrs={"data-scan": True, "autocomplete": "off", "autofocus": True}
        ),
        error_messages={"required": "Write the container's number as on the form."},
    )
    done = forms.ChoiceField(label="What was done with it")

    def __init__(self, *args: Any, kind: str, **more: Any) -> None:
        super().__init__(*args, **more)
        self.fields["done"].choices = LINES.get(kind, ())  # type: ignore[attr-defined]


class EnteredForm(forms.Form):
    """That everything on a form is entered."""

    document = ScanField(label="Scan of the form")
    note = forms.CharField(label="Note", max_length=300, required=False)


class EndedForm(forms.Form):
    """What became of a form that was not used, or cannot be found."""

    note = forms.CharField(
        label="What happened, and where the sheet is",
        max_length=300,
        error_messages={"required": "Say what happened."},
    )
