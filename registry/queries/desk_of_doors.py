"""What doors and keys ask of a desk: open doors, lost keys, openings to confirm."""

from collections.abc import Iterator
from datetime import date, datetime

from registry.models import DoorSession
from registry.queries.desks import Waiting
from registry.queries.keys import keys_of_rooms
from registry.queries.scope import rooms_of
from registry.rules.doors import OPEN_TOO_LONG
from registry.rules.keys import KeyFault
from registry.rules.powers import Actor

_PRESSING = (KeyFault.KEY_LOST, KeyFault.LOCK_WITHOUT_HOLDER)


def doors_and_keys(actor: Actor, on: date, at: datetime) -> Iterator[Waiting]:
    """What the doors and keys of a custodian's rooms ask for."""
    yield from _open_doors(actor, at)
    yield from to_confirm(actor, on, at)
    for room in keys_of_rooms(rooms_of(actor)):
        for warning in room.warnings:
            pressing = warning.fault in _PRESSING
            yield Waiting(
                text=f"{room.room}: {warning.text}",
                number=warning.about if warning.about[:2] == "KY" else room.room_number,
                word="Keys",
                tone="stop" if pressing else "wait",
            )


def _open_doors(actor: Actor, at: datetime) -> Iterator[Waiting]:
    rows = DoorSession.objects.filter(room__in=rooms_of(actor), closed_at=None)
    for row in rows.select_related("room", "first_key").order_by("opened_at"):
        too_long = at - row.opened_at > OPEN_TOO_LONG
        hours = int((at - row.opened_at).total_seconds() // 3600)
        yield Waiting(
            text=f"{row.room}: the door is open ({row.number})",
            number=row.number,
            word="Open too long" if too_long else "Door open",
            tone="stop" if too_long else "wait",
            note=f"Opened by {row.first_key.holder} {hours} hours ago for "
            f"{row.get_purpose_display()}.",
        )


def to_confirm(actor: Actor, on: date, at: datetime) -> Iterator[Waiting]:
    """Openings that this person, as second key holder, has not confirmed."""
    rows = DoorSession.objects.filter(
        second_key__person_id=actor.person_id,
        second_key__person__isnull=False,
        second_confirmed_at=None,
    )
    for row in rows.select_related("room", "first_key").order_by("opened_at"):
        yield Waiting(
            text=f"Confirm that you opened {row.room} with {row.first_key.holder}",
            number=row.number,
            word="To confirm",
            tone="wait",
            note=f"{row.number}, {row.opened_at:%-d %B %Y at %H:%M}.",
        )
