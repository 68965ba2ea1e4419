"""Forms for what is done under a permission: enter, open, take out, take back."""

from collections.abc import Sequence
from typing import Any

from django import forms

from registry.rules.arrivals import SealEntry, SealKind

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


class OpeningForm(UnderPermission):
    """Opening a box or an envelope, and the seals put on afterwards."""

    present = _present()
    done = forms.CharField(
        label="What was done",
        max_length=400,
        widget=forms.Textarea(attrs={"rows": 3}),
        error_messages={"required": "Say what was done."},
    )

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
        return [f for f in self.visible_fields() if "_" not in f.name]

    @property
    def seal_fields(self) -> list[list[forms.BoundField]]:
        """The fields of each seal."""
        names = ("kind", "maker", "serial", "signed")
        return [[self[f"{n}_{place}"] for n in names] for place in range(1, SEALS + 1)]


class TakeOutForm(UnderPermission):
    """Handing a container out."""

    to_person = forms.CharField(
        label="Handed to",
        max_length=160,
        help_text="The person, with the post.",
        error_messages={"required": "Name the person who receives it."},
    )
    to_place = forms.CharField(
        label="Where it goes",
        max_length=200,
        error_messages={"required": "Say where it goes."},
    )
    note = forms.CharField(label="Note", max_length=400, required=False)


class TakeBackForm(forms.Form):
    """A container that comes back."""

    container = forms.CharField(
        label="Box or envelope",
        max_length=40,
        widget=forms.TextInput(attrs={"data-scan": True, "autofocus": True}),
        error_messages={"required": "Scan the container that came back."},
    )
    from_person = forms.CharField(
        label="Brought back by",
        max_length=160,
        help_text="The person, with the post.",
        error_messages={"required": "Name the person who brought it back."},
    )
    note = forms.CharField(
        label="Note",
        max_length=400,
        required=False,
        help_text="How its seal looks, who was there.",
    )
