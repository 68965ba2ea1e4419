"""A new envelope or box in place of one that was opened: both linked for ever."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, datetime

from registry.models import (
    Box,
    ContainerState,
    CustodyMovement,
    Envelope,
    Opening,
    Seal,
    Whereabouts,
)
from registry.queries.expected import ExpectedContainers, Match
from registry.queries.keeping import legal_date
from registry.rules.arrivals import Arrival, DiscrepancyKind, Problem
from registry.rules.markings import Marking
from registry.rules.powers import Actor
from registry.usecases._arrivals import assess, too_long
from registry.usecases._box_labels import station_list_problems
from registry.usecases._door import Mistaken, Refused
from registry.usecases._recording import (
    TakenMarks,
    enter_problems,
    enter_seals,
    lock_intake,
    mark_the_other,
)
from registry.usecases._records import enter, enter_many
from registry.usecases._resealing import end_seals, link_seals
from registry.usecases.boxes import enter_movement, place_of
from registry.usecases.disposals import seal_broken


def supersede(
    old: Box | Envelope,
    arrival: Arrival,
    opening: Opening,
    actor: Actor,
    at: datetime,
) -> tuple[Box | Envelope, tuple[Problem, ...]]:
    """Put the content of an opened container into a new one; return that one.

    The new one stands for what the old one stood for, lies where it lay, and its
    markings and seals are looked at as at intake: anything wrong with them opens a
    discrepancy and puts it into quarantine. What is in the old one goes with it.

    Args:
        arrival: the new container as it stands on the table.

    Raises:
        Mistaken: something does not fit into its column.
        Refused: the contest of the old one is not known.
    """
    _check(old, arrival)
    lock_intake()
    on = legal_date(old.election, at)
    seals = _end_old_seals(old, opening, actor, at)
    new, problems = _assessed(old, _completed(old, arrival, on))
    # The old one holds its place on the register until the new one is there, so the
    # new one is entered as still to be judged, and judged once both are.
    new.state = ContainerState.QUARANTINED
    enter(new)
    if isinstance(old, Box) and isinstance(new, Box):
        _move_contents(old, new, actor, at)
        problems = (*problems, *_stations_otherwise(new))
    _end(old, new, opening, actor, at)
    new.state = ContainerState.QUARANTINED if problems else ContainerState.HELD
    new.save()
    entered = enter_seals([(new, arrival)], actor, at)
    link_seals(seals, entered, on, actor, at)
    enter_problems([(new, problems)], at)
    mark_the_other(problems, at)
    return new, problems


def _check(old: Box | Envelope, arrival: Arrival) -> None:
    if old.election is None or old.contest is None:
        raise Refused(f"It is not known what {old.number} stands for.")
    excess = too_long(arrival)
    if excess:
        raise Mistaken({name: [message] for name, message in excess.items()})


def _completed(old: Box | Envelope, arrival: Arrival, on: date) -> Arrival:
    """Return the arrival with what need not be said again."""
    is_box = isinstance(old, Box)
    return replace(
        arrival,
        noun="box" if is_box else "envelope",
        sealed_on=arrival.sealed_on or on,
        closed=True,
        description=arrival.description or old.description,
        label=arrival.label or getattr(old, "label", ""),
    )


def _end_old_seals(
    old: Box | Envelope, opening: Opening, actor: Actor, at: datetime
) -> Sequence[Seal]:
    seals = list(old.seals.not_superseded().order_by("id"))
    enter_many([seal_broken(seal, actor, at, opening.number) for seal in seals])
    end_seals(seals)
    return seals


def _assessed(
    old: Box | Envelope, arrival: Arrival
) -> tuple[Box | Envelope, tuple[Problem, ...]]:
    assert old.election is not None
    known = Match(old.contest)
    if isinstance(old, Envelope):
        known = Match(old.contest, old.station, old.unit_set)
    new, problems, _ = assess(
        arrival,
        ExpectedContainers(old.election, [arrival]),
        TakenMarks.for_arrivals([arrival]),
        old.room,
        live_envelopes=(),  # the one that stands for its units is the old one
        known=known,
    )
    new.supersedes = old
    new.whereabouts = old.whereabouts
    if isinstance(new, Box) and isinstance(old, Box):
        new.shelf = old.shelf
    elif isinstance(new, Envelope) and isinstance(old, Envelope):
        new.box = old.box
        new.paper, new.uncut_count = old.paper, old.uncut_count
        problems = (*problems, *_count(old, new))
    return new, problems


def _count(old: Envelope, new: Envelope) -> list[Problem]:
    """Compare the slips now counted with those stated; carry over what nobody counted.

    None at all is a count as well: an empty envelope is kept like any other.
    """
    if new.self_test_count is None:
        new.self_test_count = old.self_test_count
    if new.slip_count is None:
        new.slip_count = old.slip_count
    if old.slip_count is None or new.slip_count == old.slip_count:
        return []
    return [
        Problem(
            DiscrepancyKind.COUNT_DIFFERS,
            written=str(new.slip_count),
            expected=str(old.slip_count),
            detail=f"{new.slip_count} slips were counted when {old.number} was opened; "
            f"{old.slip_count} were stated on it.",
        )
    ]


def _stations_otherwise(new: Box) -> list[Problem]:
    # Where none is written the comparison of markings has said so already.
    written = new.written.get(Marking.STATION_NUMBER)
    return station_list_problems(new) if written else []


def _move_contents(old: Box, new: Box, actor: Actor, at: datetime) -> None:
    for envelope in old.envelopes.select_for_update().order_by("id"):
        envelope.box = new
        envelope.save()
        enter_movement(
            envelope,
            CustodyMovement.Act.BOXED,
            actor,
            at,
            from_place=f"box {old.number}",
            to_place=f"box {new.number}",
        )


def _end(
    old: Box | Envelope,
    new: Box | Envelope,
    opening: Opening,
    actor: Actor,
    at: datetime,
) -> None:
    place = place_of(old)
    old.state = ContainerState.SUPERSEDED
    old.whereabouts = Whereabouts.REPLACED
    if isinstance(old, Box):
        old.shelf = None
    else:
        old.box = None
    old.save()
    replaced = CustodyMovement.Act.REPLACED
    enter_movement(
        old,
        replaced,
        actor,
        at,
        from_place=place,
        to_place=f"with {new.number}",
        to_person=actor.name,
        permission=opening.permission,
    )
    enter_movement(
        new,
        replaced,
        actor,
        at,
        from_place=f"in place of {old.number}",
        to_place=place,
        to_person=actor.name,
    )
