"""Pages of elections: the list, one election, its contests and station lists."""

import base64
from typing import Any

from django.contrib import messages
from django.core import signing
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse

from registry.rules.powers import Power
from registry.templatetags.formatting import count_of
from registry.usecases import Refused
from registry.usecases.set_up_looks import (
    list_elections,
    list_stations,
    look_at_election,
    look_before_setting_up,
)
from registry.usecases.setting_up import ContestDays, set_up_contest, set_up_election
from registry.usecases.stations import StationsRead, check_stations, load_stations
from registry.web.forms.elections import ContestForm, ElectionForm, StationsForm
from registry.web.pages import actor, answer, carried_out, who_and_when

# The checked list travels with the page, signed, so that what is loaded is what was
# checked. A longer one is chosen again: pages do not carry megabytes.
LONGEST_CARRIED = 2_000_000
CARRIED_SECONDS = 60 * 60
SALT = "registry.stations"


def election_list(request: HttpRequest) -> HttpResponse:
    """List elections."""
    found = list_elections(**who_and_when(request))
    rows = [
        [
            {"text": row.name, "url": reverse("election", args=[row.number])},
            row.code,
            row.schedule,
            row.contests,
            f"{row.declared} of {row.contests}",
            row.stations,
        ]
        for row in found
    ]
    columns = ("Election", "Code", "Schedule", "Contests", "Declared", "Stations")
    context = {"rows": rows, "columns": columns, "may_set_up": _may_set_up(request)}
    return render(request, "elections/list.html", context)


def election(request: HttpRequest, number: str) -> HttpResponse:
    """Show an election, its contests and how far each is."""
    file = look_at_election(election=number, **who_and_when(request))
    rows = [
        [
            {"text": row.title, "url": reverse("contest", args=[row.number])},
            row.polled_on,
            row.counted_on,
            row.declared_on,
            {
                "text": row.stations,
                "url": reverse("contest-stations", args=[row.number]),
            },
            f"{row.received} of {row.expected}",
        ]
        for row in file.contests
    ]
    facts = [
        ("Code", file.code),
        ("Retention schedule", file.schedule[1], _url("schedule", file.schedule[0])),
        ("Closed days", file.calendar[1], _url("calendar", file.calendar[0])),
        ("Time zone of its law", file.legal_zone),
        ("Stations", sum(row.stations for row in file.contests)),
    ]
    context = {
        "file": file,
        "facts": facts,
        "rows": rows,
        "columns": ("Contest", "Poll", "Count", "Declared", "Stations", "Envelopes in"),
        "entries": file.timeline,
        "acts": _acts(request, file.number),
    }
    return render(request, "elections/file.html", context)


def _url(name: str, number: str) -> str:
    return reverse(name, args=[number])


def _may_set_up(request: HttpRequest) -> bool:
    return actor(request).may(Power.SET_UP)


def _acts(request: HttpRequest, number: str) -> list[dict[str, str]]:
    acts = [
        {"label": "Its retention schedule", "url": _url("election-schedule", number)}
    ]
    if _may_set_up(request):
        acts += [
            {"label": "Enter a contest", "url": _url("contest-new", number)},
            {"label": "Load stations", "url": _url("stations-load", number)},
        ]
    if actor(request).may(Power.REPORT):
        url = f"{reverse('retention-report')}?election={number}"
        acts.append({"label": "Retention report", "url": url})
    return acts


def new_election(request: HttpRequest) -> HttpResponse:
    """Enter an election."""
    offered = look_before_setting_up(what="an election", **who_and_when(request))
    form = ElectionForm(request.POST or None)
    form.fields["schedule"].choices = offered.schedules  # type: ignore[attr-defined]
    form.fields["calendar"].choices = offered.calendars  # type: ignore[attr-defined]
    done, number = carried_out(
        form, lambda: set_up_election(**form.cleaned_data, **who_and_when(request))
    )
    if done:
        messages.success(request, "The election is entered. Enter its contests next.")
        return redirect("election", number)
    return answer(
        request,
        "elections/new.html",
        form,
        submit_label="Enter the election",
        cancel_url=reverse("elections"),
        lacking=not (offered.schedules and offered.calendars),
    )


def new_contest(request: HttpRequest, number: str) -> HttpResponse:
    """Enter a contest."""
    look_before_setting_up(what="a contest", **who_and_when(request))
    file = look_at_election(election=number, **who_and_when(request))
    form = ContestForm(request.POST or None)
    done, _ = carried_out(form, lambda: _set_up(form.cleaned_data, number, request))
    if done:
        named = f"{form['constituency_number'].value()} "
        messages.success(
            request, f"{named}{form['constituency_name'].value()} is entered."
        )
        return redirect("election", number)
    return answer(
        request,
        "elections/new_contest.html",
        form,
        file=file,
        submit_label="Enter the contest",
        cancel_url=reverse("election", args=[number]),
    )


def _set_up(data: dict[str, Any], number: str, request: HttpRequest) -> str:
    return set_up_contest(
        election=number,
        constituency_number=data["constituency_number"],
        constituency_name=data["constituency_name"],
        returning_officer=data["returning_officer"],
        days=ContestDays(data["polled_on"], data["counted_on"], data["declared_on"]),
        source=data["source"],
        **who_and_when(request),
    )


def stations(request: HttpRequest, number: str) -> HttpResponse:
    """List the stations of a contest."""
    found = list_stations(contest=number, **who_and_when(request))
    rows = [
        [
            {"text": row.station_number, "note": row.number},
            row.name,
            row.place or "–",
            {"text": "; ".join(row.unit_sets)},
        ]
        for row in found.stations
    ]
    columns = ("Station", "Name", "Place", "Control unit with paper-trail unit")
    context = {"found": found, "rows": rows, "columns": columns}
    return render(request, "elections/stations.html", context)


def load(request: HttpRequest, number: str) -> HttpResponse:
    """Check a station list, and load it once it is clean: all of it, or nothing."""
    look_before_setting_up(what="stations", **who_and_when(request))
    file = look_at_election(election=number, **who_and_when(request))
    if request.method == "POST" and request.POST.get("carried"):
        return _load_checked(request, number)
    form = StationsForm(request.POST or None, request.FILES or None)
    checked, read = carried_out(form, lambda: _check(form, number, request))
    context: dict[str, Any] = {"file": file, "submit_label": "Check the list"}
    context["cancel_url"] = reverse("election", args=[number])
    if checked and read:
        context |= _preview(form, read)
    return answer(request, "elections/load.html", form, **context)


def _check(form: StationsForm, number: str, request: HttpRequest) -> StationsRead:
    upload = form.cleaned_data["file"]
    return check_stations(
        election=number,
        content=upload.read(),
        file_name=upload.name,
        **who_and_when(request),
    )


def _preview(form: StationsForm, read: StationsRead) -> dict[str, Any]:
    columns = list(read.preview[0]) if read.preview else []
    upload = form.cleaned_data["file"]
    upload.seek(0)
    return {
        "read": read,
        "file_name": upload.name,
        "preview_columns": [c.lstrip("?").replace("_", " ") for c in columns],
        "preview": [[row.get(c, "") or "–" for c in columns] for row in read.preview],
        "refused_columns": ("Line", "Why", "What stands there"),
        "refused": [
            [
                f"Line {line.number}",
                {"text": " ".join(line.reasons)},
                _cells(line.cells),
            ]
            for line in read.refused
        ],
        "carried": _carried(upload.name, upload.read()) if read.is_clean else "",
    }


def _cells(cells: dict[str, str]) -> dict[str, str]:
    return {"text": ", ".join(value for value in cells.values() if value) or "–"}


def _carried(name: str, content: bytes) -> str:
    if len(content) > LONGEST_CARRIED:
        return ""
    held = {"name": name, "content": base64.b64encode(content).decode()}
    return signing.dumps(held, salt=SALT, compress=True)


def _load_checked(request: HttpRequest, number: str) -> HttpResponse:
    try:
        held = signing.loads(
            request.POST["carried"], salt=SALT, max_age=CARRIED_SECONDS
        )
    except signing.BadSignature:
        raise Refused(
            "The checked list is no longer at hand. Choose the file and check it again."
        ) from None
    read = load_stations(
        election=number,
        content=base64.b64decode(held["content"]),
        file_name=held["name"],
        **who_and_when(request),
    )
    messages.success(
        request,
        f"Loaded: {count_of(read.stations, 'station,stations')} with "
        f"{count_of(read.unit_sets, 'pair of units,pairs of units')}.",
    )
    return redirect("election", number)
