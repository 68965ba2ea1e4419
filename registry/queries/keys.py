"""Locks and keys of strong rooms as pages show them, and who held them when."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from django.db.models import Q, QuerySet

from registry.models import Key, KeyHolding, KeyState, Lock, StrongRoom
from registry.queries.timeline import TimelineEntry, timeline_of
from registry.rules.keys import (
    HoldingFact,
    KeyFact,
    KeyWarning,
    LockFact,
    warnings_about,
)

TONES = {
    KeyState.IN_USE: "clear",
    KeyState.DEPOSITED: "plain",
    KeyState.LOST: "stop",
    KeyState.DESTROYED: "ended",
    KeyState.WITHDRAWN: "ended",
}


@dataclass(frozen=True)
class KeyRow:
    """A key with its present holder; ``holder`` is empty where nobody holds it."""

    number: str
    mark: str
    duplicate: bool
    state: str
    state_title: str
    tone: str
    place: str
    holder: str
    appointment: str
    since: datetime | None


@dataclass(frozen=True)
class LockRow:
    """A lock with its keys."""

    number: str
    name: str
    fitted_on: date
    removed_on: date | None
    removed_because: str
    must_be_changed: bool
    keys: tuple[KeyRow, ...]


@dataclass(frozen=True)
class RoomKeys:
    """The key register of one strong room."""

    room: str
    room_number: str
    locks: tuple[LockRow, ...]
    former_locks: tuple[LockRow, ...]
    warnings: tuple[KeyWarning, ...]


@dataclass(frozen=True)
class HeldRow:
    """Somebody held a key of a room from a moment until another."""

    number: str
    room: str
    room_number: str
    lock: str
    key: str
    mark: str
    duplicate: bool
    holder: str
    appointment: str
    since: datetime
    until: datetime | None
    ended_because: str


@dataclass(frozen=True)
class KeyFile:
    """Everything that a key's page shows; ``holdings`` newest first."""

    number: str
    mark: str
    duplicate: bool
    state: str
    state_title: str
    tone: str
    place: str
    lock: str
    lock_number: str
    lock_removed: bool
    room: str
    room_number: str
    holder: str
    holdings: tuple[HeldRow, ...]
    timeline: tuple[TimelineEntry, ...]


def holding_fact(holding: KeyHolding) -> HoldingFact:
    """Return a holding as the rules take it."""
    return HoldingFact(
        key=holding.key.number,
        lock=holding.key.lock.number,
        person_id=holding.person_id,
        holder=holding.holder,
        appointment=holding.appointment,
        since=holding.since,
        until=holding.until,
    )


def held_of(room: StrongRoom) -> list[KeyHolding]:
    """Return what is held now of a room's fitted locks."""
    return list(
        KeyHolding.objects.filter(
            key__lock__room=room, key__lock__removed_on=None, until=None
        )
        .select_related("key__lock", "person")
        .order_by("key__lock__id", "id")
    )


def keys_of_rooms(rooms: QuerySet[StrongRoom]) -> tuple[RoomKeys, ...]:
    """Return the key registers of rooms, with a fixed number of queries."""
    locks: dict[int, list[Lock]] = defaultdict(list)
    for lock in (
        Lock.objects.filter(room__in=rooms).prefetch_related("keys").order_by("id")
    ):
        locks[lock.room_id].append(lock)
    held = {
        row.key_id: row
        for row in KeyHolding.objects.filter(key__lock__room__in=rooms, until=None)
        .select_related("key__lock")
        .order_by("id")
    }
    return tuple(
        _room_keys(room, locks[room.pk], held) for room in rooms.order_by("id")
    )


def _room_keys(
    room: StrongRoom, locks: Sequence[Lock], held: dict[int, KeyHolding]
) -> RoomKeys:
    fitted = [lock for lock in locks if lock.removed_on is None]
    return RoomKeys(
        room=room.name,
        room_number=room.number,
        locks=tuple(_lock_row(lock, held) for lock in fitted),
        former_locks=tuple(_lock_row(k, held) for k in locks if k.removed_on),
        warnings=warnings_about(
            [_lock_fact(lock) for lock in fitted],
            [holding_fact(row) for row in held.values()],
        ),
    )


def _lock_fact(lock: Lock) -> LockFact:
    return LockFact(
        lock.number,
        lock.name,
        tuple(
            KeyFact(key.number, key.mark, key.duplicate, key.state, key.place)
            for key in _in_order(lock.keys.all())
        ),
    )


def _in_order(keys: Iterable[Key]) -> list[Key]:
    return sorted(keys, key=lambda key: (key.duplicate, key.pk))


def _lock_row(lock: Lock, held: dict[int, KeyHolding]) -> LockRow:
    keys = _in_order(lock.keys.all())
    return LockRow(
        number=lock.number,
        name=lock.name,
        fitted_on=lock.fitted_on,
        removed_on=lock.removed_on,
        removed_because=lock.removed_because,
        must_be_changed=lock.removed_on is None
        and any(key.state == KeyState.LOST for key in keys),
        keys=tuple(_key_row(key, held.get(key.pk)) for key in keys),
    )


def _key_row(key: Key, holding: KeyHolding | None) -> KeyRow:
    return KeyRow(
        number=key.number,
        mark=key.mark,
        duplicate=key.duplicate,
        state=key.state,
        state_title=key.get_state_display(),
        tone=TONES[KeyState(key.state)],
        place=key.place,
        holder=holding.holder if holding else "",
        appointment=holding.appointment if holding else "",
        since=holding.since if holding else None,
    )


def key_file(key: Key) -> KeyFile:
    """Gather what a key's page shows."""
    rows = list(
        key.holdings.select_related("key__lock__room").order_by("-since", "-id")
    )
    now = next((row for row in rows if row.until is None), None)
    return KeyFile(
        number=key.number,
        mark=key.mark,
        duplicate=key.duplicate,
        state=key.state,
        state_title=key.get_state_display(),
        tone=TONES[KeyState(key.state)],
        place=key.place,
        lock=key.lock.name,
        lock_number=key.lock.number,
        lock_removed=key.lock.removed_on is not None,
        room=key.lock.room.name,
        room_number=key.lock.room.number,
        holder=now.holder if now else "",
        holdings=tuple(_held_row(row) for row in rows),
        timeline=tuple(timeline_of(key, beside=rows)),
    )


def held_between(
    rooms: QuerySet[StrongRoom], start: datetime, end: datetime
) -> tuple[HeldRow, ...]:
    """Return who held which key of these rooms from ``start`` until before ``end``."""
    rows = (
        KeyHolding.objects.filter(key__lock__room__in=rooms, since__lt=end)
        .filter(Q(until=None) | Q(until__gt=start))
        .select_related("key__lock__room")
        .order_by("key__lock__room_id", "key__lock_id", "key_id", "since", "id")
    )
    return tuple(_held_row(row) for row in rows)


def _held_row(row: KeyHolding) -> HeldRow:
    lock = row.key.lock
    return HeldRow(
        number=row.number,
        room=lock.room.name,
        room_number=lock.room.number,
        lock=lock.name,
        key=row.key.number,
        mark=row.key.mark,
        duplicate=row.key.duplicate,
        holder=row.holder,
        appointment=row.appointment,
        since=row.since,
        until=row.until,
        ended_because=row.ended_because,
    )
