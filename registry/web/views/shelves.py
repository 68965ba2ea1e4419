"""Pages of shelves: one shelf with its boxes, and many boxes put away at once."""

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse

from registry.rules.powers import Power
from registry.usecases.set_up_looks import look_at_shelf, look_before_setting_up
from registry.usecases.setting_up import set_shelf
from registry.usecases.shelves import PutAway, look_before_putting_away, put_away
from registry.web.addresses import address_of
from registry.web.forms.rooms import ShelfForm
from registry.web.forms.shelves import PutAwayForm
from registry.web.pages import actor, answer, carried_out, who_and_when


def shelf(request: HttpRequest, number: str) -> HttpResponse:
    """Show a shelf with the boxes on it."""
    file = look_at_shelf(shelf=number, **who_and_when(request))
    may = actor(request).may
    acts = []
    if may(Power.KEEP):
        acts.append({"label": "Put boxes away", "url": reverse("put-away")})
    if may(Power.LOOK):
        url = reverse("room-plan", args=[file.room_number])
        acts.append({"label": "Plan of the room", "url": url})
    if may(Power.SET_UP):
        url = reverse("shelf-set", args=[file.number])
        acts.append({"label": "Change what it takes", "url": url})
    context = {
        "file": file,
        "facts": [
            ("Strong room", file.room, reverse("room", args=[file.room_number])),
            ("Bay", file.bay),
            ("Shelf", file.code),
            ("How high", _level(file.level)),
            ("Takes", f"{file.capacity:,} boxes"),
        ],
        "entries": file.timeline,
        "acts": acts,
    }
    return render(request, "rooms/shelf.html", context)


def _level(level: int | None) -> str:
    if level is None:
        return "not recorded"
    return "1, the lowest" if level == 1 else f"{level}, counted from the floor"


def change_shelf(request: HttpRequest, number: str) -> HttpResponse:
    """Change what a shelf takes, and how high it is."""
    who = who_and_when(request)
    look_before_setting_up(what="a shelf", **who)
    file = look_at_shelf(shelf=number, **who)
    form = ShelfForm(
        request.POST or None, initial={"capacity": file.capacity, "level": file.level}
    )
    done, _ = carried_out(
        form, lambda: set_shelf(shelf=file.number, **form.cleaned_data, **who)
    )
    if done:
        messages.success(request, "The shelf is changed.")
        return redirect("shelf", file.number)
    context = {
        "file": file,
        "submit_label": "Change the shelf",
        "cancel_url": reverse("shelf", args=[file.number]),
    }
    return answer(request, "rooms/set_shelf.html", form, **context)


def put_boxes_away(request: HttpRequest) -> HttpResponse:
    """Put box after box on shelves, and say what became of each."""
    who = who_and_when(request)
    form = PutAwayForm(request.POST or None)
    done, lines = carried_out(form, lambda: put_away(scanned=form.lines(), **who))
    context: dict[str, Any] = {"submit_label": "Put away", "lines": ()}
    if done and lines:
        refused = [line for line in lines if line.refused]
        # What was refused is scanned again; the rest is done.
        form = PutAwayForm()
        context |= {
            "rows": [_row(line) for line in lines],
            "columns": ("Box", "Shelf", "What became of it"),
            "done": len(lines) - len(refused),
            "refused": len(refused),
        }
    context["waiting"] = look_before_putting_away(**who)
    return answer(request, "boxes/put_away.html", form, **context)


def _row(line: PutAway) -> list[Any]:
    became: dict[str, str] = (
        {"text": "Not put away", "tone": "stop", "note": line.refused}
        if line.refused
        else {"text": "Put away", "tone": "clear", "note": line.place}
    )
    return [{"text": line.box, "url": address_of(line.box)}, line.shelf, became]
