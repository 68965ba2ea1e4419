"""Forms in which a container is logged as it stands on the table."""

from collections.abc import Iterable
from typing import Any

from django import forms

from registry.rules.arrivals import Arrival, SealKind
from registry.rules.markings import TITLES, Marking
from registry.rules.schedules import ContentKind
from registry.usecases.images import PAPERS
from registry.web.forms.days import DayField
from registry.web.forms.seals import add_seal_fields, said_of_seals, seal_entries

# What a person sees again on each container of a table; the rest is read anew.
CARRIED = (
    Marking.ELECTION,
    Marking.CONSTITUENCY_NUMBER,
    Marking.CONSTITUENCY_NAME,
    Marking.POLL_DATE,
    Marking.COUNTING_DATE,
)
READ_ANEW = (
    Marking.STATION_NUMBER,
    Marking.STATION_NAME,
    Marking.CONTROL_UNIT,
    Marking.PAPER_TRAIL_UNIT,
)
MAX_LENGTHS = {
    Marking.ELECTION: 200,
    Marking.CONSTITUENCY_NUMBER: 40,
    Marking.CONSTITUENCY_NAME: 160,
    Marking.STATION_NUMBER: 400,
    Marking.STATION_NAME: 200,
    Marking.CONTROL_UNIT: 80,
    Marking.PAPER_TRAIL_UNIT: 80,
    Marking.POLL_DATE: 40,
    Marking.COUNTING_DATE: 40,
}


def field_name(marking: Marking) -> str:
    """Return the name of a marking's field."""
    return marking.value.replace("-", "_")


class ArrivalForm(forms.Form):
    """A container as it stands on the table: its markings as written, and its seals."""

    SEALS = 2
    SCANNED_SEALS = 1
    NOUN = "envelope"
    USUAL_SEAL = SealKind.WAX

    def __init__(self, *args: Any, kind: ContentKind, **more: Any) -> None:
        super().__init__(*args, **more)
        self.kind = kind
        for marking in self._read_anew():
            self._add_marking(marking, scanned=True)
        add_seal_fields(self, self.SEALS, scanned=self.SCANNED_SEALS)
        self._add_own()
        for marking in CARRIED:
            self._add_marking(marking, scanned=False)
        self._add_days()
        self.fields["unreadable"] = forms.MultipleChoiceField(
            label="There, but cannot be read",
            required=False,
            choices=[(m.value, TITLES[m]) for m in (*self._read_anew(), *CARRIED)],
            widget=forms.CheckboxSelectMultiple,
        )
        self.fields["remarks"] = forms.CharField(
            label="Remarks", required=False, max_length=300
        )
        first = next(iter(self.fields.values()))
        first.widget.attrs["autofocus"] = True

    def _read_anew(self) -> tuple[Marking, ...]:
        if self.kind is ContentKind.STATUTORY_PACKET:
            return (Marking.STATION_NUMBER, Marking.STATION_NAME)
        return READ_ANEW

    def _add_marking(self, marking: Marking, *, scanned: bool) -> None:
        scan = {"data-scan": True} if scanned else {}
        self.fields[field_name(marking)] = forms.CharField(
            label=TITLES[marking],
            required=False,
            max_length=MAX_LENGTHS[marking],
            widget=forms.TextInput(attrs={"autocomplete": "off", **scan}),
        )

    def _add_own(self) -> None:
        """Add what only this kind of container has."""

    def _add_days(self) -> None:
        self.fields["sealed_on"] = DayField(label="Sealed on", required=False)
        self.fields["received_on"] = DayField(
            label="Received on",
            error_messages={"required": "Say on which day it came in."},
        )

    def _group(self, names: Iterable[str]) -> list[forms.BoundField]:
        return [self[name] for name in names if name in self.fields]

    def scanned(self) -> list[forms.BoundField]:
        """The fields that the scanner fills, in the order in which Enter walks."""
        return [f for f in self if "data-scan" in f.field.widget.attrs]

    def carried(self) -> list[forms.BoundField]:
        """The fields that are kept for the next container."""
        return self._group(
            [
                *(field_name(m) for m in CARRIED),
                *("sealed_on", "received_on", "paper", "box"),
            ]
        )

    def about_seals(self) -> list[forms.BoundField]:
        """What is said of the first seal beside its number."""
        return said_of_seals(self, [1])

    def about_further_seals(self) -> list[forms.BoundField]:
        """What is said of the others, where they differ from the first."""
        return said_of_seals(self, range(2, self.SEALS + 1))

    def rest(self) -> list[forms.BoundField]:
        """What is seldom needed."""
        return self._group(
            ["unreadable", "self_test_count", "closed", "gross_weight_kg", "remarks"]
        )

    def clean(self) -> dict[str, Any]:
        """Refuse an empty form: Enter was pressed once too often."""
        cleaned = super().clean() or {}
        own = ["remarks", "unreadable", "label", "description"]
        own += [field_name(m) for m in self._read_anew()]
        seals = seal_entries(cleaned, self.SEALS, self.USUAL_SEAL)
        if not seals and not any(cleaned.get(name) for name in own):
            raise forms.ValidationError(
                f"Nothing of this {self.NOUN} itself was entered. Read it again; if "
                "nothing is written on it, say so in the remarks."
            )
        return cleaned

    def arrival(self) -> Arrival:
        """Return what was entered, as the register takes it."""
        cleaned = self.cleaned_data
        written = {m: cleaned.get(field_name(m), "") for m in Marking}
        return Arrival(
            noun=self.NOUN,
            kind=self.kind,
            received_on=cleaned["received_on"],
            sealed_on=cleaned.get("sealed_on"),
            written={m: text for m, text in written.items() if text},
            unreadable=frozenset(Marking(m) for m in cleaned.get("unreadable", ())),
            seals=seal_entries(cleaned, self.SEALS, self.USUAL_SEAL),
            description=cleaned.get("description", ""),
            remarks=cleaned.get("remarks", ""),
            slip_count=cleaned.get("slip_count"),
            self_test_count=cleaned.get("self_test_count"),
            paper=cleaned.get("paper", ""),
            label=cleaned.get("label", ""),
            gross_weight_kg=cleaned.get("gross_weight_kg"),
            closed=bool(cleaned.get("closed", True)),
        )


class EnvelopeForm(ArrivalForm):
    """A sealed envelope."""

    def _add_own(self) -> None:
        if self.kind is ContentKind.STATUTORY_PACKET:
            self.fields["description"] = forms.CharField(
                label="What the packet is, as written on it",
                required=False,
                max_length=200,
                widget=forms.TextInput(attrs={"data-scan": True}),
            )
        else:
            self.fields["slip_count"] = _count("Slips it is said to hold")
            self.fields["slip_count"].widget.attrs["data-scan"] = True
            self.fields["self_test_count"] = _count("Self-test reports in it")
            self.fields["paper"] = forms.ChoiceField(
                label="Paper of the slips",
                required=False,
                choices=PAPERS,
                help_text="As the maker’s sheet or the record of sealing says; nothing "
                "is opened for it. Thermal prints fade.",
            )
        self.fields["box"] = forms.CharField(
            label="Put at once into open box",
            required=False,
            max_length=20,
            help_text="The box's number; it is kept for the next envelope.",
        )


class BoxForm(ArrivalForm):
    """A box, open to be filled or closed and sealed as it came."""

    SEALS = 4
    SCANNED_SEALS = 4
    NOUN = "box"
    USUAL_SEAL = SealKind.PAPER

    def _read_anew(self) -> tuple[Marking, ...]:
        return (Marking.STATION_NUMBER,)

    def _add_own(self) -> None:
        self.fields["station_number"].label = "Stations written on it"
        self.fields["station_number"].help_text = "Such as 1-12, 14, 15A."
        self.fields["label"] = forms.CharField(
            label="The box's own label",
            required=False,
            max_length=40,
            help_text="Such as 3 of 12.",
            widget=forms.TextInput(attrs={"data-scan": True, "autocomplete": "off"}),
        )
        self.fields["closed"] = forms.BooleanField(
            label="It arrived closed and sealed",
            required=False,
            help_text="Leave this empty for a box that is filled here.",
        )
        self.fields["gross_weight_kg"] = weight_field()


def weight_field() -> forms.DecimalField:
    """Return the field of a box's weight."""
    return forms.DecimalField(
        label="Weight with content, in kilograms",
        required=False,
        min_value=0,
        max_digits=6,
        decimal_places=2,
        localize=False,
        error_messages={"invalid": "Write the weight in kilograms, such as 12.5."},
    )


def _count(label: str) -> forms.IntegerField:
    return forms.IntegerField(
        label=label,
        required=False,
        min_value=0,
        max_value=9_999_999,
        widget=forms.TextInput(attrs={"inputmode": "numeric", "autocomplete": "off"}),
        error_messages={"invalid": "Write a whole number, or leave it empty."},
    )
