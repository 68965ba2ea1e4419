"""Under a permission: rooms entered, boxes and envelopes opened and sealed anew."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from registry.models import Box, Envelope, Opening, Permission, StrongRoom
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
from registry.rules.arrivals import Arrival, DiscrepancyKind, Problem, SealEntry
from registry.rules.disposal_facts import Act
from registry.rules.powers import Actor, Power
from registry.usecases._door import Mistaken, Refused, note_access, usecase
from registry.usecases._recording import enter_problems
from registry.usecases._records import enter, enter_many
from registry.usecases._resealing import reseal
from registry.usecases._seen import refuse_if_moved, seen_of
from registry.usecases._superseding import supersede
from registry.usecases._under_permission import locked_container, locked_permission
from registry.usecases.boxes import container_of
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
    relied_on = locked_permission(permission, actor)
    _need_people(present, purpose, done_field="purpose")
    obstacles = judge_entering(of, relied_on, conditions_met, at)
    if obstacles:
        raise Refused(*obstacles)
    opening = enter(_opening(relied_on, of, present, purpose, actor, at))
    note_access(of.number, opening=opening.number)
    return opening.number


@dataclass(frozen=True)
class Opened:
    """An opening that was recorded.

    Attributes:
        successor: number of the new envelope or box, where there is one.
        problems: what is wrong with the new seals or markings.
    """

    number: str
    successor: str = ""
    problems: tuple[str, ...] = ()


@usecase("container.open", power=Power.OPEN, subject="container")
def open_container(
    *,
    container: str,
    permission: str,
    present: str,
    done: str,
    new_seals: Sequence[SealEntry] = (),
    new_container: Arrival | None = None,
    found: str = "",
    fragments_kept_in: str = "",
    conditions_met: Sequence[str] = (),
    as_seen: str = "",
    actor: Actor,
    at: datetime,
) -> Opened:
    """Record that a box or envelope was opened and sealed anew.

    The seals that were broken stay on record, superseded by the new ones; and so does
    the container, where its content went into a new one.

    Args:
        present: who was there.
        done: what was done.
        new_seals: the seals put on afterwards, on the same container.
        new_container: instead, the new envelope or box with its markings and seals.
        found: what was found that should not be there, or that something was not. It
            is left as it was found, and opens a discrepancy.
        fragments_kept_in: where what is left of the old seals lies.
        as_seen: number of its last movement, as the person saw it who opens it.

    Raises:
        Mistaken: something is not said that must be.
        Refused: with every obstacle.
    """
    of = locked_container(actor, container)
    relied_on = locked_permission(permission, actor)
    refuse_if_moved(of, as_seen)
    act = Act.OPEN_BOX if isinstance(of, Box) else Act.OPEN_ENVELOPE
    _need_people(present, done)
    _need_seals(of, new_seals, new_container, found, fragments_kept_in)
    obstacles = judge_opening(of, act, relied_on, conditions_met, at)
    if obstacles:
        raise Refused(*obstacles)
    opening = _opening(relied_on, of, present, done, actor, at)
    opening.found, opening.fragments_kept_in = found.strip(), fragments_kept_in.strip()
    enter(opening)
    now, problems = _closed_again(of, new_seals, new_container, opening, actor, at)
    _note_finding(now, opening, at)
    successor = now.number if new_container else ""
    note_access(
        of.number, shown=[successor] if successor else (), opening=opening.number
    )
    return Opened(opening.number, successor, tuple(p.detail for p in problems))


def _need_seals(
    of: Box | Envelope,
    new_seals: Sequence[SealEntry],
    new_container: Arrival | None,
    found: str,
    fragments_kept_in: str,
) -> None:
    problems = {}
    if new_container and new_seals:
        problems["new_seals"] = ["The new seals stand on the new container alone."]
    if not (new_container.seals if new_container else new_seals):
        problems["new_seals"] = ["Record the seal that was put on afterwards."]
    if new_container and new_container.kind.value != of.kind:
        problems["new_container"] = ["The content stays what it is."]
    if not fragments_kept_in.strip() and of.seals.not_superseded().exists():
        problems["fragments_kept_in"] = [
            "Say where what is left of the old seals is kept: in the new envelope, in "
            "a bag with the box …"
        ]
    if len(fragments_kept_in.strip()) > 200:
        problems["fragments_kept_in"] = ["Shorten this to 200 characters."]
    if len(found.strip()) > LONGEST:
        problems["found"] = [f"Shorten this to {LONGEST} characters."]
    if problems:
        raise Mistaken(problems)


def _closed_again(
    of: Box | Envelope,
    new_seals: Sequence[SealEntry],
    new_container: Arrival | None,
    opening: Opening,
    actor: Actor,
    at: datetime,
) -> tuple[Box | Envelope, Sequence[Problem]]:
    if new_container:
        return supersede(of, new_container, opening, actor, at)
    return of, _reseal(of, new_seals, opening, actor, at)


def _reseal(
    of: Box | Envelope,
    entries: Sequence[SealEntry],
    opening: Opening,
    actor: Actor,
    at: datetime,
) -> list[Problem]:
    """Let new seals supersede those that were broken; both stay linked."""
    old = of.seals.not_superseded().order_by("id")
    enter_many([seal_broken(seal, actor, at, opening.number) for seal in old])
    return reseal(of, entries, legal_date(of.election, at), actor, at)


def _note_finding(of: Box | Envelope, opening: Opening, at: datetime) -> None:
    if not opening.found:
        return
    detail = f"Found at opening {opening.number}, and left so: {opening.found}"
    enter_problems([(of, [Problem(DiscrepancyKind.OTHER, detail=detail[:400])])], at)


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


def _opening(
    permission: Permission,
    of: Box | Envelope | StrongRoom,
    present: str,
    done: str,
    actor: Actor,
    at: datetime,
) -> Opening:
    return Opening(
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


@usecase("opening.prepare", power=Power.OPEN, subject="container")
def prepare_opening(
    *,
    container: str,
    permission: str = "",
    actor: Actor,
    at: datetime,
) -> OpeningAhead:
    """Say what stands against opening it, before anything is touched.

    Args:
        permission: the one to rely on; without it, the one that would be.
    """
    of = container_of(actor, container)
    act = Act.OPEN_BOX if isinstance(of, Box) else Act.OPEN_ENVELOPE
    rows = of_elections_in_scope(Permission.objects.all(), actor)
    note_access(of.number, act=act.value)
    return replace(opening_ahead(of, act, rows, permission, at), seen=seen_of(of))


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
