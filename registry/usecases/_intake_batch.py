"""The lines of a list that can be taken, with what they become, and which cannot."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime

from registry.models import Box, ContainerState, Election, Envelope, StrongRoom
from registry.queries.expected import ExpectedContainers, expected_stations_text
from registry.queries.keeping import legal_date
from registry.queries.scope import elections_of
from registry.rules.arrivals import Arrival, DiscrepancyKind, Problem
from registry.rules.markings import Marking, plain_name, plain_station, station_set
from registry.rules.powers import Actor
from registry.usecases._arrivals import assess
from registry.usecases._door import Mistaken
from registry.usecases._intake_known import EnteredBefore, LiveUnits
from registry.usecases._intake_lines import arrival_of
from registry.usecases._recording import TakenMarks
from registry.usecases._tables import Line, TableFile

_BoxKey = tuple[object, str, str]


@dataclass
class Batch:
    """The lines that can be taken, with what they become; the others, with reasons.

    Attributes:
        refused: the reasons, by line.
        again: the refused lines whose container is entered, or stands here, already.
    """

    lines: list[Line] = field(default_factory=list)
    arrivals: list[Arrival] = field(default_factory=list)
    containers: list[Box | Envelope] = field(default_factory=list)
    problems: list[tuple[Problem, ...]] = field(default_factory=list)
    refused: dict[int, list[str]] = field(default_factory=lambda: defaultdict(list))
    again: set[int] = field(default_factory=set)

    def add(
        self,
        line: Line,
        arrival: Arrival,
        container: Box | Envelope,
        problems: tuple[Problem, ...],
    ) -> None:
        """Take up a line that can be recorded."""
        self.lines.append(line)
        self.arrivals.append(arrival)
        self.containers.append(container)
        self.problems.append(problems)

    def boxes(self) -> dict[_BoxKey, Box]:
        """Return the boxes of the list, by each name under which a line may mean it."""
        named: dict[_BoxKey, Box] = {}
        for line, container in zip(self.lines, self.containers, strict=True):
            if isinstance(container, Box) and container.label:
                named[_as_written(line)] = container
        for container in self.containers:
            if isinstance(container, Box) and container.label and container.contest_id:
                named[_as_recognised(container, container.label)] = container
        return named

    def lying_in(self) -> list[tuple[Envelope, Box]]:
        """Return the envelopes of the list that arrived in a box of it."""
        boxes = self.boxes()
        return [
            (container, box)
            for line, container in zip(self.lines, self.containers, strict=True)
            if isinstance(container, Envelope)
            and (box := _box_of(line, container, boxes))
        ]

    def keep_only(self, kept: Sequence[bool]) -> None:
        """Leave out the lines that turn out to be refused."""
        for name in ("lines", "arrivals", "containers", "problems"):
            values = getattr(self, name)
            setattr(self, name, [v for v, k in zip(values, kept, strict=True) if k])


def read_batch(
    table: TableFile, room: StrongRoom, election: str, actor: Actor, at: datetime
) -> Batch:
    """Read the lines of a list into what they become, without entering anything.

    Args:
        election: code or number; what each line says if empty.

    Raises:
        Mistaken: there is no such election.
    """
    batch = Batch()
    by_election: dict[Election, list[tuple[Line, Arrival]]] = defaultdict(list)
    elections = _Elections(actor, election)
    seen: dict[tuple[tuple[str, str], ...], int] = {}
    for line in table.lines:
        reasons = batch.refused[line.number]
        same = tuple(sorted(line.cells.items()))
        if same in seen:
            reasons.append(
                f"It repeats line {seen[same]}; a container is entered once."
            )
            batch.again.add(line.number)
            continue
        seen[same] = line.number
        of = elections.of(line, reasons)
        arrival = arrival_of(line, legal_date(of, at), reasons)
        if of and arrival and not reasons:
            by_election[of].append((line, arrival))
    for of, pairs in by_election.items():
        _assess(of, pairs, room, batch)
    _take_boxes_whole(table, batch)
    _compare_station_lists(batch)
    return batch


class _Elections:
    """The election of each line: the one named for all, or what the line says."""

    def __init__(self, actor: Actor, named: str) -> None:
        self.all = list(elections_of(actor).select_related("schedule", "calendar"))
        self.fixed = None
        if named:
            fits = [e for e in self.all if named in (e.code, e.number)]
            if not fits:
                raise Mistaken(election=f"There is no election {named}.")
            self.fixed = fits[0]
        elif len(self.all) == 1:
            self.fixed = self.all[0]

    def of(self, line: Line, reasons: list[str]) -> Election | None:
        if self.fixed:
            return self.fixed
        written = plain_name(line["election"])
        for election in self.all:
            if written in (plain_name(election.name), plain_name(election.code)):
                return election
        reasons.append(
            f"No election is called “{line['election']}”. Name the election for the "
            "whole file, and the writing is recorded as it stands."
        )
        return None


def _assess(
    election: Election,
    pairs: Sequence[tuple[Line, Arrival]],
    room: StrongRoom,
    batch: Batch,
) -> None:
    arrivals = [arrival for _, arrival in pairs]
    recognised = ExpectedContainers(election, arrivals)
    taken = TakenMarks.for_arrivals(arrivals)
    live = LiveUnits(election)
    before = EnteredBefore(election, arrivals)
    for line, arrival in pairs:
        again = before.number_of(arrival)
        if again:
            batch.refused[line.number].append(
                f"It is in the register already, as {again}, with the same writing."
            )
            batch.again.add(line.number)
            continue
        match = recognised.match(arrival)
        container, problems, match = assess(
            arrival,
            recognised,
            taken,
            room,
            live_envelopes=live.bearing(match, arrival),
        )
        live.add(match, arrival, line.name)
        for seal in arrival.seals:
            if seal.identity:
                taken.seals.setdefault(seal.identity, line.name)
        batch.add(line, arrival, container, problems)


def _as_recognised(container: Box | Envelope, label: str) -> _BoxKey:
    return container.contest_id, container.kind, plain_name(label)


def _as_written(line: Line) -> _BoxKey:
    constituency = plain_station(line["constituency_number"]) or plain_name(
        line["constituency_name"]
    )
    content = plain_name(line["content"].replace("-", " "))
    return constituency, content, plain_name(line["box"])


def _box_of(
    line: Line, container: Box | Envelope, boxes: dict[_BoxKey, Box]
) -> Box | None:
    if isinstance(container, Box) or not line["box"]:
        return None
    by_recognition = boxes.get(_as_recognised(container, line["box"]))
    return by_recognition or boxes.get(_as_written(line))


def _take_boxes_whole(table: TableFile, batch: Batch) -> None:
    """Refuse envelopes whose box is not in the list, and boxes that are not whole.

    A sealed box is entered with all that lies in it, or not at all: what is left out
    could be put in only by opening it.
    """
    broken = {
        _as_written(line): line.number
        for line in table.lines
        if line["box"] and batch.refused[line.number] and line.number not in batch.again
    }
    boxes = batch.boxes()
    kept = []
    for line, container in zip(batch.lines, batch.containers, strict=True):
        reasons = batch.refused[line.number]
        if line["box"] and _as_written(line) in broken:
            reasons.append(
                f"Line {broken[_as_written(line)]}, of the same box, cannot be "
                "recorded. A box is entered with all that lies in it: mend that line "
                "and hand these lines in again together."
            )
        elif _lacks_its_box(line, container, boxes):
            reasons.append(
                f"Box {line['box']} of this constituency and content is not in this "
                "list. Add its line, or leave the box empty and put the envelope "
                "into an open box afterwards."
            )
        kept.append(not reasons)
    batch.keep_only(kept)


def _lacks_its_box(
    line: Line, container: Box | Envelope, boxes: dict[_BoxKey, Box]
) -> bool:
    needs = isinstance(container, Envelope) and bool(line["box"])
    return needs and _box_of(line, container, boxes) is None


def _compare_station_lists(batch: Batch) -> None:
    """Compare the stations a box names with those whose envelopes lie in it."""
    boxes = batch.boxes()
    held: dict[int, set[str]] = defaultdict(set)
    for line, container in zip(batch.lines, batch.containers, strict=True):
        box = _box_of(line, container, boxes)
        if box and isinstance(container, Envelope) and container.station:
            held[id(box)].add(plain_station(container.station.station_number))
    for index, container in enumerate(batch.containers):
        if not isinstance(container, Box) or not container.written_station_number:
            continue
        inside = frozenset(held.get(id(container), ()))
        if not inside or station_set(container.written_station_number) == inside:
            continue
        problem = Problem(
            DiscrepancyKind.MARKING_DIFFERS,
            marking=Marking.STATION_NUMBER.value,
            written=container.written_station_number,
            expected=expected_stations_text("", inside),
            detail="The stations written on the box are not those whose envelopes "
            "lie in it.",
        )
        batch.problems[index] = (*batch.problems[index], problem)
        container.state = ContainerState.QUARANTINED
