"""Forms about court calendars: what closes a registry, and what extends limits."""

from typing import Any

from django import forms

from registry.rules.calendars import ClosureKind, Effect
from registry.usecases.calendars import EFFECT_TITLES, KIND_TITLES
from registry.usecases.holiday_lists import years_named
from registry.web.forms.dates import WEEKDAYS
from registry.web.forms.days import DayField

KINDS = [(kind.value, KIND_TITLES[kind]) for kind in ClosureKind]
CHOOSE = {
    "required": "Choose one of these.",
    "invalid_choice": "Choose one of these.",
}
EFFECTS = [(effect.value, EFFECT_TITLES[effect]) for effect in Effect]


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


class ChangeForm(forms.Form):
    """A change of a calendar: looked at first, then entered.

    ``earlier_accepted`` is asked only where the preview shows an earlier end.
    """

    earlier_accepted = forms.BooleanField(
        label="It is meant that what ends earlier may be disposed of earlier",
        required=False,
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        # What is asked last stands last.
        self.fields["earlier_accepted"] = self.fields.pop("earlier_accepted")

    def entered(self) -> dict[str, Any]:
        """Return what was filled in, without the acceptance."""
        return {n: v for n, v in self.cleaned_data.items() if n != "earlier_accepted"}


class DaysForm(ChangeForm):
    """Days with one effect on filing."""

    first_day = DayField(label="First day")
    last_day = DayField(
        label="Last day", required=False, help_text="Empty for a single day."
    )
    effect = forms.ChoiceField(
        label="On these days the registry is",
        choices=EFFECTS,
        initial=Effect.CLOSED.value,
        help_text="A vacation in which the court takes election petitions is entered "
        "twice: closed, and open for election petitions alone.",
        error_messages=CHOOSE,
    )
    kind = forms.ChoiceField(
        label="What it is",
        choices=KINDS,
        initial=ClosureKind.UNSAID.value,
        help_text="Some laws roll a last day over Sundays and holidays only, some only "
        "over days on which nothing was received.",
        error_messages=CHOOSE,
    )
    reason = forms.CharField(
        label="Why",
        max_length=200,
        error_messages={"required": "Say why, such as summer vacation."},
    )
    notification = forms.CharField(
        label="Notification",
        max_length=200,
        required=False,
        help_text="The paper that says so. Days are opened only with one.",
    )


class LimitsForm(ChangeForm):
    """A general order by which limits run longer."""

    from_on = DayField(
        label="Limits that end from this day on",
        help_text="The first day that the order covers.",
    )
    until_on = DayField(
        label="Through",
        required=False,
        help_text="Empty while no end is known: what it covers is kept without an end.",
    )
    then_days = forms.IntegerField(
        label="Days given after it ends",
        min_value=0,
        max_value=366,
        initial=0,
        required=False,
        error_messages={"invalid": "Give a whole number of days, such as 90."},
    )
    excludes = forms.BooleanField(
        label="The days under the order do not count at all",
        required=False,
        help_text="What was left of a limit runs on after the order ends.",
    )
    made_on = DayField(label="Made on", help_text="The day of the order.")
    notification = forms.CharField(
        label="Order",
        max_length=200,
        error_messages={"required": "Name the order that extends the limits."},
    )


class EndForm(ChangeForm):
    """The order that ends an extension."""

    until_on = DayField(label="The extension runs through")
    then_days = forms.IntegerField(
        label="Days given after that",
        min_value=0,
        max_value=366,
        initial=0,
        required=False,
        error_messages={"invalid": "Give a whole number of days, such as 90."},
    )
    notification = forms.CharField(
        label="Order",
        max_length=120,
        error_messages={"required": "Name the order that ends the extension."},
    )


class StrikeForm(ChangeForm):
    """Striking an entry that was made in error."""

    because = forms.CharField(
        label="Why it was wrong",
        max_length=200,
        help_text="The entry stays in the calendar, struck, with this reason.",
        error_messages={"required": "Say why the entry was wrong."},
    )


class WeekdaysForm(ChangeForm):
    """Other weekdays on which a registry is closed."""

    weekdays = forms.MultipleChoiceField(
        label="Weekdays on which it is closed",
        required=False,
        choices=WEEKDAYS,
        widget=forms.CheckboxSelectMultiple,
    )
    because = forms.CharField(
        label="By which paper",
        max_length=200,
        error_messages={"required": "Name the paper that changes the weekdays."},
    )


class HolidaysForm(forms.Form):
    """A list of holidays to be checked."""

    file = forms.FileField(
        label="List of holidays",
        help_text="iCalendar (.ics), CSV or XLSX; a table’s first line names the "
        "columns first_day, last_day, reason, kind, effect, notification.",
        error_messages={
            "required": "Choose the file to be read.",
            "empty": "This file is empty. Choose the list itself.",
        },
        widget=forms.FileInput(attrs={"accept": ".ics,.csv,.txt,.tsv,.xlsx"}),
    )
    notification = forms.CharField(
        label="Paper in which the list is published",
        max_length=200,
        required=False,
        help_text="For every entry that names none of its own.",
    )
    kind = forms.ChoiceField(
        label="What the days are",
        choices=KINDS,
        initial=ClosureKind.HOLIDAY.value,
        help_text="For every entry that does not say.",
        error_messages=CHOOSE,
    )
    through = DayField(
        label="Follow repeated entries through",
        required=False,
        help_text="Only for calendars in which a day repeats every year.",
    )


class PublishedHolidaysForm(forms.Form):
    """Public holidays of a country or region, from the holidays library."""

    country = forms.CharField(
        label="Country or region",
        max_length=20,
        help_text="Its ISO 3166 code, such as IE.",
        error_messages={"required": "Write the code of the country, such as IE."},
    )
    subdivision = forms.CharField(
        label="Part of the country",
        max_length=40,
        required=False,
        help_text="Its code, where the part has days of its own, such as SCT.",
    )
    years = forms.CharField(
        label="Years",
        max_length=120,
        help_text="One, or several as 2026,2027.",
        error_messages={"required": "Write the years, such as 2026,2027."},
    )
    notification = forms.CharField(
        label="Paper that confirms these days",
        max_length=200,
        required=False,
        help_text="Empty while nobody has confirmed them: each entry then says so, and "
        "does not count as a day on which, by a named paper, nothing was received.",
    )

    def clean_years(self) -> tuple[int, ...]:
        """Return the years as numbers, in order."""
        try:
            return years_named(self.cleaned_data["years"])
        except ValueError as error:
            raise forms.ValidationError(str(error)) from error
