"""Forms about orders to preserve."""

from typing import Any

from django import forms

from registry.web.forms.cases import ExtentForm
from registry.web.forms.days import DayField
from registry.web.forms.scans import ScanField


class OrderFilter(forms.Form):
    """What a list of orders is narrowed to."""

    in_force = forms.BooleanField(label="In force only", required=False)


class EnterOrderForm(ExtentForm):
    """An order to preserve, with or without an end."""

    issued_by = forms.CharField(
        label="Court or authority",
        max_length=200,
        error_messages={"required": "Name the court or authority that made the order."},
    )
    order_ref = forms.CharField(
        label="Number of the order",
        max_length=120,
        error_messages={"required": "Give the order’s number as it is written."},
    )
    dated = DayField(label="Date of the order")
    from_on = DayField(label="It holds from")
    until_on = DayField(
        label="It holds until",
        required=False,
        help_text="The last day it names. Leave it empty where the order has no end: "
        "then it holds until it is lifted.",
    )
    case = forms.ChoiceField(label="Made in the case", required=False)
    note = forms.CharField(label="Note", required=False, max_length=400)
    document = ScanField(label="Scan of the order")

    field_order = (
        "issued_by", "order_ref", "dated", "from_on", "until_on", "case", "extent",
        "contests", "stations", "document", "note",
    )  # fmt: skip

    def __init__(
        self, *args: Any, cases: tuple[tuple[str, str], ...] = (), **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        self.fields["case"].choices = [("", "in no case on record"), *cases]  # type: ignore[attr-defined]
        # The order's own text is the authority for what it names.
        del self.fields["because"], self.fields["authority"]


class LiftForm(forms.Form):
    """The lifting of an order."""

    lifted_on = DayField(
        label="Lifted on",
        help_text="This day is still kept.",
    )
    lifted_by_order = forms.CharField(
        label="By which order",
        max_length=200,
        error_messages={"required": "Name the order that lifts it."},
    )
