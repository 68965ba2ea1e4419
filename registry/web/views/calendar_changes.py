"""Changing a court's calendar: what it would move is shown first, then entered."""

import hashlib
from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse

from registry.usecases.calendars import (
    CalendarChange,
    CalendarFile,
    DaysEntered,
    EntryStruck,
    ExtensionEnded,
    LimitsExtended,
    WeekdaysSet,
    change_calendar,
    look_at_calendar,
    look_at_entry,
    preview_calendar_change,
)
from registry.usecases.set_up_looks import look_before_setting_up
from registry.web.effect_tables import effect_table
from registry.web.forms.calendars import (
    ChangeForm,
    DaysForm,
    EndForm,
    LimitsForm,
    StrikeForm,
    WeekdaysForm,
)
from registry.web.pages import answer, carried_out, who_and_when


def close(request: HttpRequest, number: str) -> HttpResponse:
    """Enter days on which a registry is closed, or open though otherwise closed."""
    return _change(
        request,
        number,
        DaysForm(request.POST or None),
        lambda data: DaysEntered(
            first_day=data["first_day"],
            last_day=data["last_day"] or data["first_day"],
            reason=data["reason"],
            notification=data["notification"],
            kind=data["kind"],
            effect=data["effect"],
        ),
        heading="Enter closed or opened days",
        submit_label="Enter the days",
    )


def extend(request: HttpRequest, number: str) -> HttpResponse:
    """Enter a court's general order by which limits run longer."""
    return _change(
        request,
        number,
        LimitsForm(request.POST or None),
        lambda data: LimitsExtended(**data | {"then_days": data["then_days"] or 0}),
        heading="Enter an order that extends limits",
        submit_label="Enter the order",
    )


def set_weekdays(request: HttpRequest, number: str) -> HttpResponse:
    """Change the weekdays on which a registry is closed."""
    file = look_at_calendar(calendar=number, **who_and_when(request))
    now = [str(day) for day in file.closed_weekdays]
    return _change(
        request,
        number,
        WeekdaysForm(request.POST or None, initial={"weekdays": now}),
        lambda data: WeekdaysSet([int(d) for d in data["weekdays"]], data["because"]),
        heading="Change the closed weekdays",
        submit_label="Change the weekdays",
    )


def end_extension(request: HttpRequest, number: str, entry: str) -> HttpResponse:
    """Enter the order that ends an extension."""
    return _change(
        request,
        number,
        EndForm(request.POST or None),
        lambda data: ExtensionEnded(
            entry, **data | {"then_days": data["then_days"] or 0}
        ),
        heading=f"Enter the end of extension {entry}",
        submit_label="Enter the end",
        cancel_url=reverse("calendar-entry", args=[number, entry]),
    )


def strike(request: HttpRequest, number: str, entry: str) -> HttpResponse:
    """Strike an entry that was made in error; it stays, struck."""
    look_at_entry(calendar=number, entry=entry, **who_and_when(request))
    return _change(
        request,
        number,
        StrikeForm(request.POST or None),
        lambda data: EntryStruck(entry, data["because"]),
        heading=f"Strike entry {entry}",
        submit_label="Strike the entry",
        cancel_url=reverse("calendar-entry", args=[number, entry]),
    )


def _change(
    request: HttpRequest,
    number: str,
    form: ChangeForm,
    change: Callable[[dict[str, Any]], CalendarChange],
    *,
    heading: str,
    submit_label: str,
    cancel_url: str = "",
) -> HttpResponse:
    """Show what a change would move; enter it once that has been looked at."""
    look_before_setting_up(what=heading, **who_and_when(request))
    file: CalendarFile = look_at_calendar(calendar=number, **who_and_when(request))
    context: dict[str, Any] = {"file": file, "heading": heading}
    context["cancel_url"] = cancel_url or reverse("calendar", args=[number])
    context["submit_label"] = "Show what it moves"
    previewed, effects = carried_out(
        form,
        lambda: preview_calendar_change(
            calendar=number, change=change(form.entered()), **who_and_when(request)
        ),
    )
    if not (previewed and effects):
        del form.fields["earlier_accepted"]
        return answer(request, "calendars/change.html", form, **context)
    sign = _sign(form)
    if request.POST.get("looked", "") == sign:
        done, changed = carried_out(
            form,
            lambda: change_calendar(
                calendar=number,
                change=change(form.entered()),
                earlier_accepted=form.cleaned_data["earlier_accepted"],
                **who_and_when(request),
            ),
        )
        if done and changed:
            return _entered(request, number, changed.number)
    if not effects.sooner:
        del form.fields["earlier_accepted"]
    context |= {"looked": sign, "submit_label": submit_label}
    context |= effect_table(effects, all_rows=False)
    return answer(request, "calendars/change.html", form, **context)


def _entered(request: HttpRequest, number: str, entered: str) -> HttpResponse:
    if entered == number:
        messages.success(request, "The calendar is changed.")
        return redirect("calendar", number)
    messages.success(request, f"Entered as {entered}. What it moves stands below.")
    return redirect("calendar-entry", number, entered)


def _sign(form: ChangeForm) -> str:
    """Tell one filled-in form from another, so that what was looked at is entered."""
    filled = repr(sorted(form.entered().items()))
    return hashlib.sha256(filled.encode()).hexdigest()[:16]
