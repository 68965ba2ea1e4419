"""Forms for a disposal."""

from collections.abc import Sequence
from typing import Any

from django import forms

from registry.rules.schedules import DestructionLevel
from registry.usecases.disposals import DisposalPlan
from registry.web.forms.openings import UnderPermission

# ISO/IEC 21964-1:2018 (the text of DIN 66399-1) for paper: the largest piece. P-1 to
# P-4 were looked up; P-5 to P-7 are from memory, and the pages say so.
LEVEL_MEANINGS = {
    "P-1": "pieces of 2,000 mm² at most, or strips 12 mm wide at most",
    "P-2": "pieces of 800 mm² at most, or strips 6 mm wide at most",
    "P-3": "pieces of 320 mm² at most, or strips 2 mm wide at most",
    "P-4": "pieces of 160 mm² at most, and 6 mm wide at most",
    "P-5": "pieces of 30 mm² at most, and 2 mm wide at most",
    "P-6": "pieces of 10 mm² at most, and 1 mm wide at most",
    "P-7": "pieces of 5 mm² at most, and 1 mm wide at most",
}
FROM_MEMORY = frozenset({"P-5", "P-6", "P-7"})


def level_rows() -> list[list[str]]:
    """Return the levels with their meaning, and how far the meaning was checked."""
    return [
        [
            level.value,
            LEVEL_MEANINGS[level.value],
            "from memory: check the standard"
            if level.value in FROM_MEMORY
            else "looked up",
        ]
        for level in DestructionLevel
    ]


class DisposalForm(UnderPermission):
    """How containers are to be disposed of, and before whose eyes."""

    containers = forms.MultipleChoiceField(
        label="Containers",
        widget=forms.CheckboxSelectMultiple,
        help_text="Scan each container against this list at the table. A box goes with "
        "everything that lies in it.",
        error_messages={
            "required": "Tick what is to be disposed of.",
            "invalid_choice": "The permission does not name %(value)s.",
        },
    )
    method = forms.CharField(
        label="Method",
        max_length=160,
        help_text="In words, with the machine: cross-cut shredding, machine 2.",
        error_messages={"required": "Say how it is destroyed."},
    )
    level = forms.ChoiceField(
        label="Particle level achieved",
        choices=[("", "choose one")] + [(v.value, v.value) for v in DestructionLevel],
        help_text="As measured on a sample of what comes out of the machine, not as "
        "its label says. The table below says what each level means.",
        error_messages={"required": "Measure a sample and choose the level."},
    )
    place = forms.CharField(
        label="Place",
        max_length=200,
        error_messages={"required": "Say where it is done."},
    )
    first_witness = forms.CharField(
        label="First witness: name",
        max_length=100,
        help_text="Neither you nor anybody who works for you.",
        error_messages={"required": "Name the first witness."},
    )
    first_post = forms.CharField(
        label="First witness: post",
        max_length=56,
        error_messages={"required": "Say as what the first witness is here."},
    )
    second_witness = forms.CharField(
        label="Second witness: name",
        max_length=100,
        error_messages={"required": "Name the second witness."},
    )
    second_post = forms.CharField(
        label="Second witness: post",
        max_length=56,
        error_messages={"required": "Say as what the second witness is here."},
    )
    remarks = forms.CharField(
        label="Remarks",
        max_length=400,
        required=False,
        help_text="Others present, video reference, weight before and after.",
    )

    def __init__(
        self, *args: Any, containers: Sequence[tuple[str, str]] = (), **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        self.fields["containers"].choices = containers  # type: ignore[attr-defined]
        if "conditions" in self.fields:
            order = [n for n in self.fields if n != "conditions"]
            order.insert(order.index("remarks"), "conditions")
            self.order_fields(order)

    def clean_first_witness(self) -> str:
        """Return the name, which has no comma: the post stands in its own field."""
        return _name(self.cleaned_data["first_witness"])

    def clean_second_witness(self) -> str:
        """Return the name, which has no comma."""
        return _name(self.cleaned_data["second_witness"])

    def plan(self) -> DisposalPlan:
        """Return what was filled in as a plan."""
        of = self.cleaned_data
        return DisposalPlan(
            containers=tuple(of["containers"]),
            method=of["method"],
            level=of["level"],
            place=of["place"],
            witnesses=(
                f"{of['first_witness']}, {of['first_post']}",
                f"{of['second_witness']}, {of['second_post']}",
            ),
            conditions_met=self.conditions_met,
            remarks=of["remarks"],
        )


def _name(text: str) -> str:
    if "," in text:
        raise forms.ValidationError(
            "Write the name without a comma: first name, then family name. The post "
            "has a field of its own."
        )
    return text.strip()
