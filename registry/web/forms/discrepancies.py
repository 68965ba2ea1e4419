"""Forms about discrepancies and quarantine."""

from collections.abc import Iterable
from typing import Any

from django import forms

from registry.rules.arrivals import DiscrepancyKind
from registry.web.forms.boxes import ANY

SHOW = (("open", "open"), ("resolved", "resolved"), ("all", "open and resolved"))
KINDS = tuple((kind.value, kind.value.replace("-", " ")) for kind in DiscrepancyKind)


class DiscrepancyFilter(forms.Form):
    """What the list of discrepancies is narrowed to."""

    show = forms.ChoiceField(label="Show", required=False, choices=SHOW)
    kind = forms.ChoiceField(label="Kind", required=False, choices=(ANY, *KINDS))
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
