"""Forms about retention schedules: adopting, comparing, moving an election."""

from django import forms


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


class CompareForm(forms.Form):
    """Two versions to be held side by side."""

    before = forms.ChoiceField(
        label="Before",
        error_messages={
            "required": "Choose the version that stood before.",
            "invalid_choice": "There is no such version. Choose one of the list.",
        },
    )
    after = forms.ChoiceField(
        label="After",
        error_messages={
            "required": "Choose the version that stands after.",
            "invalid_choice": "There is no such version. Choose one of the list.",
        },
    )


class VersionForm(forms.Form):
    """The version to which an election may be moved."""

    schedule = forms.ChoiceField(
        label="Another version",
        error_messages={
            "required": "Choose the version to look at.",
            "invalid_choice": "There is no such version. Choose one of the list.",
        },
    )


class AdoptionForm(forms.Form):
    """The order by which an election is moved, on the counts of the preview."""

    schedule = forms.CharField(widget=forms.HiddenInput)
    later = forms.IntegerField(widget=forms.HiddenInput, min_value=0)
    earlier = forms.IntegerField(widget=forms.HiddenInput, min_value=0)
    unchanged = forms.IntegerField(widget=forms.HiddenInput, min_value=0)
    order = forms.CharField(
        label="Order that ordains it",
        max_length=200,
        error_messages={"required": "Name the order that ordains the new version."},
    )
    earlier_accepted_because = forms.CharField(
        label="Why an earlier end shall apply to what is held already",
        max_length=400,
        required=False,
        help_text="Something ends earlier than before. Where the law leaves open "
        "whether it binds what is held already, the longer time is the safe one.",
        error_messages={
            "required": "Something ends earlier than before. Say why that shall apply "
            "to what is held already, or leave the election where it is."
        },
    )
