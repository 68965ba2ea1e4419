"""Reconciliation: how far each contest is from zero, and what is still to explain."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse

from registry.rules.powers import Power
from registry.usecases.reconciliation import (
    ContestStanding,
    list_reconciliations,
    look_at_reconciliation,
    make_reconciliation_report,
    open_difference,
)
from registry.web.differences import report_given, taken_in_hand
from registry.web.pages import actor, as_obstacles, who_and_when

FORMATS = ("pdf", "csv", "json")
COLUMNS = (
    "Contest",
    "Stations",
    "Expected",
    "Registered",
    "Unexplained",
    "In hand",
    "Explained",
)


def overview(request: HttpRequest) -> HttpResponse:
    """Show every contest with its differences."""
    found = list_reconciliations(**who_and_when(request))
    elections = [(each, [_row(one) for one in each.contests]) for each in found]
    context = {"elections": elections, "columns": COLUMNS}
    return render(request, "reconciliation/list.html", context)


def _row(one: ContestStanding) -> list[object]:
    url = reverse("reconciliation", args=[one.number])
    zero = not one.unexplained and not one.in_hand
    unexplained = {
        "text": "at zero" if zero else one.unexplained,
        "tone": "clear" if zero else "stop" if one.unexplained else "wait",
    }
    return [
        {"text": one.title, "url": url},
        one.stations,
        one.expected,
        one.registered,
        unexplained,
        one.in_hand,
        one.explained,
    ]


def reconciliation(request: HttpRequest, number: str) -> HttpResponse:
    """Show the reconciliation of a contest, send its report, or open a discrepancy."""
    form_asked = request.GET.get("format", "")
    if form_asked and request.method == "GET":
        return _report(request, number, form_asked)
    refused = taken_in_hand(
        request,
        lambda difference: open_difference(
            contest=number, difference=difference, **who_and_when(request)
        ),
        f"{reverse('reconciliation', args=[number])}#open",
    )
    if isinstance(refused, HttpResponse):
        return refused
    file = look_at_reconciliation(contest=number, **who_and_when(request))
    address = reverse("reconciliation", args=[file.number])
    context = {
        "file": file,
        "obstacles": as_obstacles(refused) if refused else (),
        "may_open": actor(request).may(Power.KEEP),
        "downloads": [
            (name.upper(), f"{address}?format={name}")
            for name in ("pdf", "csv", "json")
        ],
    }
    status = 409 if refused else 200
    return render(request, "reconciliation/file.html", context, status=status)


def _report(request: HttpRequest, number: str, form: str) -> HttpResponse:
    return report_given(
        request,
        lambda: make_reconciliation_report(
            contest=number, form=form, **who_and_when(request)
        ),
    )
