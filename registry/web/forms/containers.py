"""Forms of the acts on one box or envelope."""

from collections.abc import Iterable
from typing import Any

from django import forms

from registry.rules.arrivals import SealEntry, SealKind
from registry.rules.keeping_parts import Asked, SealingStep
from registry.web.forms.days import DayField
from registry.web.forms.intake import weight_field
from registry.web.forms.seals import add_seal_fields, said_of_seals, seal_entries

# What a person sees of a seal, in the trade's words (common practice, no published
# source). Whether its number is the recorded one is the register's to say.
FINDINGS = (
    ("", "say how it was found"),
    ("intact-matches", "intact, number read"),
    ("intact-illegible", "intact, number illegible"),
    ("damaged", "damaged, not open"),
    ("open", "open or broken"),
    ("absent", "absent"),
)
SEALS_OF_A_BOX = 4
YES_OR_NO = (("", "say yes or no"), ("yes", "yes"), ("no", "no"))


def _text(label: str, ask: str, **more: Any) -> forms.CharField:
    return forms.CharField(
        label=label,
        max_length=more.pop("max_length", 300),
        error_messages={"required": ask},
        **more,
    )


def _scan(label: str, ask: str, **more: Any) -> forms.CharField:
    widget = forms.TextInput(
        attrs={"data-scan": True, "autocomplete": "off", **more.pop("attrs", {})}
    )
    return _text(
        label, ask, max_length=more.pop("max_length", 60), widget=widget, **more
    )


class AsSeen(forms.Form):
    """An act on a container as its page showed it: another may move it meanwhile."""

    as_seen = forms.CharField(
        required=False, max_length=16, widget=forms.HiddenInput, empty_value=""
    )


class PutIntoBoxForm(AsSeen):
    """The box into which an envelope goes."""

    box = _scan("Into box", "Scan the box.", attrs={"autofocus": True})


class CloseBoxForm(AsSeen):
    """The seals of a box that is closed, and what is written on it."""

    sealed_on = DayField(
        label="Sealed on",
        error_messages={"required": "Say on which day it was sealed."},
    )
    written_stations = forms.CharField(
        label="Stations written on the box",
        required=False,
        max_length=400,
        help_text="As they stand on its label, such as 1-12, 14, 15A. They are "
        "compared with the envelopes that lie in it.",
    )

    def __init__(
        self, *args: Any, checks: Iterable[tuple[str, SealingStep]] = (), **more: Any
    ) -> None:
        super().__init__(*args, **more)
        self.steps = tuple(checks)
        for name, step in self.steps:
            self.fields[name] = _check(step)
        add_seal_fields(self, SEALS_OF_A_BOX, scanned=SEALS_OF_A_BOX)
        self.fields["gross_weight_kg"] = weight_field()
        self.fields["empty"] = forms.BooleanField(
            label="The box is empty, and is closed all the same", required=False
        )
        self.fields["seal_number_1"].widget.attrs["autofocus"] = True

    def scanned(self) -> list[forms.BoundField]:
        """The numbers of the seals."""
        return [f for f in self if f.name.startswith("seal_number")]

    def about_seals(self) -> list[forms.BoundField]:
        """What is said of the first seal beside its number."""
        return said_of_seals(self, [1])

    def about_further_seals(self) -> list[forms.BoundField]:
        """What is said of the others, where they differ from the first."""
        return said_of_seals(self, range(2, SEALS_OF_A_BOX + 1))

    def checklist(self) -> list[forms.BoundField]:
        """What the checklist asks beside the seals and the weight."""
        return [self[name] for name, _ in self.steps]

    def checks(self) -> dict[str, str]:
        """Return what was answered, by the step's short name."""
        return {step.name: self.cleaned_data[name] for name, step in self.steps}

    def rest(self) -> list[forms.BoundField]:
        """The day, the stations, the weight, and whether anything lies in it."""
        names = ("sealed_on", "written_stations", "gross_weight_kg", "empty")
        return [self[name] for name in names]

    def clean(self) -> dict[str, Any]:
        """Ask for at least one seal."""
        cleaned = super().clean() or {}
        if not seal_entries(cleaned, SEALS_OF_A_BOX, SealKind.PAPER):
            self.add_error("seal_number_1", "Scan the seal that was put on the box.")
        return cleaned

    def seals(self) -> tuple[SealEntry, ...]:
        """Return the seals that were entered."""
        return seal_entries(self.cleaned_data, SEALS_OF_A_BOX, SealKind.PAPER)


def _check(step: SealingStep) -> forms.Field:
    """Return the field of one step; whether it is answered is judged by the act."""
    more: dict[str, Any] = {
        "label": step.title,
        "help_text": step.help,
        "required": False,
    }
    if step.asked is Asked.TICK:
        return forms.ChoiceField(choices=YES_OR_NO, **more)
    attrs: dict[str, Any] = {"autocomplete": "off"}
    if step.asked is Asked.COUNT:
        attrs["inputmode"] = "numeric"
    widget = forms.TextInput(attrs=attrs)
    return forms.CharField(max_length=200, widget=widget, **more)


class ShelveForm(AsSeen):
    """The shelf on which a box stands from now on: scanned, or one that was offered.

    The page posts back which shelves it offered, so that 2 means what stood second
    when it was read, whatever would be suggested now.
    """

    shelf = _scan(
        "Shelf",
        "Scan the shelf, or type 1, 2 or 3 for one that is suggested.",
        attrs={"autofocus": True, "list": "shelves"},
    )

    def __init__(self, *args: Any, **more: Any) -> None:
        super().__init__(*args, **more)
        # Whoever presses the button of a suggestion types nothing.
        self.fields["shelf"].required = not self.data.get("chosen")

    def clean(self) -> dict[str, Any]:
        """Take the shelf that was scanned, or the one that was chosen."""
        cleaned = super().clean() or {}
        typed = cleaned.get("shelf") or self.data.get("chosen", "").strip()
        offered = self.data.get("offered", "").split()
        if typed in ("1", "2", "3"):
            place = int(typed) - 1
            if place >= len(offered):
                self.add_error("shelf", f"Nothing is suggested under {typed}.")
            else:
                typed = offered[place]
        cleaned["shelf"] = typed
        return cleaned


class CheckSealForm(forms.Form):
    """What was read on a seal, before the record is shown."""

    number_read = forms.CharField(
        label="Number as read on the seal",
        required=False,
        max_length=60,
        help_text="Read it from the seal itself; the recorded number is not shown. "
        "Leave it empty for a plain wax seal.",
        widget=forms.TextInput(
            attrs={"data-scan": True, "autocomplete": "off", "autofocus": True}
        ),
    )
    finding = forms.ChoiceField(
        label="How the seal was found",
        choices=FINDINGS,
        error_messages={"required": "Say in which state the seal was found."},
    )
    witness = _text("Second person present", "", required=False, max_length=160)
    note = _text("Note", "", required=False)


class HandOverForm(AsSeen):
    """Who takes a container over."""

    to_person = _text(
        "Handed over to", "Name the person who takes it over.", max_length=160
    )
    note = _text("Note", "", required=False)


class NotFoundForm(forms.Form):
    """Where a container was looked for in vain."""

    note = _text(
        "Where it was looked for, and by whom",
        "Say where it was looked for, and by whom.",
    )


class FoundForm(forms.Form):
    """Where a missing container was found."""

    note = _text("Where it was found, and by whom", "Say where it was found.")


class ReportForm(forms.Form):
    """Anything that is not as it must be."""

    detail = _text("What is not as it must be", "Say what is not as it must be.")
