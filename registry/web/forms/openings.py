"""Forms for what is done under a permission: rooms entered, containers opened."""

from collections.abc import Sequence
from datetime import date
from typing import Any

from django import forms

from registry.rules.arrivals import Arrival, SealEntry, SealKind
from registry.rules.markings import Marking
from registry.rules.schedules import ContentKind
from registry.web.forms.containers import AsSeen
from registry.web.forms.intake import CARRIED, BoxForm, EnvelopeForm, field_name

SEAL_KINDS = (
    ("", "no further seal"),
    (SealKind.PAPER.value, "numbered paper seal"),
    (SealKind.STRAP.value, "numbered strap or cable seal"),
    (SealKind.WAX.value, "wax seal"),
)
SIGNED = (("", "not a paper seal"), ("yes", "signed"), ("no", "not signed"))
SEALS = 3


class WhichForm(forms.Form):
    """The number of a container, scanned or typed."""

    container = forms.CharField(
        label="Box or envelope",
        max_length=40,
        widget=forms.TextInput(attrs={"data-scan": True, "autofocus": True}),
        error_messages={"required": "Scan or type the number of the container."},
    )


class UnderPermission(forms.Form):
    """What every use of a permission asks: its conditions, ticked one by one."""

    permission = forms.CharField(
        widget=forms.HiddenInput,
        max_length=16,
        error_messages={
            "required": "No order for this act names it. Ask the authority's desk."
        },
    )

    def __init__(
        self, *args: Any, conditions: Sequence[str] = (), **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        self.fields["conditions"] = forms.MultipleChoiceField(
            label="Conditions of the order",
            choices=[(line, line) for line in conditions],
            widget=forms.CheckboxSelectMultiple,
            help_text="Tick each one when it is met. All of them must be.",
            error_messages={
                "required": "Each condition must be met, and ticked.",
                "invalid_choice": "The conditions have changed. Open the page again.",
            },
        )
        if not conditions:
            del self.fields["conditions"]

    @property
    def conditions_met(self) -> tuple[str, ...]:
        """The conditions that were ticked."""
        return tuple(self.cleaned_data.get("conditions", ()))


def _long(label: str, help_text: str = "", ask: str = "") -> forms.CharField:
    return forms.CharField(
        label=label,
        max_length=400,
        required=bool(ask),
        help_text=help_text,
        widget=forms.Textarea(attrs={"rows": 3}),
        error_messages={"required": ask},
    )


def _fragments() -> forms.CharField:
    return forms.CharField(
        label="Where what is left of the old seals is kept",
        max_length=200,
        help_text="Such as: in a marked bag inside the new envelope.",
        error_messages={"required": "Say where they are kept; nothing is thrown away."},
    )


FOUND_HELP = (
    "Such as mock-poll slips among poll slips, or an empty envelope. Leave it as it is "
    "and do not sort; it is kept as a discrepancy until somebody decides."
)


def _present() -> forms.CharField:
    return forms.CharField(
        label="Who is present",
        max_length=400,
        help_text="Everybody, with the post: Ida Rill, party agent; …",
        widget=forms.Textarea(attrs={"rows": 3}),
        error_messages={"required": "Name those who are present."},
    )


class EnterRoomForm(UnderPermission):
    """Entering a strong room."""

    present = _present()
    purpose = forms.CharField(
        label="What it is entered for",
        max_length=400,
        widget=forms.Textarea(attrs={"rows": 3}),
        error_messages={"required": "Say what the room is entered for."},
    )


class OpeningForm(UnderPermission, AsSeen):
    """Opening a box or an envelope, and the seals put on afterwards."""

    present = _present()
    done = _long("What was done", ask="Say what was done.")
    found = _long("Found that should not be there", FOUND_HELP)
    fragments_kept_in = _fragments()

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for place in range(1, SEALS + 1):
            self._add_seal(place, required=place == 1)

    def _add_seal(self, place: int, *, required: bool) -> None:
        kinds = SEAL_KINDS[1:] if required else SEAL_KINDS
        self.fields[f"kind_{place}"] = forms.ChoiceField(
            label=f"New seal {place}", choices=kinds, required=required
        )
        self.fields[f"maker_{place}"] = forms.CharField(
            label=f"Seal {place}: maker, or office that owns the die",
            max_length=80,
            required=required,
            error_messages={"required": "Name the maker, or the owner of the die."},
        )
        self.fields[f"serial_{place}"] = forms.CharField(
            label=f"Seal {place}: number as printed",
            max_length=60,
            required=False,
            widget=forms.TextInput(attrs={"data-scan": True}),
        )
        self.fields[f"signed_{place}"] = forms.ChoiceField(
            label=f"Seal {place}: signed", choices=SIGNED, required=False
        )

    def clean(self) -> dict[str, Any]:
        """A numbered seal has its number, and a paper seal is signed or is not."""
        for place in range(1, SEALS + 1):
            kind = self.cleaned_data.get(f"kind_{place}")
            serial = self.cleaned_data.get(f"serial_{place}", "")
            if kind and kind != SealKind.WAX.value and not serial.strip():
                self.add_error(f"serial_{place}", "Read the number off the new seal.")
            if kind == SealKind.PAPER.value and not self.cleaned_data.get(
                f"signed_{place}"
            ):
                self.add_error(f"signed_{place}", "Say whether the seal is signed.")
        return self.cleaned_data

    def new_seals(self) -> list[SealEntry]:
        """Return the seals that were put on, in the order in which they stand."""
        seals = []
        for place in range(1, SEALS + 1):
            kind = self.cleaned_data.get(f"kind_{place}")
            if kind:
                signed = self.cleaned_data.get(f"signed_{place}", "")
                seals.append(
                    SealEntry(
                        SealKind(kind),
                        self.cleaned_data[f"maker_{place}"].strip(),
                        self.cleaned_data[f"serial_{place}"].strip(),
                        {"yes": True, "no": False}.get(str(signed)),
                    )
                )
        return seals

    @property
    def main_fields(self) -> list[forms.BoundField]:
        """The fields that stand before the seals."""
        seals = tuple(f"_{place}" for place in range(1, SEALS + 1))
        return [f for f in self.visible_fields() if not f.name.endswith(seals)]

    @property
    def seal_fields(self) -> list[list[forms.BoundField]]:
        """The fields of each seal."""
        names = ("kind", "maker", "serial", "signed")
        return [[self[f"{n}_{place}"] for n in names] for place in range(1, SEALS + 1)]


class NewCoverForm(UnderPermission, AsSeen):
    """Opening a container whose content goes into a new one; before its markings."""

    present = _present()
    done = _long("What was done", ask="Say what was done.")
    found = _long("Found that should not be there", FOUND_HELP)
    fragments_kept_in = _fragments()

    # What the opening itself says; the rest describes the new container.
    OF_THE_OPENING = ("present", "done", "found", "fragments_kept_in", "conditions")

    def __init__(
        self, *args: Any, kind: str, day: date, written: dict[str, str], **kwargs: Any
    ) -> None:
        super().__init__(*args, kind=ContentKind(kind), **kwargs)
        # The paper of the slips is what it was in the old one.
        for name in ("box", "closed", "received_on", "sealed_on", "paper"):
            self.fields.pop(name, None)
        self.day = day
        for marking in Marking:
            name = field_name(marking)
            field = self.fields.get(name)
            if field and "data-scan" not in field.widget.attrs:
                field.initial = written.get(marking.value, "")
        if "slip_count" in self.fields:
            self.fields["slip_count"].label = "Slips counted, if they were"
            self.fields[
                "slip_count"
            ].help_text = (
                "0 for an empty one. Left empty, the number stated before stays."
            )

    def clean(self) -> dict[str, Any]:
        """Ask for the seals of the new container."""
        cleaned = super().clean() or self.cleaned_data
        cleaned["received_on"] = cleaned["sealed_on"] = self.day
        return cleaned

    @property
    def of_the_opening(self) -> list[forms.BoundField]:
        """What was done."""
        return [self[name] for name in self.OF_THE_OPENING if name in self.fields]

    @property
    def same_as_before(self) -> list[forms.BoundField]:
        """Markings that are the same on the new container, to be compared."""
        names = [field_name(marking) for marking in CARRIED]
        return [self[name] for name in names if name in self.fields]

    def new_container(self) -> Arrival:
        """Return the new container as it stands on the table."""
        return self.arrival()  # type: ignore[attr-defined] # of the forms below


class NewEnvelopeForm(NewCoverForm, EnvelopeForm):
    """A new envelope in place of one that was opened."""


class NewBoxForm(NewCoverForm, BoxForm):
    """A new box in place of one that was opened."""
