"""What a retention report is asked for."""

from django import forms

from registry.web.forms.days import DayField


class ReportForm(forms.Form):
    """An election, a contest of it, or a strong room; and a day."""

    election = forms.ChoiceField(label="Election", required=False)
    contest = forms.CharField(
        label="Constituency",
        required=False,
        max_length=20,
        help_text="Its number, such as 11; empty for all.",
    )
    room = forms.ChoiceField(
        label="Strong room",
        required=False,
        help_text="Instead of an election.",
    )
    as_of = DayField(
        label="As of",
        required=False,
        help_text="What happened later does not count. Empty for today.",
    )
    known_at = DayField(
        label="With what was known at the end of",
        required=False,
        help_text="What was entered later does not count. Empty: with what is known "
        "now.",
    )
