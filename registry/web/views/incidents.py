"""Pages of incidents: reported, followed up, closed; the report as a paper."""

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.http import urlencode

from registry.rules.powers import Power
from registry.usecases import incidents
from registry.usecases.incident_looks import (
    IncidentFile,
    list_incidents,
    look_at_incident,
    look_before_reporting_incident,
    print_incident_report,
)
from registry.web.forms.incidents import (
    AddContainersForm,
    CloseIncidentForm,
    IncidentFilter,
    ReportIncidentForm,
    StepForm,
)
from registry.web.forms.scans import with_scan
from registry.web.pages import actor, answer, carried_out, given_out, who_and_when

# Who may enter which step; the use case has the last word.
STEPS = (
    ("reported", "reported to the authority", (Power.KEEP,)),
    ("directed", "direction received", (Power.KEEP, Power.RECORD_PERMISSION)),
    ("done", "measure taken", (Power.KEEP,)),
    (
        "noted",
        "noted",
        (Power.KEEP, Power.RECORD_PERMISSION, Power.ENTER_CASES),
    ),
)


def incident_list(request: HttpRequest) -> HttpResponse:
    """List incidents, the open ones unless others are asked for."""
    form = IncidentFilter(request.GET)
    show = form.cleaned_data.get("show") if form.is_valid() else ""
    context = {
        "filter_form": form,
        "found": list_incidents(show=show or "open", **who_and_when(request)),
        "may_report": actor(request).may(Power.KEEP),
    }
    return render(request, "incidents/list.html", context)


def new_incident(request: HttpRequest) -> HttpResponse:
    """Report an incident, from a container's page or from a room's."""
    who = who_and_when(request)
    ahead = look_before_reporting_incident(
        container=request.GET.get("container", ""),
        room=request.GET.get("room", ""),
        **who,
    )
    form = ReportIncidentForm(
        request.POST or None,
        rooms=ahead.rooms,
        owners=ahead.owners,
        initial={
            "room": ahead.room,
            "containers": ahead.container,
            "kind": request.GET.get("kind", ""),
            "what": request.GET.get("what", ""),
            "noticed_at": request.at,  # type: ignore[attr-defined]
            "noticed_by": ahead.reporter,
            "due_on": ahead.due_on,
        },
    )
    done, number = carried_out(
        form, lambda: incidents.report_incident(**form.cleaned_data, **who)
    )
    if done:
        messages.success(
            request, f"{number} is reported. What it touches is held from now on."
        )
        return redirect("incident", number)
    return answer(
        request,
        "incidents/new.html",
        form,
        submit_label="Report the incident",
        cancel_url=reverse("incidents"),
    )


def incident(request: HttpRequest, number: str) -> HttpResponse:
    """Show an incident with what it touches and its follow-up."""
    file = look_at_incident(incident=number, **who_and_when(request))
    row = file.row
    context: dict[str, Any] = {
        "file": file,
        "row": row,
        "entries": file.timeline,
        "facts": [
            ("Room", row.room, reverse("room", args=[row.room_number])),
            ("Happened", file.occurred_at),
            ("Noticed", row.noticed_at),
            ("Noticed by", file.noticed_by),
            ("Entered", file.recorded_at),
            ("Entered by", file.recorded_by),
            ("Followed up by", row.owner),
            ("To be settled by", row.due_on),
        ],
        "acts": _acts(request, file),
    }
    return render(request, "incidents/file.html", context)


def _acts(request: HttpRequest, file: IncidentFile) -> list[dict[str, Any]]:
    number, may = file.row.number, actor(request).may
    acts = [
        {
            "label": "Draft the report to the authority",
            "url": reverse("incident-report", args=[number]),
        }
    ]
    if file.row.closed_at:
        return acts
    if _steps(request):
        acts.append(
            {"label": "Enter a step", "url": reverse("incident-step", args=[number])}
        )
    if may(Power.KEEP):
        acts.append(
            {
                "label": "Name further containers",
                "url": reverse("incident-add", args=[number]),
            }
        )
    if may(Power.RESOLVE) and file.may_be_closed:
        acts.append(
            {"label": "Close it", "url": reverse("incident-close", args=[number])}
        )
    return acts


def _steps(request: HttpRequest) -> list[tuple[str, str]]:
    may = actor(request).may
    return [(act, title) for act, title, powers in STEPS if any(map(may, powers))]


def add(request: HttpRequest, number: str) -> HttpResponse:
    """Name further containers that an incident touches."""
    who = who_and_when(request)
    file = look_at_incident(incident=number, **who)
    form = AddContainersForm(request.POST or None)
    done, _ = carried_out(
        form,
        lambda: incidents.add_containers(
            incident=file.row.number, **form.cleaned_data, **who
        ),
    )
    if done:
        messages.success(request, "These are held from now on.")
        return redirect("incident", number)
    return _form_page(request, form, file, "Name further containers", "Hold these too")


def step(request: HttpRequest, number: str) -> HttpResponse:
    """Enter one step of the follow-up."""
    who = who_and_when(request)
    file = look_at_incident(incident=number, **who)
    form = StepForm(
        request.POST or None,
        request.FILES or None,
        steps=_steps(request),
        initial={"occurred_on": request.at.date()},  # type: ignore[attr-defined]
    )
    done, _ = carried_out(
        form,
        lambda: incidents.record_step(
            incident=file.row.number,
            **with_scan(form.cleaned_data, f"Paper of incident {file.row.number}"),
            **who,
        ),
    )
    if done:
        messages.success(request, "The step is entered.")
        return redirect("incident", number)
    return _form_page(request, form, file, "Enter a step", "Enter the step")


def close(request: HttpRequest, number: str) -> HttpResponse:
    """Close an incident with a reason."""
    who = who_and_when(request)
    file = look_at_incident(incident=number, **who)
    form = CloseIncidentForm(request.POST or None)
    done, _ = carried_out(
        form,
        lambda: incidents.close_incident(
            incident=file.row.number, **form.cleaned_data, **who
        ),
    )
    if done:
        messages.success(request, f"{file.row.number} is closed.")
        return redirect("incident", number)
    return _form_page(request, form, file, "Close the incident", "Close it")


def _form_page(
    request: HttpRequest, form: Any, file: IncidentFile, heading: str, label: str
) -> HttpResponse:
    return answer(
        request,
        "incidents/act.html",
        form,
        row=file.row,
        heading=heading,
        submit_label=label,
        cancel_url=reverse("incident", args=[file.row.number]),
    )


def report(request: HttpRequest, number: str) -> HttpResponse:
    """Give out the draft of the report to the authority."""
    return given_out(print_incident_report(incident=number, **who_and_when(request)))


def address_to_report(container: str, kind: str, what: str = "") -> str:
    """Return the address of the form that begins an incident about a container."""
    query = urlencode({"container": container, "kind": kind, "what": what})
    return f"{reverse('incident-new')}?{query}"
