"""The search box of every page."""

from collections.abc import Iterable
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render

from registry.usecases.finding import Hit, find
from registry.web.addresses import address_of
from registry.web.pages import who_and_when


def find_anything(request: HttpRequest) -> HttpResponse:
    """Open what a register number names, or show what bears the text."""
    answer = find(text=request.GET.get("q", ""), **who_and_when(request))
    address = address_of(answer.number) if answer.number else ""
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
