"""Forms about elections, their contests and stations."""

from django import forms

from registry.web.forms.days import DayField


class ElectionForm(forms.Form):
    """A new election, pinned to a schedule's version and a court's calendar."""

    code = forms.CharField(
        label="Code",
        max_length=40,
        help_text="Short, for commands and file names, such as general-2026.",
        error_messages={"required": "Give a code, such as general-2026."},
    )
    name = forms.CharField(
        label="Name",
        max_length=200,
        help_text="As it is printed on the containers.",
        error_messages={"required": "Give the name as it is printed."},
    )
    schedule = forms.ChoiceField(
        label="Retention schedule",
        help_text="The election stays pinned to this version.",
        error_messages={"required": "Choose the schedule that binds this election."},
    )
    calendar = forms.ChoiceField(
        label="Calendar of the court’s registry",
        error_messages={"required": "Choose the court in which petitions are filed."},
    )
    legal_zone = forms.CharField(
        label="Time zone of its law",
        initial="UTC",
        max_length=60,
        help_text="Where its legal days begin and end, such as Europe/Oslo.",
        error_messages={"required": "Give a time zone, such as UTC or Europe/Oslo."},
    )


class ContestForm(forms.Form):
    """A new contest, with the dates known so far."""

    constituency_number = forms.CharField(
        label="Constituency number",
        max_length=20,
        error_messages={"required": "Give the constituency’s number."},
    )
    constituency_name = forms.CharField(
        label="Constituency name",
        max_length=160,
        error_messages={"required": "Give the constituency’s name."},
    )
    returning_officer = forms.CharField(
        label="Returning officer", max_length=160, required=False
    )
    polled_on = DayField(label="Poll", required=False)
    counted_on = DayField(label="Count", required=False)
    declared_on = DayField(
        label="Declaration of the result",
        required=False,
        help_text="Of this constituency. What is not known yet can be recorded later.",
    )
    source = forms.CharField(
        label="Paper these dates come from", max_length=300, required=False
    )


class StationsForm(forms.Form):
    """A station list to be checked."""

    file = forms.FileField(
        label="Station list",
        help_text="CSV or XLSX, one line for each pair of units; the first line names "
        "the columns. A station with a replaced unit has several lines.",
        error_messages={
            "required": "Choose the file to be read.",
            "empty": "This file is empty. Choose the list itself.",
        },
        widget=forms.FileInput(attrs={"accept": ".csv,.txt,.tsv,.xlsx"}),
    )
