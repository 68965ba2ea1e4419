"""The form of the date reckoner."""

from django import forms

from registry.rules.terms import Counting, Direction, IfClosed, MonthEnd, Unit
from registry.web.forms.days import DayField, DaysField, SpansField

WEEKDAYS = (
    ("0", "Monday"),
    ("1", "Tuesday"),
    ("2", "Wednesday"),
    ("3", "Thursday"),
    ("4", "Friday"),
    ("5", "Saturday"),
    ("6", "Sunday"),
)
UNITS = (
    (Unit.DAYS.value, "days"),
    (Unit.WORKING_DAYS.value, "working days"),
    (Unit.WEEKS.value, "weeks"),
    (Unit.MONTHS.value, "months"),
    (Unit.YEARS.value, "years"),
)
COUNTINGS = (
    (Counting.EXCLUDE_FIRST.value, "The event’s day is not counted"),
    (Counting.INCLUDE_FIRST.value, "The event’s day is day one"),
    (Counting.DAY_AFTER.value, "It starts afresh on the day after the event"),
    (Counting.CLEAR.value, "Clear time: neither the first nor the last day counts"),
)
DIRECTIONS = (
    (Direction.FORWARD.value, "Forward, from the event on"),
    (Direction.BACKWARD.value, "Backward, before the event"),
)
IF_CLOSED = (
    (IfClosed.KEEP.value, "The day stays where it falls"),
    (IfClosed.NEXT_OPEN.value, "It moves to the next open day"),
    (IfClosed.PREVIOUS_OPEN.value, "It moves to the open day before"),
    (IfClosed.FIRST_OPEN_AFTER.value, "Always the first open day after it"),
)
MONTH_ENDS = (
    (MonthEnd.CORRESPONDING.value, "On the corresponding date"),
    (MonthEnd.LAST_TO_LAST.value, "From a month’s last day to a month’s last day"),
)
WHOLE_NUMBER = "Write a whole number, such as 45."
LONGEST = 999_999


class PeriodForm(forms.Form):
    """A legal period: from which event, how long, and how it is counted."""

    start = DayField(
        label="Day of the event",
        error_messages={"required": "Give the day from which the period runs."},
    )
    other_starts = DaysField(
        label="Further events",
        required=False,
        help_text="Where several events start the period, the latest of them counts. "
        "Part them with commas: 2026-05-04, 2026-05-06.",
    )
    length = forms.IntegerField(
        label="Length",
        min_value=0,
        max_value=LONGEST,
        error_messages={"required": "Give the length.", "invalid": WHOLE_NUMBER},
    )
    unit = forms.ChoiceField(label="Unit", choices=UNITS)
    counting = forms.ChoiceField(label="How it is counted", choices=COUNTINGS)
    direction = forms.ChoiceField(label="Direction", choices=DIRECTIONS)
    closed_weekdays = forms.MultipleChoiceField(
        label="Weekdays on which the office is closed",
        required=False,
        choices=WEEKDAYS,
        widget=forms.CheckboxSelectMultiple,
    )
    closed = SpansField(
        label="Other closed days",
        required=False,
        help_text="Days and spans: 2026-04-16, 2026-05-01..2026-05-20.",
    )
    if_closed = forms.ChoiceField(
        label="If the last day is a closed one", choices=IF_CLOSED
    )
    month_end = forms.ChoiceField(label="Where months end", choices=MONTH_ENDS)
    skip_closed_within = forms.IntegerField(
        label="Closed days do not count in a period of so many days or fewer",
        required=False,
        min_value=0,
        max_value=LONGEST,
        error_messages={"invalid": WHOLE_NUMBER},
    )
    at_least_working_days = forms.IntegerField(
        label="It must hold at least so many open days",
        required=False,
        min_value=0,
        max_value=LONGEST,
        error_messages={"invalid": WHOLE_NUMBER},
    )
