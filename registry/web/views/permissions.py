"""The authority's desk: permissions recorded, countersigned, revoked."""

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse

from registry.rules.disposal_facts import Act
from registry.rules.powers import Power
from registry.usecases.permission_looks import (
    PermissionFile,
    list_permissions,
    look_at_permission,
    propose_permission,
    read_before_signing,
)
from registry.usecases.permissions import (
    countersign_permission,
    record_permission,
    revoke_permission,
)
from registry.web.forms.permissions import (
    CountersignForm,
    PermissionFilter,
    PermissionForm,
    RevokeForm,
)
from registry.web.pages import actor, answer, carried_out, who_and_when


def permission_list(request: HttpRequest) -> HttpResponse:
    """List permissions; those that wait for the second signature come first."""
    form = PermissionFilter(request.GET)
    state = form.cleaned_data["state"] if form.is_valid() else ""
    rows = list_permissions(state=state, **who_and_when(request))
    context = {
        "filter_form": form,
        "rows": rows,
        "may_record": actor(request).may(Power.RECORD_PERMISSION),
    }
    return render(request, "permissions/list.html", context)


def new_permission(request: HttpRequest) -> HttpResponse:
    """Record an order; it has no force before another person countersigns it."""
    proposed = propose_permission(
        container=request.GET.get("container", ""),
        contest=request.GET.get("contest", ""),
        kind=request.GET.get("kind", ""),
        **who_and_when(request),
    )
    initial = {
        "election": proposed.election,
        "authority": proposed.authorities[0] if len(proposed.authorities) == 1 else "",
        "act": request.GET.get("act", Act.DESTROY.value if proposed.things else ""),
        "things": "\n".join(proposed.things),
    }
    form = PermissionForm(
        request.POST or None,
        request.FILES or None,
        elections=proposed.elections,
        initial=initial,
    )
    done, number = carried_out(form, lambda: _record(request, form))
    if done:
        messages.success(
            request, "Recorded. It has no force before another person countersigns it."
        )
        return redirect("permission", number)
    context = {
        "proposed": proposed,
        "submit_label": "Record the order",
        "cancel_url": reverse("permissions"),
    }
    return answer(request, "permissions/new.html", form, **context)


def _record(request: HttpRequest, form: PermissionForm) -> str:
    asked = {
        name: value for name, value in form.cleaned_data.items() if name != "document"
    }
    return record_permission(**asked, document=form.upload(), **who_and_when(request))


def permission(request: HttpRequest, number: str) -> HttpResponse:
    """Show what a permission permits, its list, and what stands against it."""
    file = look_at_permission(permission=number, **who_and_when(request))
    context = {"file": file, "entries": file.entries, "acts": _acts(request, file)}
    return render(request, "permissions/file.html", context)


def _acts(request: HttpRequest, file: PermissionFile) -> list[dict[str, Any]]:
    """Return what this person may do with the permission."""
    number = file.row.number
    acts: list[dict[str, Any]] = []
    if actor(request).may(Power.RECORD_PERMISSION) and not file.revoked_at:
        if not file.countersigned_at and not file.recorded_by_reader:
            url = reverse("permission-countersign", args=[number])
            acts.append({"label": "Countersign", "url": url})
        if file.row.state not in ("used", "expired"):
            url = reverse("permission-revoke", args=[number])
            acts.append({"label": "Revoke", "url": url, "grave": True})
    if actor(request).may(Power.DISPOSE) and file.row.state == "in force":
        acts += _uses(file)
    return acts


def _uses(file: PermissionFile) -> list[dict[str, Any]]:
    if file.row.act == Act.DESTROY:
        url = f"{reverse('disposal-new')}?permission={file.row.number}"
        return [{"label": "Dispose of what it names", "url": url, "grave": True}]
    if file.row.act == Act.TAKE_OUT and len(file.things) > 1:
        number = file.row.number
        return [
            {
                "label": "Hand out what it names",
                "url": f"{reverse('take-out')}?permission={number}",
            },
            {
                "label": "Print the pick list",
                "url": reverse("pick-list", args=[number]),
            },
        ]
    address = {
        Act.ENTER_ROOM.value: ("Enter", "opening-room", "room"),
        Act.TAKE_OUT.value: ("Take out", "take-out", "container"),
    }.get(file.row.act, ("Open", "opening-new", "container"))
    label, name, argument = address
    return [
        {
            "label": f"{label} {thing.number}",
            "url": f"{reverse(name)}?{argument}={thing.number}"
            f"&permission={file.row.number}",
        }
        for thing in file.things
        if not thing.used
    ][:8]


def countersign(request: HttpRequest, number: str) -> HttpResponse:
    """Ask for the second signature, with all that is signed on one page."""
    file = read_before_signing(permission=number, **who_and_when(request))
    form = CountersignForm(
        request.POST or None,
        hindered=bool(file.hindered),
        initial={"digest_seen": file.digest},
    )
    done, _ = carried_out(
        form,
        lambda: countersign_permission(
            permission=number,
            digest_seen=form.cleaned_data["digest_seen"],
            **who_and_when(request),
        ),
    )
    if done:
        messages.success(request, f"{file.row.number} is countersigned and in force.")
        return redirect("permission", number)
    context = {
        "file": file,
        "submit_label": "Countersign",
        "cancel_url": reverse("permission", args=[number]),
        "actions_note": "From then on the list cannot be changed by anybody.",
    }
    return answer(request, "permissions/countersign.html", form, **context)


def revoke(request: HttpRequest, number: str) -> HttpResponse:
    """Revoke a permission, with the reason."""
    file = read_before_signing(permission=number, **who_and_when(request))
    form = RevokeForm(request.POST or None)
    done, _ = carried_out(
        form,
        lambda: revoke_permission(
            permission=number,
            because=form.cleaned_data["because"],
            **who_and_when(request),
        ),
    )
    if done:
        messages.success(request, f"{file.row.number} is revoked.")
        return redirect("permission", number)
    context = {
        "file": file,
        "submit_label": "Revoke",
        "grave": True,
        "cancel_url": reverse("permission", args=[number]),
        "actions_note": "This cannot be undone; a new order would be needed.",
    }
    return answer(request, "permissions/revoke.html", form, **context)
