"""Taking one container in: the same path at the intake and at the sealing table."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from registry.models import (
    Box,
    ContainerState,
    Contest,
    CustodyMovement,
    Election,
    Envelope,
    Intake,
    StrongRoom,
    Whereabouts,
)
from registry.queries.expected import ExpectedContainers, Match
from registry.rules.arrivals import Arrival, Problem
from registry.rules.powers import Actor
from registry.usecases._arrivals import assess
from registry.usecases._door import Refused
from registry.usecases._recording import (
    TakenMarks,
    enter_arrivals,
    enter_problems,
    enter_seals,
    mark_the_other,
    refuse_a_closed_box,
    refuse_what_does_not_belong,
)
from registry.usecases._records import enter


@dataclass(frozen=True)
class Received:
    """When and where a container came in.

    Attributes:
        at: when it was received; earlier than its entry where a form says so.
        table: the table of the room at which it stands.
    """

    room: StrongRoom
    at: datetime
    intake: Intake | None = None
    table: str = "intake table"


def take_in(
    arrival: Arrival,
    election: Election,
    received: Received,
    hint: Contest | None = None,
    further: Sequence[Problem] = (),
    *,
    actor: Actor,
    at: datetime,
) -> tuple[Envelope | Box, tuple[Problem, ...], Match]:
    """Enter a container with its seals and with all that is wrong with it.

    The caller holds ``lock_intake``.

    Args:
        hint: the contest being taken in, where only one is.
        further: what is wrong with it beside what stands on it.
    """
    recognised = ExpectedContainers(election, [arrival])
    taken = TakenMarks.for_arrivals([arrival])
    container, problems, match = assess(
        arrival, recognised, taken, received.room, hint, further=further
    )
    container.intake = received.intake
    enter(container)
    enter_seals([(container, arrival)], actor, at)
    enter_problems([(container, problems)], at)
    mark_the_other(problems, at)
    enter_arrivals([container], actor, at, received.intake, received.at, received.table)
    return container, problems, match


def put_at_once(
    envelope: Envelope,
    box: Box,
    actor: Actor,
    at: datetime,
    occurred_at: datetime | None = None,
    table: str = "intake table",
) -> tuple[str, ...]:
    """Put an envelope into an open box; return why not, where that cannot be."""
    if envelope.state == ContainerState.QUARANTINED:
        return (f"{envelope.number} stands in quarantine and is kept apart.",)
    try:
        refuse_a_closed_box(box)
        refuse_what_does_not_belong(envelope, box)
    except Refused as refused:
        return refused.reasons
    envelope.box = box
    envelope.whereabouts = Whereabouts.IN_BOX
    envelope.save()
    enter(
        CustodyMovement(
            act=CustodyMovement.Act.BOXED,
            envelope=envelope,
            from_place=f"{envelope.room}, {table}",
            to_place=f"box {box.number}",
            occurred_at=occurred_at or at,
            recorded_at=at,
            recorded_by_id=actor.person_id,
        )
    )
    return ()
