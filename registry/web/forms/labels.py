"""The form in which labels are chosen."""

import re

from django import forms

from registry.usecases.labels import COPIES, STOCK_CHOICES, USUAL


class NumbersField(forms.CharField):
    """Register numbers, parted by blanks, commas or lines."""

    def clean(self, value: object) -> list[str]:
        """Return the numbers, each once."""
        text = super().clean(value)
        return list(dict.fromkeys(part for part in re.split(r"[\s,;]+", text) if part))


class ChooseLabelsForm(forms.Form):
    """What is to be labelled."""

    things = NumbersField(
        label="Numbers to be labelled",
        max_length=6000,
        help_text="One or several, parted by blanks: a box, an envelope, an intake, a "
        "contest, a room, a bay, a shelf, a station.",
        widget=forms.Textarea(
            attrs={"rows": 3, "autocomplete": "off", "spellcheck": "false"}
        ),
        error_messages={"required": "Scan or type at least one number."},
    )
    with_contents = forms.BooleanField(
        label="What lies in it as well: a box’s envelopes, a bay’s shelves",
        required=False,
    )


class PrintLabelsForm(ChooseLabelsForm):
    """On what they are printed, and how many."""

    stock = forms.ChoiceField(
        label="Labels in the printer",
        choices=STOCK_CHOICES,
        initial=USUAL,
        help_text="Lay a print on plain paper over the sheet before the first one.",
    )
    first_place = forms.IntegerField(
        label="Begin at place",
        min_value=1,
        initial=1,
        help_text="On a part-used sheet: 1 is the top left, counted row by row.",
        error_messages={
            "required": "Say at which place to begin; 1 is the top left.",
            "invalid": "Write a whole number, such as 1.",
        },
    )
    copies = forms.IntegerField(
        label="Labels of each",
        min_value=1,
        max_value=COPIES,
        initial=1,
        error_messages={
            "required": "Say how many of each; 1 is usual.",
            "invalid": "Write a whole number, such as 1.",
        },
    )

    def __init__(self, *args: object, **more: object) -> None:
        super().__init__(*args, **more)  # type: ignore[arg-type]
        # What was chosen stands in words above; it is sent along unchanged.
        for name in ("things", "with_contents"):
            self.fields[name].widget = forms.HiddenInput()
