"""Forms of handing out under an order, and of what becomes of it outside."""

from collections.abc import Sequence
from typing import Any

from django import forms

from registry.rules.arrivals import SealKind
from registry.usecases.coming_back import Return
from registry.usecases.production_looks import ReturnAhead, ThingAhead
from registry.usecases.taking_out import Going, Handing
from registry.web.forms.containers import FINDINGS, AsSeen
from registry.web.forms.days import DayField
from registry.web.forms.intake import weight_field
from registry.web.forms.moments import MomentField
from registry.web.forms.openings import UnderPermission
from registry.web.forms.seals import add_seal_fields, said_of_seals, seal_entries

COURT_SEALS = 2


def _text(label: str, ask: str = "", **more: Any) -> forms.CharField:
    return forms.CharField(
        label=label,
        max_length=more.pop("max_length", 160),
        required=bool(ask),
        error_messages={"required": ask},
        **more,
    )


def _reading(label: str, made_of: str) -> forms.CharField:
    """Return the field of one seal's number; a wax seal may bear none."""
    wax = "wax" in made_of
    return forms.CharField(
        label=label,
        max_length=60,
        required=not wax,
        help_text="Leave it empty for a plain wax seal that is whole." if wax else "",
        widget=forms.TextInput(attrs={"data-scan": True, "autocomplete": "off"}),
        error_messages={"required": "Read the number off the seal."},
    )


class TakeOutForm(UnderPermission):
    """Handing containers out under one permission: each with its seals as read."""

    to_person = _text(
        "Handed to",
        "Name the person who receives it.",
        help_text="The person, with the post; look at the identity card.",
    )
    to_place = _text("Where it goes", "Say where it goes.", max_length=200)
    second_person = _text(
        "Second person of the strong room",
        "Name the second person who is there: nobody hands out alone.",
    )
    confirmed_with = _text(
        "Order confirmed by call-back with",
        "Call the court or authority back before anything leaves.",
        max_length=200,
        help_text="Who confirmed it, with the post. Call under a number that you know "
        "or look up, not under the one on the order.",
    )
    confirmed_at = MomentField(
        label="Confirmed at",
        error_messages={"required": "Say when the order was confirmed."},
    )
    receipt = _text(
        "Number of their receipt",
        max_length=200,
        help_text="It may be entered later.",
    )
    expected_back_on = DayField(
        label="Expected back on",
        required=False,
        help_text="Without a day it stands on the list of what to ask after.",
    )
    note = _text("Note", max_length=400, help_text="Escort, vehicle, transport seal.")

    def __init__(
        self, *args: Any, things: Sequence[ThingAhead] = (), **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        self.things = things
        for place, thing in enumerate(things):
            self._add_thing(place, thing)

    def _add_thing(self, place: int, thing: ThingAhead) -> None:
        if len(self.things) > 1:
            self.fields[f"take_{place}"] = forms.BooleanField(
                label=f"{thing.number} goes out", required=False, initial=True
            )
        for index, made_of in enumerate(thing.seals):
            number = f" {index + 1}" if len(thing.seals) > 1 else ""
            label = f"Seal{number} of {thing.number}, as read ({made_of})"
            self.fields[f"reading_{place}_{index}"] = _reading(label, made_of)
        self.fields[f"weight_{place}"] = weight_field()
        self.fields[f"weight_{place}"].label = f"Weight of {thing.number}, in kilograms"
        self.fields[f"seen_{place}"] = forms.CharField(
            required=False,
            max_length=16,
            widget=forms.HiddenInput,
            initial=thing.seen,
        )

    def clean(self) -> dict[str, Any]:
        """Ask for the seals of what goes out, not of what stays."""
        cleaned = super().clean() or self.cleaned_data
        for place, thing in enumerate(self.things):
            if not self._goes(place):
                for index in range(len(thing.seals)):
                    self.errors.pop(f"reading_{place}_{index}", None)
        return cleaned

    def _goes(self, place: int) -> bool:
        return len(self.things) == 1 or bool(self.cleaned_data.get(f"take_{place}"))

    def going(self) -> list[Going]:
        """Return what goes out, with its seals as read."""
        cleaned = self.cleaned_data
        return [
            Going(
                container=thing.number,
                readings=tuple(
                    cleaned.get(f"reading_{place}_{index}", "")
                    for index in range(len(thing.seals))
                ),
                weight_kg=cleaned.get(f"weight_{place}"),
                as_seen=cleaned.get(f"seen_{place}", ""),
            )
            for place, thing in enumerate(self.things)
            if self._goes(place)
        ]

    def handing(self) -> Handing:
        """Return to whom it goes, and how the order was confirmed."""
        names = (
            "to_person", "to_place", "second_person", "confirmed_with",
            "confirmed_at", "receipt", "expected_back_on", "note",
        )  # fmt: skip
        return Handing(**{name: self.cleaned_data[name] for name in names})

    @property
    def of_things(self) -> list[tuple[ThingAhead, list[forms.BoundField]]]:
        """Each container with its fields."""
        return [
            (thing, [f for f in self.visible_fields() if _is_of(f.name, place)])
            for place, thing in enumerate(self.things)
        ]

    @property
    def of_handing(self) -> list[forms.BoundField]:
        """The fields of the whole."""
        own = tuple(f.name for _, fields in self.of_things for f in fields)
        return [f for f in self.visible_fields() if f.name not in own]


def _is_of(name: str, place: int) -> bool:
    parts = name.split("_")
    return parts[0] in ("take", "reading", "weight") and parts[1] == str(place)


class TakeBackForm(AsSeen):
    """A container that came back: its seals as read, its weight, what the court did."""

    from_person = _text(
        "Brought back by",
        "Name the person who brought it back.",
        help_text="The person, with the post.",
    )
    finding = forms.ChoiceField(
        label="How the seals were found",
        choices=FINDINGS,
        error_messages={"required": "Say in which state the seals were found."},
    )
    witness = _text("Second person present")
    content_kept = _text(
        "What the court kept of its content",
        max_length=400,
        help_text="Such as: 40 slips, exhibit 7. Whole envelopes are ticked below.",
    )
    kept_by = _text("Court that kept it", max_length=160)
    kept_order = _text("Its order, by number and day", max_length=200)
    note = _text("Note", max_length=400)

    def __init__(self, *args: Any, ahead: ReturnAhead, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.ahead = ahead
        for index, made_of in enumerate(ahead.seals):
            number = f" {index + 1}" if len(ahead.seals) > 1 else ""
            field = _reading(f"Seal{number}, as read ({made_of})", made_of)
            field.required = False
            field.help_text = (
                "Empty only for plain wax, for a number that cannot be read, or where "
                "the court sealed it anew: say so below."
            )
            self.fields[f"reading_{index}"] = field
        self.fields["weight_kg"] = weight_field()
        add_seal_fields(self, COURT_SEALS, scanned=0)
        if ahead.envelopes:
            self.fields["kept_envelopes"] = forms.MultipleChoiceField(
                label="Envelopes that the court kept",
                required=False,
                choices=[(n, f"{n} {title}") for n, title in ahead.envelopes],
                widget=forms.CheckboxSelectMultiple,
            )
        first = "reading_0" if ahead.seals else "from_person"
        self.fields[first].widget.attrs["autofocus"] = True

    def back(self) -> Return:
        """Return how it came back."""
        cleaned = self.cleaned_data
        names = (
            "from_person", "finding", "weight_kg", "content_kept", "kept_by",
            "kept_order", "witness", "note",
        )  # fmt: skip
        return Return(
            readings=tuple(
                cleaned.get(f"reading_{index}", "")
                for index in range(len(self.ahead.seals))
            ),
            court_seals=seal_entries(cleaned, COURT_SEALS, SealKind.PAPER),
            kept_envelopes=tuple(cleaned.get("kept_envelopes", ())),
            **{name: cleaned[name] for name in names},
        )

    def readings(self) -> list[forms.BoundField]:
        """The seals, as read."""
        return [f for f in self if f.name.startswith("reading_")]

    def first(self) -> list[forms.BoundField]:
        """What is always asked."""
        names = ("finding", "from_person", "witness", "weight_kg", "note")
        return [self[name] for name in names]

    def sealed_anew(self) -> list[forms.BoundField]:
        """The court's own seals."""
        return said_of_seals(self, range(1, COURT_SEALS + 1))

    def kept(self) -> list[forms.BoundField]:
        """What stayed with the court."""
        names = ("kept_envelopes", "content_kept", "kept_by", "kept_order")
        return [self[name] for name in names if name in self.fields]


class KeptForm(AsSeen):
    """A court that keeps what was handed out to it."""

    court = _text("Court that keeps it", "Name the court that keeps it.")
    order = _text(
        "Its order, by number and day",
        "Name the court's order, by its number and day.",
        max_length=200,
    )
    on = DayField(
        label="It keeps it from",
        error_messages={"required": "Say from which day."},
    )


class SentOnForm(AsSeen):
    """Sent on by who had it, to somebody else."""

    to_person = _text("Who has it now", "Name the person who has it now.")
    to_place = _text("Where it is now", "Say where it is now.", max_length=200)
    order = _text(
        "Order by which it was sent on",
        "Name the order by which it was sent on.",
        max_length=200,
    )
    on = DayField(label="Sent on", error_messages={"required": "Say on which day."})
    expected_back_on = DayField(label="Expected back on", required=False)


class NoteForm(forms.Form):
    """The receipt that came later, or the day now named."""

    receipt = _text("Number of their receipt", max_length=200)
    expected_back_on = DayField(label="Now expected back on", required=False)
