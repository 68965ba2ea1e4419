"""Forms about people and their posts."""

from django import forms

from registry.rules.powers import ROLE_TITLES, Role

ROLES = [("", "choose")] + [(role.value, ROLE_TITLES[role]) for role in Role]


class TwicePassword(forms.Form):
    """A password given to somebody, typed twice."""

    password = forms.CharField(
        label="First password",
        strip=False,
        help_text="At least twelve characters; the person changes it at once.",
        error_messages={"required": "Type a password."},
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
    )
    again = forms.CharField(
        label="The same once more",
        strip=False,
        error_messages={"required": "Type the password once more."},
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
    )

    def clean_again(self) -> str:
        """Compare the two writings."""
        if self.cleaned_data["again"] != self.cleaned_data.get("password"):
            raise forms.ValidationError("The two passwords differ.")
        return str(self.cleaned_data["again"])


class ChargeForm(forms.Form):
    """A post and what is in its charge."""

    post = forms.CharField(
        label="Post",
        max_length=160,
        required=False,
        help_text="As the office calls it, such as Senior keeper.",
    )
    rooms = forms.MultipleChoiceField(
        label="Strong rooms",
        required=False,
        help_text="For custodians only: the rooms in their charge.",
        widget=forms.CheckboxSelectMultiple,
    )
    elections = forms.MultipleChoiceField(
        label="Elections",
        required=False,
        help_text="For legal officers only: the elections they work for.",
        widget=forms.CheckboxSelectMultiple,
    )


class AppointForm(ChargeForm, TwicePassword):
    """A new person with a post."""

    name = forms.CharField(
        label="Name", max_length=120, error_messages={"required": "Give the name."}
    )
    username = forms.CharField(
        label="Log-in name",
        max_length=60,
        help_text="Letters, digits, dots and hyphens; one person, one name.",
        error_messages={"required": "Give the name to log in with."},
        widget=forms.TextInput(attrs={"autocomplete": "off", "autocapitalize": "none"}),
    )
    role = forms.ChoiceField(
        label="Role",
        choices=ROLES,
        help_text="The role stays; for another one end this appointment and make a "
        "new one.",
        error_messages={"required": "Choose the role."},
    )
    field_order = (
        "name", "username", "role", "post", "rooms", "elections", "password", "again",
    )  # fmt: skip


class ConfirmForm(forms.Form):
    """Nothing but the press of a button."""
