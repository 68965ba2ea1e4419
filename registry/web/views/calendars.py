"""Pages of the courts' calendars: what closes a registry, what extends limits."""

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse

from registry.rules.calendars import ClosureKind
from registry.rules.powers import Power
from registry.usecases.calendars import (
    ClosureRow,
    EntryFile,
    ExtensionRow,
    look_at_calendar,
    look_at_entry,
    set_up_calendar,
)
from registry.usecases.set_up_looks import look_before_setting_up
from registry.web.effect_tables import effect_table, page_asked
from registry.web.forms.calendars import (
    CalendarForm,
)
from registry.web.forms.dates import WEEKDAYS
from registry.web.pages import actor, answer, carried_out, who_and_when

DAYS_COLUMNS = ("Days", "The registry is", "Why", "Entry")
EXTENSION_COLUMNS = ("From", "Through", "How", "Order", "Entry")


def weekdays_in_words(days: tuple[int, ...]) -> str:
    """Write weekdays: "Saturday, Sunday"; "none" where it is open on all."""
    names = dict(WEEKDAYS)
    return ", ".join(names[str(day)] for day in days) or "none"


def calendar(request: HttpRequest, number: str) -> HttpResponse:
    """Show a calendar with its closed and opened days and its extended limits."""
    file = look_at_calendar(calendar=number, **who_and_when(request))
    context = {
        "file": file,
        "entries": file.timeline,
        "facts": [
            ("Closed weekdays", weekdays_in_words(file.closed_weekdays)),
            ("Elections", ", ".join(name for _, name in file.elections) or "none yet"),
        ],
        "closures": [_closure_cells(row, number) for row in file.closures],
        "columns": DAYS_COLUMNS,
        "extensions": [_extension_cells(row, number) for row in file.extensions],
        "extension_columns": EXTENSION_COLUMNS,
        "acts": _acts(request, number),
    }
    return render(request, "calendars/file.html", context)


def _closure_cells(row: ClosureRow, number: str) -> list[Any]:
    why = {"text": row.reason, "note": row.notification or "no paper named"}
    unsaid = row.kind is ClosureKind.UNSAID
    several = row.last_day > row.first_day
    through = f"through {row.last_day:%-d %B %Y}" if several else ""
    return [
        {"text": row.first_day, "note": through},
        {"text": row.effect_title, "note": "" if unsaid else row.kind_title},
        why,
        _entry_cell(row, number),
    ]


def _extension_cells(row: ExtensionRow, number: str) -> list[Any]:
    return [
        row.from_on,
        row.until_on or "no end yet",
        _how(row),
        {"text": row.notification, "note": f"made on {row.made_on:%-d %B %Y}"},
        _entry_cell(row, number),
    ]


def _how(row: ExtensionRow) -> str:
    how = "the days do not count" if row.excludes else "limits do not run out"
    return f"{how}; then {row.then_days} days" if row.then_days else how


def _entry_cell(row: ClosureRow | ExtensionRow, number: str) -> dict[str, str]:
    note = f"struck: {row.struck_because}" if row.struck_at else ""
    url = reverse("calendar-entry", args=[number, row.number])
    return {"text": row.number, "url": url, "note": note}


def _acts(request: HttpRequest, number: str) -> list[dict[str, str]]:
    if not actor(request).may(Power.SET_UP):
        return []
    return [
        {"label": label, "url": reverse(name, args=[number])}
        for label, name in (
            ("Enter closed or opened days", "calendar-close"),
            ("Import a list of holidays", "calendar-import"),
            ("Enter an order that extends limits", "calendar-extend"),
            ("Change the closed weekdays", "calendar-weekdays"),
        )
    ]


def entry(request: HttpRequest, number: str, entry: str) -> HttpResponse:
    """Show one entry of a calendar, and what it moves as of today."""
    file = look_at_entry(calendar=number, entry=entry, **who_and_when(request))
    table = effect_table(
        file.effects,
        all_rows=False,
        page=page_asked(request.GET.get("page", "")),
        address="?",
    )
    row = file.closure or file.extension
    assert row is not None
    context = {
        "file": file,
        "row": row,
        "facts": _closure_facts(file) if file.closure else _extension_facts(file),
        "entries": file.timeline,
        "acts": _entry_acts(request, file),
        **table,
    }
    return render(request, "calendars/entry.html", context)


def _closure_facts(file: EntryFile) -> list[tuple[Any, ...]]:
    row = file.closure
    assert row is not None
    return [
        ("From", row.first_day),
        ("Through", row.last_day),
        ("The registry is", row.effect_title),
        ("What it is", row.kind_title),
        ("Why", row.reason),
        ("Notification", row.notification or "none named"),
        *_common_facts(file, row),
    ]


def _extension_facts(file: EntryFile) -> list[tuple[Any, ...]]:
    row = file.extension
    assert row is not None
    return [
        ("Limits that end from", row.from_on),
        ("Through", row.until_on or "no end yet"),
        ("How", _how(row)),
        ("Order", row.notification),
        ("Made on", row.made_on),
        *_common_facts(file, row),
    ]


def _common_facts(
    file: EntryFile, row: ClosureRow | ExtensionRow
) -> list[tuple[Any, ...]]:
    url = reverse("calendar", args=[file.calendar])
    facts: list[tuple[Any, ...]] = [("Calendar", file.calendar_name, url)]
    if row.struck_at:
        facts += [("Struck", row.struck_at), ("Struck because", row.struck_because)]
    return facts


def _entry_acts(request: HttpRequest, file: EntryFile) -> list[dict[str, str]]:
    row = file.closure or file.extension
    if row is None or row.struck_at or not actor(request).may(Power.SET_UP):
        return []
    args = [file.calendar, row.number]
    acts = [{"label": "Strike this entry", "url": reverse("entry-strike", args=args)}]
    if file.extension and file.extension.until_on is None:
        url = reverse("extension-end", args=args)
        acts.insert(0, {"label": "Enter the end of the extension", "url": url})
    return acts


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
        "calendars/new.html",
        form,
        submit_label="Enter the calendar",
        cancel_url=reverse("schedules"),
    )
