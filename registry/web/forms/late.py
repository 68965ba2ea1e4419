"""When something happened that was taken down on a paper form and is entered later."""

from django import forms

from registry.usecases.paper_forms import Happened
from registry.web.forms.moments import MomentField

WRITE_A_MOMENT = "Write day and time as on the form, such as 2026-04-16 14:05."


def add_late_fields(form: forms.Form, number: str) -> None:
    """Ask for the moment and the number of the paper form, first of all fields.

    Args:
        number: the form that is being entered; without one nothing is asked.
    """
    if not number:
        return
    form.fields["happened_at"] = MomentField(
        label="When it happened, as on the form",
        help_text="When it is entered stands beside it by itself.",
        error_messages={"required": "Say when it happened.", "invalid": WRITE_A_MOMENT},
    )
    form.fields["paper_form"] = forms.CharField(
        label="Number of the paper form",
        max_length=20,
        initial=number,
        error_messages={"required": "Write the number that stands on the form."},
    )
    form.order_fields(["happened_at", "paper_form"])
    for field in form.fields.values():
        field.widget.attrs.pop("autofocus", None)
    form.fields["happened_at"].widget.attrs["autofocus"] = True


def happened_of(form: forms.Form) -> Happened | None:
    """Return when it happened and on which form it stands; None for what is now."""
    at = form.cleaned_data.get("happened_at")
    if at is None:
        return None
    return Happened(at=at, form=form.cleaned_data["paper_form"])
