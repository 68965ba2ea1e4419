"""The step before an entry: what it would change, with nothing saved."""

from collections.abc import Callable
from typing import Any, TypeVar

from django import forms
from django.http import HttpRequest

from registry.usecases.what_if import WhatIf
from registry.web.effect_tables import effect_table
from registry.web.pages import carried_out

R = TypeVar("R")

# The name of the button that asks, and of what a template needs to show the button.
ASKS = "suppose"


def asks_what_if(request: HttpRequest) -> bool:
    """Tell whether the form was sent to be tried only."""
    return ASKS in request.POST


def what_if(
    request: HttpRequest, form: forms.Form, suppose: Callable[[], WhatIf]
) -> dict[str, Any]:
    """Return what a template needs to show the button, and the answer if asked for.

    Args:
        form: bound where it was sent; its mistakes are told beside its fields.
        suppose: asks the use case, once the form is valid.
    """
    context: dict[str, Any] = {"may_suppose": True}
    if not asks_what_if(request):
        return context
    done, found = carried_out(form, suppose)
    if done and found:
        context |= effect_table(found.effects, all_rows=False)
        context |= {"supposed": found, "page": None}
    return context


def entered(
    request: HttpRequest, form: forms.Form, act: Callable[[], R]
) -> tuple[bool, R | None]:
    """Do what a form asks for, unless it was sent to be tried only."""
    if asks_what_if(request):
        return False, None
    return carried_out(form, act)
