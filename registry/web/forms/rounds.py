"""Forms of inspection rounds: begun, walked, typed in, ended."""

from collections.abc import Iterable, Sequence
from typing import Any

from django import forms

from registry.usecases.round_looks import FINDINGS, ShelfToWalk
from registry.usecases.rounds import Sight
from registry.web.forms.moments import MomentField

HOW = (("", "say how it was found"), *FINDINGS)
IN_VAIN = "in-vain"


class BeginRoundForm(forms.Form):
    """Which room is walked, by whom and how."""

    room = forms.ChoiceField(
        label="Strong room", error_messages={"required": "Choose the room."}
    )
    contested_only = forms.BooleanField(
        label="Only what a case or an order holds", required=False
    )
    witness = forms.CharField(
        label="Second person who walks along (name and post)",
        required=False,
        max_length=160,
    )
    on_paper = forms.BooleanField(
        label="It is walked with a printed sheet, typed in later", required=False
    )
    walked_from = MomentField(
        label="The walk began at",
        required=False,
        help_text="Only where it was walked before it is entered here.",
    )

    def __init__(self, *args: Any, rooms: Iterable[tuple[str, str]], **more: Any):
        super().__init__(*args, **more)
        self.fields["room"].choices = tuple(rooms)  # type: ignore[attr-defined]


def _scan(label: str, *, required: bool, ask: str, **attrs: Any) -> forms.CharField:
    return forms.CharField(
        label=label,
        required=required,
        max_length=200,
        widget=forms.TextInput(
            attrs={
                "data-scan": True,
                "autocomplete": "off",
                "autocapitalize": "characters",
                **attrs,
            }
        ),
        error_messages={"required": ask},
    )


class SeeForm(forms.Form):
    """What was seen of one container; the seal is read before the record is shown."""

    scanned = _scan(
        "Container",
        required=True,
        ask="Scan or type the number on the container.",
        autofocus=True,
    )
    seal_read = _scan("Number as read on its seal", required=False, ask="")
    # Part of the scanner's way: the seal's number alone does not say that it is whole.
    finding = forms.ChoiceField(
        label="How the seal was found",
        required=False,
        choices=HOW,
        widget=forms.Select(attrs={"data-scan": True}),
    )
    label_not_legible = forms.BooleanField(
        label="Its label can no longer be read well", required=False
    )
    condition = forms.CharField(
        label="Anything not in order",
        required=False,
        max_length=380,
        help_text="Wet, torn, mould, moved. Empty where nothing is.",
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )
    strange = forms.BooleanField(
        label="It is really here and not on the register", required=False
    )

    def sight(self) -> Sight:
        """Return what was seen, as the act takes it."""
        cleaned = self.cleaned_data
        return Sight(
            scanned=cleaned["scanned"],
            seal_read=cleaned["seal_read"],
            finding=cleaned["finding"],
            label_legible=not cleaned["label_not_legible"],
            condition=cleaned["condition"],
            strange=cleaned["strange"],
        )


class InVainForm(forms.Form):
    """A container that was looked for in vain."""

    container = forms.ChoiceField(
        label="Which container",
        error_messages={"required": "Choose the container."},
    )
    note = forms.CharField(
        label="Where it was looked for, and by whom",
        max_length=400,
        error_messages={"required": "Say where it was looked for, and by whom."},
    )

    def __init__(self, *args: Any, shelf: ShelfToWalk, **more: Any):
        super().__init__(*args, **more)
        left = [each for each in shelf.containers if not each.seen]
        self.fields["container"].choices = (  # type: ignore[attr-defined]
            ("", "choose the container"),
            *((each.number, f"{each.number} {each.label}".strip()) for each in left),
        )


class TypeInForm(forms.Form):
    """One shelf of a printed sheet, line by line."""

    seen_at = MomentField(
        label="When this shelf was walked",
        error_messages={"required": "Give the moment that stands on the sheet."},
    )

    def __init__(self, *args: Any, shelf: ShelfToWalk, **more: Any):
        super().__init__(*args, **more)
        self.lines = [
            (each, f"{each.number}{f'-{n}' if n > 1 else ''}", n)
            for each in shelf.containers
            if not each.done
            for n in range(1, max(each.seals - each.read, 1) + 1)
        ]
        for _, name, _n in self.lines:
            self.fields[f"seal_read-{name}"] = _scan(
                "Number read on the seal", required=False, ask=""
            )
            self.fields[f"finding-{name}"] = forms.ChoiceField(
                label="How found",
                required=False,
                choices=(
                    ("", "not filled in"),
                    *FINDINGS,
                    ("seen", "seen, bears no seal"),
                    (IN_VAIN, "looked for in vain"),
                ),
            )
            self.fields[f"condition-{name}"] = forms.CharField(
                label="Remarks: what is not in order", required=False, max_length=380
            )

    def rows(self) -> list[tuple[Any, int, list[forms.BoundField]]]:
        """Return each line, which of its seals it is, and its fields."""
        names = ("seal_read", "finding", "condition")
        return [
            (each, n, [self[f"{field}-{name}"] for field in names])
            for each, name, n in self.lines
        ]

    def seen(self) -> Sequence[Sight]:
        """Return the lines that say that something was seen."""
        return [
            Sight(
                scanned=each.number,
                seal_read=self.cleaned_data[f"seal_read-{name}"],
                finding="" if found == "seen" else found,
                condition=self.cleaned_data[f"condition-{name}"],
            )
            for each, name, found in self._found()
            if found != IN_VAIN
        ]

    def in_vain(self) -> dict[str, str]:
        """Return the lines that say that something is not there."""
        return {
            each.number: self.cleaned_data[f"condition-{name}"]
            for each, name, found in self._found()
            if found == IN_VAIN
        }

    def _found(self) -> list[tuple[Any, str, str]]:
        filled = [
            (each, name, self.cleaned_data[f"finding-{name}"])
            for each, name, _ in self.lines
        ]
        return [line for line in filled if line[2]]

    def clean(self) -> dict[str, Any]:
        """Ask how a container was found of which only the seal was typed in."""
        cleaned = super().clean() or {}
        for _, name, _n in self.lines:
            typed = cleaned.get(f"seal_read-{name}") or cleaned.get(f"condition-{name}")
            if typed and not cleaned.get(f"finding-{name}"):
                self.add_error(f"finding-{name}", "Say how it was found.")
        return cleaned


class EndRoundForm(forms.Form):
    """How a round ends."""

    remarks = forms.CharField(
        label="Remarks",
        required=False,
        max_length=400,
        widget=forms.Textarea(attrs={"rows": 3}),
    )
    left_off = forms.BooleanField(
        label="Leave it off although something was not seen",
        required=False,
        help_text="Say why above. A round that was left off does not count as walked.",
    )
