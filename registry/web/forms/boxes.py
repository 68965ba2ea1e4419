"""Forms about boxes and envelopes."""

from django import forms

from registry.rules.schedules import ContentKind

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


class ContainerFilter(forms.Form):
    """What a list of boxes or envelopes is narrowed to."""

    contest = forms.CharField(label="Contest number", required=False, max_length=16)
    kind = forms.ChoiceField(label="Content", required=False, choices=(ANY, *KINDS))
    state = forms.ChoiceField(label="State", required=False, choices=(ANY, *STATES))
    after = forms.IntegerField(
        required=False, min_value=0, widget=forms.HiddenInput, initial=0
    )
