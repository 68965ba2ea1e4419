"""Importing a list of holidays into a court's calendar: checked first, then taken."""

import base64
from collections.abc import Callable
from dataclasses import asdict
from typing import Any

from django import forms
from django.contrib import messages
from django.core import signing
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils.dateparse import parse_date

from registry.templatetags.formatting import count_of
from registry.usecases import Refused
from registry.usecases.calendars import look_at_calendar
from registry.usecases.holiday_lists import (
    Defaults,
    HolidayFile,
    HolidaySource,
    HolidaysRead,
    PublishedHolidays,
    check_holidays,
    import_holidays,
)
from registry.usecases.set_up_looks import look_before_setting_up
from registry.web.effect_tables import effect_table
from registry.web.forms.calendars import HolidaysForm, PublishedHolidaysForm
from registry.web.pages import answer, carried_out, who_and_when

# The checked list travels with the page, signed, so that what is taken is what was
# checked. A longer one is imported at the terminal.
LONGEST_CARRIED = 1_000_000
CARRIED_SECONDS = 60 * 60
SALT = "registry.holidays"


def import_list(request: HttpRequest, number: str) -> HttpResponse:
    """Check a list of holidays, show what it moves, and take it: all or nothing."""
    form = HolidaysForm(request.POST or None, request.FILES or None)
    # Two forms on one page: their fields must not share an id.
    library = PublishedHolidaysForm(auto_id="published_%s")
    return _imported(request, number, form, _file, "import", library_form=library)


def import_published(request: HttpRequest, number: str) -> HttpResponse:
    """Do the same with a country's holidays from the holidays library."""
    form = PublishedHolidaysForm(request.POST or None)
    return _imported(request, number, form, _published, "import_published")


def _imported(
    request: HttpRequest,
    number: str,
    form: forms.Form,
    source: Callable[[dict[str, Any]], HolidaySource],
    page: str,
    **context: Any,
) -> HttpResponse:
    look_before_setting_up(what="a list of holidays", **who_and_when(request))
    context["file"] = look_at_calendar(calendar=number, **who_and_when(request))
    if request.method == "POST" and request.POST.get("carried"):
        return _take_checked(request, number)
    checked, read = carried_out(
        form,
        lambda: check_holidays(
            calendar=number, source=source(form.cleaned_data), **who_and_when(request)
        ),
    )
    context["submit_label"] = "Check the list"
    context["cancel_url"] = reverse("calendar", args=[number])
    if checked and read:
        context |= _checked(read, _carried(source(form.cleaned_data)))
    return answer(request, f"calendars/{page}.html", form, **context)


def _published(data: dict[str, Any]) -> PublishedHolidays:
    return PublishedHolidays(**data)


def _file(data: dict[str, Any]) -> HolidayFile:
    upload = data["file"]
    upload.seek(0)
    defaults = Defaults(data["notification"], data["kind"], data["through"])
    return HolidayFile(upload.read(), upload.name, defaults)


def _checked(read: HolidaysRead, carried: str) -> dict[str, Any]:
    context: dict[str, Any] = {
        "read": read,
        "carried": carried if read.is_clean else "",
        "read_columns": ("From", "Through", "Why", "What it is", "Notification"),
        "read_rows": [
            [
                entry.first_day,
                entry.last_day,
                entry.reason,
                str(entry.kind),
                entry.notification or "none named",
            ]
            for entry in read.entries
        ],
        "refused": [[one.where, " ".join(one.problems)] for one in read.refused],
        "refused_columns": ("Entry", "Why it cannot be taken"),
    }
    if read.effects:
        context |= effect_table(read.effects, all_rows=False)
    return context


def _carried(source: HolidaySource) -> str:
    if isinstance(source, PublishedHolidays):
        return signing.dumps({"published": asdict(source)}, salt=SALT)
    if len(source.content) > LONGEST_CARRIED:
        return ""
    through = source.defaults.through
    held = {
        "name": source.file_name,
        "content": base64.b64encode(source.content).decode(),
        "notification": source.defaults.notification,
        "kind": source.defaults.kind,
        "through": through.isoformat() if through else "",
    }
    return signing.dumps(held, salt=SALT, compress=True)


def _held(carried: str) -> HolidaySource:
    """Return what travelled with the page; signing.BadSignature if it was altered."""
    held = signing.loads(carried, salt=SALT, max_age=CARRIED_SECONDS)
    if published := held.get("published"):
        return PublishedHolidays(**published | {"years": tuple(published["years"])})
    defaults = Defaults(
        held["notification"], held["kind"], parse_date(held["through"] or "")
    )
    return HolidayFile(base64.b64decode(held["content"]), held["name"], defaults)


def _take_checked(request: HttpRequest, number: str) -> HttpResponse:
    try:
        source = _held(request.POST["carried"])
    except signing.BadSignature:
        raise Refused(
            "The checked list is no longer at hand. Choose the list and check it again."
        ) from None
    read = import_holidays(
        calendar=number,
        source=source,
        earlier_accepted=bool(request.POST.get("earlier_accepted")),
        **who_and_when(request),
    )
    moved = read.effects.later if read.effects else 0
    messages.success(
        request,
        f"Entered: {count_of(len(read.entries), 'entry,entries')}; kept longer: "
        f"{count_of(moved, 'container,containers')}.",
    )
    return redirect("calendar", number)
