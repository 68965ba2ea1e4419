"""Forms of the hand-over of charge."""

from collections.abc import Sequence
from typing import Any

from django import forms

from registry.usecases.hand_overs import HandOverPlan
from registry.web.forms.stock_takes import LookForm


class HandOverPlanForm(forms.Form):
    """Who hands which room over to whom, by which order."""

    room = forms.ChoiceField(label="Strong room")
    outgoing = forms.ChoiceField(label="Hands over")
    incoming = forms.ChoiceField(
        label="Takes over",
        error_messages={"required": "Choose the custodian who takes over."},
    )
    order = forms.CharField(
        label="Order of transfer",
        max_length=200,
        help_text="Number, day and authority of the order that moves the officer.",
        error_messages={"required": "Name the order of transfer."},
    )
    outgoing_absent = forms.CharField(
        label="If the outgoing officer cannot be there: why, and by whose order you "
        "state the stock instead",
        max_length=400,
        required=False,
        widget=forms.Textarea(attrs={"rows": 2}),
    )
    charge_ends = forms.BooleanField(
        label="The outgoing officer’s charge of this room ends with it",
        required=False,
        initial=True,
    )

    def __init__(
        self,
        *args: Any,
        rooms: Sequence[tuple[str, str]],
        custodians: Sequence[tuple[str, str]],
        **more: Any,
    ) -> None:
        super().__init__(*args, **more)
        self.fields["room"].choices = list(rooms)  # type: ignore[attr-defined]
        self.fields["outgoing"].choices = list(custodians)  # type: ignore[attr-defined]
        self.fields["incoming"].choices = [("", "choose"), *custodians]  # type: ignore[attr-defined]

    def plan(self) -> HandOverPlan:
        """Return what was entered."""
        return HandOverPlan(**self.cleaned_data)


class HandedLookForm(LookForm):
    """What the incoming custodian saw of one container."""

    def __init__(self, *args: Any, **more: Any) -> None:
        super().__init__(*args, **more)
        del self.fields["seen_at"]
        self.fields["scanned"].help_text = "Scan its label: a box, or a loose envelope."


class SignForm(forms.Form):
    """A signature by log-in: one tick, and the moment is recorded."""

    signed = forms.BooleanField(
        label="I have read the differences, and sign for what is stated",
        error_messages={"required": "Tick this to sign."},
    )


class GiveUpForm(forms.Form):
    """Why a hand-over is given up."""

    reason = forms.CharField(
        label="Why it is given up",
        max_length=400,
        widget=forms.Textarea(attrs={"rows": 3}),
        error_messages={"required": "Say why it is given up."},
    )
