"""The door log as pages and papers show it."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import reduce
from operator import or_

from django.db.models import Q, QuerySet

from registry.models import (
    CustodyMovement,
    DoorPresence,
    DoorSession,
    Opening,
)
from registry.queries.scope import rooms_of
from registry.queries.timeline import TimelineEntry, timeline_of
from registry.rules.disposal_facts import as_compared
from registry.rules.doors import (
    DoorFact,
    DoorFault,
    DoorSign,
    SealsCompared,
    Visitor,
    what_stands_out,
)
from registry.rules.powers import Actor, Power

# Acts for which somebody has to be in the room itself, not at the intake table.
IN_THE_ROOM = (
    CustodyMovement.Act.SHELVED,
    CustodyMovement.Act.MOVED,
    CustodyMovement.Act.TAKEN_OUT,
    CustodyMovement.Act.DESPATCHED,
)
WITH = (
    "room",
    "first_key__key__lock",
    "first_key__person",
    "second_key__key__lock",
    "second_key__person",
    "permission",
    "opened_by",
    "closed_by",
    "second_confirmed_by",
)


def door_sessions_of(actor: Actor) -> QuerySet[DoorSession]:
    """The door sessions an actor may see: of their rooms, or with their own key."""
    rows = DoorSession.objects.select_related(*WITH)
    own = Q(second_key__person_id=actor.person_id) & Q(second_key__person__isnull=False)
    if not actor.may(Power.LOOK):
        return rows.filter(own)
    return rows.filter(Q(room__in=rooms_of(actor)) | own)


@dataclass(frozen=True)
class PresenceRow:
    """Somebody who was in the room."""

    id: int
    name: str
    post: str
    came_at: datetime
    left_at: datetime | None
    escort: str


@dataclass(frozen=True)
class HandledRow:
    """A container that was moved while the door was open."""

    container: str
    movement: str
    what: str
    at: datetime
    from_place: str
    to_place: str


@dataclass(frozen=True)
class DoorRow:
    """One opening of a door, with what stands out."""

    number: str
    room: str
    room_number: str
    purpose: str
    purpose_title: str
    note: str
    opened_at: datetime
    recorded_at: datetime
    opened_by: str
    first: str
    first_key: str
    second: str
    second_key: str
    second_has_account: bool
    second_confirmed_at: datetime | None
    permission: str
    permission_title: str
    seals_found: str
    seals_found_state: str
    seals_compared: str
    seals_title: str
    closed_at: datetime | None
    closed_by: str
    seals_put_on: str
    camera_reference: str
    waste_title: str
    done: str
    present: tuple[PresenceRow, ...]
    handled: tuple[HandledRow, ...]
    signs: tuple[DoorSign, ...]

    @property
    def is_open(self) -> bool:
        """Whether the door was not closed yet."""
        return self.closed_at is None

    @property
    def to_look_at(self) -> tuple[DoorSign, ...]:
        """What somebody must look at.

        That a second holder has no log-in is how a treasury works, and no finding.
        """
        return tuple(s for s in self.signs if s.fault is not DoorFault.NO_LOG_IN)

    @property
    def grave(self) -> bool:
        """Whether somebody must look at it now."""
        return any(sign.grave for sign in self.signs)


@dataclass(frozen=True)
class DoorFile:
    """Everything that the page of one opening shows.

    Attributes:
        openings: number, thing and permission of each opening meanwhile.
    """

    row: DoorRow
    openings: tuple[tuple[str, str, str], ...]
    timeline: tuple[TimelineEntry, ...]


def door_rows(sessions: Iterable[DoorSession], now: datetime) -> tuple[DoorRow, ...]:
    """Return door sessions as rows, with a fixed number of queries."""
    listed = list(sessions)
    present: dict[int, list[DoorPresence]] = {}
    for row in DoorPresence.objects.filter(session__in=listed).order_by(
        "came_at", "id"
    ):
        present.setdefault(row.session_id, []).append(row)
    handled = _handled_in(listed, now)
    return tuple(
        _door_row(one, present.get(one.pk, ()), handled.get(one.pk, ()), now)
        for one in listed
    )


def door_file(session: DoorSession, now: datetime) -> DoorFile:
    """Gather what the page of one opening shows."""
    (row,) = door_rows([session], now)
    beside = list(session.presences.order_by("id"))
    timeline = tuple(timeline_of(session, beside=beside))
    return DoorFile(row, _openings_in(session, now), timeline)


def _openings_in(of: DoorSession, now: datetime) -> tuple[tuple[str, str, str], ...]:
    """Return what was opened or entered under a permission while the door was open."""
    rows = Opening.objects.filter(
        Q(room=of.room) | Q(box__room=of.room) | Q(envelope__room=of.room),
        occurred_at__gte=of.opened_at,
        occurred_at__lte=of.closed_at or now,
    ).select_related("room", "box", "envelope", "permission")
    return tuple(
        (
            row.number,
            str(row.room or (row.box or row.envelope).number),  # type: ignore[union-attr]
            row.permission.number,
        )
        for row in rows.order_by("occurred_at", "id")
    )


def _door_row(
    of: DoorSession,
    present: Sequence[DoorPresence],
    handled: Sequence[CustodyMovement],
    now: datetime,
) -> DoorRow:
    first, second = of.first_key, of.second_key
    return DoorRow(
        number=of.number,
        room=of.room.name,
        room_number=of.room.number,
        purpose=of.purpose,
        purpose_title=of.get_purpose_display(),
        note=of.note,
        opened_at=of.opened_at,
        recorded_at=of.opened_recorded_at,
        opened_by=of.opened_by.name,
        first=first.holder,
        first_key=f"{first.key.lock.name}, key {first.key.mark}",
        second=second.holder if second else "",
        second_key=f"{second.key.lock.name}, key {second.key.mark}" if second else "",
        second_has_account=bool(second and second.person_id),
        second_confirmed_at=of.second_confirmed_at,
        permission=of.permission.number if of.permission else "",
        permission_title=str(of.permission or ""),
        seals_found=of.seals_found,
        seals_found_state=of.seals_found_state,
        seals_compared=of.seals_compared,
        seals_title=of.get_seals_compared_display(),
        closed_at=of.closed_at,
        closed_by=of.closed_by.name if of.closed_by else "",
        seals_put_on=of.seals_put_on,
        camera_reference=of.camera_reference,
        waste_title=of.get_waste_display(),
        done=of.done,
        present=tuple(
            PresenceRow(p.pk, p.name, p.post, p.came_at, p.left_at, p.escort)
            for p in present
        ),
        handled=tuple(handled_row(m) for m in handled),
        signs=what_stands_out(_fact(of, present, handled), now),
    )


def _fact(
    of: DoorSession,
    present: Sequence[DoorPresence],
    handled: Sequence[CustodyMovement],
) -> DoorFact:
    second = of.second_key
    holders = {as_compared(h.holder) for h in (of.first_key, second) if h}
    return DoorFact(
        purpose=of.purpose,
        opened_at=of.opened_at,
        recorded_at=of.opened_recorded_at,
        first=of.first_key.holder,
        second=second.holder if second else "",
        second_has_account=bool(second and second.person_id),
        second_confirmed_at=of.second_confirmed_at,
        closed_at=of.closed_at,
        seals=SealsCompared(of.seals_compared),
        seals_put_on=of.seals_put_on,
        waste=of.waste,
        revoked_at=of.permission.revoked_at if of.permission else None,
        visitors=tuple(
            Visitor(
                p.name,
                p.came_at,
                p.left_at,
                p.escort,
                holds_key=as_compared(p.name) in holders,
            )
            for p in present
        ),
        handled=tuple(handled_row(m).container for m in handled),
    )


def handled_row(move: CustodyMovement) -> HandledRow:
    """Return a movement as the door log shows it."""
    container = move.box or move.envelope
    return HandledRow(
        container=container.number if container else "",
        movement=move.number,
        what=move.get_act_display(),
        at=move.occurred_at,
        from_place=move.from_place,
        to_place=move.to_place,
    )


def in_room(name: str) -> Q:
    """Movements into or out of a place of this room, as the places are written."""
    start = f"{name}, "
    return Q(to_place__startswith=start) | Q(from_place__startswith=start)


def _handled_in(
    sessions: Sequence[DoorSession], now: datetime
) -> dict[int, list[CustodyMovement]]:
    """Return what was moved in each room while its door was open."""
    if not sessions:
        return {}
    spans = [
        in_room(one.room.name)
        & Q(occurred_at__gte=one.opened_at, occurred_at__lte=one.closed_at or now)
        for one in sessions
    ]
    moves = (
        CustodyMovement.objects.filter(reduce(or_, spans), act__in=IN_THE_ROOM)
        .select_related("box", "envelope")
        .order_by("occurred_at", "id")
    )
    found: dict[int, list[CustodyMovement]] = {}
    for move in moves:
        for one in sessions:
            end = one.closed_at or now
            start = f"{one.room.name}, "
            if one.opened_at <= move.occurred_at <= end and (
                move.to_place.startswith(start) or move.from_place.startswith(start)
            ):
                found.setdefault(one.pk, []).append(move)
    return found
