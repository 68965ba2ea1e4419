"""The key register: rooms, locks, keys, and who holds them."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from django import forms
from django.conf import settings
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse

from registry.rules.powers import Power
from registry.usecases import keys
from registry.usecases.key_looks import (
    KeyFile,
    RoomKeys,
    list_keys,
    look_at_key,
    look_at_lock,
    look_at_room_keys,
)
from registry.web.forms import keys as given
from registry.web.pages import actor, answer, carried_out, who_and_when

Fields = dict[str, Any]
_KEY_COLUMNS = ("Key", "State", "Holder", "Holds it as", "Since")


def key_list(request: HttpRequest) -> HttpResponse:
    """List who holds the keys of each room, now or on a day."""
    form = given.KeysOnDay(request.GET)
    on = form.cleaned_data.get("on") if form.is_valid() else None
    found = list_keys(on=on, zone=settings.TIME_ZONE, **who_and_when(request))
    context = {
        "filter_form": form,
        "found": found,
        "rooms": [_with_rows(room) for room in found.rooms],
        "held": [_held(row) for row in found.held],
        "held_columns": ("Key", "Room", "Held by", "As", "From", "Until"),
        "columns": _KEY_COLUMNS,
    }
    status = 400 if form.errors else 200
    return render(request, "keys/list.html", context, status=status)


def room_keys(request: HttpRequest, number: str) -> HttpResponse:
    """Show the key register of one strong room."""
    file = look_at_room_keys(room=number, **who_and_when(request))
    may_keep = actor(request).may(Power.KEEP)
    acts = []
    if may_keep:
        acts.append(
            {
                "label": "Enter a lock",
                "url": reverse("lock-fit", args=[file.room_number]),
            }
        )
    context = {
        "file": file,
        "locks": _with_rows(file)["locks"],
        "columns": _KEY_COLUMNS,
        "acts": acts,
        "may_keep": may_keep,
    }
    return render(request, "keys/room.html", context)


def _with_rows(room: RoomKeys) -> dict[str, Any]:
    return {
        "room": room,
        "locks": [
            {
                "lock": lock,
                "caption": f"Keys of the {lock.name}",
                "rows": [_key(row) for row in lock.keys],
            }
            for lock in room.locks
        ],
    }


def _key(row: Any) -> list[Any]:
    duplicate = "duplicate" if row.duplicate else ""
    return [
        {
            "text": row.mark,
            "url": reverse("key", args=[row.number]),
            "note": duplicate,
        },
        {"text": row.state_title, "tone": row.tone, "note": row.place},
        row.holder or "nobody",
        row.appointment or "–",
        row.since or "–",
    ]


def _held(row: Any) -> list[Any]:
    return [
        {
            "text": f"{row.lock}, key {row.mark}",
            "url": reverse("key", args=[row.key]),
            "note": "duplicate" if row.duplicate else "",
        },
        row.room,
        row.holder,
        row.appointment,
        row.since,
        row.until or "still held",
    ]


def key(request: HttpRequest, number: str) -> HttpResponse:
    """Show a key, its holder and everybody who held it."""
    file = look_at_key(key=number, **who_and_when(request))
    context = {
        "file": file,
        "entries": file.timeline,
        "facts": [
            ("Lock", file.lock),
            ("Strong room", file.room, reverse("room-keys", args=[file.room_number])),
            ("Held by", file.holder or "nobody"),
            ("Duplicate", file.duplicate),
            *([("Deposited at", file.place)] if file.place else []),
        ],
        "rows": [
            [
                row.holder,
                row.appointment,
                row.since,
                row.until or "still held",
                row.ended_because or "–",
            ]
            for row in file.holdings
        ],
        "columns": ("Held by", "As", "From", "Until", "Why it ended"),
        "acts": _acts(file) if actor(request).may(Power.KEEP) else [],
    }
    return render(request, "keys/file.html", context)


def _acts(file: KeyFile) -> list[dict[str, Any]]:
    def link(label: str, name: str, **more: Any) -> dict[str, Any]:
        return {"label": label, "url": reverse(name, args=[file.number]), **more}

    if file.lock_removed or file.state not in ("in-use", "deposited"):
        return []
    acts = []
    if file.holder:
        acts.append(link("Take it back", "key-take-back"))
    else:
        acts.append(link("Issue it", "key-issue"))
        acts.append(link("Deposit it", "key-deposit"))
    acts.append(link("Report it lost", "key-lost", grave=True))
    return acts


@dataclass(frozen=True)
class FormPage:
    """How the form of an act looks."""

    heading: str
    submit_label: str
    lead: str = ""


@dataclass(frozen=True)
class KeyAct:
    """An act on a key: its form, and what it does and then says."""

    page: FormPage
    form: type[forms.Form]
    does: Callable[[str, Fields, Fields], str]


def _issue(number: str, entered: Fields, who: Fields) -> str:
    keys.issue_key(key=number, **entered, **who)
    return "The key is issued."


def _take_back(number: str, entered: Fields, who: Fields) -> str:
    keys.take_key_back(key=number, **entered, **who)
    return "The key is back. Deposit it, or issue it to the next holder."


def _deposit(number: str, entered: Fields, who: Fields) -> str:
    keys.deposit_key(key=number, **entered, **who)
    return "The key is recorded as deposited."


def _lost(number: str, entered: Fields, who: Fields) -> str:
    found = keys.report_key_lost(key=number, **entered, **who)
    return f"Discrepancy {found} is open. Have the lock changed."


KEY_ACTS = {
    "key-issue": KeyAct(
        FormPage(
            "Issue a key",
            "Record the holder",
            "Nobody holds the keys of both locks of one room.",
        ),
        given.IssueKeyForm,
        _issue,
    ),
    "key-take-back": KeyAct(
        FormPage("Take a key back", "Record that it is back"),
        given.TakeKeyBackForm,
        _take_back,
    ),
    "key-deposit": KeyAct(
        FormPage(
            "Deposit a key",
            "Record the deposit",
            "A duplicate lies sealed, away from the room and from its holder.",
        ),
        given.DepositKeyForm,
        _deposit,
    ),
    "key-lost": KeyAct(
        FormPage(
            "Report a key lost",
            "Record it as lost",
            "It opens a discrepancy. The lock must be changed; until then look at the "
            "door each day.",
        ),
        given.KeyLostForm,
        _lost,
    ),
}


def key_act(request: HttpRequest, number: str, name: str) -> HttpResponse:
    """Show the form of an act on a key, and carry it out."""
    act = KEY_ACTS[name]
    who = who_and_when(request)
    file = look_at_key(key=number, **who)
    form = act.form(request.POST or None)
    done, told = carried_out(
        form, lambda: act.does(file.number, form.cleaned_data, who)
    )
    if done:
        messages.success(request, str(told))
        return redirect("key", file.number)
    return answer(
        request,
        "keys/act.html",
        form,
        page=act.page,
        number=file.number,
        about=f"Key {file.mark} of the {file.lock}, {file.room}",
        submit_label=act.page.submit_label,
        cancel_url=reverse("key", args=[file.number]),
        grave=name == "key-lost",
    )


def fit(request: HttpRequest, number: str) -> HttpResponse:
    """Enter a lock of a strong room with its keys."""
    who = who_and_when(request)
    file = look_at_room_keys(room=number, **who)
    form = given.FitLockForm(request.POST or None, initial={"fitted_on": _day(request)})
    done, _ = carried_out(
        form, lambda: keys.fit_lock(room=file.room_number, **form.cleaned_data, **who)
    )
    if done:
        messages.success(request, "The lock is entered. Issue its keys.")
        return redirect("room-keys", file.room_number)
    page = FormPage(
        "Enter a lock",
        "Enter the lock",
        "A strong room has two locks, whose keys two people of two offices hold.",
    )
    return _about_room(request, form, page, file.room_number, file.room)


def replace(request: HttpRequest, number: str) -> HttpResponse:
    """Change a lock: its keys end and a new one of its name is entered."""
    who = who_and_when(request)
    lock, name, room, room_number = look_at_lock(lock=number, **who)
    form = given.ReplaceLockForm(
        request.POST or None, initial={"fitted_on": _day(request)}
    )
    done, _ = carried_out(
        form, lambda: keys.replace_lock(lock=lock, **form.cleaned_data, **who)
    )
    if done:
        messages.success(request, f"The {name} is replaced. Issue its new keys.")
        return redirect("room-keys", room_number)
    page = FormPage(
        f"Replace the {name}",
        "Record the new lock",
        "Every key of the old lock ends with it.",
    )
    return _about_room(request, form, page, room_number, room)


def add(request: HttpRequest, number: str) -> HttpResponse:
    """Enter a further key of a lock."""
    who = who_and_when(request)
    lock, name, room, room_number = look_at_lock(lock=number, **who)
    form = given.AddKeyForm(request.POST or None)
    done, key_number = carried_out(
        form, lambda: keys.add_key(lock=lock, **form.cleaned_data, **who)
    )
    if done:
        messages.success(request, "The key is entered. Deposit it, or issue it.")
        return redirect("key", key_number)
    page = FormPage(f"Enter a key of the {name}", "Enter the key")
    return _about_room(request, form, page, room_number, room)


def _about_room(
    request: HttpRequest, form: forms.Form, page: FormPage, number: str, room: str
) -> HttpResponse:
    return answer(
        request,
        "keys/act.html",
        form,
        page=page,
        number=number,
        about=room,
        submit_label=page.submit_label,
        cancel_url=reverse("room-keys", args=[number]),
    )


def _day(request: HttpRequest) -> Any:
    return request.at.date()  # type: ignore[attr-defined]
