"""Forms of transfers between strong rooms."""

from collections.abc import Sequence
from typing import Any

from django import forms

from registry.usecases.transfers import Arrived, Journey, Sent
from registry.web.forms.containers import FINDINGS
from registry.web.forms.days import DayField


def _scan(label: str, ask: str, **attrs: Any) -> forms.CharField:
    return forms.CharField(
        label=label,
        max_length=60,
        error_messages={"required": ask},
        widget=forms.TextInput(
            attrs={"data-scan": True, "autocomplete": "off", **attrs}
        ),
    )


class NewTransferForm(forms.Form):
    """What goes where, by whose order, and who carries it."""

    containers = forms.CharField(
        label="Containers, each followed by its seals as read",
        max_length=20_000,
        help_text="One to a line: scan a container, then each of its seals, then the "
        "next container. For a plain wax seal that is whole write wax, for a broken "
        "one broken. The recorded numbers are not shown.",
        widget=forms.Textarea(
            attrs={"rows": 8, "autofocus": True, "spellcheck": "false"}
        ),
        error_messages={"required": "Scan what is handed over."},
    )
    to_room = forms.ChoiceField(
        label="To strong room",
        error_messages={"required": "Say to which strong room they go."},
    )
    emergency = forms.BooleanField(
        label="An emergency forces it: the order follows",
        required=False,
        help_text="Water, fire and the like. The move comes first; seals that could "
        "not be read are read on arrival.",
    )
    order = forms.CharField(
        label="By whose order, or what forces it",
        max_length=200,
        error_messages={"required": "Name the order, or what forces the move."},
    )
    due_on = DayField(
        label="In an emergency: the authority’s word by",
        required=False,
    )
    carrier = forms.CharField(
        label="Carried by",
        max_length=160,
        help_text="Name and post, parted by a comma. This person answers for them on "
        "the way.",
        error_messages={"required": "Name who carries them, with the post."},
    )
    vehicle_seal = forms.CharField(
        label="Seal of the vehicle", max_length=120, required=False
    )
    note = forms.CharField(label="Note", max_length=400, required=False)

    def __init__(
        self, *args: Any, rooms: Sequence[tuple[str, str]], **more: Any
    ) -> None:
        super().__init__(*args, **more)
        self.fields["to_room"].choices = [("", "choose one"), *rooms]  # type: ignore[attr-defined]

    def clean_containers(self) -> list[Sent]:
        """Return containers with their seals, as they were scanned."""
        sent: list[tuple[str, list[str]]] = []
        for line in self.cleaned_data["containers"].splitlines():
            text = line.strip()
            if text[:2].upper() in ("BX", "EN"):
                sent.append((text.upper(), []))
            elif text and not sent:
                raise forms.ValidationError(
                    f"“{text}” is no container: scan a box or an envelope first."
                )
            elif text:
                plain = text.casefold()
                seal = plain if plain in ("wax", "broken") else text
                if len(seal) > 60:
                    raise forms.ValidationError("A seal’s number is not that long.")
                sent[-1][1].append(seal)
        return [Sent(number, tuple(seals)) for number, seals in sent]

    def journey(self) -> Journey:
        """Return where they go, by whose order and with whom."""
        names = ("to_room", "order", "carrier", "emergency", "due_on", "vehicle_seal")
        chosen = {name: self.cleaned_data[name] for name in names}
        return Journey(**chosen, note=self.cleaned_data["note"])


class TakeOverForm(forms.Form):
    """One container that arrived, its seal read before the record is shown."""

    container = _scan("Container", "Scan the container.", autofocus=True)
    number_read = forms.CharField(
        label="Number as read on its seal",
        required=False,
        max_length=60,
        help_text="Read it from the seal itself; empty for a plain wax seal.",
        widget=forms.TextInput(attrs={"data-scan": True, "autocomplete": "off"}),
    )
    finding = forms.ChoiceField(
        label="How the seal was found",
        choices=FINDINGS,
        required=False,
        initial="intact-matches",
    )
    condition = forms.CharField(
        label="Condition of the container", max_length=300, required=False
    )
    witness = forms.CharField(
        label="Second person present", max_length=160, required=False
    )

    def arrived(self) -> Arrived:
        """Return how it arrived."""
        names = ("container", "number_read", "finding", "condition", "witness")
        return Arrived(**{name: self.cleaned_data[name] for name in names})


class ItemNoteForm(forms.Form):
    """One container of a transfer, and what there is to say about it."""

    container = _scan("Container", "Scan or type its number.", autofocus=True)
    note = forms.CharField(
        label="What there is to say",
        max_length=300,
        error_messages={"required": "Say what happened, and what the carrier answers."},
    )


class ConfirmOrderForm(forms.Form):
    """The authority's word on a move that an emergency forced."""

    order = forms.CharField(
        label="The authority’s paper",
        max_length=200,
        error_messages={"required": "Name the paper on which the word stands."},
    )
    dated = DayField(label="Dated")
