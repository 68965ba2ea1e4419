"""Pages of inspection rounds: what is due, the walk shelf by shelf, the end."""

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse

from registry.rules.powers import Power
from registry.usecases import rounds
from registry.usecases.round_looks import (
    RoundFile,
    ShelfFile,
    list_rounds,
    look_at_round,
    look_at_shelf,
    look_before_round,
    print_round_sheet,
)
from registry.usecases.rounds import Seen
from registry.web.forms.rounds import (
    BeginRoundForm,
    EndRoundForm,
    InVainForm,
    SeeForm,
    TypeInForm,
)
from registry.web.pages import actor, answer, carried_out, given_out, who_and_when


def round_list(request: HttpRequest) -> HttpResponse:
    """List the rooms with their next rounds, and the rounds that were walked."""
    context = {
        "found": list_rounds(**who_and_when(request)),
        "may_walk": actor(request).may(Power.KEEP),
    }
    return render(request, "rounds/list.html", context)


def new_round(request: HttpRequest) -> HttpResponse:
    """Begin a round of a room."""
    who = who_and_when(request)
    rooms = look_before_round(**who)
    wanted = request.GET.get("room", "")
    due = next((room for room in rooms if room.number == wanted), None)
    form = BeginRoundForm(
        request.POST or None,
        rooms=[(room.number, room.name) for room in rooms],
        initial={
            "room": wanted,
            "contested_only": bool(due and due.contested_only),
        },
    )
    done, number = carried_out(
        form, lambda: rounds.begin_round(**form.cleaned_data, **who)
    )
    if done:
        messages.success(request, f"Round {number} is begun.")
        return redirect("round", number)
    return answer(
        request,
        "rounds/new.html",
        form,
        submit_label="Begin the round",
        cancel_url=reverse("rounds"),
    )


def inspection(request: HttpRequest, number: str) -> HttpResponse:
    """Show a round: every shelf and how far it is walked."""
    file = look_at_round(inspection=number, **who_and_when(request))
    row, walk = file.row, file.walk
    total = sum(len(shelf.containers) for shelf in walk.shelves)
    context: dict[str, Any] = {
        "row": row,
        "walk": walk,
        "entries": file.timeline,
        "may_walk": actor(request).may(Power.KEEP) and row.is_walked,
        "may_resolve": actor(request).may(Power.KEEP),
        "first": next((shelf for shelf in walk.shelves if shelf.left), None),
        "facts": [
            ("Room", row.room, reverse("room", args=[row.room_number])),
            ("To be seen", _to_be_seen(file)),
            ("Walked from", row.walked_from),
            ("Walked by", row.walked_by),
            ("Second person", row.witness or "none named"),
            ("With", "a printed sheet" if row.on_paper else "the scanner"),
            ("Done", f"{total - len(walk.unseen)} of {total}"),
            ("Not in order", row.out_of_order),
            ("Ended", row.ended_at or "not yet"),
            ("Remarks", row.remarks or "none"),
        ],
        "acts": _acts(request, file),
    }
    return render(request, "rounds/file.html", context)


def _to_be_seen(file: RoundFile) -> str:
    if file.row.contested_only:
        return "only what a case or an order holds"
    return "everything that stands in the room"


def _acts(request: HttpRequest, file: RoundFile) -> list[dict[str, Any]]:
    if not (actor(request).may(Power.KEEP) and file.row.is_walked):
        return []
    number = file.row.number
    return [
        {"label": "Print the sheet", "url": reverse("round-sheet", args=[number])},
        {"label": "End the round", "url": reverse("round-end", args=[number])},
    ]


def shelf(request: HttpRequest, number: str, place: str) -> HttpResponse:
    """Walk one shelf: scan a container, read its seal, go on."""
    who = who_and_when(request)
    file = look_at_shelf(inspection=number, shelf=place, **who)
    form = SeeForm(request.POST or None)
    done, told = carried_out(
        form,
        lambda: rounds.see(
            inspection=file.row.number, shelf=place, seen=form.sight(), **who
        ),
    )
    if done and told:
        _tell(request, told)
        return redirect("round-shelf", number, place)
    return _shelf_page(request, file, form, "rounds/shelf.html")


def _tell(request: HttpRequest, told: Seen) -> None:
    what = told.number or "What you scanned"
    if told.agrees:
        said = " ".join(told.said) or "It stands where the register says."
        messages.success(request, f"{what}: in order. {said}")
    else:
        messages.warning(request, f"{what}: not in order. {' '.join(told.said)}")


def _shelf_page(
    request: HttpRequest, file: ShelfFile, form: Any, template: str, **more: Any
) -> HttpResponse:
    number = file.row.number
    return answer(
        request,
        template,
        form,
        file=file,
        row=file.row,
        may_walk=actor(request).may(Power.KEEP) and file.row.is_walked,
        cancel_url=reverse("round", args=[number]),
        **{"submit_label": "Record what was seen", **more},
    )


def in_vain(request: HttpRequest, number: str, place: str) -> HttpResponse:
    """Record that a container was looked for in vain on its shelf."""
    who = who_and_when(request)
    file = look_at_shelf(inspection=number, shelf=place, **who)
    form = InVainForm(
        request.POST or None,
        shelf=file.shelf,
        initial={"container": request.GET.get("container", "")},
    )
    done, _ = carried_out(
        form,
        lambda: rounds.look_for(
            inspection=file.row.number, shelf=place, **form.cleaned_data, **who
        ),
    )
    if done:
        messages.warning(
            request,
            f"{form.cleaned_data['container']} was looked for in vain. It is missing "
            "only once you record it so.",
        )
        return redirect("round-shelf", number, place)
    return _shelf_page(
        request, file, form, "rounds/in_vain.html", submit_label="Record it"
    )


def typed(request: HttpRequest, number: str, place: str) -> HttpResponse:
    """Type in what a printed sheet says of one shelf."""
    who = who_and_when(request)
    file = look_at_shelf(inspection=number, shelf=place, **who)
    form = TypeInForm(request.POST or None, shelf=file.shelf)
    done, told = carried_out(
        form,
        lambda: rounds.type_in(
            inspection=file.row.number,
            shelf=place,
            lines=form.seen(),
            in_vain=form.in_vain(),
            seen_at=form.cleaned_data["seen_at"],
            **who,
        ),
    )
    if done:
        for each in told or ():
            _tell(request, each)
        following = file.next
        if following:
            return redirect("round-typed", number, following[0])
        return redirect("round", number)
    return _shelf_page(
        request, file, form, "rounds/typed.html", submit_label="Enter these lines"
    )


def end(request: HttpRequest, number: str) -> HttpResponse:
    """End a round, or leave it off with a reason."""
    who = who_and_when(request)
    file = look_at_round(inspection=number, **who)
    form = EndRoundForm(request.POST or None)
    done, _ = carried_out(
        form,
        lambda: rounds.end_round(
            inspection=file.row.number, **form.cleaned_data, **who
        ),
    )
    if done:
        messages.success(request, f"Round {file.row.number} is ended.")
        return redirect("round", number)
    return answer(
        request,
        "rounds/end.html",
        form,
        row=file.row,
        walk=file.walk,
        submit_label="End the round",
        cancel_url=reverse("round", args=[number]),
    )


def sheet(request: HttpRequest, number: str) -> HttpResponse:
    """Give out the sheet on which a round is walked without the network."""
    return given_out(print_round_sheet(inspection=number, **who_and_when(request)))
