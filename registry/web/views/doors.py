"""The door log: doors opened by two key holders, and closed again."""

from typing import Any

from django.conf import settings
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.http import urlencode

from registry.rules.doors import SealsCompared
from registry.rules.powers import Power
from registry.usecases import door_people, doors
from registry.usecases.door_looks import (
    DoorFile,
    DoorRow,
    DoorsWanted,
    list_doors,
    look_at_door,
    look_before_opening,
    rooms_to_open,
)
from registry.usecases.door_papers import look_before_log, print_door_log
from registry.web.addresses import address_of
from registry.web.forms import doors as given
from registry.web.late import paper_form_asked
from registry.web.pages import actor, answer, carried_out, given_out, who_and_when

_COLUMNS = ("Opened", "Room", "Purpose", "Key holders", "Closed", "What stands out")


def door_list(request: HttpRequest) -> HttpResponse:
    """Show the door log, newest first."""
    form = given.DoorFilter(request.GET)
    asked = request.GET.get("room", "")
    form.fields["room"].choices = (("", "any"), (asked, asked))  # type: ignore[attr-defined]
    chosen = form.cleaned_data if form.is_valid() else {}
    wanted = DoorsWanted(
        room=chosen.get("room", ""),
        first_day=chosen.get("first_day"),
        last_day=chosen.get("last_day"),
        standing_out=chosen.get("standing_out", False),
        before=chosen.get("before") or 0,
    )
    found = list_doors(wanted=wanted, zone=settings.TIME_ZONE, **who_and_when(request))
    form.fields["room"].choices = (("", "any"), *found.rooms)  # type: ignore[attr-defined]
    context = {
        "filter_form": form,
        "rows": [_row(row) for row in found.rows],
        "columns": _COLUMNS,
        "page": {"next_url": _next(request, found.next_before), "shown": ""},
        "may_open": actor(request).may(Power.KEEP),
        "rooms": found.rooms,
    }
    status = 400 if form.errors else 200
    return render(request, "doors/list.html", context, status=status)


def _next(request: HttpRequest, before: int | None) -> str:
    if before is None:
        return ""
    query = request.GET.copy()
    query["before"] = str(before)
    return f"{reverse('doors')}?{query.urlencode()}"


def _row(row: DoorRow) -> list[Any]:
    look_at = len(row.to_look_at)
    tone = "stop" if row.grave else ("wait" if look_at else "clear")
    return [
        {
            "text": row.number,
            "url": reverse("door", args=[row.number]),
            "note": f"{row.opened_at:%-d %B %Y, %H:%M}",
        },
        row.room,
        row.purpose_title,
        " and ".join(filter(None, [row.first, row.second])),
        row.closed_at or {"text": "open", "tone": "stop" if row.grave else "wait"},
        {
            "text": f"{look_at} to look at" if look_at else "nothing",
            "tone": tone,
            "note": " ".join(sign.text for sign in row.signs),
        },
    ]


def door(request: HttpRequest, number: str) -> HttpResponse:
    """Show one opening of a door."""
    file = look_at_door(session=number, **who_and_when(request))
    row = file.row
    context = {
        "file": file,
        "row": row,
        "entries": file.timeline,
        "facts": _facts(row),
        "acts": _acts(request, row),
        "may_keep": actor(request).may(Power.KEEP),
        "handled_columns": ("Container", "What", "When", "From", "To"),
        "handled": [
            [
                {"text": one.container, "url": address_of(one.container)},
                one.what,
                one.at,
                one.from_place or "–",
                one.to_place or "–",
            ]
            for one in row.handled
        ],
    }
    return render(request, "doors/file.html", context)


def _facts(row: DoorRow) -> list[tuple[Any, ...]]:
    facts: list[tuple[Any, ...]] = [
        ("Strong room", row.room, reverse("room", args=[row.room_number])),
        ("Purpose", row.purpose_title),
        ("Opened", row.opened_at),
        ("First key holder", f"{row.first} ({row.first_key})"),
        ("Second key holder", _second(row)),
    ]
    if row.permission:
        address = reverse("permission", args=[row.permission])
        facts.append(
            ("Permission", f"{row.permission} {row.permission_title}", address)
        )
    facts.append(("Seals found", row.seals_found or "none read"))
    if row.seals_found_state:
        facts.append(("How they looked", row.seals_found_state))
    facts.append(("Compared", row.seals_title))
    if row.closed_at:
        facts += [
            ("Closed", row.closed_at),
            ("Closed by", row.closed_by),
            ("Seals put on", row.seals_put_on or "none"),
            ("What was done", row.done),
            ("Waste", row.waste_title),
            ("Camera", row.camera_reference or "none noted"),
        ]
    if row.note:
        facts.append(("Note", row.note))
    return facts


def _second(row: DoorRow) -> str:
    if not row.second:
        return "none: opened by one alone"
    if row.second_confirmed_at:
        return f"{row.second} ({row.second_key}), confirmed"
    said = "not confirmed" if row.second_has_account else "has no log-in"
    return f"{row.second} ({row.second_key}), {said}"


def _acts(request: HttpRequest, row: DoorRow) -> list[dict[str, str]]:
    def link(label: str, name: str) -> dict[str, str]:
        return {"label": label, "url": reverse(name, args=[row.number])}

    acts = []
    keeps = actor(request).may(Power.KEEP)
    if row.second_has_account and not row.second_confirmed_at:
        if actor(request).name == row.second:
            acts.append(link("Confirm that you opened together", "door-confirm"))
        elif keeps:
            acts.append(
                link("Second holder confirms here by password", "door-confirm-here")
            )
    if keeps and row.is_open:
        acts.append(link("Close the door", "door-close"))
        acts.append(link("Somebody comes in", "door-came"))
    return acts


def open_door(request: HttpRequest) -> HttpResponse:
    """Enter the opening of a door; which seals were put on is shown afterwards."""
    rooms = rooms_to_open(**who_and_when(request))
    room = request.GET.get("room", "") or (rooms[0][0] if len(rooms) == 1 else "")
    if not room:
        return render(request, "doors/rooms.html", {"rooms": rooms})
    paper = paper_form_asked(request)
    offer = look_before_opening(room=room, **who_and_when(request))
    initial = {"first_key": offer.own, "paper_form": paper}
    form = given.OpenDoorForm(request.POST or None, initial=initial)
    form.offer(offer.holders, offer.permissions)
    done, opened = carried_out(form, lambda: _open(form, room, request))
    if done and opened:
        _tell_of_seals(request, opened)
        if paper:
            # Opening and closing stand on one line of the form.
            query = urlencode({"form": paper})
            return redirect(f"{reverse('door-close', args=[opened.number])}?{query}")
        return redirect("door", opened.number)
    return answer(
        request,
        "doors/open.html",
        form,
        offer=offer,
        submit_label="The door is open",
        cancel_url=reverse("doors"),
    )


def _open(form: given.OpenDoorForm, room: str, request: HttpRequest) -> doors.Opened:
    said = form.cleaned_data
    return doors.open_door(
        room=room,
        purpose=said["purpose"],
        first_key=said["first_key"],
        second_key=said["second_key"],
        present=form.people(),
        seals_found=said["seals_found"],
        seals_found_state=said["seals_found_state"],
        permission=said["permission"],
        note=said["note"],
        happened=form.happened(),
        **who_and_when(request),
    )


def _tell_of_seals(request: HttpRequest, opened: doors.Opened) -> None:
    put_on = f"Put on at the last closing: {opened.put_on}."
    match opened.compared:
        case SealsCompared.SAME:
            messages.success(
                request, f"The seals are those of the last closing. {put_on}"
            )
        case SealsCompared.DIFFER:
            messages.error(
                request,
                f"The seals differ: stop, touch nothing, call the second holder. "
                f"{put_on} Discrepancy {opened.discrepancy} is open.",
            )
        case SealsCompared.NOT_READ:
            messages.warning(request, f"No seal was read. {put_on}")
        case SealsCompared.NOT_RECORDED:
            messages.info(request, "No seals are on record from the last closing.")


def confirm(request: HttpRequest, number: str) -> HttpResponse:
    """Let the second key holder confirm from the own log-in."""
    who = who_and_when(request)
    file = look_at_door(session=number, **who)
    form = given.ConfirmForm(request.POST if request.method == "POST" else None)
    done, _ = carried_out(
        form, lambda: door_people.confirm_opening(session=file.row.number, **who)
    )
    if done:
        messages.success(request, "You have confirmed it.")
        return redirect("door", file.row.number)
    return answer(
        request,
        "doors/confirm.html",
        form,
        row=file.row,
        facts=_facts(file.row),
        submit_label="I opened it together with the first holder",
        cancel_url=reverse("door", args=[file.row.number]),
    )


def confirm_here(request: HttpRequest, number: str) -> HttpResponse:
    """Let the second key holder confirm by password on this screen."""
    who = who_and_when(request)
    file = look_at_door(session=number, **who)
    form = given.ConfirmHereForm(request.POST or None)
    done, _ = carried_out(
        form,
        lambda: door_people.confirm_on_this_screen(
            session=file.row.number, password=form.cleaned_data["password"], **who
        ),
    )
    if done:
        messages.success(request, f"{file.row.second} has confirmed it.")
        return redirect("door", file.row.number)
    lead = f"{file.row.second} types the own password; nobody else does it for them."
    return _form_page(
        request, form, file, "The second key holder confirms", "Confirm", lead
    )


def came(request: HttpRequest, number: str) -> HttpResponse:
    """Record that somebody comes in."""
    who = who_and_when(request)
    file = look_at_door(session=number, **who)
    form = given.CameForm(request.POST or None)
    done, _ = carried_out(
        form,
        lambda: door_people.add_presence(
            session=file.row.number, **form.cleaned_data, **who
        ),
    )
    if done:
        messages.success(request, f"{form.cleaned_data['name']} is in the room.")
        return redirect("door", file.row.number)
    return _form_page(request, form, file, "Somebody comes in", "Record it")


def left(request: HttpRequest, number: str, presence: int) -> HttpResponse:
    """Record that somebody left."""
    who = who_and_when(request)
    file = look_at_door(session=number, **who)
    form = given.LeftForm(request.POST if request.method == "POST" else None)
    done, _ = carried_out(
        form,
        lambda: door_people.leave(
            session=file.row.number,
            presence=presence,
            left_at=form.cleaned_data["left_at"],
            **who,
        ),
    )
    if done:
        messages.success(request, "It is recorded that they left.")
        return redirect("door", file.row.number)
    names = [one.name for one in file.row.present if one.id == presence]
    heading = f"{names[0] if names else 'Somebody'} left the room"
    return _form_page(request, form, file, heading, "Record that they left")


def close(request: HttpRequest, number: str) -> HttpResponse:
    """Enter the closing of a door, and the seals put on."""
    who = who_and_when(request)
    file = look_at_door(session=number, **who)
    paper = paper_form_asked(request)
    form = given.CloseDoorForm(request.POST or None, initial={"paper_form": paper})
    done, _ = carried_out(
        form,
        lambda: doors.close_door(
            session=file.row.number,
            happened=form.happened(),
            **{
                name: value
                for name, value in form.cleaned_data.items()
                if name not in ("paper_form", "happened_at")
            },
            **who,
        ),
    )
    if done:
        messages.success(request, f"The door of {file.row.room} is closed.")
        if paper:
            return redirect("paper-form", paper)
        return redirect("door", file.row.number)
    lead = "Look through the waste before it leaves; both holders lock, then seal."
    return _form_page(request, form, file, "Close the door", "The door is closed", lead)


def _form_page(
    request: HttpRequest,
    form: Any,
    file: DoorFile,
    heading: str,
    submit_label: str,
    lead: str = "",
) -> HttpResponse:
    return answer(
        request,
        "doors/act.html",
        form,
        row=file.row,
        heading=heading,
        lead=lead,
        submit_label=submit_label,
        cancel_url=reverse("door", args=[file.row.number]),
    )


def log(request: HttpRequest, number: str) -> HttpResponse:
    """Print the door log of a room, from one day through another."""
    who = who_and_when(request)
    file = None
    form = given.LogForm(request.GET or None, initial=_this_month(request))
    if form.is_valid():
        done, file = carried_out(
            form,
            lambda: print_door_log(
                room=number, zone=settings.TIME_ZONE, **form.cleaned_data, **who
            ),
        )
        if done and file:
            return given_out(file)
    offer = look_before_log(room=number, **who)
    return answer(
        request,
        "doors/log.html",
        form,
        number=offer[0],
        room=offer[1],
    )


def _this_month(request: HttpRequest) -> dict[str, Any]:
    today = request.at.date()  # type: ignore[attr-defined]
    return {"first_day": today.replace(day=1), "last_day": today}
