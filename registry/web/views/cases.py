"""Pages of cases: the list, one case, and what is entered about it."""

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse

from registry.rules.powers import Power
from registry.usecases.case_looks import (
    CasesWanted,
    list_cases,
    look_at_case,
    look_before_entry,
)
from registry.usecases.cases import (
    Covers,
    change_case_scope,
    enter_case,
    record_case_event,
    record_court_number,
    strike_case_event,
)
from registry.usecases.contests import choices_for_entry
from registry.usecases.what_if import (
    WhatIf,
    suppose_case,
    suppose_case_event,
    suppose_case_scope,
    suppose_event_struck,
)
from registry.web.forms.cases import (
    CaseFilter,
    CourtNumberForm,
    EnterCaseForm,
    EventForm,
    ExtentForm,
    StrikeForm,
)
from registry.web.forms.days import day_asked
from registry.web.forms.scans import with_scan
from registry.web.pages import actor, answer, carried_out, who_and_when
from registry.web.supposing import entered, what_if

# Of what is entered about an event, what bears on the time of keeping.
BEARS_ON_KEEPING = ("kind", "level", "occurred_on", "paper", "note")


def case_list(request: HttpRequest) -> HttpResponse:
    """List cases."""
    form = CaseFilter(request.GET)
    chosen = form.cleaned_data if form.is_valid() else {}
    wanted = CasesWanted(
        standing=chosen.get("standing", ""),
        text=chosen.get("text", ""),
        page=chosen.get("page") or 1,
    )
    found = list_cases(wanted=wanted, **who_and_when(request))
    page = {
        "previous_url": _page(request, found.page - 1) if found.page > 1 else "",
        "next_url": _page(request, found.page + 1) if found.has_next else "",
    }
    return render(
        request,
        "cases/list.html",
        {
            "filter_form": form,
            "found": found,
            "page": page,
            "may_enter": actor(request).may(Power.ENTER_CASES),
        },
    )


def _page(request: HttpRequest, number: int) -> str:
    query = request.GET.copy()
    query["page"] = str(number)
    return f"{reverse('cases')}?{query.urlencode()}"


def case(request: HttpRequest, number: str) -> HttpResponse:
    """Show a case: where it stands and why, its events, what it holds."""
    as_of = day_asked(request.GET.get("as-of", ""))
    file = look_at_case(case=number, as_of=as_of, **who_and_when(request))
    may_enter = actor(request).may(Power.ENTER_CASES)
    context = {
        "file": file,
        "entries": file.timeline,
        "may_enter": may_enter,
        "acts": _acts(number) if may_enter else [],
    }
    return render(request, "cases/file.html", context)


def _acts(number: str) -> list[dict[str, str]]:
    acts = (
        ("case-event", "Record what happened"),
        ("case-link", "Link with another case"),
        ("case-scope", "Change what it covers"),
        ("case-court-number", "Record the court’s number"),
    )
    return [
        {"label": label, "url": reverse(name, args=[number])} for name, label in acts
    ] + [{"label": "Enter an order to preserve", "url": _order_url(number)}]


def _order_url(number: str) -> str:
    return f"{reverse('order-new')}?case={number}"


def new_case(request: HttpRequest) -> HttpResponse:
    """Enter a case the moment it is heard of."""
    choices = choices_for_entry(
        election=request.GET.get("election", ""), **who_and_when(request)
    )
    if not choices.election:
        return choose_election(request, choices, "Enter a case", "case-new")
    named = [number for number, _ in choices.contests]
    asked = request.GET.get("contest", "")
    initial = {"contests": [asked] if asked in named else []}
    form = EnterCaseForm(
        request.POST or None, contests=choices.contests, initial=initial
    )
    supposed = what_if(
        request, form, lambda: _suppose(form.cleaned_data, choices.election, request)
    )
    done, number = entered(
        request, form, lambda: _enter(form.cleaned_data, choices.election, request)
    )
    if done:
        messages.success(request, f"{number} is entered. It holds from this moment on.")
        return redirect("case", number)
    return answer(
        request,
        "cases/new.html",
        form,
        **supposed,
        choices=choices,
        submit_label="Enter the case",
        cancel_url=reverse("cases"),
    )


def choose_election(
    request: HttpRequest, choices: Any, heading: str, address: str
) -> HttpResponse:
    """Ask for which election, where the asker works for several or for none."""
    url = reverse(address)
    links = [(name, f"{url}?election={number}") for number, name in choices.elections]
    context = {"heading": heading, "links": links}
    return render(request, "cases/choose_election.html", context)


def _enter(given: dict[str, Any], election: str, request: HttpRequest) -> str:
    names = (
        "kind", "forum", "court_number", "parties", "first_event", "level",
        "occurred_on", "paper", "note",
    )  # fmt: skip
    return enter_case(
        election=election,
        covers=covers(given),
        **{name: given[name] for name in names},
        **who_and_when(request),
    )


def _suppose(given: dict[str, Any], election: str, request: HttpRequest) -> WhatIf:
    return suppose_case(
        election=election,
        covers=covers(given),
        first_event=given["first_event"],
        level=given["level"],
        occurred_on=given["occurred_on"],
        **who_and_when(request),
    )


def covers(given: dict[str, Any]) -> Covers:
    """Return what a form says is covered."""
    extent = given["extent"]
    return Covers(
        whole_election=extent == "whole",
        contests=tuple(given["contests"]) if extent == "contests" else (),
        stations=given["stations"] if extent == "stations" else (),
        not_known=extent == "not-known",
        because=given.get("because", ""),
        authority=given.get("authority", ""),
    )


def record_event(request: HttpRequest, number: str) -> HttpResponse:
    """Record what happened in a case."""
    file = look_before_entry(case=number, **who_and_when(request))
    form = EventForm(request.POST or None, request.FILES or None)
    supposed = what_if(
        request,
        form,
        lambda: suppose_case_event(
            case=number,
            **{name: form.cleaned_data[name] for name in BEARS_ON_KEEPING},
            **who_and_when(request),
        ),
    )
    done, _ = entered(
        request,
        form,
        lambda: record_case_event(
            case=number,
            **with_scan(form.cleaned_data, form.cleaned_data["paper"]),
            **who_and_when(request),
        ),
    )
    if done:
        messages.success(
            request, "The event is recorded. Look below at where the case stands now."
        )
        return redirect("case", number)
    return answer(
        request,
        "cases/event.html",
        form,
        **supposed,
        file=file,
        submit_label="Record the event",
        cancel_url=reverse("case", args=[number]),
    )


def strike_event(request: HttpRequest, number: str, event: str) -> HttpResponse:
    """Declare an event to have been entered in error."""
    file = look_before_entry(case=number, **who_and_when(request))
    row = next((row for row in file.events if row.number == event), None)
    if row is None:
        raise Http404
    form = StrikeForm(request.POST or None)
    supposed = what_if(
        request,
        form,
        lambda: suppose_event_struck(case=number, event=event, **who_and_when(request)),
    )
    done, _ = entered(
        request,
        form,
        lambda: strike_case_event(
            case=number, event=event, **form.cleaned_data, **who_and_when(request)
        ),
    )
    if done:
        messages.success(request, "The event is struck; it stays on record.")
        return redirect("case", number)
    facts = [
        ("Case", file.row.number, reverse("case", args=[number])),
        ("Event", row.title),
        ("Court", row.court),
        ("It happened", row.occurred_on),
        ("Recorded", row.recorded_at),
        ("Recorded by", row.recorded_by),
    ]
    return answer(
        request,
        "cases/strike.html",
        form,
        **supposed,
        file=file,
        event=row,
        facts=facts,
        submit_label="Strike this event",
        cancel_url=reverse("case", args=[number]),
    )


def change_scope(request: HttpRequest, number: str) -> HttpResponse:
    """Record anew what a case covers."""
    file = look_before_entry(case=number, **who_and_when(request))
    choices = choices_for_entry(election=file.election_number, **who_and_when(request))
    form = ExtentForm(
        request.POST or None, contests=choices.contests, initial=_extent(file)
    )
    supposed = what_if(
        request,
        form,
        lambda: suppose_case_scope(
            case=number, covers=covers(form.cleaned_data), **who_and_when(request)
        ),
    )
    done, _ = entered(
        request,
        form,
        lambda: change_case_scope(
            case=number, covers=covers(form.cleaned_data), **who_and_when(request)
        ),
    )
    if done:
        messages.success(request, "What the case covers is recorded anew.")
        return redirect("case", number)
    return answer(
        request,
        "cases/scope.html",
        form,
        **supposed,
        file=file,
        submit_label="Record what it covers",
        cancel_url=reverse("case", args=[number]),
    )


def _extent(file: Any) -> dict[str, Any]:
    whole = [row.contest_number for row in file.covers if not row.station]
    parts = [row.station_ref for row in file.covers if row.station]
    extent = "stations" if parts else "contests"
    if file.whole_election or file.not_known:
        extent = "whole" if file.whole_election else "not-known"
    return {"extent": extent, "contests": whole, "stations": ", ".join(parts)}


def court_number(request: HttpRequest, number: str) -> HttpResponse:
    """Record the court's number and the parties."""
    file = look_before_entry(case=number, **who_and_when(request))
    initial = {"court_number": file.row.court_number, "parties": file.row.parties}
    form = CourtNumberForm(request.POST or None, initial=initial)
    done, _ = carried_out(
        form,
        lambda: record_court_number(
            case=number, **form.cleaned_data, **who_and_when(request)
        ),
    )
    if done:
        messages.success(request, "The court’s number is recorded.")
        return redirect("case", number)
    return answer(
        request,
        "cases/court_number.html",
        form,
        file=file,
        submit_label="Record the number",
        cancel_url=reverse("case", args=[number]),
    )
