"""Intake: what arrives at the strong room is logged, whatever state it is in."""

from dataclasses import dataclass
from datetime import datetime

from registry.models import (
    Election,
    Envelope,
    Intake,
)
from registry.queries.find import the
from registry.queries.intakes import (
    IntakeFile,
    IntakeTable,
    intake_file,
    intake_table,
)
from registry.queries.keeping import legal_date
from registry.queries.scope import boxes_of, contests_of, elections_of, rooms_of
from registry.rules.arrivals import Arrival
from registry.rules.powers import Actor, Power
from registry.usecases._arrivals import name_of, too_long
from registry.usecases._door import Mistaken, note_access, usecase
from registry.usecases._happened import Happened, moment, note_use
from registry.usecases._recording import lock_intake
from registry.usecases._records import enter
from registry.usecases._taking_in import Received, put_at_once, take_in


@dataclass(frozen=True)
class Logged:
    """What became of an arrival.

    Attributes:
        box: the open box into which it was put at once, if it was.
        not_boxed: why it was not put into the box that was named.
    """

    number: str
    noun: str
    quarantined: bool
    problems: tuple[str, ...]
    recognised_as: str
    box: str = ""
    not_boxed: tuple[str, ...] = ()


@usecase("intake.table", power=Power.KEEP)
def open_intake_table(*, actor: Actor, at: datetime) -> IntakeTable:
    """Say what may be chosen at the intake table, and show the newest intakes."""
    table = intake_table(elections_of(actor), contests_of(actor), rooms_of(actor))
    note_access(intakes=len(table.recent))
    return table


@usecase("intake.begin", power=Power.KEEP, subject="room")
def begin_intake(*, room: str, delivered_by: str, actor: Actor, at: datetime) -> str:
    """Open an intake: who brings containers to which room; returns its number."""
    of = the(rooms_of(actor), room, "strong room")
    if not delivered_by.strip():
        raise Mistaken(delivered_by="Name the person who delivers.")
    if len(delivered_by.strip()) > 160:
        raise Mistaken(delivered_by="Shorten this to 160 characters.")
    intake = enter(
        Intake(
            room=of,
            received_on=legal_date(None, at),
            delivered_by=delivered_by.strip(),
            received_by_id=actor.person_id,
        )
    )
    return intake.number


def intake_of(actor: Actor, number: str) -> Intake:
    """Return the intake of this number, if the actor has charge of its room."""
    rows = Intake.objects.filter(room__in=rooms_of(actor))
    return the(rows.select_related("room", "received_by"), number, "intake")


@usecase("intake.look", power=Power.KEEP, subject="intake")
def look_at_intake(*, intake: str, actor: Actor, at: datetime) -> IntakeFile:
    """Show an intake: what came in with it, and what became of the last container."""
    file = intake_file(intake_of(actor, intake), legal_date(None, at))
    note_access(file.number, shown=[row.number for row in file.rows])
    return file


@usecase("intake.log", power=Power.KEEP)
def log_container(
    *,
    arrival: Arrival,
    election: str,
    room: str,
    contest: str = "",
    box: str = "",
    intake: str = "",
    happened: Happened | None = None,
    actor: Actor,
    at: datetime,
) -> Logged:
    """Log one sealed envelope or box as it stands on the table.

    Args:
        arrival: what is written on it and its seals.
        election: number of the election being taken in.
        room: number of the strong room that receives it.
        contest: number of the contest being taken in, if only one is.
        box: number of an open box into which an envelope is put at once; where it
            does not belong there, it is logged all the same and stays on the table.
        intake: number of the intake it came with, for the receipt.
        happened: where it was taken down on a paper form and is entered later.

    Returns:
        What became of it; with any problem it stands in quarantine.

    Raises:
        Mistaken: a date lies in the future, a writing is longer than the register
            takes, or nothing at all was entered.
    """
    of = the(elections_of(actor), election, "election")
    into = the(rooms_of(actor), room, "strong room")
    hint = the(contests_of(actor), contest, "contest") if contest else None
    came_with = intake_of(actor, intake) if intake else None
    boxes = boxes_of(actor).select_for_update()
    # Locked, so that nobody closes it between this look and the putting in.
    named_box = the(boxes, box, "box") if box else None
    _refuse_the_impossible(arrival, of, at)
    lock_intake()
    received_at = moment(happened, into, actor=actor, at=at)
    received = Received(into, received_at, came_with)
    container, problems, match = take_in(
        arrival, of, received, hint, actor=actor, at=at
    )
    note_use(happened, "intake.log", container.number, actor=actor, at=at)
    not_boxed: tuple[str, ...] = ()
    if named_box and isinstance(container, Envelope):
        not_boxed = put_at_once(container, named_box, actor, at, received_at)
    note_access(container.number, quarantined=bool(problems))
    return Logged(
        number=container.number,
        noun=arrival.noun,
        quarantined=bool(problems),
        problems=tuple(problem.detail for problem in problems),
        recognised_as=name_of(match),
        box=named_box.number if named_box and not not_boxed else "",
        not_boxed=not_boxed,
    )


def _refuse_the_impossible(arrival: Arrival, election: Election, at: datetime) -> None:
    today = legal_date(election, at)
    if arrival.received_on > today:
        raise Mistaken(received_on="The day of receipt has not come yet.")
    if arrival.sealed_on and arrival.sealed_on > arrival.received_on:
        raise Mistaken(sealed_on="It was sealed before it was received, not after.")
    empty = not (arrival.written or arrival.unreadable or arrival.seals)
    if empty and not (arrival.label or arrival.description or arrival.remarks):
        raise Mistaken(
            written="Enter at least one marking, a seal or a remark; if nothing is "
            "written on it, say so in the remarks."
        )
    excess = too_long(arrival)
    if excess:
        raise Mistaken({name: [message] for name, message in excess.items()})
