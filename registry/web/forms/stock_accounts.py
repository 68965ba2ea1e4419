"""What a stock account is asked for."""

from django import forms

from registry.web.forms.days import DayField


class StockAccountForm(forms.Form):
    """A strong room and a period."""

    room = forms.ChoiceField(label="Strong room", required=False)
    first_day = DayField(
        label="From",
        required=False,
        help_text="Empty: the first day of that year.",
    )
    last_day = DayField(
        label="To the end of", required=False, help_text="Empty: today."
    )
