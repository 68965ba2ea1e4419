"""Scan, scan, done: the page for a handheld scanner or a phone."""

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils.http import urlencode

from registry.usecases.boxes import put_into_box, shelve_box
from registry.usecases.scanning import ScanAnswer, Step, look_at_hand, read_scan
from registry.web.addresses import address_of
from registry.web.forms.scanning import ScanForm
from registry.web.pages import answer, carried_out, who_and_when


def scan(request: HttpRequest) -> HttpResponse:
    """Take one scan: it does the step in hand, or becomes what is in hand."""
    who = who_and_when(request)
    hand = look_at_hand(hand=request.GET.get("hand", ""), **who)
    form = ScanForm(request.POST or None)
    done, found = carried_out(
        form, lambda: _scanned(hand.number if hand else "", form, who)
    )
    if done and found:
        meaning, told = found
        if meaning.leads_to:
            return redirect(address_of(meaning.leads_to))
        if told:
            say = messages.success if meaning.meaning.container else messages.warning
            say(request, told)
        in_hand = meaning.meaning.in_hand
        query = f"?{urlencode({'hand': in_hand})}" if in_hand else ""
        return redirect(f"{reverse('scan')}{query}")
    context = {
        "hand": hand,
        "hand_url": address_of(hand.number) if hand else "",
        "submit_label": "Go",
    }
    return answer(request, "scan/page.html", form, **context)


def _scanned(hand: str, form: ScanForm, who: dict[str, Any]) -> tuple[ScanAnswer, str]:
    """Read a scan and do its step; returns what to tell the person."""
    found = read_scan(hand=hand, code=form.cleaned_data["code"], **who)
    meaning = found.meaning
    if meaning.step is Step.SHELVE:
        shelf = shelve_box(
            box=meaning.container, shelf=meaning.place, as_seen=found.as_seen, **who
        )
        return found, f"{meaning.container} stands on {shelf}. {found.undo}"
    if meaning.step is Step.PUT_IN:
        put_into_box(
            envelope=meaning.container, box=meaning.place, as_seen=found.as_seen, **who
        )
        return found, f"{meaning.container} lies in {meaning.place}. {found.undo}"
    return found, meaning.told
