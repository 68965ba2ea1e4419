"""Forms of the key register."""

import re
from typing import Any

from django import forms

from registry.web.forms.days import DayField


def _text(label: str, ask: str, length: int, **more: Any) -> forms.CharField:
    return forms.CharField(
        label=label, max_length=length, error_messages={"required": ask}, **more
    )


class MarksField(forms.CharField):
    """Marks of keys, parted by commas or line ends."""

    def clean(self, value: Any) -> tuple[str, ...]:
        """Return the marks, each without outer blanks."""
        text = super().clean(value)
        return tuple(
            part.strip() for part in re.split(r"[,;\n]+", text) if part.strip()
        )


class KeysOnDay(forms.Form):
    """The day for which the holders of the keys are shown."""

    on = DayField(
        label="Who held the keys on",
        required=False,
        help_text="Empty: what is held now.",
    )


class _Keys(forms.Form):
    keys = MarksField(
        label="Marks of its keys",
        max_length=400,
        help_text="As stamped on each key or its tag, parted by commas: A1.",
        error_messages={"required": "Give the mark of at least one key."},
    )
    duplicates = MarksField(
        label="Marks of its duplicates",
        max_length=400,
        required=False,
        help_text="They are deposited sealed, away from the room.",
    )
    fitted_on = DayField(
        label="Fitted on", error_messages={"required": "Say when it was fitted."}
    )


class FitLockForm(_Keys):
    """A lock on a strong room's door."""

    name = _text(
        "Lock",
        "Name the lock, such as upper lock.",
        60,
        help_text="Such as upper lock, lower lock.",
        widget=forms.TextInput(attrs={"autofocus": True}),
    )
    field_order = ("name", "fitted_on", "keys", "duplicates")


class ReplaceLockForm(_Keys):
    """A new lock in the place of an old one."""

    because = _text("Why the old lock is taken off", "Say why it is replaced.", 300)
    field_order = ("because", "fitted_on", "keys", "duplicates")


class AddKeyForm(forms.Form):
    """A further key of a lock."""

    mark = _text(
        "Mark",
        "Write the mark that is stamped on the key or its tag.",
        40,
        widget=forms.TextInput(attrs={"autofocus": True}),
    )
    duplicate = forms.BooleanField(
        label="It is a duplicate, to be deposited", required=False, initial=True
    )


class IssueKeyForm(forms.Form):
    """Who holds a key from now on."""

    username = forms.CharField(
        label="Log-in name of the holder",
        max_length=60,
        required=False,
        help_text="Without one the holder cannot open from the register, nor confirm "
        "that both opened.",
        widget=forms.TextInput(attrs={"autofocus": True, "autocomplete": "off"}),
    )
    holder = forms.CharField(
        label="Name",
        max_length=160,
        required=False,
        help_text="For a holder without a log-in.",
    )
    appointment = _text(
        "Holds it as",
        "Say by which appointment: the post that holds this key.",
        200,
        help_text="The post or the order of appointment.",
    )


class TakeKeyBackForm(forms.Form):
    """Why a key comes back."""

    reason = _text("Why it is given back", "Say why it is given back.", 300)


class DepositKeyForm(forms.Form):
    """Where a key lies sealed."""

    place = _text(
        "Where it is deposited",
        "Say where it lies, and who answers for it there.",
        200,
        help_text="Such as treasury of Harbour Reach, double-lock chest.",
    )
    sealed = forms.BooleanField(
        label="It lies in a cover that is sealed over",
        error_messages={"required": "Seal the cover over first, then tick this."},
    )


class KeyLostForm(forms.Form):
    """How a key was lost."""

    note = _text(
        "How it was lost, and where it was looked for",
        "Say how it was lost and where it was looked for.",
        300,
    )
