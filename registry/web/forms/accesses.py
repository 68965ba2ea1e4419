"""What the list of accesses is narrowed to."""

from collections.abc import Iterable

from django import forms

from registry.web.forms.days import DayField

ANY = ("", "any")
OUTCOMES = (ANY, ("done", "done"), ("refused", "refused"), ("failed", "failed"))


class AccessFilter(forms.Form):
    """Narrow accesses by person, act, outcome, number and day."""

    person = forms.CharField(
        label="Person",
        required=False,
        max_length=120,
        help_text="Log-in name, or part of the name.",
    )
    act = forms.ChoiceField(label="Act", required=False, choices=(ANY,))
    outcome = forms.ChoiceField(label="Outcome", required=False, choices=OUTCOMES)
    number = forms.CharField(
        label="Register number",
        required=False,
        max_length=20,
        help_text="Looked at, changed, or shown in a list.",
    )
    first_day = DayField(label="From", required=False)
    last_day = DayField(label="Through", required=False)
    before = forms.IntegerField(required=False, min_value=0, widget=forms.HiddenInput)

    def offer(self, acts: Iterable[tuple[str, str]]) -> None:
        """Offer the acts that were ever entered."""
        self.fields["act"].choices = (ANY, *acts)  # type: ignore[attr-defined]
