"""The search box of every page."""

from collections.abc import Iterable
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.http import urlencode

from registry.rules.powers import Power
from registry.usecases.finding import Hit, find
from registry.usecases.scanning import Step, read_scan
from registry.web.addresses import address_of
from registry.web.pages import actor, who_and_when


def find_anything(request: HttpRequest) -> HttpResponse:
    """Open what a register number names, or show what bears the text."""
    answer = find(text=request.GET.get("q", ""), **who_and_when(request))
    address = _step_on(request) if answer.number else ""
    address = address or (address_of(answer.number) if answer.number else "")
    if address:
        return redirect(address)
    context = {
        "answer": answer,
        "find_query": answer.asked,
        "hits": _rows(answer.hits),
        "near": _rows(answer.near),
        "columns": ("Number", "What it is", "Found by", "State"),
    }
    status = 400 if answer.mistyped else 404 if answer.problem else 200
    return render(request, "find/answer.html", context, status=status)


# The act pages that ask once more before a scan on a record's page is carried out.
ASK_FIRST = {Step.SHELVE: ("shelve", "shelf"), Step.PUT_IN: ("put-in", "box")}


def _step_on(request: HttpRequest) -> str:
    """Return where the step is confirmed that a scan on a record's page means."""
    on = request.GET.get("on", "")
    if not on or not actor(request).may(Power.KEEP):
        return ""
    found = read_scan(hand=on, code=request.GET.get("q", ""), **who_and_when(request))
    if found.meaning.step not in ASK_FIRST:
        return ""
    name, field = ASK_FIRST[found.meaning.step]
    query = urlencode({field: found.meaning.place})
    return f"{reverse(name, args=[found.meaning.container])}?{query}"


def _rows(hits: Iterable[Hit]) -> list[list[Any]]:
    return [
        [
            {"text": hit.number, "url": address_of(hit.number)},
            {"text": hit.text, "note": hit.noun},
            {"text": hit.matched},
            hit.state or "–",
        ]
        for hit in hits
    ]
