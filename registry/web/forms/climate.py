"""Forms about the climate of rooms, and about paper that fades."""

from typing import Any

from django import forms

from registry.usecases.images import PAPERS
from registry.web.forms.moments import MomentField


def _figure(label: str, ask: str, **more: Any) -> forms.DecimalField:
    return forms.DecimalField(
        label=label,
        max_digits=4,
        decimal_places=1,
        localize=False,
        error_messages={"required": ask, "invalid": "Write a figure such as 18.5."},
        **more,
    )


class ReadingForm(forms.Form):
    """The climate of a room at a moment."""

    temperature_c = _figure("Temperature, °C", "Give the temperature in °C.")
    humidity_percent = _figure(
        "Relative humidity, %", "Give the relative humidity in per cent."
    )
    taken_at = MomentField(
        label="Read at",
        required=False,
        help_text="Only where it was noted on paper first; empty for now.",
    )
    instrument = forms.CharField(
        label="Instrument",
        required=False,
        max_length=120,
        help_text="Its number, and when it was last calibrated.",
    )
    note = forms.CharField(label="Note", required=False, max_length=400)


class PaperForm(forms.Form):
    """On which paper slips are printed."""

    paper = forms.ChoiceField(
        label="Paper of the slips", required=False, choices=PAPERS
    )
    source = forms.CharField(
        label="How that is known",
        max_length=200,
        help_text="Without opening anything: the maker's sheet, the record of sealing.",
        error_messages={"required": "Say how it is known."},
    )
