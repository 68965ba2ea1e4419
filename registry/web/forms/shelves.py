"""Forms for putting boxes away."""

from django import forms


class PutAwayForm(forms.Form):
    """Boxes as scanned, one to a line, each lot followed by its shelf."""

    scanned = forms.CharField(
        label="Boxes, then their shelf",
        max_length=20_000,
        help_text="One number to a line. Scan box after box, then the shelf on which "
        "they stand now; further boxes and their shelf may follow.",
        widget=forms.Textarea(
            attrs={
                "rows": 8,
                "autofocus": True,
                "autocomplete": "off",
                "spellcheck": "false",
                "data-scan-until": "SH",
            }
        ),
        error_messages={
            "required": "Scan the boxes, then the shelf on which they stand."
        },
    )

    def lines(self) -> list[str]:
        """Return what was scanned, in its order."""
        return self.cleaned_data["scanned"].split()
