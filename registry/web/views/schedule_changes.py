"""Pages about an election's schedule: preview of another version, and its adoption."""

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse

from registry.rules.powers import Power
from registry.usecases.schedule_changes import (
    Counts,
    ElectionSchedule,
    SchedulePreview,
    change_election_schedule,
    look_at_election_schedule,
    preview_schedule_change,
)
from registry.web.effect_tables import effect_table, page_asked
from registry.web.forms.schedules import AdoptionForm, VersionForm
from registry.web.pages import actor, answer, carried_out, who_and_when
from registry.web.views.schedules import CHANGE_COLUMNS, change_cells, comparison


def election_schedule(request: HttpRequest, number: str) -> HttpResponse:
    """Show an election's version, what another would do, and adopt it by an order."""
    file = look_at_election_schedule(election=number, **who_and_when(request))
    wanted = request.POST.get("schedule") or request.GET.get("schedule", "")
    if request.method == "POST" or wanted:
        return _adoption(request, file, wanted)
    form = VersionForm()
    form.fields["schedule"].choices = file.offered  # type: ignore[attr-defined]
    context = _pinned(file) | {"may_set_up": actor(request).may(Power.SET_UP)}
    return answer(request, "schedules/of_election.html", form, **context)


def _pinned(file: ElectionSchedule) -> dict[str, Any]:
    pinned = file.pinned
    return {
        "file": file,
        "facts": [
            ("Pinned to", pinned.title, reverse("schedule", args=[pinned.number])),
            ("Version", pinned.name),
            ("Ordained by", f"{pinned.ordained_by}, {pinned.order}"),
            ("In force from", pinned.in_force_from),
        ],
        "changes": change_cells(file.changes),
        "change_columns": CHANGE_COLUMNS,
    }


def _adoption(
    request: HttpRequest, file: ElectionSchedule, wanted: str
) -> HttpResponse:
    preview = preview_schedule_change(
        election=file.number, schedule=wanted, **who_and_when(request)
    )
    form = AdoptionForm(
        request.POST or None,
        initial={"schedule": preview.after.number, **vars(preview.counts)},
    )
    sooner = bool(preview.effects.sooner)
    form.fields["earlier_accepted_because"].required = sooner
    done, _ = carried_out(form, lambda: _adopt(form.cleaned_data, file, request))
    if done:
        messages.success(request, f"The election is pinned to {preview.after.name}.")
        return redirect("election-schedule", file.number)
    if getattr(form, "refusal", ()):
        # The counts of this page are the new ones; what was filled in stays.
        data = request.POST.copy()
        for name, count in vars(preview.counts).items():
            data[name] = str(count)
        form.data = data
    if not sooner:
        del form.fields["earlier_accepted_because"]
    address = f"?schedule={preview.after.number}&"
    page = page_asked(request.GET.get("page", ""))
    return answer(
        request,
        "schedules/adoption.html",
        form,
        submit_label="Adopt this version for the election",
        cancel_url=reverse("election-schedule", args=[file.number]),
        grave=sooner,
        facts=_preview_facts(preview),
        file=file,
        preview=preview,
        **comparison(preview),
        **effect_table(preview.effects, all_rows=True, page=page, address=address),
    )


def _preview_facts(preview: SchedulePreview) -> list[tuple[Any, ...]]:
    before, after = preview.before, preview.after
    return [
        ("From", before.name, reverse("schedule", args=[before.number])),
        ("To", after.name, reverse("schedule", args=[after.number])),
        ("Ordained by", f"{after.ordained_by}, {after.order}"),
        ("In force from", after.in_force_from),
    ]


def _adopt(data: dict[str, Any], file: ElectionSchedule, request: HttpRequest) -> str:
    return change_election_schedule(
        election=file.number,
        schedule=data["schedule"],
        order=data["order"],
        seen=Counts(data["later"], data["earlier"], data["unchanged"]),
        earlier_accepted_because=data.get("earlier_accepted_because", ""),
        **who_and_when(request),
    )
