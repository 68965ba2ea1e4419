"""Forms about discrepancies and quarantine."""

from collections.abc import Iterable
from typing import Any

from django import forms

from registry.rules.arrivals import DiscrepancyKind
from registry.web.forms.boxes import ANY
from registry.web.forms.days import DayField

SHOW = (
    ("open", "open"),
    ("overdue", "open and overdue"),
    ("resolved", "resolved"),
    ("all", "open and resolved"),
)
WHOSE = (ANY, ("mine", "mine"), ("nobody", "nobody's"))
KINDS = tuple((kind.value, kind.value.replace("-", " ")) for kind in DiscrepancyKind)


class DiscrepancyFilter(forms.Form):
    """What the list of discrepancies is narrowed to."""

    show = forms.ChoiceField(label="Show", required=False, choices=SHOW)
    kind = forms.ChoiceField(label="Kind", required=False, choices=(ANY, *KINDS))
    whose = forms.ChoiceField(label="Owner", required=False, choices=WHOSE)
    after = forms.IntegerField(
        required=False, min_value=0, widget=forms.HiddenInput, initial=0
    )


class ResolveForm(forms.Form):
    """How a discrepancy was resolved."""

    resolution = forms.CharField(
        label="How it was resolved, and on whose word",
        max_length=400,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text="A statement, an order, a look at the paper. What was written on "
        "the container stays as it was recorded.",
        error_messages={
            "required": "Say how it was resolved and on whose word: a statement, an "
            "order, a look at the paper."
        },
    )


class GiveForm(forms.Form):
    """Who settles a discrepancy, and by when."""

    owner = forms.ChoiceField(
        label="Who settles it",
        help_text="The custodians in charge of the room, and the legal officers of "
        "the election.",
        error_messages={
            "required": "Choose who settles it.",
            "invalid_choice": "Choose a person from the list.",
        },
    )
    due_on = DayField(
        label="To be settled by",
        error_messages={"required": "Give the day by which it is to be settled."},
    )

    def __init__(
        self, *args: Any, owners: Iterable[tuple[str, str]], **more: Any
    ) -> None:
        super().__init__(*args, **more)
        self.fields["owner"].choices = tuple(owners)  # type: ignore[attr-defined]


class ReleaseForm(forms.Form):
    """What a container in quarantine stands for, and why it may leave."""

    contest = forms.ChoiceField(
        label="It stands for constituency",
        required=False,
        help_text="Only where it was not recognised, or was recognised wrongly.",
    )
    unit_set = forms.ChoiceField(
        label="It stands for the units",
        required=False,
        widget=forms.RadioSelect,
        help_text="Those whose serials come nearest to what is written on it.",
    )
    other = forms.CharField(
        label="Or: register number of another unit set or polling station",
        required=False,
        max_length=20,
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )
    reason = forms.CharField(
        label="Why it may leave quarantine",
        max_length=300,
        widget=forms.Textarea(attrs={"rows": 3}),
        error_messages={"required": "Say why it may leave quarantine."},
    )

    def __init__(
        self,
        *args: Any,
        contests: Iterable[tuple[str, str]],
        candidates: Iterable[tuple[str, str]],
        is_box: bool,
        **more: Any,
    ) -> None:
        super().__init__(*args, **more)
        self.fields["contest"].choices = (("", "as recognised"), *contests)  # type: ignore[attr-defined]
        self.fields["unit_set"].choices = (("", "as recognised"), *candidates)  # type: ignore[attr-defined]
        if is_box:
            del self.fields["unit_set"], self.fields["other"]

    def named(self) -> dict[str, Any]:
        """Return what was named, as the act takes it."""
        cleaned = self.cleaned_data
        other = cleaned.get("other", "").strip().upper()
        units = cleaned.get("unit_set", "")
        return {
            "contest": cleaned.get("contest", ""),
            "unit_set": other if other and not other.startswith("ST") else units,
            "station": other if other.startswith("ST") else "",
        }
