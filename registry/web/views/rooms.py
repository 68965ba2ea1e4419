"""Pages of strong rooms: the list, one room with its shelves, set-up."""

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse

from registry.rules.powers import Power
from registry.usecases.room_plans import look_at_plan
from registry.usecases.set_up_looks import (
    list_rooms,
    look_at_room,
    look_before_setting_up,
)
from registry.usecases.setting_up import BayPlan, add_bays, set_up_room
from registry.web.forms.rooms import BaysForm, RoomForm
from registry.web.pages import actor, answer, carried_out, who_and_when
from registry.web.views.room_plans import legend


def room_list(request: HttpRequest) -> HttpResponse:
    """List strong rooms."""
    rows = [
        [
            {"text": row.name, "url": reverse("room", args=[row.number])},
            row.site or "–",
            row.bays,
            _occupied(row.boxes, row.capacity),
            ", ".join(row.custodians) or "nobody",
        ]
        for row in list_rooms(**who_and_when(request))
    ]
    context = {
        "rows": rows,
        "columns": ("Strong room", "Where", "Bays", "Boxes", "In charge"),
        "may_set_up": actor(request).may(Power.SET_UP),
    }
    return render(request, "rooms/list.html", context)


def _occupied(boxes: int | None, capacity: int) -> str:
    if boxes is None:
        return f"takes {capacity:,}"
    return f"{boxes:,} of {capacity:,}"


def room(request: HttpRequest, number: str) -> HttpResponse:
    """Show a strong room with its shelves."""
    file = look_at_room(room=number, **who_and_when(request))
    rows = [
        [
            {
                "text": f"Bay {bay.code}, shelf {shelf.code}",
                "url": reverse("shelf", args=[shelf.number]),
                "note": shelf.number,
            },
            _occupied(shelf.boxes, shelf.capacity),
            _standing(shelf.boxes, shelf.capacity),
        ]
        for bay in file.bays
        for shelf in bay.shelves
    ]
    context = {
        "file": file,
        "entries": file.timeline,
        "facts": [
            ("Where", file.site),
            ("In charge", ", ".join(file.custodians) or "nobody"),
            ("Bays", len(file.bays)),
            ("Shelves", len(rows)),
            *([("Door", file.door.state)] if file.door else []),
        ],
        "rows": rows,
        "columns": ("Shelf", "Boxes", "Room on it"),
        "acts": _acts(request, number),
    }
    if actor(request).may(Power.LOOK):
        plan = look_at_plan(room=number, **who_and_when(request))
        context |= {"room_plan": plan, "legend": legend(plan.plan)}
    return render(request, "rooms/file.html", context)


def _standing(boxes: int | None, capacity: int) -> Any:
    if boxes is None:
        return "–"
    if boxes >= capacity:
        return {"text": "full", "tone": "wait"}
    return {"text": f"{capacity - boxes} more", "tone": "clear"}


def _acts(request: HttpRequest, number: str) -> list[dict[str, str]]:
    acts = []
    if actor(request).may(Power.KEEP):
        url = f"{reverse('door-open')}?room={number}"
        acts.append({"label": "Open its door", "url": url})
    if actor(request).may(Power.SET_UP):
        url = reverse("room-extend", args=[number])
        acts.append({"label": "Add bays", "url": url})
    url = reverse("climate-room", args=[number])
    acts.append({"label": "Climate readings", "url": url})
    if actor(request).may(Power.REPORT):
        url = f"{reverse('retention-report')}?room={number}"
        acts.append({"label": "Retention report", "url": url})
    return acts


def new_room(request: HttpRequest) -> HttpResponse:
    """Enter a strong room with its first bays."""
    look_before_setting_up(what="a strong room", **who_and_when(request))
    form = RoomForm(request.POST or None)
    done, number = carried_out(
        form,
        lambda: set_up_room(
            name=form.cleaned_data["name"],
            site=form.cleaned_data["site"],
            bays=_plans(form.cleaned_data),
            **who_and_when(request),
        ),
    )
    if done:
        messages.success(request, "The strong room is entered.")
        return redirect("room", number)
    return answer(
        request,
        "rooms/new.html",
        form,
        submit_label="Enter the strong room",
        cancel_url=reverse("rooms"),
    )


def extend(request: HttpRequest, number: str) -> HttpResponse:
    """Add bays to a strong room."""
    look_before_setting_up(what="bays", **who_and_when(request))
    file = look_at_room(room=number, **who_and_when(request))
    form = BaysForm(request.POST or None)
    done, _ = carried_out(
        form,
        lambda: add_bays(
            room=number, bays=_plans(form.cleaned_data), **who_and_when(request)
        ),
    )
    if done:
        messages.success(request, "The bays are entered.")
        return redirect("room", number)
    return answer(
        request,
        "rooms/extend.html",
        form,
        file=file,
        submit_label="Add the bays",
        cancel_url=reverse("room", args=[number]),
    )


def _plans(data: dict[str, Any]) -> list[BayPlan]:
    shelves = tuple(
        (str(shelf), data["capacity"]) for shelf in range(1, data["shelves"] + 1)
    )
    levels = tuple(range(1, data["shelves"] + 1)) if data["counted"] else ()
    if data["counted"] == "from-top":
        levels = levels[::-1]
    return [BayPlan(code, shelves, levels) for code in data["bays"]]
