"""Charge of a container: handed over, not found, found, reported as not in order."""

from datetime import datetime

from registry.models import Box, CustodyMovement, Envelope, Whereabouts
from registry.queries.custody import chain
from registry.rules.arrivals import DiscrepancyKind, Problem
from registry.rules.powers import Actor, Power
from registry.usecases._door import Mistaken, Refused, note_access, usecase
from registry.usecases._happened import (
    Happened,
    moment_of,
    note_use,
    refuse_overtaken,
)
from registry.usecases._recording import discrepancy, enter_not_there
from registry.usecases._records import enter
from registry.usecases._seen import refuse_if_moved
from registry.usecases.boxes import (
    container_of,
    enter_movement,
    locked_container_of,
    place_of,
    refuse_absent,
)


@usecase("container.hand_over", power=Power.KEEP, subject="container")
def hand_over(
    *,
    container: str,
    to_person: str,
    note: str = "",
    as_seen: str = "",
    happened: Happened | None = None,
    actor: Actor,
    at: datetime,
) -> None:
    """Hand a container over to another keeper of the same room.

    Args:
        as_seen: number of its last movement, as the giver saw it.

    Raises:
        Refused: it is not in the room, or was moved meanwhile.
    """
    of = locked_container_of(actor, container)
    refuse_if_moved(of, as_seen)
    if not to_person.strip():
        raise Mistaken(to_person="Name the person who takes it over.")
    if to_person.strip().casefold() == actor.name.casefold():
        raise Mistaken(to_person="A hand-over is between two people.")
    refuse_absent(of)
    enter_movement(
        of,
        CustodyMovement.Act.HANDED_OVER,
        actor,
        at,
        from_person=actor.name,
        to_person=to_person.strip(),
        from_place=place_of(of),
        to_place=place_of(of),
        note=note.strip(),
        occurred_at=moment_of(of, happened, actor=actor, at=at),
    )
    note_use(happened, "container.hand_over", of.number, actor=actor, at=at)
    note_access(of.number)


_NOT_LOOKED_FOR = (Whereabouts.GONE, Whereabouts.MISSING, Whereabouts.REPLACED)


@usecase("container.not_found", power=Power.KEEP, subject="container")
def report_not_found(
    *,
    container: str,
    note: str,
    happened: Happened | None = None,
    actor: Actor,
    at: datetime,
) -> None:
    """Record that a container is missing; opens a discrepancy if none is open."""
    of = locked_container_of(actor, container)
    if of.whereabouts == Whereabouts.ON_WAY:
        raise Refused(
            f"{of.number} is on the way to another room: record on its transfer that "
            "it did not arrive. The carrier answers for it."
        )
    if of.whereabouts in _NOT_LOOKED_FOR:
        raise Refused(f"{of.number} is {of.get_whereabouts_display()} already.")
    if not note.strip():
        raise Mistaken(note="Say where it was looked for, and by whom.")
    occurred_at = moment_of(of, happened, actor=actor, at=at)
    refuse_overtaken(of, happened)
    from_place = place_of(of)
    of.whereabouts = Whereabouts.MISSING
    of.save()
    enter_movement(
        of,
        CustodyMovement.Act.NOT_FOUND,
        actor,
        at,
        from_place=from_place,
        note=note.strip(),
        occurred_at=occurred_at,
    )
    note_use(happened, "container.not_found", of.number, actor=actor, at=at)
    enter_not_there(of, note, at)
    note_access(of.number)


@usecase("container.found", power=Power.KEEP, subject="container")
def report_found(
    *,
    container: str,
    note: str,
    happened: Happened | None = None,
    actor: Actor,
    at: datetime,
) -> None:
    """Record that a missing container was found, and in whose charge it is now.

    It stands at the intake table, in the finder's charge, or lies in its box, in the
    charge of whoever has that; what was out when it was missed is out again, with who
    had it there, until it is taken back with its seal read.
    """
    of = locked_container_of(actor, container)
    if of.whereabouts != Whereabouts.MISSING:
        raise Refused(f"{of.number} is not missing.")
    occurred_at = moment_of(of, happened, actor=actor, at=at)
    refuse_overtaken(of, happened)
    of.whereabouts = _where_found(of)
    if isinstance(of, Envelope) and of.whereabouts != Whereabouts.IN_BOX:
        of.box = None
    of.save()
    enter_movement(
        of,
        CustodyMovement.Act.FOUND,
        actor,
        at,
        to_person=_holder_when_found(of, occurred_at) or actor.name,
        to_place=place_of(of),
        note=note.strip(),
        occurred_at=occurred_at,
    )
    note_use(happened, "container.found", of.number, actor=actor, at=at)
    note_access(of.number)


_OUTSIDE = {
    CustodyMovement.Act.TAKEN_OUT: Whereabouts.OUT,
    CustodyMovement.Act.KEPT: Whereabouts.KEPT,
}


def _where_found(of: Box | Envelope) -> Whereabouts:
    """Return where a missing container is once it was found."""
    acts = (*_OUTSIDE, CustodyMovement.Act.RETURNED)
    last = of.movements.filter(act__in=acts).order_by("-id").first()
    outside = _OUTSIDE.get(CustodyMovement.Act(last.act)) if last else None
    if outside:
        return outside
    box = of.box if isinstance(of, Envelope) else None
    if box is None or box.whereabouts == Whereabouts.MISSING:
        return Whereabouts.INTAKE  # found without its box, where that is missing too
    return Whereabouts.IN_BOX


def _holder_when_found(of: Box | Envelope, when: datetime) -> str:
    """Return who answers for what was found; empty where that is the finder."""
    if of.whereabouts in _OUTSIDE.values():
        production = of.productions.filter(returned__isnull=True).first()
        return (production.kept_by or production.received_by) if production else ""
    if isinstance(of, Envelope) and of.box:
        standing = chain(of.box, when).now
        return standing.holder if standing else ""
    return ""


@usecase("container.discrepancy", power=Power.KEEP, subject="container")
def report_discrepancy(
    *, container: str, detail: str, actor: Actor, at: datetime
) -> str:
    """Open a discrepancy on a container for anything that is not as it must be."""
    of = container_of(actor, container)
    if not detail.strip():
        raise Mistaken(detail="Say what is not as it must be.")
    found = enter(
        discrepancy(of, Problem(DiscrepancyKind.OTHER, detail=detail.strip()), at)
    )
    note_access(of.number)
    return found.number
