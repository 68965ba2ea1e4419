"""The door log: a strong room's door opened by two key holders, and closed again."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from registry.models import (
    Discrepancy,
    DoorPurpose,
    DoorSession,
    KeyHolding,
    Permission,
    StrongRoom,
    Waste,
)
from registry.queries.desks import in_force
from registry.queries.door_forms import is_held_by, touching
from registry.queries.find import the
from registry.queries.keeping import legal_date
from registry.queries.keys import held_of
from registry.queries.scope import of_elections_in_scope, rooms_of
from registry.rules.arrivals import DiscrepancyKind
from registry.rules.doors import SealsCompared, compare_seals
from registry.rules.powers import Actor, Power
from registry.usecases._acting import person_of
from registry.usecases._covers import need
from registry.usecases._door import Mistaken, Refused, note_access, usecase
from registry.usecases._door_sessions import Present, enter_presence, open_session_of
from registry.usecases._happened import Happened, moment, note_use
from registry.usecases._records import enter

__all__ = ["Happened", "Opened", "Present", "close_door", "open_door"]

# For these the door is opened under an order of the authority or of a court.
UNDER_PERMISSION = (DoorPurpose.VIEWING, DoorPurpose.OPENING)


@dataclass(frozen=True)
class Opened:
    """What opening a door led to; ``put_on`` is told only now, after the reading."""

    number: str
    compared: SealsCompared
    put_on: str
    discrepancy: str = ""


@usecase("door.open", power=Power.KEEP, subject="room")
def open_door(
    *,
    room: str,
    purpose: str,
    first_key: str = "",
    second_key: str = "",
    present: Sequence[Present] = (),
    seals_found: str = "",
    seals_found_state: str = "",
    permission: str = "",
    note: str = "",
    happened: Happened | None = None,
    actor: Actor,
    at: datetime,
) -> Opened:
    """Record that a strong room's door was opened.

    Args:
        first_key: number of the holding of whoever opens; the actor's own if left out.
        second_key: that of the other key holder; empty where one opened alone, which
            is recorded as it was and stands out.
        seals_found: as read on the door, before the register tells what was put on.
        happened: when, where a paper form took it down.

    Raises:
        Refused: it is open already; the actor holds no key; one person, or one lock.
    """
    of = the(rooms_of(actor).select_for_update(), room, "strong room")
    opened_at = moment(happened, of, actor=actor, at=at)
    _need_opening(purpose, present, happened, note)
    _refuse_open(of, opened_at)
    first, second = _holders(of, first_key, second_key, happened, actor)
    relied_on = _permission(of, purpose, permission, actor, opened_at)
    put_on = _put_on_last(of, opened_at)
    compared = compare_seals(seals_found, put_on)
    session = enter(
        DoorSession(
            room=of,
            purpose=purpose,
            note=note.strip(),
            first_key=first,
            second_key=second,
            permission=relied_on,
            opened_at=opened_at,
            opened_recorded_at=at,
            opened_by_id=person_of(actor),
            seals_found=seals_found.strip(),
            seals_found_state=seals_found_state.strip(),
            seals_compared=compared.value,
        )
    )
    for one in present:
        enter_presence(session, one, opened_at)
    found = _seals_differ(session, put_on, at) if _differs(compared) else ""
    note_use(happened, "door.open", session.number, actor=actor, at=at)
    note_access(session.number, room=of.number, seals=compared.value)
    return Opened(session.number, compared, put_on, found)


@usecase("door.close", power=Power.KEEP, subject="session")
def close_door(
    *,
    session: str,
    seals_put_on: str,
    done: str,
    waste: str,
    camera_reference: str = "",
    all_left: bool = False,
    happened: Happened | None = None,
    actor: Actor,
    at: datetime,
) -> None:
    """Record that the door was closed and locked, and which seals were put on.

    A door whose permission was revoked meanwhile is closed like any other; what is
    done says so.

    Args:
        done: what was done while it was open.
        waste: one of ``Waste``.
        all_left: everybody still inside left with the closing.
    """
    of = open_session_of(actor, session)
    need(done=done)
    if waste not in Waste.values:
        raise Mistaken(waste="Say what became of the waste in the room.")
    closed_at = moment(happened, of.room, actor=actor, at=at)
    if closed_at < of.opened_at:
        raise Mistaken(happened_at="The door was opened after that.")
    of.closed_at = closed_at
    of.closed_recorded_at = at
    of.closed_by_id = person_of(actor)
    of.seals_put_on = seals_put_on.strip()
    of.done = done.strip()
    of.waste = waste
    of.camera_reference = camera_reference.strip()
    of.save()
    if all_left:
        for row in of.presences.select_for_update().filter(left_at=None):
            row.left_at = max(closed_at, row.came_at)
            row.save()
    note_use(happened, "door.close", of.number, actor=actor, at=at)
    note_access(of.number)


def _need_opening(
    purpose: str,
    present: Sequence[Present],
    happened: Happened | None,
    note: str,
) -> None:
    problems: dict[str, list[str]] = {}
    if purpose not in DoorPurpose.values:
        problems["purpose"] = ["Say what the door is opened for."]
    if any(not one.name.strip() for one in present):
        problems["present"] = ["Write a name for each person."]
    if purpose == DoorPurpose.REPAIR and happened is None:
        if not present:
            problems["present"] = ["Name who comes for the repair."]
        elif not all(one.escort.strip() for one in present):
            problems["escort"] = ["Name who stays beside them while they work."]
    if purpose == DoorPurpose.EMERGENCY and not note.strip():
        problems["note"] = ["Say what the emergency is."]
    if problems:
        raise Mistaken(problems)


def _refuse_open(room: StrongRoom, opened_at: datetime) -> None:
    is_open = room.door_sessions.filter(closed_at=None).first()
    if is_open:
        raise Refused(
            f"The door of {room} was opened on {is_open.opened_at:%-d %B %Y at %H:%M} "
            f"({is_open.number}) and is not closed. Close it first."
        )
    within = room.door_sessions.filter(
        opened_at__lte=opened_at, closed_at__gt=opened_at
    ).first()
    if within:
        raise Refused(
            f"The door was open at that moment already, by {within.number}: a paper "
            "form that tells of the same opening is entered as spoilt or returned."
        )


def _holders(
    room: StrongRoom,
    first: str,
    second: str,
    happened: Happened | None,
    actor: Actor,
) -> tuple[KeyHolding, KeyHolding | None]:
    held = held_of(room)
    own = next((row for row in held if is_held_by(row, actor.person_id)), None)
    opens = _chosen(held, first, "first_key") if first else own
    if opens is None:
        raise Refused(
            "You hold no key of this room, so you cannot open its door. A key holder "
            "enters the opening; or have the key register put right."
        )
    if happened is None and not is_held_by(opens, actor.person_id):
        raise Refused(
            f"{opens.holder} holds this key. Whoever opens enters it from the own "
            "log-in; the other key holder confirms."
        )
    other = _chosen(held, second, "second_key") if second else None
    if other and other.key.lock_id == opens.key.lock_id:
        raise Mistaken(
            second_key="Both keys are of one lock. The second holder has the key of "
            "the other lock."
        )
    return opens, other


def _chosen(held: Sequence[KeyHolding], number: str, field: str) -> KeyHolding:
    for row in held:
        if row.number == number:
            return row
    raise Mistaken({field: ["Nobody holds this key of the room now."]})


def _permission(
    room: StrongRoom, purpose: str, number: str, actor: Actor, opened_at: datetime
) -> Permission | None:
    if not number.strip():
        if purpose in UNDER_PERMISSION:
            raise Mistaken(
                permission="For this the door is opened under a permission. Choose it."
            )
        return None
    scope = of_elections_in_scope(Permission.objects.all(), actor)
    named = the(touching(scope, room), number, "permission for this room")
    on = legal_date(named.election, opened_at)
    if not in_force(Permission.objects.filter(pk=named.pk), on).exists():
        raise Refused(f"Permission {named.number} is not in force on {on:%-d %B %Y}.")
    return named


def _put_on_last(room: StrongRoom, before: datetime) -> str:
    last = (
        room.door_sessions.filter(closed_at__lte=before)
        .order_by("-closed_at", "-id")
        .first()
    )
    return last.seals_put_on if last else ""


def _differs(compared: SealsCompared) -> bool:
    return compared is SealsCompared.DIFFER


def _seals_differ(session: DoorSession, put_on: str, at: datetime) -> str:
    found = enter(
        Discrepancy(
            kind=DiscrepancyKind.SEAL_BROKEN.value,
            room=session.room,
            written=session.seals_found,
            expected=put_on,
            detail=f"Seals of the door, read at {session.number}, are not those put on "
            "when it was last closed.",
            opened_at=at,
        )
    )
    return found.number
