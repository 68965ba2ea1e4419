"""Pages of orders to preserve."""

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse

from registry.rules.powers import Power
from registry.usecases.case_looks import look_before_entry
from registry.usecases.contests import choices_for_entry
from registry.usecases.preservation import (
    enter_preservation_order,
    lift_preservation_order,
    list_orders,
    look_at_order,
    look_before_lifting,
)
from registry.usecases.what_if import WhatIf, suppose_lifting, suppose_order
from registry.web.forms.orders import EnterOrderForm, LiftForm, OrderFilter
from registry.web.forms.scans import with_scan
from registry.web.pages import actor, answer, who_and_when
from registry.web.supposing import entered, what_if
from registry.web.views.cases import choose_election, covers


def order_list(request: HttpRequest) -> HttpResponse:
    """List the orders to preserve."""
    form = OrderFilter(request.GET)
    in_force = form.is_valid() and form.cleaned_data["in_force"]
    found = list_orders(in_force=in_force, **who_and_when(request))
    context = {
        "filter_form": form,
        "found": found,
        "may_enter": actor(request).may(Power.ENTER_CASES),
    }
    return render(request, "orders/list.html", context)


def order(request: HttpRequest, number: str) -> HttpResponse:
    """Show an order to preserve."""
    file = look_at_order(order=number, **who_and_when(request))
    may_lift = actor(request).may(Power.ENTER_CASES) and not file.row.lifted_on
    lift = {
        "label": "Record that it was lifted",
        "url": reverse("order-lift", args=[number]),
    }
    context = {
        "file": file,
        "entries": file.timeline,
        "acts": [lift] if may_lift else [],
    }
    return render(request, "orders/file.html", context)


def new_order(request: HttpRequest) -> HttpResponse:
    """Enter an order to preserve."""
    election, initial = _asked(request)
    choices = choices_for_entry(election=election, **who_and_when(request))
    if not choices.election:
        return choose_election(
            request, choices, "Enter an order to preserve", "order-new"
        )
    form = EnterOrderForm(
        request.POST or None,
        request.FILES or None,
        contests=choices.contests,
        cases=choices.cases,
        initial=initial,
    )
    supposed = what_if(
        request, form, lambda: _suppose(form.cleaned_data, choices.election, request)
    )
    done, number = entered(
        request, form, lambda: _enter(form.cleaned_data, choices.election, request)
    )
    if done:
        messages.success(request, f"{number} is entered.")
        return redirect("order", number)
    return answer(
        request,
        "orders/new.html",
        form,
        **supposed,
        choices=choices,
        submit_label="Enter the order",
        cancel_url=reverse("orders"),
    )


def _asked(request: HttpRequest) -> tuple[str, dict[str, Any]]:
    """Return the election and what is known already from the page one came from."""
    case = request.GET.get("case", "")
    contest = request.GET.get("contest", "")
    if case:
        file = look_before_entry(case=case, **who_and_when(request))
        held = [row.contest_number for row in file.covers if not row.station]
        known = {"case": file.row.number, "contests": held}
        return file.election_number, known | {"issued_by": file.row.forum}
    return request.GET.get("election", ""), {"contests": [contest] if contest else []}


def _suppose(given: dict[str, Any], election: str, request: HttpRequest) -> WhatIf:
    names = ("dated", "from_on", "until_on")
    return suppose_order(
        election=election,
        covers=covers(given),
        **{name: given[name] for name in names},
        **who_and_when(request),
    )


def _enter(given: dict[str, Any], election: str, request: HttpRequest) -> str:
    names = (
        "issued_by", "order_ref", "dated", "from_on", "until_on", "case", "note",
        "document",
    )  # fmt: skip
    scanned = with_scan(given, f"Order {given['order_ref']}")
    return enter_preservation_order(
        election=election,
        covers=covers(given),
        **{name: scanned[name] for name in names},
        **who_and_when(request),
    )


def lift(request: HttpRequest, number: str) -> HttpResponse:
    """Record that an order was lifted."""
    file = look_before_lifting(order=number, **who_and_when(request))
    form = LiftForm(request.POST or None)
    supposed = what_if(
        request,
        form,
        lambda: suppose_lifting(
            order=number,
            lifted_on=form.cleaned_data["lifted_on"],
            **who_and_when(request),
        ),
    )
    done, _ = entered(
        request,
        form,
        lambda: lift_preservation_order(
            order=number, **form.cleaned_data, **who_and_when(request)
        ),
    )
    if done:
        messages.success(request, "The lifting is recorded.")
        return redirect("order", number)
    row = file.row
    facts = [
        ("Order", row.number, reverse("order", args=[number])),
        ("Number", row.order_ref),
        ("Made by", row.issued_by),
        ("Covers", row.covers),
        ("Boxes it covers", file.holds.boxes),
        ("Envelopes it covers", file.holds.envelopes),
    ]
    return answer(
        request,
        "orders/lift.html",
        form,
        file=file,
        **supposed,
        facts=facts,
        submit_label="Record the lifting",
        cancel_url=reverse("order", args=[number]),
    )
