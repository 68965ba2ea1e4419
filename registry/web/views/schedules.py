"""Pages of retention schedules and of the court registries' closed days."""

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse

from registry.rules.powers import Power
from registry.usecases import Mistaken
from registry.usecases.calendars import (
    list_calendars,
    look_at_calendar,
    record_closed_days,
    set_up_calendar,
)
from registry.usecases.schedules import (
    adopt_schedule,
    list_schedules,
    look_at_schedule,
)
from registry.usecases.set_up_looks import look_before_setting_up
from registry.web.forms.dates import WEEKDAYS
from registry.web.forms.schedules import CalendarForm, ClosureForm, ScheduleForm
from registry.web.pages import actor, answer, carried_out, who_and_when


def schedule_list(request: HttpRequest) -> HttpResponse:
    """List schedules and calendars: what every computed date rests on."""
    schedules = [
        [
            {"text": row.title, "url": reverse("schedule", args=[row.number])},
            f"{row.code}, version {row.version}",
            row.in_force_from,
            row.elections,
        ]
        for row in list_schedules(**who_and_when(request))
    ]
    calendars = [
        [
            {"text": row.name, "url": reverse("calendar", args=[row.number])},
            _weekdays(row.closed_weekdays),
            row.entries,
            row.elections,
        ]
        for row in list_calendars(**who_and_when(request))
    ]
    context = {
        "schedules": schedules,
        "schedule_columns": ("Schedule", "Version", "In force from", "Elections"),
        "calendars": calendars,
        "calendar_columns": ("Registry", "Closed weekdays", "Closures", "Elections"),
        "may_set_up": actor(request).may(Power.SET_UP),
    }
    return render(request, "schedules/list.html", context)


def _weekdays(days: tuple[int, ...]) -> str:
    names = dict(WEEKDAYS)
    return ", ".join(names[str(day)] for day in days) or "none"


def schedule(request: HttpRequest, number: str) -> HttpResponse:
    """Show a schedule: its clauses in words, and its text to the letter."""
    file = look_at_schedule(schedule=number, **who_and_when(request))
    context = {"file": file, "entries": file.timeline, "facts": _facts(file)}
    return render(request, "schedules/file.html", context)


def _facts(file: Any) -> list[tuple[str, Any]]:
    return [
        ("Code and version", f"{file.code}, version {file.version}"),
        ("Law", file.law),
        ("Ordained by", file.ordained_by),
        ("Order", file.order),
        ("In force from", file.in_force_from),
        ("Confirmation of the court’s registry", file.confirmation),
        ("Seal check before opening or disposal", file.seal_check),
        ("Elections pinned to it", ", ".join(name for _, name in file.elections)
         or "none yet"),
    ]  # fmt: skip


def adopt(request: HttpRequest) -> HttpResponse:
    """Adopt a schedule from its file; every error in it is listed."""
    look_before_setting_up(what="a schedule", **who_and_when(request))
    form = ScheduleForm(request.POST or None, request.FILES or None)
    done, number = carried_out(form, lambda: _adopt(form, request))
    if done:
        messages.success(request, "The schedule is adopted, to the letter.")
        return redirect("schedule", number)
    return answer(
        request,
        "schedules/adopt.html",
        form,
        submit_label="Adopt the schedule",
        cancel_url=reverse("schedules"),
    )


def _adopt(form: ScheduleForm, request: HttpRequest) -> str:
    upload = form.cleaned_data["text"]
    try:
        text = upload.read().decode("utf-8-sig")
    except UnicodeDecodeError:
        raise Mistaken(
            text=f"{upload.name} is not written in UTF-8. Save it as UTF-8 and try "
            "again."
        ) from None
    return adopt_schedule(text=text, file_name=upload.name, **who_and_when(request))


def calendar(request: HttpRequest, number: str) -> HttpResponse:
    """Show a calendar with its closures, and enter another closure."""
    file = look_at_calendar(calendar=number, **who_and_when(request))
    closures = [
        [row.first_day, row.last_day, row.reason, row.notification or "not named"]
        for row in file.closures
    ]
    context = {
        "file": file,
        "entries": file.timeline,
        "facts": [
            ("Closed weekdays", _weekdays(file.closed_weekdays)),
            ("Elections", ", ".join(name for _, name in file.elections) or "none yet"),
        ],
        "closures": closures,
        "columns": ("From", "Through", "Why", "Notification"),
        "acts": _acts(request, number),
    }
    return render(request, "schedules/calendar.html", context)


def _acts(request: HttpRequest, number: str) -> list[dict[str, str]]:
    if not actor(request).may(Power.SET_UP):
        return []
    url = reverse("calendar-close", args=[number])
    return [{"label": "Enter closed days", "url": url}]


def close(request: HttpRequest, number: str) -> HttpResponse:
    """Enter days on which a court's registry is closed."""
    look_before_setting_up(what="closed days", **who_and_when(request))
    file = look_at_calendar(calendar=number, **who_and_when(request))
    form = ClosureForm(request.POST or None)
    done, _ = carried_out(form, lambda: _close(form.cleaned_data, number, request))
    if done:
        messages.success(request, "The closed days are entered.")
        return redirect("calendar", number)
    return answer(
        request,
        "schedules/close.html",
        form,
        file=file,
        submit_label="Enter the closed days",
        cancel_url=reverse("calendar", args=[number]),
    )


def _close(data: dict[str, Any], number: str, request: HttpRequest) -> str:
    return record_closed_days(
        calendar=number,
        first_day=data["first_day"],
        last_day=data["last_day"] or data["first_day"],
        reason=data["reason"],
        notification=data["notification"],
        **who_and_when(request),
    )


def new_calendar(request: HttpRequest) -> HttpResponse:
    """Enter the calendar of a court's registry."""
    look_before_setting_up(what="a calendar", **who_and_when(request))
    form = CalendarForm(request.POST or None, initial={"closed_weekdays": ["5", "6"]})
    done, number = carried_out(
        form,
        lambda: set_up_calendar(
            name=form.cleaned_data["name"],
            closed_weekdays=[int(d) for d in form.cleaned_data["closed_weekdays"]],
            **who_and_when(request),
        ),
    )
    if done:
        messages.success(request, "The calendar is entered. Enter its closed days.")
        return redirect("calendar", number)
    return answer(
        request,
        "schedules/new_calendar.html",
        form,
        submit_label="Enter the calendar",
        cancel_url=reverse("schedules"),
    )
