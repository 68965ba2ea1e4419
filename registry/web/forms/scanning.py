"""The one field of the scanning page."""

from django import forms


class ScanForm(forms.Form):
    """What was scanned, beside what is in hand."""

    code = forms.CharField(
        label="Scan or type a number",
        max_length=60,
        widget=forms.TextInput(
            attrs={
                "data-scan": True,
                "autofocus": True,
                "autocomplete": "off",
                "autocapitalize": "characters",
                "spellcheck": "false",
            }
        ),
        error_messages={"required": "Scan a label, or type its number."},
    )
