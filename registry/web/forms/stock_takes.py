"""Forms of stock-taking: what is looked at, the seed, and what was seen."""

from collections.abc import Sequence
from decimal import Decimal
from typing import Any

from django import forms

from registry.rules.draws import SeedUnclear, key_of
from registry.usecases.stock_takes import Look, StockTakePlan
from registry.web.forms.boxes import KINDS
from registry.web.forms.containers import FINDINGS
from registry.web.forms.days import DayField
from registry.web.forms.intake import weight_field
from registry.web.forms.late import WRITE_A_MOMENT
from registry.web.forms.moments import MomentField

PROBABILITIES = (
    ("0.95", "95 %"),
    ("0.99", "99 %"),
    ("0.90", "90 %"),
    ("0.80", "80 %"),
    ("0.50", "50 %"),
)


class StratumForm(forms.Form):
    """What is to be looked at, and how sure one wants to be."""

    noun = forms.ChoiceField(
        label="Look at",
        choices=(("envelope", "envelopes, by sample"), ("box", "boxes, all of them")),
        help_text="Boxes and door seals are always counted whole.",
    )
    room = forms.ChoiceField(label="Strong room", required=False)
    contest = forms.ChoiceField(label="Only of the contest", required=False)
    kind = forms.ChoiceField(
        label="Only this content",
        required=False,
        choices=(("", "any"), *KINDS),
    )
    lost = forms.IntegerField(
        label="A loss of so many is to be found",
        min_value=1,
        initial=1,
        error_messages={
            "required": "Say how many lost containers are to be found.",
            "min_value": "Say how many lost containers are to be found: at least 1.",
        },
    )
    probability = forms.ChoiceField(
        label="With a probability of", choices=PROBABILITIES
    )
    whole = forms.BooleanField(
        label="Look at every one of them",
        required=False,
        help_text="For contested constituencies, and after a failure in a sample.",
    )

    def __init__(
        self,
        *args: Any,
        rooms: Sequence[tuple[str, str]] = (),
        contests: Sequence[tuple[str, str]] = (),
        every_room: bool = False,
        **more: Any,
    ) -> None:
        super().__init__(*args, **more)
        first = [("", "all of them")] if every_room else []
        self.fields["room"].choices = [*first, *rooms]  # type: ignore[attr-defined]
        self.fields["contest"].choices = [("", "any"), *contests]  # type: ignore[attr-defined]

    def plan(self, **more: Any) -> StockTakePlan:
        """Return what was entered, as a plan."""
        chosen = dict(self.cleaned_data)
        chosen["probability"] = Decimal(chosen["probability"])
        return StockTakePlan(**{"purpose": "", **chosen, **more})


class FreezeForm(forms.Form):
    """What the stock-take is for, and which public numbers will decide."""

    purpose = forms.CharField(
        label="What it is for",
        max_length=200,
        help_text="Such as yearly verification, or hand-over of charge.",
        error_messages={"required": "Say what the stock-take is for."},
    )
    seed_announced = forms.CharField(
        label="Which public numbers will decide",
        max_length=400,
        error_messages={
            "required": "Say which public numbers will decide, and where anybody can "
            "read them."
        },
        help_text="Name them so that anybody can find them, and no other: which draw "
        "of which lottery, on which page of which gazette.",
        widget=forms.Textarea(attrs={"rows": 3}),
    )
    seed_on = DayField(
        label="The day on which they become known",
        help_text="A day after today: nobody may know them when the list is fixed.",
    )

    def __init__(self, *args: Any, whole: bool = False, **more: Any) -> None:
        super().__init__(*args, **more)
        if whole:
            del self.fields["seed_announced"], self.fields["seed_on"]


class SeedForm(forms.Form):
    """The public numbers, typed twice: a draw is made once."""

    seed = forms.CharField(
        label="The numbers as published",
        max_length=400,
        help_text="A slash between sources, blanks between the numbers of one: "
        "9319 / 2 5 12 8 10 / 9 18 26 34 41 45. Their order within a source does not "
        "matter.",
        widget=forms.TextInput(attrs={"autofocus": True, "autocomplete": "off"}),
        error_messages={"required": "Enter the public numbers."},
    )
    again = forms.CharField(
        label="The same numbers again",
        max_length=400,
        help_text="Read them from the source once more.",
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
        error_messages={"required": "Enter the public numbers a second time."},
    )

    def clean(self) -> dict[str, Any]:
        """Compare the two."""
        cleaned = super().clean() or {}
        keys = {}
        for name in ("seed", "again"):
            if cleaned.get(name):
                try:
                    keys[name] = key_of(cleaned[name])
                except SeedUnclear as unclear:
                    self.add_error(name, str(unclear))
        if len(keys) == 2 and keys["seed"] != keys["again"]:
            self.add_error(
                "again",
                f"The first reads {keys['seed']}, the second {keys['again']}. Compare "
                "both with the source.",
            )
        return cleaned


def _scan(label: str, **more: Any) -> forms.CharField:
    attrs = {"data-scan": True, "autocomplete": "off", **more.pop("attrs", {})}
    return forms.CharField(
        label=label, max_length=60, widget=forms.TextInput(attrs=attrs), **more
    )


class LookForm(forms.Form):
    """What was seen of one container, read before anything on record is shown."""

    scanned = _scan(
        "Container",
        attrs={"autofocus": True},
        help_text="Scan its label. For an envelope in a sealed box, scan the box.",
        error_messages={"required": "Scan the container."},
    )
    seal_read = _scan(
        "Number as read on the seal",
        required=False,
        help_text="From the seal itself; empty for a plain wax seal.",
    )
    shelf = _scan(
        "Shelf on which it stands",
        required=False,
        help_text="Scan it, for a box; may be left empty.",
    )
    finding = forms.ChoiceField(
        label="How the seal was found", choices=FINDINGS, required=False
    )
    label_legible = forms.ChoiceField(
        label="Its label",
        required=False,
        choices=(("", "not looked at"), ("yes", "legible"), ("no", "not legible")),
    )
    weight_kg = weight_field()
    not_found = forms.BooleanField(
        label="It was looked for and is not there",
        required=False,
        help_text="This opens a discrepancy. It is missing once a custodian of the "
        "room records that on its own page.",
    )
    note = forms.CharField(
        label="Note",
        max_length=400,
        required=False,
        help_text="If it is not there: where it was looked for, and by whom.",
    )
    seen_at = MomentField(
        label="Seen at, if typed in from a sheet",
        required=False,
        error_messages={"invalid": WRITE_A_MOMENT},
    )

    @property
    def scan_fields(self) -> list[forms.BoundField]:
        """The fields that the scanner fills."""
        return [self[name] for name in ("scanned", "seal_read", "shelf")]

    @property
    def other_fields(self) -> list[forms.BoundField]:
        """What is chosen or typed."""
        scanned = {field.name for field in self.scan_fields}
        return [field for field in self if field.name not in scanned]

    def look(self) -> Look:
        """Return what was entered."""
        of = self.cleaned_data
        legible = {"yes": True, "no": False}.get(of["label_legible"])
        return Look(
            scanned=of["scanned"],
            found=not of["not_found"],
            seal_read=of["seal_read"],
            finding="" if of["not_found"] else of["finding"],
            label_legible=legible,
            weight_kg=of["weight_kg"],
            note=of["note"],
        )


class EndForm(forms.Form):
    """The sentence with which a stock-take ends."""

    text = forms.CharField(
        max_length=400,
        widget=forms.Textarea(attrs={"rows": 3}),
        error_messages={
            "required": "Say in a sentence what came of it, or why it ends."
        },
    )

    def __init__(self, *args: Any, label: str, **more: Any) -> None:
        super().__init__(*args, **more)
        self.fields["text"].label = label
