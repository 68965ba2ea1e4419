"""Forms about contests."""

from django import forms

from registry.web.forms.days import DayField


class DatesForm(forms.Form):
    """The dated events of a contest, as far as they are known."""

    polled_on = DayField(label="Poll", required=False)
    counted_on = DayField(label="Count", required=False)
    declared_on = DayField(
        label="Declaration of the result",
        required=False,
        help_text="Of this constituency, from its own paper; never the election’s.",
    )
    return_made_on = DayField(label="Return made", required=False)
    return_received_on = DayField(label="Return received", required=False)
    gazetted_on = DayField(label="Published in the gazette", required=False)
    papers_received_on = DayField(
        label="Papers received by the office that keeps them", required=False
    )
    next_poll_on = DayField(
        label="Next poll of this constituency",
        required=False,
        help_text="It may lie ahead; some schedules count back from it.",
    )
    source = forms.CharField(
        label="Paper these dates come from",
        max_length=300,
        error_messages={"required": "Name the paper that these dates come from."},
    )
