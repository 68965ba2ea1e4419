"""Forms of the door log."""

from collections.abc import Sequence
from typing import Any

from django import forms

from registry.usecases.doors import Happened, Present
from registry.web.forms.days import DayField
from registry.web.forms.moments import MomentField

PURPOSES = (
    ("", "say what it is opened for"),
    ("intake", "intake"),
    ("round", "inspection round"),
    ("stock", "stock-taking"),
    ("production", "production to a court or return from it"),
    ("viewing", "viewing that an authority or a court permitted"),
    ("opening", "opening or disposal under permission"),
    ("transfer", "transfer to or from another room"),
    ("hand-over", "hand-over of charge"),
    ("repair", "repair or cleaning"),
    ("emergency", "emergency"),
)
WASTE = (
    ("", "say what became of it"),
    ("none", "no waste left the room"),
    ("looked", "looked through by two people before it left"),
    ("unlooked", "left without being looked through"),
)
ONE_ALONE = ("", "nobody: it is opened by one key holder alone")


class FromPaper(forms.Form):
    """When it happened, where a paper form took it down."""

    paper_form = forms.CharField(
        label="Paper form",
        max_length=40,
        required=False,
        help_text="Only where it was taken down on a numbered form: its number.",
    )
    happened_at = MomentField(label="When it happened", required=False)

    def clean(self) -> dict[str, Any]:
        """Form and moment go together."""
        cleaned = super().clean() or {}
        form, moment = cleaned.get("paper_form"), cleaned.get("happened_at")
        if form and not moment and "happened_at" not in self.errors:
            self.add_error("happened_at", "Write when it happened, as on the form.")
        if moment and not form:
            self.add_error("paper_form", "Write the number of the paper form.")
        return cleaned

    def happened(self) -> Happened | None:
        """Return when it happened; None where it happens now."""
        form = self.cleaned_data.get("paper_form")
        return Happened(self.cleaned_data["happened_at"], form) if form else None


class OpenDoorForm(FromPaper):
    """The opening of a strong room's door; seals are read before they are compared."""

    seals_found = forms.CharField(
        label="Seals found on the door",
        max_length=400,
        required=False,
        help_text="Read them off the door now, parted by commas. The register shows "
        "those put on last only afterwards.",
        widget=forms.TextInput(
            attrs={"data-scan": True, "autofocus": True, "autocomplete": "off"}
        ),
    )
    seals_found_state = forms.CharField(
        label="How they looked", max_length=400, required=False
    )
    purpose = forms.ChoiceField(
        label="Purpose",
        choices=PURPOSES,
        error_messages={"required": "Say what the door is opened for."},
    )
    permission = forms.ChoiceField(
        label="Permission",
        required=False,
        help_text="For a viewing, an opening or a disposal.",
    )
    first_key = forms.ChoiceField(label="First key holder")
    second_key = forms.ChoiceField(
        label="Second key holder",
        required=False,
        help_text="Confirms afterwards, from the own log-in or by password here.",
    )
    present = forms.CharField(
        label="Others who go in",
        required=False,
        max_length=2000,
        help_text="One to a line: name, post. The key holders need not stand here.",
        widget=forms.Textarea(attrs={"rows": 3}),
    )
    escort = forms.CharField(
        label="Escort",
        required=False,
        max_length=160,
        help_text="For a repair: who stays beside them. Nothing is touched.",
    )
    note = forms.CharField(label="Note", max_length=400, required=False)
    field_order = (
        "seals_found",
        "seals_found_state",
        "purpose",
        "permission",
        "first_key",
        "second_key",
        "present",
        "escort",
        "note",
        "paper_form",
        "happened_at",
    )

    def offer(
        self,
        holders: Sequence[tuple[str, str]],
        permissions: Sequence[tuple[str, str]],
    ) -> None:
        """Offer who holds keys and which permissions are in force."""
        none = ("", "none")
        self.fields["first_key"].choices = holders  # type: ignore[attr-defined]
        self.fields["second_key"].choices = (ONE_ALONE, *holders)  # type: ignore[attr-defined]
        self.fields["permission"].choices = (none, *permissions)  # type: ignore[attr-defined]

    def people(self) -> tuple[Present, ...]:
        """Return those who go in besides the key holders."""
        escort = self.cleaned_data["escort"]
        lines = self.cleaned_data["present"].splitlines()
        split = [line.partition(",") for line in lines if line.strip()]
        return tuple(
            Present(name.strip(), post.strip(), escort) for name, _, post in split
        )


class ConfirmForm(forms.Form):
    """Nothing is asked but to press the button, from the own log-in."""


class ConfirmHereForm(forms.Form):
    """The second key holder's password, typed by the holder."""

    password = forms.CharField(
        label="Password of the second key holder",
        max_length=200,
        strip=False,
        widget=forms.PasswordInput(attrs={"autofocus": True, "autocomplete": "off"}),
        error_messages={"required": "The second key holder types the own password."},
    )


class CameForm(forms.Form):
    """Somebody comes in while the door is open."""

    name = forms.CharField(
        label="Name",
        max_length=160,
        error_messages={"required": "Write the name."},
        widget=forms.TextInput(attrs={"autofocus": True}),
    )
    post = forms.CharField(label="Post", max_length=160, required=False)
    escort = forms.CharField(
        label="Escort",
        max_length=160,
        required=False,
        help_text="For a contractor: who stays beside them.",
    )
    came_at = MomentField(label="Came in at", required=False, help_text="Empty: now.")


class LeftForm(forms.Form):
    """When somebody left."""

    left_at = MomentField(label="Left at", required=False, help_text="Empty: now.")


class CloseDoorForm(FromPaper):
    """The closing of a strong room's door."""

    seals_put_on = forms.CharField(
        label="Seals put on the door",
        max_length=400,
        required=False,
        help_text="Their numbers, parted by commas.",
        widget=forms.TextInput(
            attrs={"data-scan": True, "autofocus": True, "autocomplete": "off"}
        ),
    )
    done = forms.CharField(
        label="What was done",
        max_length=400,
        error_messages={"required": "Say what was done while the door was open."},
    )
    waste = forms.ChoiceField(
        label="Waste in the room",
        choices=WASTE,
        error_messages={"required": "Say what became of the waste in the room."},
    )
    camera_reference = forms.CharField(
        label="Camera",
        max_length=200,
        required=False,
        help_text="Which recording shows it, such as camera 2, disk 14.",
    )
    all_left = forms.BooleanField(
        label="Everybody who was inside has left",
        required=False,
        initial=True,
    )
    field_order = (
        "seals_put_on",
        "done",
        "waste",
        "all_left",
        "camera_reference",
        "paper_form",
        "happened_at",
    )


class DoorFilter(forms.Form):
    """What the door log is narrowed to."""

    room = forms.ChoiceField(label="Strong room", required=False)
    first_day = DayField(label="From", required=False)
    last_day = DayField(label="Through", required=False)
    standing_out = forms.BooleanField(label="Only what stands out", required=False)
    before = forms.IntegerField(required=False, min_value=0, widget=forms.HiddenInput)


class LogForm(forms.Form):
    """The days of a door log to be printed."""

    first_day = DayField(label="Print the log from")
    last_day = DayField(label="Through")
