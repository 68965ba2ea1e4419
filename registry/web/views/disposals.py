"""Disposal: what stands against it, how it is done, and what is left of it."""

from collections.abc import Iterable
from typing import Any
from urllib.parse import urlencode

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse

from registry.rules.numbers import kind_of
from registry.rules.powers import Power
from registry.usecases.disposal_looks import (
    DisposalAhead,
    list_disposals,
    look_at_disposal,
    prepare_disposal,
    preview_disposal,
)
from registry.usecases.disposals import dispose_of, review_disposal
from registry.web.forms.disposals import DisposalForm, level_rows
from registry.web.forms.openings import WhichForm
from registry.web.pages import actor, answer, carried_out, who_and_when

_PAGES = {"PM": "permission", "BX": "box", "EN": "envelope"}


def told(obstacles: Iterable[Any]) -> list[dict[str, str]]:
    """Return obstacles with the address of what stands in the way, where there is one.

    Anything without a page of its own here is found by its number.
    """
    return [
        {"text": o.text, "remedy": o.remedy, "url": _address(o.number)}
        for o in obstacles
    ]


def _address(number: str) -> str:
    if not number:
        return ""
    page = _PAGES.get(kind_of(number))
    if page:
        return reverse(page, args=[number])
    return f"/find/?{urlencode({'q': number})}"


def disposal_list(request: HttpRequest) -> HttpResponse:
    """List the disposals, and what could be looked at next."""
    found = list_disposals(**who_and_when(request))
    context = {"found": found, "may_dispose": actor(request).may(Power.DISPOSE)}
    return render(request, "disposals/list.html", context)


def preview(request: HttpRequest) -> HttpResponse:
    """Show a person who would destroy a container everything that stands against it."""
    if not request.GET.get("container"):
        context = {"heading": "What stands against disposal?", "which": WhichForm()}
        return render(request, "openings/which.html", context)
    seen = preview_disposal(
        container=request.GET["container"],
        permission=request.GET.get("permission", ""),
        **who_and_when(request),
    )
    may = actor(request).may
    context = {
        "seen": seen,
        "standing": seen.standing,
        "retention": seen.standing.retention,
        "obstacles": told(seen.standing.obstacles),
        "may_dispose": may(Power.DISPOSE),
        "may_record": may(Power.RECORD_PERMISSION),
    }
    return render(request, "disposals/preview.html", context)


def new_disposal(request: HttpRequest) -> HttpResponse:
    """Fill in a disposal, review it, and carry it out."""
    number = request.GET.get("permission", "")
    ahead = prepare_disposal(permission=number, **who_and_when(request))
    if ahead.permission is None:
        return render(request, "disposals/which.html", {"choices": ahead.choices})
    form = _form(request, ahead)
    stage = request.POST.get("stage", "")
    if stage == "change":
        return _form_page(request, form, ahead)
    if stage != "confirm":
        reviewed, _ = carried_out(form, lambda: _review(request, form, number))
        page = _confirm_page if reviewed else _form_page
        return page(request, form, ahead)
    done, certificate = carried_out(form, lambda: _carry_out(request, form, number))
    if done:
        messages.success(request, f"The disposal is certified: {certificate}.")
        return redirect("disposal", certificate)
    return _form_page(request, form, ahead)


def _form(request: HttpRequest, ahead: DisposalAhead) -> DisposalForm:
    assert ahead.permission is not None
    return DisposalForm(
        request.POST or None,
        containers=[(s.number, f"{s.number}, {s.title}") for s in ahead.standings],
        conditions=ahead.permission.conditions,
        initial={
            "permission": ahead.permission.number,
            "containers": [s.number for s in ahead.standings if s.is_free],
        },
    )


def _review(request: HttpRequest, form: DisposalForm, number: str) -> None:
    review_disposal(plan=form.plan(), permission=number, **who_and_when(request))


def _carry_out(request: HttpRequest, form: DisposalForm, number: str) -> str:
    return dispose_of(plan=form.plan(), permission=number, **who_and_when(request))


def _form_page(
    request: HttpRequest, form: DisposalForm, ahead: DisposalAhead
) -> HttpResponse:
    assert ahead.permission is not None
    context = {
        "ahead": ahead,
        "levels": level_rows(),
        "level_columns": ("Level", "Largest piece", "How far this was checked"),
        "submit_label": "Review",
        "cancel_url": reverse("permission", args=[ahead.permission.number]),
        "actions_note": "Nothing is recorded yet: the next page shows everything once "
        "more.",
    }
    return answer(request, "disposals/new.html", form, **context)


def _confirm_page(
    request: HttpRequest, form: DisposalForm, ahead: DisposalAhead
) -> HttpResponse:
    plan = form.plan()
    context = {
        "ahead": ahead,
        "chosen": [s for s in ahead.standings if s.number in plan.containers],
        "facts": [
            ("Method", plan.method),
            ("Particle level achieved", plan.level),
            ("Place", plan.place),
            ("First witness", plan.witnesses[0]),
            ("Second witness", plan.witnesses[1]),
            ("Remarks", plan.remarks or "none"),
        ],
        "conditions": plan.conditions_met,
        "submit_label": "They are destroyed: record it and certify",
        "grave": True,
        "actions_note": "This cannot be undone. Everything is asked once more when you "
        "press the button.",
    }
    return answer(request, "disposals/confirm.html", form, **context)


def disposal(request: HttpRequest, number: str) -> HttpResponse:
    """Show a disposal, with its certificate."""
    file = look_at_disposal(disposal=number, **who_and_when(request))
    if number != file.row.number:
        return redirect("disposal", file.row.number)
    return render(
        request, "disposals/file.html", {"file": file, "entries": file.entries}
    )
