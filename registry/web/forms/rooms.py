"""Forms about strong rooms and their shelves."""

import re

from django import forms

COUNTED = (
    ("", "not recorded"),
    ("from-floor", "the lowest"),
    ("from-top", "the highest"),
)
WHOLE_NUMBER = "Write a whole number, such as 20."


class BaysForm(forms.Form):
    """Bays of the same build, with their shelves."""

    bays = forms.CharField(
        label="Bays",
        max_length=400,
        help_text="The code of each bay, parted by commas: A, B, C.",
        error_messages={"required": "Give the code of at least one bay, such as A."},
    )
    shelves = forms.IntegerField(
        label="Shelves in each bay",
        min_value=1,
        max_value=50,
        error_messages={
            "required": "Say how many shelves a bay has.",
            "invalid": WHOLE_NUMBER,
        },
    )
    capacity = forms.IntegerField(
        label="Boxes that a shelf takes",
        min_value=1,
        max_value=1000,
        help_text="Not more than its load and a safe lift allow.",
        error_messages={
            "required": "Say how many boxes a shelf takes.",
            "invalid": WHOLE_NUMBER,
        },
    )

    counted = forms.ChoiceField(
        label="Shelf 1 of a bay is",
        choices=COUNTED,
        required=False,
        help_text="Heavy boxes are suggested low shelves where it is known which "
        "these are.",
    )

    def clean_bays(self) -> list[str]:
        """Return the codes, each once."""
        codes = [c for c in re.split(r"[\s,;]+", self.cleaned_data["bays"]) if c]
        if not codes:
            raise forms.ValidationError("Give the code of at least one bay, such as A.")
        if len(set(codes)) < len(codes):
            raise forms.ValidationError("A bay stands here twice.")
        if any(len(code) > 20 for code in codes):
            raise forms.ValidationError("A bay’s code has at most 20 characters.")
        return codes


class RoomForm(BaysForm):
    """A new strong room."""

    name = forms.CharField(
        label="Name",
        max_length=120,
        error_messages={"required": "Give the strong room’s name."},
    )
    site = forms.CharField(
        label="Where it is", max_length=200, required=False, help_text="The building."
    )
    field_order = ("name", "site", "bays", "shelves", "capacity", "counted")


class ShelfForm(forms.Form):
    """What a shelf takes, and how high it is."""

    capacity = forms.IntegerField(
        label="Boxes that it takes",
        min_value=1,
        max_value=1000,
        help_text="Not more than its load and a safe lift allow, and not less than "
        "what stands on it.",
        error_messages={
            "required": "Say how many boxes it takes.",
            "invalid": WHOLE_NUMBER,
        },
    )
    level = forms.IntegerField(
        label="How high it is, counted from the floor",
        min_value=1,
        max_value=50,
        required=False,
        help_text="1 is the lowest. Empty where it is not known.",
        error_messages={"invalid": WHOLE_NUMBER},
    )


class PlanForm(forms.Form):
    """The assumption under which it is reckoned when places come free."""

    within = forms.IntegerField(
        label="Days until a permission is given and used",
        min_value=0,
        max_value=3650,
        error_messages={
            "required": "Say how many days, such as 30.",
            "invalid": "Write a whole number, such as 30.",
            "min_value": "Give a number of days from 0 to 3650.",
            "max_value": "Give a number of days from 0 to 3650.",
        },
    )
