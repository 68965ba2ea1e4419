"""What is done under a permission: rooms entered, boxes and envelopes opened."""

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse

from registry.rules.numbers import kind_of
from registry.usecases.openings import (
    enter_room,
    open_container,
    prepare_entering,
    prepare_opening,
    rooms_in_charge,
)
from registry.web.forms.openings import (
    EnterRoomForm,
    NewBoxForm,
    NewEnvelopeForm,
    OpeningForm,
    WhichForm,
)
from registry.web.pages import answer, carried_out, who_and_when
from registry.web.views.disposals import told


def container_address(number: str) -> str:
    """Return the address of a box's or an envelope's page."""
    return reverse("envelope" if kind_of(number) == "EN" else "box", args=[number])


def new_opening(request: HttpRequest) -> HttpResponse:
    """Open a box or an envelope under a permission, and record the new seals."""
    if not request.GET.get("container"):
        return which_container(request, "Open a box or an envelope")
    ahead = _opening_ahead(request)
    form = OpeningForm(request.POST or None, **_under(ahead))
    done, opened = carried_out(
        form,
        lambda: open_container(
            container=ahead.number,
            new_seals=form.new_seals(),
            **_entered(form),
            **who_and_when(request),
        ),
    )
    if done and opened:
        told_problems(request, opened.problems)
        messages.success(
            request, f"Opening {opened.number} is recorded, with its new seals."
        )
        return redirect(container_address(ahead.number))
    return _ahead_page(
        request, "openings/new.html", form, ahead, "Record the opening", "opening-new"
    )


def new_cover(request: HttpRequest) -> HttpResponse:
    """Open a container whose content goes into a new one, which supersedes it."""
    if not request.GET.get("container"):
        return which_container(request, "Open, and close in a new one")
    ahead = _opening_ahead(request)
    kind = NewBoxForm if ahead.noun == "box" else NewEnvelopeForm
    form = kind(
        request.POST or None,
        kind=ahead.kind,
        day=request.at.date(),  # type: ignore[attr-defined]
        written=dict(ahead.written),
        **_under(ahead),
    )
    done, opened = carried_out(
        form,
        lambda: open_container(
            container=ahead.number,
            new_container=form.new_container(),
            **_entered(form),
            **who_and_when(request),
        ),
    )
    if done and opened:
        told_problems(request, opened.problems)
        messages.success(
            request,
            f"Opening {opened.number} is recorded. {opened.successor} stands in place "
            f"of {ahead.number}: print its label and put it on.",
        )
        return redirect(container_address(opened.successor))
    return _ahead_page(
        request, "openings/new_cover.html", form, ahead,
        "Record the opening and the new one", "opening-new-cover",
    )  # fmt: skip


def _opening_ahead(request: HttpRequest) -> Any:
    return prepare_opening(
        container=request.GET["container"],
        permission=request.GET.get("permission", ""),
        **who_and_when(request),
    )


def _entered(form: Any) -> dict[str, Any]:
    """Return what is entered of any opening."""
    names = ("permission", "present", "done", "found", "fragments_kept_in", "as_seen")
    return {
        **{name: form.cleaned_data[name] for name in names},
        "conditions_met": form.conditions_met,
    }


def told_problems(request: HttpRequest, problems: Any) -> None:
    """Tell what is wrong, one message for each thing."""
    for problem in problems:
        messages.error(request, problem)


def enter_strong_room(request: HttpRequest) -> HttpResponse:
    """Record that a strong room is entered."""
    rooms = rooms_in_charge(**who_and_when(request))
    room = request.GET.get("room", "") or (rooms[0][0] if len(rooms) == 1 else "")
    if not room:
        return render(request, "openings/rooms.html", {"rooms": rooms})
    ahead = prepare_entering(
        room=room,
        permission=request.GET.get("permission", ""),
        **who_and_when(request),
    )
    form = EnterRoomForm(request.POST or None, **_under(ahead))
    done, number = carried_out(
        form,
        lambda: enter_room(
            room=ahead.number,
            permission=form.cleaned_data["permission"],
            present=form.cleaned_data["present"],
            purpose=form.cleaned_data["purpose"],
            conditions_met=form.conditions_met,
            **who_and_when(request),
        ),
    )
    if done:
        messages.success(request, f"Entry {number} into {ahead.title} is recorded.")
        return redirect("permission", form.cleaned_data["permission"])
    return _ahead_page(
        request, "openings/room.html", form, ahead, "Record the entry", "opening-room"
    )


def which_container(request: HttpRequest, heading: str) -> HttpResponse:
    """Ask which container is meant."""
    context = {"heading": heading, "which": WhichForm()}
    return render(request, "openings/which.html", context)


def _under(ahead: Any) -> dict[str, Any]:
    """Return what a form needs of the permission that would be relied on."""
    relied_on = ahead.permission
    return {
        "conditions": relied_on.conditions if relied_on else (),
        "initial": {
            "permission": relied_on.number if relied_on else "",
            "as_seen": ahead.seen,
        },
    }


def _ahead_page(
    request: HttpRequest, template: str, form: Any, ahead: Any, label: str, name: str
) -> HttpResponse:
    argument = "room" if name == "opening-room" else "container"
    cancel = reverse("desk")
    if argument == "container":
        cancel = container_address(ahead.number)
    context = {
        "ahead": ahead,
        "in_the_way": told(ahead.obstacles),
        "this_page": f"{reverse(name)}?{argument}={ahead.number}",
        "submit_label": label,
        "cancel_url": cancel,
    }
    return answer(request, template, form, **context)
