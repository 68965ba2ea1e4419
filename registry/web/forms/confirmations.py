"""Forms about confirmations that no petition is pending."""

from django import forms

from registry.web.forms.days import DayField
from registry.web.forms.scans import ScanField


class ConfirmationForm(forms.Form):
    """The court registry's paper."""

    registry_of = forms.CharField(
        label="Registry of which court",
        max_length=160,
        error_messages={"required": "Name the court whose registry wrote it."},
    )
    reference = forms.CharField(
        label="Number of the paper",
        max_length=120,
        error_messages={"required": "Give the paper’s number as it is written."},
    )
    dated = DayField(label="Date of the paper")
    covers_through = DayField(
        label="It speaks of filings through",
        help_text="The last day of filing of which the paper says that nothing is "
        "pending. It cannot be later than the paper itself.",
    )
    document = ScanField()


class WithdrawForm(forms.Form):
    """Why a confirmation no longer counts."""

    withdrawn_on = DayField(label="It no longer counts from")
    because = forms.CharField(
        label="Reason",
        max_length=400,
        error_messages={"required": "Say why it no longer counts."},
    )
