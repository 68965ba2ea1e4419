"""Forms of the front door."""

from django import forms


class LogInForm(forms.Form):
    """Name and password."""

    username = forms.CharField(
        label="Log-in name",
        error_messages={"required": "Type your log-in name."},
        widget=forms.TextInput(attrs={"autocomplete": "username", "autofocus": True}),
    )
    password = forms.CharField(
        label="Password",
        strip=False,
        error_messages={"required": "Type your password."},
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
    )


class OwnPasswordForm(forms.Form):
    """The present password, and the new one twice."""

    old = forms.CharField(
        label="Present password",
        strip=False,
        error_messages={"required": "Type your present password."},
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
    )
    password = forms.CharField(
        label="New password",
        strip=False,
        error_messages={"required": "Type the new password."},
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
    )
    again = forms.CharField(
        label="New password, once more",
        strip=False,
        error_messages={"required": "Type the new password once more."},
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
    )

    def clean_again(self) -> str:
        """Compare the two writings."""
        if self.cleaned_data["again"] != self.cleaned_data.get("password"):
            raise forms.ValidationError("The two new passwords differ.")
        return str(self.cleaned_data["again"])
