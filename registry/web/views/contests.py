"""Pages of a contest: one constituency in one election."""

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse

from registry.rules.powers import Power
from registry.usecases.contests import look_at_contest, look_before_dates
from registry.usecases.setting_up import ContestDays, record_contest_dates
from registry.usecases.what_if import suppose_contest_dates
from registry.web.forms.boxes import as_of_form
from registry.web.forms.contests import DatesForm
from registry.web.forms.days import clocks_asked
from registry.web.pages import actor, answer, who_and_when
from registry.web.supposing import entered, what_if


def contest(request: HttpRequest, number: str) -> HttpResponse:
    """Show a contest, as much of it as the asker may see."""
    asked = clocks_asked(request)
    file = look_at_contest(contest=number, **asked, **who_and_when(request))
    context = {
        "file": file,
        "entries": file.timeline,
        "acts": _acts(request, number),
        "as_of": as_of_form(file),
        "may_enter": actor(request).may(Power.ENTER_CASES),
    }
    return render(request, "contests/file.html", context)


def _acts(request: HttpRequest, number: str) -> list[dict[str, str]]:
    acts = []
    if actor(request).may(Power.RECORD_DATES):
        url = reverse("contest-dates", args=[number])
        acts.append({"label": "Record dates", "url": url})
    if actor(request).may(Power.ENTER_CASES):
        url = reverse("confirmation-new", args=[number])
        acts.append({"label": "Enter a confirmation", "url": url})
    return acts


def dates(request: HttpRequest, number: str) -> HttpResponse:
    """Record the dates of a contest, with the paper they come from."""
    file = look_before_dates(contest=number, **who_and_when(request))
    known = {name: day for name, _, day in file.dates}
    form = DatesForm(request.POST or None, initial={**known})
    supposed = what_if(
        request,
        form,
        lambda: suppose_contest_dates(
            contest=number, days=_days(form.cleaned_data), **who_and_when(request)
        ),
    )
    done, _ = entered(
        request, form, lambda: _record(form.cleaned_data, number, request)
    )
    if done:
        messages.success(request, "The dates are recorded.")
        corrected = any(
            day and day != form.cleaned_data[name] for name, day in known.items()
        )
        place = "#corrections" if corrected else ""
        return redirect(f"{reverse('contest', args=[number])}{place}")
    return answer(
        request,
        "contests/dates.html",
        form,
        **supposed,
        file=file,
        submit_label="Record the dates",
        cancel_url=reverse("contest", args=[number]),
    )


def _days(given: dict[str, Any]) -> ContestDays:
    return ContestDays(**{name: day for name, day in given.items() if name != "source"})


def _record(given: dict[str, Any], number: str, request: HttpRequest) -> None:
    record_contest_dates(
        contest=number,
        days=_days(given),
        source=given["source"],
        **who_and_when(request),
    )
