"""How the door and the keys of a room stand, and what moved behind a closed door."""

from dataclasses import dataclass
from datetime import datetime, timedelta

from django.db.models import Exists, OuterRef, Q, QuerySet

from registry.models import CustodyMovement, DoorSession, Lock, StrongRoom
from registry.queries.doors import (
    IN_THE_ROOM,
    WITH,
    DoorRow,
    HandledRow,
    door_rows,
    handled_row,
    in_room,
)
from registry.queries.keys import keys_of_rooms

# How far back a room's page looks for what moved while no door was open.
LOOKS_BACK = timedelta(days=90)
MOST_SHOWN = 10


def moved_behind_a_closed_door(
    room: StrongRoom, since: datetime
) -> QuerySet[CustodyMovement]:
    """Return movements on a room's shelves while no door of it was open.

    Asked only of a room with a lock on record, from the day the first was fitted: a
    room whose keys nobody registers keeps its door log elsewhere.
    """
    first = Lock.objects.filter(room=room).order_by("fitted_on").first()
    if first is None:
        return CustodyMovement.objects.none()
    was_open = DoorSession.objects.filter(
        room=room, opened_at__lte=OuterRef("occurred_at")
    ).filter(Q(closed_at=None) | Q(closed_at__gte=OuterRef("occurred_at")))
    return (
        CustodyMovement.objects.filter(
            in_room(room.name),
            act__in=IN_THE_ROOM,
            occurred_at__gte=since,
            occurred_at__date__gte=first.fitted_on,
        )
        .exclude(Exists(was_open))
        .select_related("box", "envelope")
        .order_by("-occurred_at", "-id")
    )


@dataclass(frozen=True)
class RoomDoor:
    """How a room's door and keys stand, for the page of the room."""

    state: str
    tone: str
    open_session: str
    last: DoorRow | None
    holders: tuple[tuple[str, str, str], ...]
    keys_wrong: tuple[str, ...]
    behind_closed_door: tuple[HandledRow, ...]


def room_door(room: StrongRoom, now: datetime) -> RoomDoor:
    """Return how a room's door and keys stand."""
    sessions = DoorSession.objects.filter(room=room).select_related(*WITH)
    newest = door_rows(sessions.order_by("-opened_at", "-id")[:1], now)
    last = newest[0] if newest else None
    (keys,) = keys_of_rooms(StrongRoom.objects.filter(pk=room.pk))
    behind = moved_behind_a_closed_door(room, now - LOOKS_BACK)[:MOST_SHOWN]
    is_open = bool(last and last.is_open)
    return RoomDoor(
        state="open" if is_open else ("closed" if last else "no opening on record"),
        tone=("stop" if last and last.grave else "wait") if is_open else "plain",
        open_session=last.number if last and is_open else "",
        last=last,
        holders=tuple(
            (lock.name, key.mark, key.holder)
            for lock in keys.locks
            for key in lock.keys
            if key.holder
        ),
        keys_wrong=tuple(warning.text for warning in keys.warnings),
        behind_closed_door=tuple(handled_row(move) for move in behind),
    )
