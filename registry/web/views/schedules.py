"""Pages of retention schedules: the list, one version, two side by side, adopting."""

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse

from registry.rules.powers import Power
from registry.usecases import Mistaken
from registry.usecases.calendars import list_calendars
from registry.usecases.schedule_changes import SchedulePreview
from registry.usecases.schedules import (
    ChangeRow,
    ScheduleFile,
    SchedulesCompared,
    adopt_schedule,
    compare_schedules,
    list_schedules,
    look_at_schedule,
)
from registry.usecases.set_up_looks import look_before_setting_up
from registry.web.forms.schedules import CompareForm, ScheduleForm
from registry.web.pages import actor, answer, carried_out, who_and_when
from registry.web.views.calendars import weekdays_in_words

CALENDAR_COLUMNS = (
    "Registry",
    "Closed weekdays",
    "Entries",
    "Extensions of limits",
    "Elections",
)


def schedule_list(request: HttpRequest) -> HttpResponse:
    """List schedules and calendars: what every computed date rests on."""
    schedules = [
        [
            {
                "text": row.title,
                "url": reverse("schedule", args=[row.number]),
                "note": "to be confirmed by counsel" if row.to_be_confirmed else "",
            },
            f"{row.code}, version {row.version}",
            row.in_force_from,
            row.elections,
        ]
        for row in list_schedules(**who_and_when(request))
    ]
    calendars = [
        [
            {"text": row.name, "url": reverse("calendar", args=[row.number])},
            weekdays_in_words(row.closed_weekdays),
            row.entries,
            row.extensions,
            row.elections,
        ]
        for row in list_calendars(**who_and_when(request))
    ]
    context = {
        "schedules": schedules,
        "schedule_columns": ("Schedule", "Version", "In force from", "Elections"),
        "calendars": calendars,
        "calendar_columns": (
            "Registry",
            "Closed weekdays",
            "Entries",
            "Extensions of limits",
            "Elections",
        ),
        "may_set_up": actor(request).may(Power.SET_UP),
    }
    return render(request, "schedules/list.html", context)


def schedule(request: HttpRequest, number: str) -> HttpResponse:
    """Show a schedule: its clauses in words, and its text to the letter."""
    file = look_at_schedule(schedule=number, **who_and_when(request))
    context = {
        "file": file,
        "entries": file.timeline,
        "facts": _facts(file),
        "changes": change_cells(file.changes),
        "change_columns": CHANGE_COLUMNS,
        "acts": [
            {
                "label": "Compare with another version",
                "url": f"{reverse('schedule-compare')}?after={file.number}",
            }
        ],
    }
    return render(request, "schedules/file.html", context)


CHANGE_COLUMNS = ("Adopted", "Election", "From", "To", "Order", "What it moved then")


def change_cells(changes: tuple[ChangeRow, ...]) -> list[list[Any]]:
    """Return an election's moves between versions as cells of a table."""
    return [
        [
            row.adopted_at,
            {"text": row.election, "note": row.number},
            {"text": row.before, "url": reverse("schedule", args=[row.before_number])},
            {"text": row.after, "url": reverse("schedule", args=[row.after_number])},
            row.order,
            {
                "text": f"later {row.later}, earlier {row.earlier}, "
                f"unchanged {row.unchanged}",
                "note": row.earlier_accepted_because
                and f"accepted because: {row.earlier_accepted_because}",
            },
        ]
        for row in changes
    ]


def _facts(file: ScheduleFile) -> list[tuple[str, Any]]:
    return [
        ("Code and version", f"{file.code}, version {file.version}"),
        ("Law", file.law),
        ("Ordained by", file.ordained_by),
        ("Order", file.order),
        ("In force from", file.in_force_from),
        ("Confirmation of the court’s registry", file.confirmation),
        ("Seal check before opening or disposal", file.seal_check),
        ("Safety margin", file.margins),
        ("Elections pinned to it", ", ".join(name for _, name in file.elections)
         or "none yet"),
    ]  # fmt: skip


def compare(request: HttpRequest) -> HttpResponse:
    """Hold two versions side by side: every point in which they differ."""
    offered = [
        (row.number, f"{row.code}, version {row.version}")
        for row in list_schedules(**who_and_when(request))
    ]
    asked = "before" in request.GET and "after" in request.GET
    form = CompareForm(request.GET if asked else None, initial=request.GET.dict())
    for name in ("before", "after"):
        form.fields[name].choices = offered  # type: ignore[attr-defined]
    done, found = carried_out(
        form, lambda: compare_schedules(**form.cleaned_data, **who_and_when(request))
    )
    context: dict[str, Any] = {"compared": found if done else None}
    if done and found:
        context |= comparison(found)
    return answer(request, "schedules/compare.html", form, **context)


def comparison(found: SchedulesCompared | SchedulePreview) -> dict[str, Any]:
    """Return two versions side by side as cells of a table."""
    return {
        "differences": [
            [
                ", ".join(change.about),
                change.old or {"text": "not there"},
                change.new or {"text": "falls away", "tone": "wait"},
            ]
            for change in found.changes
        ],
        "difference_columns": ("About", found.before.name, found.after.name),
    }


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
