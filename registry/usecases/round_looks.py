"""Looking at rounds: the list, one round, one shelf of it, and its printed sheet."""

from dataclasses import dataclass
from datetime import date, datetime

from registry.documents.round_sheets import (
    RoundSheet,
    SheetLine,
    SheetShelf,
    round_sheet_pdf,
)
from registry.models import InspectionRound, SealFinding, StrongRoom
from registry.queries.desk_day import day_at_desk
from registry.queries.find import the
from registry.queries.keeping import legal_zone
from registry.queries.round_dues import round_due, round_rules_of
from registry.queries.rounds import (
    TABLE,
    ShelfToWalk,
    Walk,
    rounds_of,
    walk_of,
)
from registry.queries.scope import elections_of, rooms_of
from registry.queries.timeline import TimelineEntry, timeline_of
from registry.rules.powers import Actor, Power
from registry.usecases._door import Refused, note_access, usecase
from registry.usecases.papers import Printed

__all__ = [
    "FINDINGS",
    "TABLE",
    "RoundFile",
    "ShelfFile",
    "ShelfToWalk",
    "list_rounds",
    "look_at_round",
    "look_at_shelf",
    "look_before_round",
    "print_round_sheet",
]

# Whether the number read is the recorded one is the register's to say.
FINDINGS = (
    (SealFinding.MATCHES.value, "intact, number read"),
    *(
        (one.value, one.label)
        for one in SealFinding
        if one not in (SealFinding.MATCHES, SealFinding.DIFFERS)
    ),
)


@dataclass(frozen=True)
class RoundRow:
    """A round in a list."""

    number: str
    room: str
    room_number: str
    state: str
    is_walked: bool
    contested_only: bool
    on_paper: bool
    walked_from: datetime
    walked_by: str
    witness: str
    ended_at: datetime | None
    sightings: int
    out_of_order: int
    remarks: str


@dataclass(frozen=True)
class RoomRounds:
    """A room with its next round.

    Attributes:
        running: number of the round that is being walked; empty where none is.
        due_on: None where nothing stands in it.
    """

    number: str
    name: str
    due_on: date | None
    contested_only: bool
    is_overdue: bool
    clause: str
    every_days: int
    contested_every_days: int
    running: str


@dataclass(frozen=True)
class RoundList:
    """The rooms with their next rounds, and the rounds that were walked."""

    rooms: tuple[RoomRounds, ...]
    rounds: tuple[RoundRow, ...]


@dataclass(frozen=True)
class RoundFile:
    """Everything that a round's page shows."""

    row: RoundRow
    walk: Walk
    timeline: tuple[TimelineEntry, ...]


@dataclass(frozen=True)
class ShelfFile:
    """One shelf of a round, and where the walk goes on.

    Attributes:
        next: number and name of the next shelf on which something is left to see.
    """

    row: RoundRow
    shelf: ShelfToWalk
    seen: int
    total: int
    next: tuple[str, str] | None


@usecase("round.list", power=Power.LOOK)
def list_rounds(*, actor: Actor, at: datetime) -> RoundList:
    """List the rounds of the actor's rooms, newest first, and what is due."""
    on = day_at_desk(actor, at)
    rooms = tuple(_room(room, actor, on) for room in rooms_of(actor).order_by("id"))
    rows = rounds_of(actor).select_related("room", "begun_by")
    note_access(shown=[room.number for room in rooms])
    newest = rows.prefetch_related("sightings").order_by("-id")[:50]
    return RoundList(rooms, tuple(_row(row) for row in newest))


def _room(room: StrongRoom, actor: Actor, on: date) -> RoomRounds:
    due, rules = round_due(room, actor, on), round_rules_of(room)
    running = room.rounds.filter(state=InspectionRound.State.WALKED).first()
    return RoomRounds(
        number=room.number,
        name=room.name,
        due_on=due.on if due else None,
        contested_only=bool(due and due.contested_only),
        is_overdue=bool(due and due.on < on),
        clause=rules.clause,
        every_days=rules.every_days,
        contested_every_days=rules.contested_every_days,
        running=running.number if running else "",
    )


def _row(row: InspectionRound) -> RoundRow:
    sightings = list(row.sightings.all())
    return RoundRow(
        number=row.number,
        room=str(row.room),
        room_number=row.room.number,
        state=row.get_state_display(),
        is_walked=row.state == InspectionRound.State.WALKED,
        contested_only=row.contested_only,
        on_paper=row.on_paper,
        walked_from=row.walked_from,
        walked_by=row.begun_by.name,
        witness=row.witness,
        ended_at=row.ended_at,
        sightings=len(sightings),
        out_of_order=sum(not each.in_order for each in sightings),
        remarks=row.remarks,
    )


@usecase("round.prepare", power=Power.KEEP)
def look_before_round(*, actor: Actor, at: datetime) -> tuple[RoomRounds, ...]:
    """Open the form that begins a round."""
    on = day_at_desk(actor, at)
    return tuple(_room(room, actor, on) for room in rooms_of(actor).order_by("id"))


def _the(number: str, actor: Actor) -> InspectionRound:
    rows = rounds_of(actor).select_related("room", "begun_by")
    return the(rows, number, "inspection round")


@usecase("round.look", power=Power.LOOK, subject="inspection")
def look_at_round(*, inspection: str, actor: Actor, at: datetime) -> RoundFile:
    """Open a round's page: every shelf, and how far it is walked."""
    of = _the(inspection, actor)
    walk = walk_of(of, actor, day_at_desk(actor, at))
    shown = [each.number for shelf in walk.shelves for each in shelf.containers]
    note_access(of.number, shown=shown)
    return RoundFile(_row(of), walk, tuple(timeline_of(of)))


@usecase("round.look_at_shelf", power=Power.LOOK, subject="inspection")
def look_at_shelf(
    *, inspection: str, shelf: str, actor: Actor, at: datetime
) -> ShelfFile:
    """Open one shelf of a round: what is to be seen on it, no seal number told."""
    of = _the(inspection, actor)
    shelves = walk_of(of, actor, day_at_desk(actor, at)).shelves
    place = next((i for i, s in enumerate(shelves) if s.number == shelf), None)
    if place is None:
        raise Refused("This shelf is not part of the round: go back to the round.")
    note_access(of.number, shown=[each.number for each in shelves[place].containers])
    onwards = [*shelves[place + 1 :], *shelves[:place]]
    following = next((s for s in onwards if s.left), None)
    return ShelfFile(
        row=_row(of),
        shelf=shelves[place],
        seen=sum(s.seen for s in shelves),
        total=sum(len(s.containers) for s in shelves),
        next=(following.number, following.name) if following else None,
    )


@usecase("round.print_sheet", power=Power.KEEP, subject="inspection")
def print_round_sheet(*, inspection: str, actor: Actor, at: datetime) -> Printed:
    """Print the sheet on which a round is walked without the network.

    It names each container and never the number on record of its seal.
    """
    of = _the(inspection, actor)
    walk = walk_of(of, actor, day_at_desk(actor, at))
    shelves = [shelf for shelf in walk.shelves if shelf.containers]
    if not shelves:
        raise Refused("Nothing is to be seen on this round: there is no sheet.")
    lines = [each for shelf in shelves for each in shelf.containers]
    note_access(of.number, shown=[each.number for each in lines])
    first = elections_of(actor).order_by("id").first()
    zone = legal_zone(first)
    sheet = RoundSheet(
        number=of.number,
        room=str(of.room),
        contested_only=of.contested_only,
        walked_by=of.begun_by.name,
        witness=of.witness,
        shelves=tuple(
            SheetShelf(
                shelf.number if shelf.number != TABLE else "",
                shelf.name,
                tuple(
                    SheetLine(
                        each.number, each.noun, each.title, each.label, each.weight,
                        each.seals,
                    )
                    for each in shelf.containers
                ),
            )
            for shelf in shelves
        ),
        findings=tuple(label for _, label in FINDINGS),
        made_at=at.astimezone(zone),
        made_by=actor.name,
    )  # fmt: skip
    return Printed(f"round-{of.number}.pdf", round_sheet_pdf(sheet))
