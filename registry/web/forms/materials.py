"""Forms about material for sealing, and about votes recorded."""

from typing import Any

from django import forms

from registry.usecases.materials import KINDS, Pieces
from registry.web.forms.days import DayField

FATES = (
    ("spoilt", "spoilt, and kept"),
    ("returned", "returned unused"),
    ("lost", "lost"),
)


class PiecesForm(forms.Form):
    """Which pieces: scan the first and the last seal, or say how many."""

    first_serial = forms.CharField(
        label="First seal",
        required=False,
        max_length=60,
        widget=forms.TextInput(attrs={"autocomplete": "off", "data-scan": True}),
        help_text="As printed on it. For envelopes and boxes say how many instead.",
    )
    last_serial = forms.CharField(
        label="Last seal",
        required=False,
        max_length=60,
        widget=forms.TextInput(attrs={"autocomplete": "off", "data-scan": True}),
        help_text="Empty where it is one seal.",
    )
    count = forms.IntegerField(
        label="How many",
        required=False,
        min_value=1,
        max_value=100_000,
        help_text="Of seals it may be left empty; if it is given, it must agree.",
        error_messages={"invalid": "Give a whole number."},
    )

    def pieces(self) -> Pieces:
        """Return the pieces as the acts take them."""
        given = self.cleaned_data
        return Pieces(given["first_serial"], given["last_serial"], given["count"])


class IssueForm(PiecesForm):
    """Material that was issued for a contest."""

    kind = forms.ChoiceField(
        label="What was issued",
        choices=KINDS,
        initial="paper",
        error_messages={"required": "Choose what was issued."},
    )
    maker = forms.CharField(
        label="Maker",
        required=False,
        max_length=80,
        help_text="As on the seals: two makers may use the same numbers.",
    )
    issued_on = DayField(label="Issued on")
    issued_to = forms.CharField(
        label="Received by",
        max_length=160,
        help_text="Name and post.",
        error_messages={"required": "Name the person who received it, with the post."},
    )
    receipt = forms.CharField(label="Receipt", required=False, max_length=200)

    field_order = (
        *("kind", "maker", "first_serial", "last_serial", "count"),
        *("issued_on", "issued_to", "receipt"),
    )

    def given(self) -> dict[str, Any]:
        """Return what was entered, as the act takes it."""
        names = ("kind", "maker", "issued_on", "issued_to", "receipt")
        return {name: self.cleaned_data[name] for name in names}


class EndForm(PiecesForm):
    """Pieces that were not used: what became of them."""

    fate = forms.ChoiceField(
        label="What became of them",
        choices=FATES,
        error_messages={"required": "Say what became of them."},
    )
    on = DayField(label="On")
    kept_in = forms.CharField(
        label="Kept in",
        required=False,
        max_length=200,
        help_text="Where spoilt pieces are kept: they prove that nobody has them.",
    )
    note = forms.CharField(
        label="How, and on whose word",
        required=False,
        max_length=400,
        widget=forms.Textarea(attrs={"rows": 2}),
    )

    field_order = ("fate", "first_serial", "last_serial", "count", "on")

    def given(self) -> dict[str, Any]:
        """Return what was entered, as the act for this fate takes it."""
        names = ["on", "note"]
        if self.cleaned_data["fate"] == "spoilt":
            names.append("kept_in")
        return {name: self.cleaned_data[name] for name in names}


class VotesForm(forms.Form):
    """Votes that control units show: one by one, or a list of them."""

    source = forms.CharField(
        label="The paper they come from",
        max_length=200,
        help_text="Such as the account of votes recorded of station 7, signed.",
        error_messages={"required": "Name the paper that the votes come from."},
    )
    control_unit = forms.CharField(
        label="Control unit",
        required=False,
        max_length=60,
        widget=forms.TextInput(
            attrs={"autocomplete": "off", "data-scan": True, "autofocus": True}
        ),
        help_text="Its serial, typed or scanned.",
    )
    votes = forms.IntegerField(
        label="Votes it shows",
        required=False,
        min_value=0,
        widget=forms.NumberInput(attrs={"data-scan": True}),
        error_messages={"invalid": "Give a whole number."},
    )
    file = forms.FileField(
        label="Or a list",
        required=False,
        help_text="CSV or XLSX with the columns control_unit and votes, and "
        "station_number if it is known. All of it is recorded, or nothing.",
    )

    field_order = ("control_unit", "votes", "source", "file")

    def clean(self) -> dict[str, Any]:
        """See that one unit with its votes was given, or a list; not both."""
        given = super().clean() or {}
        one = bool(given.get("control_unit")) or given.get("votes") is not None
        if given.get("file") and one:
            self.add_error("file", "Give a list, or one unit: not both at once.")
        elif not given.get("file") and not self.errors:
            if not given.get("control_unit"):
                self.add_error("control_unit", "Scan the control unit.")
            if given.get("votes") is None:
                self.add_error("votes", "Type the votes that it shows.")
        return given
