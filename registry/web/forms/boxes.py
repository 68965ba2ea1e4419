"""Forms about boxes and envelopes."""

from typing import Any

from django import forms
from django.utils.timezone import localtime

from registry.rules.schedules import ContentKind
from registry.web.forms.days import DayField

ANY = ("", "any")
KINDS = (
    (ContentKind.POLL_SLIPS.value, "poll slips"),
    (ContentKind.MOCK_POLL_SLIPS.value, "mock-poll slips"),
    (ContentKind.STATUTORY_PACKET.value, "statutory packet"),
)
STATES = (
    ("held", "held"),
    ("quarantined", "in quarantine"),
    ("superseded", "opened and superseded"),
    ("disposed", "disposed of"),
)
WHEREABOUTS = (
    ("intake", "at the intake table"),
    ("shelved", "on its shelf"),
    ("in-box", "in its box"),
    ("out", "taken out under an order"),
    ("kept", "in the custody of a court"),
    ("on-way", "on the way to another room"),
    ("replaced", "with the one that superseded it"),
    ("missing", "not found"),
    ("gone", "disposed of"),
)


class ContainerFilter(forms.Form):
    """What a list of boxes or envelopes is narrowed to."""

    contest = forms.CharField(
        label="Contest (CT- number)", required=False, max_length=16
    )
    kind = forms.ChoiceField(label="Content", required=False, choices=(ANY, *KINDS))
    state = forms.ChoiceField(label="State", required=False, choices=(ANY, *STATES))
    whereabouts = forms.ChoiceField(
        label="Where", required=False, choices=(ANY, *WHEREABOUTS)
    )
    after = forms.IntegerField(
        required=False, min_value=0, widget=forms.HiddenInput, initial=0
    )


class AsOfForm(forms.Form):
    """The two clocks: the day asked about, and what was known when."""

    def __init__(self, *args: Any, **more: Any) -> None:
        super().__init__(*args, **more)
        # A hyphen stands in the address, so the fields cannot be attributes.
        self.fields["as-of"] = DayField(label="Reckon as of", required=False)
        self.fields["known-at"] = DayField(
            label="With what was known at the end of",
            required=False,
            help_text="Empty: with what is known now.",
        )


def as_of_form(reckoned: Any) -> AsOfForm:
    """Return the form that asks again, filled in with what was asked.

    Args:
        reckoned: has ``as_of`` and ``known_at``.
    """
    at = reckoned.known_at
    known_on = localtime(at).date() if at else None
    return AsOfForm(initial={"as-of": reckoned.as_of, "known-at": known_on})
