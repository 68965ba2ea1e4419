"""Pages of discrepancies: what is open, and how each was resolved."""

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse

from registry.rules.powers import Power
from registry.usecases.discrepancies import (
    list_discrepancies,
    look_at_discrepancy,
    resolve_discrepancy,
)
from registry.usecases.discrepancy_owners import give_discrepancy, look_before_giving
from registry.web.addresses import address_of
from registry.web.forms.discrepancies import (
    DiscrepancyFilter,
    GiveForm,
    ResolveForm,
)
from registry.web.pages import actor, answer, carried_out, who_and_when


def discrepancy_list(request: HttpRequest) -> HttpResponse:
    """List discrepancies, the open ones unless others are asked for."""
    form = DiscrepancyFilter(request.GET)
    chosen = form.cleaned_data if form.is_valid() else {}
    found = list_discrepancies(
        show=chosen.get("show") or "open",
        kind=chosen.get("kind", ""),
        whose=chosen.get("whose", ""),
        after=chosen.get("after") or 0,
        **who_and_when(request),
    )
    context = {
        "filter_form": form,
        "found": found,
        "page": {"next_url": _next(request, found.next_after)},
        "may_resolve": actor(request).may(Power.RESOLVE),
    }
    return render(request, "discrepancies/list.html", context)


def _next(request: HttpRequest, after: int | None) -> str:
    if after is None:
        return ""
    query = request.GET.copy()
    query["after"] = str(after)
    return f"{reverse('discrepancies')}?{query.urlencode()}"


def discrepancy(request: HttpRequest, number: str) -> HttpResponse:
    """Show a discrepancy; whoever may, resolves it here with a reason."""
    row = look_at_discrepancy(discrepancy=number, **who_and_when(request))
    form = ResolveForm(request.POST or None)
    done = False
    if request.method == "POST":
        done, _ = carried_out(
            form,
            lambda: resolve_discrepancy(
                discrepancy=row.number,
                resolution=form.cleaned_data["resolution"],
                **who_and_when(request),
            ),
        )
    if done:
        messages.success(request, f"{row.number} is resolved.")
        return redirect(address_of(row.container))
    may_resolve = actor(request).may(Power.RESOLVE) and row.resolved_at is None
    context: dict[str, Any] = {
        "row": row,
        "may_resolve": may_resolve,
        "container_url": address_of(row.container),
        "cancel_url": address_of(row.container),
        "submit_label": "Resolve",
    }
    return answer(request, "discrepancies/file.html", form, **context)


def give(request: HttpRequest, number: str) -> HttpResponse:
    """Give a discrepancy to another person, or another day."""
    who = who_and_when(request)
    brief = look_before_giving(discrepancy=number, **who)
    row = brief.row
    form = GiveForm(
        request.POST or None,
        owners=brief.owners,
        initial={"owner": brief.owner, "due_on": row.due_on},
    )
    done, _ = carried_out(
        form,
        lambda: give_discrepancy(discrepancy=row.number, **form.cleaned_data, **who),
    )
    if done:
        messages.success(request, f"The owner and the day of {row.number} are set.")
        return redirect("discrepancy", row.number)
    return answer(
        request,
        "discrepancies/give.html",
        form,
        row=row,
        submit_label="Give it to them",
        cancel_url=reverse("discrepancy", args=[row.number]),
    )
