"""What is done under a permission: rooms entered, containers opened, out and back."""

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
    take_back,
    take_out,
)
from registry.web.forms.openings import (
    EnterRoomForm,
    OpeningForm,
    TakeBackForm,
    TakeOutForm,
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
        return _which(request, "Open a box or an envelope")
    ahead = prepare_opening(
        container=request.GET["container"],
        permission=request.GET.get("permission", ""),
        **who_and_when(request),
    )
    form = OpeningForm(request.POST or None, **_under(ahead))
    done, number = carried_out(
        form,
        lambda: open_container(
            container=ahead.number,
            permission=form.cleaned_data["permission"],
            present=form.cleaned_data["present"],
            done=form.cleaned_data["done"],
            new_seals=form.new_seals(),
            conditions_met=form.conditions_met,
            **who_and_when(request),
        ),
    )
    if done:
        messages.success(request, f"Opening {number} is recorded, with its new seals.")
        return redirect(container_address(ahead.number))
    return _ahead_page(
        request, "openings/new.html", form, ahead, "Record the opening", "opening-new"
    )


def take_out_container(request: HttpRequest) -> HttpResponse:
    """Hand a container out under a permission."""
    if not request.GET.get("container"):
        return _which(request, "Take a box or an envelope out")
    ahead = prepare_opening(
        container=request.GET["container"],
        permission=request.GET.get("permission", ""),
        taking_out=True,
        **who_and_when(request),
    )
    form = TakeOutForm(request.POST or None, **_under(ahead))
    done, _ = carried_out(
        form,
        lambda: take_out(
            container=ahead.number,
            permission=form.cleaned_data["permission"],
            to_person=form.cleaned_data["to_person"],
            to_place=form.cleaned_data["to_place"],
            note=form.cleaned_data["note"],
            conditions_met=form.conditions_met,
            **who_and_when(request),
        ),
    )
    if done:
        messages.success(request, f"{ahead.number} is out. It stays on the register.")
        return redirect(container_address(ahead.number))
    return _ahead_page(
        request, "openings/take_out.html", form, ahead, "Record that it is out",
        "take-out",
    )  # fmt: skip


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


def take_back_container(request: HttpRequest) -> HttpResponse:
    """Record that a container came back."""
    initial = {"container": request.GET.get("container", "")}
    form = TakeBackForm(request.POST or None, initial=initial)
    done, number = carried_out(
        form, lambda: take_back(**form.cleaned_data, **who_and_when(request))
    )
    if done:
        messages.success(request, f"{number} is back. Check its seal at once.")
        return redirect(container_address(str(number)))
    context = {"submit_label": "Record that it is back", "cancel_url": reverse("desk")}
    return answer(request, "openings/take_back.html", form, **context)


def _which(request: HttpRequest, heading: str) -> HttpResponse:
    context = {"heading": heading, "which": WhichForm()}
    return render(request, "openings/which.html", context)


def _under(ahead: Any) -> dict[str, Any]:
    """Return what a form needs of the permission that would be relied on."""
    relied_on = ahead.permission
    return {
        "conditions": relied_on.conditions if relied_on else (),
        "initial": {"permission": relied_on.number if relied_on else ""},
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
