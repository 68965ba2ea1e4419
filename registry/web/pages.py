"""Turning a form into one call, and its answer into a page."""

from collections.abc import Callable
from typing import Any, TypeVar

from django import forms
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from registry.rules.powers import Actor
from registry.usecases import Mistaken, NotThere, Refused
from registry.usecases.papers import Printed

R = TypeVar("R")


def who_and_when(request: HttpRequest) -> dict[str, Any]:
    """Return the two arguments that every use case takes."""
    return {"actor": request.actor, "at": request.at}  # type: ignore[attr-defined]


def actor(request: HttpRequest) -> Actor:
    """Return who asks."""
    return request.actor  # type: ignore[attr-defined]


def carried_out(form: forms.Form, act: Callable[[], R]) -> tuple[bool, R | None]:
    """Do what a form asks for; put mistakes beside their fields.

    Returns:
        Whether it was done, and what the act returned. Where it was refused, the
        reasons stand in ``form.refusal`` for ``answer`` to show.
    """
    if not form.is_valid():
        return False, None
    try:
        return True, act()
    except Mistaken as mistaken:
        for name, messages in mistaken.errors.items():
            for message in messages:
                form.add_error(name if name in form.fields else None, message)
    except NotThere as missing:
        typed_into = _typed_into(form, missing.number)
        if typed_into is None:
            raise
        form.add_error(typed_into, str(missing))
    except Refused as refused:
        form.refusal = as_obstacles(refused)  # type: ignore[attr-defined]
    return False, None


def _typed_into(form: forms.Form, number: str) -> str | None:
    """Return the field in which a number was typed that leads nowhere.

    A mistyped number is mended in its field, where the rest of the form stays; only a
    number of the address itself leads to a page that is not there.
    """
    typed = form.cleaned_data.items()
    return next((name for name, value in typed if number and value == number), None)


def as_obstacles(refused: Refused) -> list[dict[str, str]]:
    """Return the reasons of a refusal as the obstacles component shows them."""
    return [
        {"text": text, "remedy": remedy}
        for text, remedy in zip(refused.reasons, refused.remedies, strict=True)
    ]


def answer(
    request: HttpRequest,
    template: str,
    form: forms.Form | None = None,
    **context: Any,
) -> HttpResponse:
    """Show a page with its form; 409 where refused, 400 where something is mistaken."""
    refusal = getattr(form, "refusal", ())
    status = 200
    if refusal:
        status = 409
        context["obstacles"] = refusal
    elif form is not None and form.is_bound and form.errors:
        status = 400
    return render(request, template, {"form": form, **context}, status=status)


def given_out(paper: Printed, shown: str = "inline") -> HttpResponse:
    """Send a paper: shown in the browser, or as an attachment to be kept."""
    response = HttpResponse(paper.content, content_type=paper.media_type)
    response["Content-Disposition"] = f'{shown}; filename="{paper.file_name}"'
    response["X-Content-Type-Options"] = "nosniff"
    return response
