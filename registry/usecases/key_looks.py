"""Looking at the key register: what is held now, and who held it on a day."""

from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from registry.models import Key, Lock
from registry.queries.find import the
from registry.queries.keys import (
    HeldRow,
    KeyFile,
    LockRow,
    RoomKeys,
    held_between,
    key_file,
    keys_of_rooms,
)
from registry.queries.scope import rooms_of
from registry.rules.powers import Actor, Power
from registry.usecases._door import note_access, usecase

__all__ = [
    "HeldRow",
    "KeyFile",
    "KeyRegister",
    "LockRow",
    "RoomKeys",
    "list_keys",
    "look_at_key",
    "look_at_lock",
    "look_at_room_keys",
]


@dataclass(frozen=True)
class KeyRegister:
    """The key registers of rooms, and who held what on the day asked about."""

    rooms: tuple[RoomKeys, ...]
    on: date | None
    held: tuple[HeldRow, ...]


@usecase("key.list", power=Power.LOOK)
def list_keys(*, on: date | None, zone: str, actor: Actor, at: datetime) -> KeyRegister:
    """List the locks and keys of the rooms within scope.

    Args:
        on: a day, to see who held which key at any time of it.
        zone: the zone in which that day is meant.
    """
    rooms = rooms_of(actor)
    held: tuple[HeldRow, ...] = ()
    if on:
        start = datetime.combine(on, time(), ZoneInfo(zone))
        held = held_between(rooms, start, start + timedelta(days=1))
    found = keys_of_rooms(rooms)
    note_access(on=str(on or ""), keys=len(held) or len(found))
    return KeyRegister(found, on, held)


@usecase("key.look_at_room", power=Power.LOOK, subject="room")
def look_at_room_keys(*, room: str, actor: Actor, at: datetime) -> RoomKeys:
    """Open the key register of one strong room."""
    of = the(rooms_of(actor), room, "strong room")
    note_access(of.number)
    (found,) = keys_of_rooms(rooms_of(actor).filter(pk=of.pk))
    return found


@usecase("key.look", power=Power.LOOK, subject="key")
def look_at_key(*, key: str, actor: Actor, at: datetime) -> KeyFile:
    """Open a key's page: who holds it and everybody who held it."""
    rows = Key.objects.filter(lock__room__in=rooms_of(actor))
    of = the(rows.select_related("lock__room"), key, "key")
    note_access(of.number)
    return key_file(of)


@usecase("key.look_at_lock", power=Power.KEEP, subject="lock")
def look_at_lock(*, lock: str, actor: Actor, at: datetime) -> tuple[str, str, str, str]:
    """Return number, name, room and the room's number of a lock, to act on it."""
    rows = Lock.objects.filter(room__in=rooms_of(actor)).select_related("room")
    of = the(rows, lock, "lock")
    note_access(of.number)
    return of.number, of.name, of.room.name, of.room.number
