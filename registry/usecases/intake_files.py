"""Intake in bulk: a list of sealed containers that arrived, from a CSV or XLSX file.

Each line is one box or one envelope as it stands. A line is refused only where it
cannot be recorded at all; whatever is wrong with the container itself is recorded and
puts it into quarantine, as at the intake table. A box goes in whole: where the line of
an envelope in it is refused, so are the box and all that lies in it.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from registry.models import Box, Envelope, Intake, StrongRoom, Whereabouts
from registry.queries.find import the
from registry.queries.keeping import legal_date
from registry.queries.scope import rooms_of
from registry.rules.arrivals import Problem
from registry.rules.powers import Actor, Power
from registry.usecases._door import Mistaken, Refused, note_access, usecase
from registry.usecases._intake_batch import Batch, read_batch
from registry.usecases._intake_lines import COLUMNS, REQUIRED, TELLS_CONTAINERS
from registry.usecases._intake_lists import (
    digest_of,
    keep_list,
    keep_refused,
    kept_list,
    kept_refused,
    refused_csv,
)
from registry.usecases._recording import (
    enter_arrivals,
    enter_problems,
    enter_seals,
    lock_intake,
    mark_the_other,
)
from registry.usecases._records import enter, enter_many
from registry.usecases._tables import TableFile, UnusableTable, read_head, read_table
from registry.usecases.stations import RefusedLine, StationsRead

__all__ = [
    "IntakeRead",
    "check_intake_file",
    "read_refused_lines",
    "refused_stations",
    "take_intake_file",
    "take_kept_file",
    "tells_containers",
]


@dataclass(frozen=True)
class IntakeRead:
    """What a list of containers brings, and which of its lines cannot be taken.

    Attributes:
        problems: what will put a container into quarantine, by line.
        preview: the first lines as they were read.
        digest: by which the list is found again, for taking it after a check.
        refused_lines: the refused lines as CSV, to be mended and handed in again.
        taken_before: the intake with which this very file came in, if it did.
    """

    accepted: int
    refused: tuple[RefusedLine, ...]
    quarantined: int
    problems: tuple[tuple[int, tuple[str, ...]], ...]
    columns: tuple[str, ...]
    read_as: str
    unknown_columns: tuple[str, ...] = ()
    intake: str = ""
    numbers: tuple[str, ...] = ()
    preview: tuple[Mapping[str, str], ...] = ()
    file_name: str = ""
    digest: str = ""
    refused_lines: bytes = b""
    taken_before: str = ""


def tells_containers(content: bytes, file_name: str) -> bool:
    """Tell whether a file is a list of containers, not one of polling stations.

    Raises:
        Mistaken: the file is no readable table.
    """
    try:
        return bool(read_head(content, file_name) & TELLS_CONTAINERS)
    except UnusableTable as error:
        raise Mistaken(file=str(error)) from error


def refused_stations(read: StationsRead) -> bytes:
    """Return the refused lines of a station list as CSV, as those of containers."""
    names = dict.fromkeys(n for line in read.refused for n in line.cells if n)
    return refused_csv(names, read.refused)


@usecase("intake.check_file", power=Power.KEEP)
def check_intake_file(
    *,
    content: bytes,
    file_name: str,
    room: str = "",
    election: str = "",
    actor: Actor,
    at: datetime,
) -> IntakeRead:
    """Say what a list of containers would bring, without taking it.

    The list is kept for the person who handed it in, so that it can be taken without
    being handed in again.
    """
    read, _ = _read(content, file_name, room, election, actor, at)
    if actor.person_id:
        keep_list(content, file_name, actor)
        keep_refused(read.digest, _all_columns(read), read.refused, actor)
    note_access(file=file_name, accepted=read.accepted, refused=len(read.refused))
    return read


@usecase("intake.take_file", power=Power.KEEP)
def take_intake_file(
    *,
    content: bytes,
    file_name: str,
    room: str = "",
    election: str = "",
    delivered_by: str = "",
    actor: Actor,
    at: datetime,
) -> IntakeRead:
    """Take in the containers of a list; lines that cannot be recorded are returned.

    Args:
        content, file_name: the file.
        room: number of the receiving strong room; the actor's only one if empty.
        election: code or number; what each line says if empty.
        delivered_by: who brought them.

    Raises:
        Mistaken: the file is no readable table, or room or election are unclear.
        Refused: this very file was taken before.
    """
    return _take(content, file_name, room, election, delivered_by, actor, at)


@usecase("intake.take_file", power=Power.KEEP)
def take_kept_file(
    *,
    digest: str,
    room: str = "",
    election: str = "",
    delivered_by: str = "",
    actor: Actor,
    at: datetime,
) -> IntakeRead:
    """Take in a list that the same person handed in for a check.

    Raises:
        NotThere: no such list of this person was kept.
        Mistaken, Refused: as ``take_intake_file``.
    """
    content, file_name = kept_list(digest, actor)
    read = _take(content, file_name, room, election, delivered_by, actor, at)
    keep_refused(digest, _all_columns(read), read.refused, actor)
    return read


@usecase("intake.refused_lines", power=Power.KEEP)
def read_refused_lines(*, digest: str, actor: Actor, at: datetime) -> bytes:
    """Give out the refused lines of a list that this person handed in, as CSV."""
    note_access(list=digest[:16])
    return kept_refused(digest, actor)


def _take(
    content: bytes,
    file_name: str,
    room: str,
    election: str,
    delivered_by: str,
    actor: Actor,
    at: datetime,
) -> IntakeRead:
    lock_intake()
    before = _taken_before(content)
    if before:
        raise Refused(
            f"This very file was taken on {before.received_on:%-d %B %Y} as "
            f"{before.number}. Nothing was entered a second time."
        )
    read, batch = _read(content, file_name, room, election, actor, at)
    if not batch.containers:
        note_access(file=file_name, accepted=0, refused=len(read.refused))
        return read
    intake = enter(
        Intake(
            room=batch.containers[0].room,
            received_on=legal_date(None, at),
            delivered_by=delivered_by.strip()[:160],
            received_by_id=actor.person_id,
            file_name=file_name[:200],
            file_digest=read.digest,
            containers=len(batch.containers),
        )
    )
    _enter(batch, intake, actor, at)
    note_access(
        intake.number,
        file=file_name,
        accepted=read.accepted,
        refused=len(read.refused),
    )
    numbers = tuple(container.number for container in batch.containers)
    return replace(read, intake=intake.number, numbers=numbers)


def _taken_before(content: bytes) -> Intake | None:
    return Intake.objects.filter(file_digest=digest_of(content)).first()


def _enter(batch: Batch, intake: Intake, actor: Actor, at: datetime) -> None:
    for container in batch.containers:
        container.intake = intake
    enter_many([c for c in batch.containers if isinstance(c, Box)])
    for envelope, box in batch.lying_in():
        # In quarantine or not, it lies where it arrived: in its sealed box.
        envelope.box = box
        envelope.whereabouts = Whereabouts.IN_BOX
    enter_many([c for c in batch.containers if isinstance(c, Envelope)])
    enter_seals(list(zip(batch.containers, batch.arrivals, strict=True)), actor, at)
    found = list(zip(batch.containers, _numbered(batch), strict=True))
    enter_problems(found, at)
    for _, problems in found:
        mark_the_other(problems, at)
    enter_arrivals(batch.containers, actor, at, intake)


def _numbered(batch: Batch) -> list[tuple[Problem, ...]]:
    """Name the other bearer of a number by its register number, not by its line."""
    number_of = {
        line.name: container.number
        for line, container in zip(batch.lines, batch.containers, strict=True)
    }

    def named(problem: Problem) -> Problem:
        number = number_of.get(problem.other)
        if not number:
            return problem
        said = problem.detail.replace(problem.other, number)
        return replace(problem, other=number, detail=said)

    return [tuple(named(problem) for problem in found) for found in batch.problems]


def _read(
    content: bytes,
    file_name: str,
    room: str,
    election: str,
    actor: Actor,
    at: datetime,
) -> tuple[IntakeRead, Batch]:
    try:
        table = read_table(content, file_name, COLUMNS, REQUIRED)
    except UnusableTable as error:
        raise Mistaken(file=str(error)) from error
    into = _room(room, actor)
    batch = read_batch(table, into, election, actor, at)
    return _told(table, batch, content, file_name), batch


def _told(table: TableFile, batch: Batch, content: bytes, file_name: str) -> IntakeRead:
    problems = tuple(
        (line.number, tuple(p.detail for p in found))
        for line, found in zip(batch.lines, batch.problems, strict=True)
        if found
    )
    refused = tuple(
        RefusedLine(line.number, tuple(batch.refused[line.number]), dict(line.cells))
        for line in table.lines
        if batch.refused[line.number]
    )
    before = _taken_before(content)
    read = IntakeRead(
        accepted=len(batch.containers),
        refused=refused,
        quarantined=len(problems),
        problems=problems,
        columns=table.columns,
        read_as=table.read_as,
        unknown_columns=table.unknown_columns,
        preview=tuple(
            {name.removeprefix("?"): cell for name, cell in line.cells.items()}
            for line in table.lines[:5]
        ),
        file_name=file_name,
        digest=digest_of(content),
        taken_before=before.number if before else "",
    )
    return replace(read, refused_lines=refused_csv(_all_columns(read), refused))


def _all_columns(read: IntakeRead) -> Sequence[str]:
    return (*read.columns, *(f"?{name}" for name in read.unknown_columns))


def _room(room: str, actor: Actor) -> StrongRoom:
    if room:
        return the(rooms_of(actor), room, "strong room")
    rooms = list(rooms_of(actor)[:2])
    if len(rooms) != 1:
        raise Mistaken(
            room="Say which strong room receives the containers."
            if rooms
            else "There is no strong room that you have charge of."
        )
    return rooms[0]
