"""Under a permission: rooms entered, containers opened, taken out and returned."""

from collections.abc import Sequence
from datetime import date, datetime

from registry.models import (
    Box,
    ContainerState,
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
from registry.queries.keeping import legal_date
from registry.queries.openings import (
    OpeningAhead,
    entering_ahead,
    judge_entering,
    judge_opening,
    opening_ahead,
)
from registry.queries.scope import of_elections_in_scope, rooms_of
from registry.rules.arrivals import Arrival, SealEntry, problems_with
from registry.rules.disposal_facts import Act
from registry.rules.powers import Actor, Power
from registry.rules.schedules import ContentKind
from registry.usecases._door import Mistaken, Refused, note_access, usecase
from registry.usecases._recording import (
    TakenMarks,
    enter_problems,
    enter_seals,
    lock_intake,
    mark_the_other,
)
from registry.usecases._records import enter, enter_many
from registry.usecases.boxes import container_of, enter_movement, place_of
from registry.usecases.cases import lock_contests
from registry.usecases.disposals import seal_broken

LONGEST = 400


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
    _need_people(present, purpose, done_field="purpose")
    obstacles = judge_entering(of, relied_on, conditions_met, at)
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
    of = _locked_container(actor, container)
    relied_on = _locked_permission(permission, actor)
    act = Act.OPEN_BOX if isinstance(of, Box) else Act.OPEN_ENVELOPE
    _need_people(present, done)
    if not new_seals:
        raise Mistaken(new_seals="Record the seal that was put on afterwards.")
    obstacles = judge_opening(of, act, relied_on, conditions_met, at)
    if obstacles:
        raise Refused(*obstacles)
    opening = _opening(relied_on, of, present, done, actor, at)
    _reseal(of, new_seals, opening, actor, at)
    note_access(of.number, opening=opening.number)
    return opening.number


def _need_people(present: str, done: str, *, done_field: str = "done") -> None:
    problems = {}
    if not present.strip():
        problems["present"] = ["Name those who were present."]
    if not done.strip():
        problems[done_field] = ["Say what was done."]
    for name, text in (("present", present), (done_field, done)):
        if len(text.strip()) > LONGEST:
            problems[name] = [f"Shorten this to {LONGEST} characters."]
    if problems:
        raise Mistaken(problems)


def _locked_container(actor: Actor, number: str) -> Box | Envelope:
    """Lock the contest and the container, so that it is judged as it is now."""
    of = container_of(actor, number)
    if of.contest:
        lock_contests([of.contest])
    rows = type(of).objects.select_for_update(of=("self",))
    return rows.select_related("election", "contest__election", "room").get(pk=of.pk)


def _locked_permission(number: str, actor: Actor) -> Permission:
    rows = of_elections_in_scope(Permission.objects.select_for_update(), actor)
    return the(rows, number, "permission")


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
            opened_by_id=actor.person_id,  # type: ignore[misc] # the door saw to it
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
    on = legal_date(of.election, at)
    old = list(of.seals.not_superseded().order_by("id"))
    arrival = Arrival(
        noun="box" if isinstance(of, Box) else "envelope",
        kind=ContentKind(of.kind),
        received_on=on,
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
    of.sealed_on = on
    if problems:
        of.state = ContainerState.QUARANTINED
    of.save()
    new = enter_seals([(of, arrival)], actor, at)
    for seal in new:
        seal.supersedes = old[0] if old else None
        seal.save()
    enter_many([_superseded(seal, new, on, actor, at) for seal in old])
    enter_problems([(of, problems)], at)
    mark_the_other(problems, at)


def _superseded(
    seal: Seal, new: Sequence[Seal], on: date, actor: Actor, at: datetime
) -> SealEvent:
    return SealEvent(
        seal=seal,
        act=SealAct.SUPERSEDED,
        occurred_on=on,
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
    of = _locked_container(actor, container)
    relied_on = _locked_permission(permission, actor)
    problems = {}
    if not to_person.strip():
        problems["to_person"] = ["Name the person who receives it, with the post."]
    if not to_place.strip():
        problems["to_place"] = ["Say where it goes."]
    if problems:
        raise Mistaken(problems)
    obstacles = judge_opening(of, Act.TAKE_OUT, relied_on, conditions_met, at)
    if obstacles:
        raise Refused(*obstacles)
    from_place = place_of(of)
    of.whereabouts = Whereabouts.OUT
    if isinstance(of, Box):
        of.shelf = None
    else:
        of.box = None  # it came out of its box, opened today
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
) -> str:
    """Record that a container came back; returns its number.

    Its seal is to be checked at once.
    """
    of = _locked_container(actor, container)
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
    return of.number


@usecase("opening.prepare", power=Power.OPEN, subject="container")
def prepare_opening(
    *,
    container: str,
    permission: str = "",
    taking_out: bool = False,
    actor: Actor,
    at: datetime,
) -> OpeningAhead:
    """Say what stands against opening or taking out, before anything is touched.

    Args:
        permission: the one to rely on; without it, the one that would be.
    """
    of = container_of(actor, container)
    act = Act.OPEN_BOX if isinstance(of, Box) else Act.OPEN_ENVELOPE
    if taking_out:
        act = Act.TAKE_OUT
    rows = of_elections_in_scope(Permission.objects.all(), actor)
    note_access(of.number, act=act.value)
    return opening_ahead(of, act, rows, permission, at)


@usecase("room.prepare", power=Power.OPEN, subject="room")
def prepare_entering(
    *, room: str, permission: str = "", actor: Actor, at: datetime
) -> OpeningAhead:
    """Say what stands against entering a strong room."""
    of = the(rooms_of(actor), room, "strong room")
    rows = of_elections_in_scope(Permission.objects.all(), actor)
    note_access(of.number)
    return entering_ahead(of, rows, permission, at)


@usecase("room.own", power=Power.OPEN)
def rooms_in_charge(*, actor: Actor, at: datetime) -> tuple[tuple[str, str], ...]:
    """List the strong rooms the actor has charge of, by number and name."""
    return tuple((room.number, room.name) for room in rooms_of(actor).order_by("id"))
