"""Forms of the intake table: begun, boxes filled, lists taken."""

from collections.abc import Iterable
from typing import Any

from django import forms

from registry.web.forms.boxes import KINDS

Choices = Iterable[tuple[str, str]]


class BeginIntakeForm(forms.Form):
    """Who brings what to which room."""

    election = forms.ChoiceField(label="Election being taken in")
    contest = forms.ChoiceField(
        label="Constituency",
        required=False,
        help_text="Choose one if all containers of this table are of it.",
    )
    room = forms.ChoiceField(label="Received into")
    kind = forms.ChoiceField(label="Content", choices=KINDS)
    delivered_by = forms.CharField(
        label="Delivered by",
        max_length=160,
        help_text="Name and office, as they stand on the receipt.",
        error_messages={"required": "Name the person who delivers."},
    )

    def __init__(
        self,
        *args: Any,
        elections: Choices,
        contests: Choices,
        rooms: Choices,
        **more: Any,
    ) -> None:
        super().__init__(*args, **more)
        self.fields["election"].choices = tuple(elections)  # type: ignore[attr-defined]
        self.fields["contest"].choices = (("", "several"), *contests)  # type: ignore[attr-defined]
        self.fields["room"].choices = tuple(rooms)  # type: ignore[attr-defined]


class FillBoxForm(forms.Form):
    """One envelope after the other into a box."""

    box = forms.CharField(
        label="Box",
        max_length=20,
        error_messages={"required": "Scan the box first."},
        widget=forms.TextInput(attrs={"data-scan": True, "autocomplete": "off"}),
    )
    envelope = forms.CharField(
        label="Envelope",
        max_length=20,
        error_messages={"required": "Scan the envelope that goes into the box."},
        widget=forms.TextInput(attrs={"data-scan": True, "autocomplete": "off"}),
    )


class IntakeListForm(forms.Form):
    """A list of containers, to be checked."""

    file = forms.FileField(
        label="List",
        help_text="CSV or XLSX; the first line names the columns.",
        error_messages={
            "required": "Choose the file.",
            "empty": "The file is empty. Choose another.",
        },
    )
    election = forms.ChoiceField(
        label="Election",
        required=False,
        help_text="Left open, each line must name its election.",
    )
    room = forms.ChoiceField(label="Received into")
    delivered_by = forms.CharField(label="Delivered by", max_length=160, required=False)

    def __init__(
        self, *args: Any, elections: Choices, rooms: Choices, **more: Any
    ) -> None:
        super().__init__(*args, **more)
        self.fields["election"].choices = (("", "as each line says"), *elections)  # type: ignore[attr-defined]
        self.fields["room"].choices = tuple(rooms)  # type: ignore[attr-defined]


class TakeListForm(forms.Form):
    """The same list, to be taken after its check."""

    digest = forms.CharField(widget=forms.HiddenInput, max_length=64)
    election = forms.CharField(widget=forms.HiddenInput, required=False)
    room = forms.CharField(widget=forms.HiddenInput)
    delivered_by = forms.CharField(
        widget=forms.HiddenInput, required=False, max_length=160
    )
