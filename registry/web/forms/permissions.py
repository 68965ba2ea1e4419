"""Forms of the authority's desk."""

import re

from django import forms

from registry.rules.disposal_facts import Act
from registry.usecases.documents import Upload

ACTS = (
    ("", "choose one act"),
    (Act.ENTER_ROOM.value, "enter a strong room"),
    (Act.OPEN_BOX.value, "open boxes"),
    (Act.OPEN_ENVELOPE.value, "open envelopes"),
    (Act.TAKE_OUT.value, "take boxes or envelopes out"),
    (Act.DESTROY.value, "destroy boxes or envelopes"),
)
STATES = (
    ("", "any"),
    ("recorded – no force yet", "recorded – no force yet"),
    ("in force", "in force"),
    ("not yet valid", "not yet valid"),
    ("expired", "expired"),
    ("revoked", "revoked"),
    ("used", "used"),
)

_BETWEEN_NUMBERS = re.compile(r"[\r\n,;]+")


class DayInput(forms.DateInput):
    """A day, with the browser's own calendar."""

    input_type = "date"

    def __init__(self) -> None:
        super().__init__(format="%Y-%m-%d")


def day(label: str, missing: str, help_text: str = "") -> forms.DateField:
    """Return a field for a day."""
    return forms.DateField(
        label=label,
        help_text=help_text,
        widget=DayInput(),
        error_messages={
            "required": missing,
            "invalid": "Write the day as 2026-11-02.",
        },
    )


class PermissionFilter(forms.Form):
    """What the list of permissions is narrowed to."""

    state = forms.ChoiceField(label="State", required=False, choices=STATES)


class PermissionForm(forms.Form):
    """An order of the higher authority, as the paper states it."""

    election = forms.ChoiceField(
        label="Election",
        error_messages={"required": "Choose the election."},
    )
    authority = forms.CharField(
        label="Authority",
        max_length=200,
        help_text="As it is named at the head of the order.",
        error_messages={"required": "Name the authority that made the order."},
    )
    order_ref = forms.CharField(
        label="Order number",
        max_length=120,
        error_messages={"required": "Give the order's number."},
    )
    dated = day("Date of the order", "Give the date of the order.")
    valid_from = day("Valid from", "Give the first day on which it may be used.")
    valid_until = day(
        "Valid until",
        "Give the last day on which it may be used.",
        "The last day on which it may be used. An order without an end is not "
        "recorded: ask the authority for one.",
    )
    act = forms.ChoiceField(
        label="What the order permits",
        choices=ACTS,
        help_text="One act. An order for several acts is recorded once for each.",
        error_messages={"required": "Say what the order permits."},
    )
    things = forms.CharField(
        label="What the order names",
        help_text="Scan or type the numbers, one to a line. For taking out and "
        "destroying, what lies in a box today is named with it; what is put in later "
        "is not.",
        widget=forms.Textarea(attrs={"rows": 8, "spellcheck": "false"}),
        error_messages={"required": "List the boxes, envelopes or rooms."},
    )
    conditions = forms.CharField(
        label="Conditions",
        required=False,
        max_length=4000,
        help_text="One to a line. Each is ticked when the permission is used.",
        widget=forms.Textarea(attrs={"rows": 4}),
    )
    while_still_kept = forms.BooleanField(
        label="The order expressly allows this while the material must still be kept",
        required=False,
        help_text="Never for destruction.",
    )
    instead_of_confirmation = forms.BooleanField(
        label="The order expressly stands in for the confirmation of the court’s "
        "registry",
        required=False,
        help_text="Of use only where the election’s schedule lets an express order "
        "stand in for it.",
    )
    document = forms.FileField(
        label="Scan of the order",
        required=False,
        help_text="PDF, PNG, JPEG or TIFF. If the page comes back with something to "
        "mend, choose the file again.",
    )

    def __init__(self, *args: object, elections: object = (), **kwargs: object) -> None:
        super().__init__(*args, **kwargs)  # type: ignore[arg-type]
        self.fields["election"].choices = elections  # type: ignore[attr-defined]

    def clean_things(self) -> list[str]:
        """Return the numbers, in the order in which they were listed."""
        lines = _BETWEEN_NUMBERS.split(self.cleaned_data["things"])
        return list(dict.fromkeys(line.strip() for line in lines if line.strip()))

    def upload(self) -> Upload | None:
        """Return the scan as it was handed in."""
        file = self.cleaned_data.get("document")
        if not file:
            return None
        title = f"Order {self.cleaned_data['order_ref']}"
        return Upload(title=title, content=file.read())


class CountersignForm(forms.Form):
    """The second signature."""

    digest_seen = forms.CharField(widget=forms.HiddenInput, max_length=64)
    compared = forms.BooleanField(
        label="I have compared this entry with the order itself: authority, number, "
        "days, act, conditions and every number on the list.",
        error_messages={"required": "Compare the entry with the order, then tick."},
    )
    seen = forms.BooleanField(
        label="I have read what stands against these containers today. Signing does "
        "not put it aside.",
        error_messages={"required": "Read what stands against them, then tick."},
    )

    def __init__(self, *args: object, hindered: bool = False, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)  # type: ignore[arg-type]
        if not hindered:
            del self.fields["seen"]


class RevokeForm(forms.Form):
    """Why a permission is revoked."""

    because = forms.CharField(
        label="Reason, and the order that revokes it",
        max_length=400,
        widget=forms.Textarea(attrs={"rows": 3}),
        error_messages={"required": "Give the reason, and the order that revokes it."},
    )
