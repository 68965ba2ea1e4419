"""Pages of confirmations that no petition is pending."""

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse

from registry.rules.powers import Power
from registry.usecases.confirmations import (
    list_confirmations,
    look_before_confirming,
    record_confirmation,
    withdraw_confirmation,
)
from registry.web.forms.confirmations import ConfirmationForm, WithdrawForm
from registry.web.forms.scans import with_scan
from registry.web.pages import actor, answer, carried_out, who_and_when


def confirmation_list(request: HttpRequest) -> HttpResponse:
    """List every contest with its window's end and its confirmation."""
    found = list_confirmations(**who_and_when(request))
    context = {"found": found, "may_enter": actor(request).may(Power.ENTER_CASES)}
    return render(request, "confirmations/list.html", context)


def new_confirmation(request: HttpRequest, number: str) -> HttpResponse:
    """Enter the registry's paper for a contest."""
    due, _ = look_before_confirming(contest=number, **who_and_when(request))
    form = ConfirmationForm(request.POST or None, request.FILES or None)
    done, entered = carried_out(
        form,
        lambda: record_confirmation(
            contest=number,
            **with_scan(form.cleaned_data, form.cleaned_data["reference"]),
            **who_and_when(request),
        ),
    )
    if done:
        messages.success(request, f"{entered} is entered.")
        return redirect(f"{reverse('contest', args=[number])}#confirmations")
    return answer(
        request,
        "confirmations/new.html",
        form,
        due=due,
        submit_label="Enter the confirmation",
        cancel_url=reverse("contest", args=[number]),
    )


def withdraw(request: HttpRequest, number: str, confirmation: str) -> HttpResponse:
    """Record that a confirmation no longer counts."""
    due, rows = look_before_confirming(contest=number, **who_and_when(request))
    row = next((row for row in rows if row.number == confirmation), None)
    if row is None:
        raise Http404
    form = WithdrawForm(request.POST or None)
    done, _ = carried_out(
        form,
        lambda: withdraw_confirmation(
            contest=number,
            confirmation=confirmation,
            **form.cleaned_data,
            **who_and_when(request),
        ),
    )
    if done:
        messages.success(request, f"{confirmation} no longer counts.")
        return redirect(f"{reverse('contest', args=[number])}#confirmations")
    facts = [
        ("Contest", due.contest, reverse("contest", args=[number])),
        ("Confirmation", row.number),
        ("Registry of", row.registry_of),
        ("Number of the paper", row.reference),
        ("Dated", row.dated),
        ("It speaks of filings through", row.covers_through),
    ]
    return answer(
        request,
        "confirmations/withdraw.html",
        form,
        facts=facts,
        row=row,
        submit_label="Record the withdrawal",
        cancel_url=reverse("contest", args=[number]),
    )
