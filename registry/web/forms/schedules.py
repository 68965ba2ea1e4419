"""Forms about retention schedules and court calendars."""

from django import forms

from registry.web.forms.dates import WEEKDAYS
from registry.web.forms.days import DayField


class ScheduleForm(forms.Form):
    """A schedule's file to be adopted."""

    text = forms.FileField(
        label="Schedule",
        help_text="A TOML file, one for each version; a version once adopted never "
        "changes.",
        error_messages={
            "required": "Choose the schedule’s file.",
            "empty": "This file is empty. Choose the schedule itself.",
        },
        widget=forms.FileInput(attrs={"accept": ".toml"}),
    )


class CalendarForm(forms.Form):
    """A court's calendar."""

    name = forms.CharField(
        label="Registry",
        max_length=160,
        help_text="The court whose registry receives petitions, such as Registry of "
        "the High Bench.",
        error_messages={"required": "Name the court whose registry this is."},
    )
    closed_weekdays = forms.MultipleChoiceField(
        label="Weekdays on which it is closed",
        required=False,
        choices=WEEKDAYS,
        widget=forms.CheckboxSelectMultiple,
    )


class ClosureForm(forms.Form):
    """Days on which a court's registry is closed."""

    first_day = DayField(label="First closed day")
    last_day = DayField(
        label="Last closed day", required=False, help_text="Empty for a single day."
    )
    reason = forms.CharField(
        label="Why it is closed",
        max_length=200,
        error_messages={"required": "Say why, such as summer vacation."},
    )
    notification = forms.CharField(
        label="Notification",
        max_length=200,
        required=False,
        help_text="The paper that says so. A vacation in which the court still takes "
        "election petitions is no closure.",
    )
