"""The desk of each role: what wants doing today."""

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.http import urlencode

from registry.usecases.desks import Waiting, look_at_desk
from registry.web.addresses import address_of
from registry.web.pages import who_and_when


def desk(request: HttpRequest) -> HttpResponse:
    """Show the desk."""
    waiting = look_at_desk(**who_and_when(request))
    return render(request, "desk/desk.html", {"tasks": [_task(w) for w in waiting]})


def _task(waiting: Waiting) -> dict[str, Any]:
    return {
        "text": waiting.text,
        "url": _url(waiting),
        "word": waiting.word,
        "tone": waiting.tone,
        "due": waiting.due,
        "note": waiting.note,
    }


def _url(waiting: Waiting) -> str:
    if waiting.number:
        return address_of(waiting.number)
    query = f"?{urlencode(waiting.narrowed)}" if waiting.narrowed else ""
    return f"{reverse(waiting.page)}{query}"
