"""Under a permission: rooms entered, boxes and envelopes opened, taken out, returned."""

from collections.abc import Sequence
from datetime import datetime

from registry.models import (
    Box,
    CustodyMovement,
    Envelope,
    Opening,
    Permission,
    Seal,
    SealAct,
    SealEvent,
    SealState,
    StrongRoom,
    Whereabouts,
)
from registry.queries.find import the
from registry.queries.keeping import Keeper, confirmation_for, legal_date, schedule_of
from registry.queries.scope import of_elections_in_scope, rooms_of
from registry.queries.standing import container_fact, permission_fact, room_fact
from registry.rules.arrivals import Arrival, SealEntry, problems_with
from registry.rules.disposal_facts import Act
from registry.rules.disposals import obstacles_to_opening
from registry.rules.powers import Actor, Power
from registry.rules.schedules import ContentKind
from registry.usecases._door import Mistaken, Refused, note_access, usecase
from registry.usecases._records import enter, enter_many
from registry.usecases.boxes import container_of, enter_movement, place_of
from registry.usecases.cases import lock_contests
from registry.usecases.disposals import seal_broken
from registry.usecases.intake import (
    TakenMarks,
    enter_problems,
    enter_seals,
    lock_intake,
    mark_the_other,
)


@usecase("room.enter", power=Power.OPEN, subject="room")
def enter_room(
    *,
    room: str,
    permission: str,
    present: str,
    purpose: str,
    conditions_met: Sequence[str] = (),
    actor: Actor,
    at: datetime,
) -> str:
    """Record that a strong room was entered, by whom and for what.

    Raises:
        Refused: with every obstacle.
    """
    of = the(rooms_of(actor), room, "strong room")
    relied_on = _locked_permission(permission, actor)
    _need_people(present, purpose)
    obstacles = obstacles_to_opening(
        act=Act.ENTER_ROOM,
        container=room_fact(of),
        permission=permission_fact(relied_on, conditions_met),
        confirmation=None,
        schedule=schedule_of(relied_on.election.schedule),
        on=legal_date(relied_on.election, at),
    )
    if obstacles:
        raise Refused(*obstacles)
    opening = _opening(relied_on, of, present, purpose, actor, at)
    note_access(of.number, opening=opening.number)
    return opening.number


@usecase("container.open", power=Power.OPEN, subject="container")
def open_container(
    *,
    container: str,
    permission: str,
    present: str,
    done: str,
    new_seals: Sequence[SealEntry],
    conditions_met: Sequence[str] = (),
    actor: Actor,
    at: datetime,
) -> str:
    """Record that a box or envelope was opened and sealed anew; returns the number.

    The seals that were broken stay on record, superseded by the new ones.

    Args:
        present: who was there.
        done: what was done.
        new_seals: the seals put on afterwards.

    Raises:
        Refused: with every obstacle.
    """
    of = container_of(actor, container)
    if of.contest:
        lock_contests([of.contest])
    relied_on = _locked_permission(permission, actor)
    act = Act.OPEN_BOX if isinstance(of, Box) else Act.OPEN_ENVELOPE
    _need_people(present, done)
    if not new_seals:
        raise Mistaken(new_seals="Record the seal that was put on afterwards.")
    _refuse_obstacles(of, act, relied_on, conditions_met, at)
    opening = _opening(relied_on, of, present, done, actor, at)
    _reseal(of, new_seals, opening, actor, at)
    note_access(of.number, opening=opening.number)
    return opening.number


def _need_people(present: str, done: str) -> None:
    problems = {}
    if not present.strip():
        problems["present"] = ["Name those who were present."]
    if not done.strip():
        problems["done"] = ["Say what was done."]
    if problems:
        raise Mistaken(problems)


def _locked_permission(number: str, actor: Actor) -> Permission:
    rows = of_elections_in_scope(Permission.objects.select_for_update(), actor)
    return the(rows, number, "permission")


def _refuse_obstacles(
    of: Box | Envelope,
    act: Act,
    permission: Permission,
    conditions_met: Sequence[str],
    at: datetime,
) -> None:
    on = legal_date(of.election, at)
    keeper = Keeper(on)
    obstacles = obstacles_to_opening(
        act=act,
        container=container_fact(of, keeper),
        permission=permission_fact(permission, conditions_met),
        confirmation=confirmation_for(of.contest, on) if of.contest else None,
        schedule=schedule_of(permission.election.schedule),
        on=on,
    )
    if obstacles:
        raise Refused(*obstacles)


def _opening(
    permission: Permission,
    of: Box | Envelope | StrongRoom,
    present: str,
    done: str,
    actor: Actor,
    at: datetime,
) -> Opening:
    return enter(
        Opening(
            permission=permission,
            box=of if isinstance(of, Box) else None,
            envelope=of if isinstance(of, Envelope) else None,
            room=of if isinstance(of, StrongRoom) else None,
            occurred_at=at,
            recorded_at=at,
            opened_by_id=actor.person_id,
            present=present.strip(),
            done=done.strip(),
        )
    )


def _reseal(
    of: Box | Envelope,
    entries: Sequence[SealEntry],
    opening: Opening,
    actor: Actor,
    at: datetime,
) -> None:
    """Let new seals supersede those that were broken; both stay linked."""
    lock_intake()
    old = list(of.seals.filter(state=SealState.APPLIED).order_by("id"))
    arrival = Arrival(
        noun="box" if isinstance(of, Box) else "envelope",
        kind=ContentKind(of.kind),
        received_on=legal_date(of.election, at),
        seals=tuple(entries),
    )
    problems = problems_with(
        arrival,
        (),
        is_expected=True,
        same_seal_on=TakenMarks.for_arrivals([arrival]).seals,
    )
    enter_many([seal_broken(seal, actor, at, opening.number) for seal in old])
    for seal in old:
        seal.state = SealState.SUPERSEDED
        seal.save()
    of.sealed_on = legal_date(of.election, at)
    if problems:
        of.state = "quarantined"
    of.save()
    new = enter_seals([(of, arrival)], actor, at)
    for seal in new:
        seal.supersedes = old[0] if old else None
        seal.save()
    enter_many([_superseded(seal, new, actor, at) for seal in old])
    enter_problems([(of, problems)], at)
    mark_the_other(problems, at)


def _superseded(
    seal: Seal, new: Sequence[Seal], actor: Actor, at: datetime
) -> SealEvent:
    return SealEvent(
        seal=seal,
        act=SealAct.SUPERSEDED,
        occurred_on=new[0].box.sealed_on if new[0].box else new[0].envelope.sealed_on,  # type: ignore[union-attr]
        recorded_at=at,
        recorded_by_id=actor.person_id,
        note="By " + ", ".join(one.number for one in new),
    )


@usecase("container.take_out", power=Power.OPEN, subject="container")
def take_out(
    *,
    container: str,
    permission: str,
    to_person: str,
    to_place: str,
    conditions_met: Sequence[str] = (),
    note: str = "",
    actor: Actor,
    at: datetime,
) -> None:
    """Hand a container out, to a court or elsewhere, under a permission.

    It stays on the register, and nothing disposes of it while it is out.
    """
    of = container_of(actor, container)
    if of.contest:
        lock_contests([of.contest])
    relied_on = _locked_permission(permission, actor)
    if not to_person.strip() or not to_place.strip():
        raise Mistaken(to_person="Say who receives it, and where it goes.")
    _refuse_obstacles(of, Act.TAKE_OUT, relied_on, conditions_met, at)
    if isinstance(of, Envelope) and of.box_id:
        raise Refused(
            f"{of.number} lies in box {of.box.number}. Open the box first, under a "  # type: ignore[union-attr]
            "permission that names it, or take out the box."
        )
    from_place = place_of(of)
    of.whereabouts = Whereabouts.OUT
    if isinstance(of, Box):
        of.shelf = None
    of.save()
    enter_movement(
        of,
        CustodyMovement.Act.TAKEN_OUT,
        actor,
        at,
        from_place=from_place,
        to_place=to_place.strip(),
        from_person=actor.name,
        to_person=to_person.strip(),
        permission=relied_on,
        note=note.strip(),
    )
    note_access(of.number)


@usecase("container.take_back", power=Power.KEEP, subject="container")
def take_back(
    *, container: str, from_person: str, note: str = "", actor: Actor, at: datetime
) -> None:
    """Record that a container came back; its seal is to be checked at once."""
    of = container_of(actor, container)
    if of.whereabouts != Whereabouts.OUT:
        raise Refused(f"{of.number} is not out: it is {place_of(of)}.")
    if not from_person.strip():
        raise Mistaken(from_person="Name the person who brought it back.")
    of.whereabouts = Whereabouts.INTAKE
    of.save()
    enter_movement(
        of,
        CustodyMovement.Act.RETURNED,
        actor,
        at,
        from_person=from_person.strip(),
        to_person=actor.name,
        to_place=place_of(of),
        note=note.strip(),
    )
    note_access(of.number)
