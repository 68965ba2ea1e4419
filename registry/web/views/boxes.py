"""Pages of boxes and envelopes."""

from collections.abc import Callable
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse

from registry.rules.powers import Power
from registry.usecases.looks import (
    ContainerFile,
    Wanted,
    list_boxes,
    list_envelopes,
    look_at_box,
    look_at_envelope,
)
from registry.web.acts import acts_on
from registry.web.forms.boxes import ContainerFilter, as_of_form
from registry.web.forms.days import clocks_asked
from registry.web.pages import actor, who_and_when


def box(request: HttpRequest, number: str) -> HttpResponse:
    """Show a box, its reasoning, its history and who looked at it."""
    file = look_at_box(box=number, **clocks_asked(request), **who_and_when(request))
    return render(request, "boxes/file.html", _context(request, file))


def envelope(request: HttpRequest, number: str) -> HttpResponse:
    """Show an envelope."""
    asked = clocks_asked(request)
    file = look_at_envelope(envelope=number, **asked, **who_and_when(request))
    return render(request, "envelopes/file.html", _context(request, file))


def _context(request: HttpRequest, file: ContainerFile) -> dict[str, Any]:
    return {
        "file": file,
        "retention": file.retention,
        "entries": file.timeline,
        "acts": acts_on(file, actor(request).may),
        "may_resolve": actor(request).may(Power.RESOLVE),
        "as_of": as_of_form(file.retention),
    }


def box_list(request: HttpRequest) -> HttpResponse:
    """List boxes, a page at a time."""
    return _list(request, list_boxes, "boxes/list.html", "boxes")


def envelope_list(request: HttpRequest) -> HttpResponse:
    """List envelopes, a page at a time."""
    return _list(request, list_envelopes, "envelopes/list.html", "envelopes")


def _list(
    request: HttpRequest, listing: Callable[..., Any], template: str, name: str
) -> HttpResponse:
    form = ContainerFilter(request.GET)
    chosen = form.cleaned_data if form.is_valid() else {}
    wanted = Wanted(
        contest=chosen.get("contest", ""),
        kind=chosen.get("kind", ""),
        state=chosen.get("state", ""),
        whereabouts=chosen.get("whereabouts", ""),
        after=chosen.get("after") or 0,
    )
    found = listing(wanted=wanted, **who_and_when(request))
    page = {"next_url": _next(request, name, found.next_after), "shown": ""}
    context = {"filter_form": form, "found": found, "page": page}
    return render(request, template, context)


def _next(request: HttpRequest, name: str, after: int | None) -> str:
    if after is None:
        return ""
    query = request.GET.copy()
    query["after"] = str(after)
    return f"{reverse(name)}?{query.urlencode()}"
