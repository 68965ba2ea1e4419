"""Intake in bulk: a list of sealed containers that arrived, from a CSV or XLSX file.

Each line is one box or one envelope as it stands. A line is refused only where it
cannot be recorded at all; whatever is wrong with the container itself is recorded and
puts it into quarantine, as at the intake table.
"""

import hashlib
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime
from decimal import Decimal, InvalidOperation

from registry.models import (
    Box,
    ContainerState,
    Election,
    Envelope,
    Intake,
    StrongRoom,
    Whereabouts,
)
from registry.queries.expected import ExpectedContainers, Match
from registry.queries.find import the
from registry.queries.keeping import legal_date
from registry.queries.scope import elections_of, rooms_of
from registry.rules.arrivals import (
    Arrival,
    DiscrepancyKind,
    Problem,
    SealEntry,
    SealKind,
)
from registry.rules.markings import (
    Marking,
    plain_name,
    plain_station,
    read_date,
    station_set,
)
from registry.rules.powers import Actor, Power
from registry.rules.schedules import ContentKind
from registry.usecases._door import Mistaken, Refused, note_access, usecase
from registry.usecases._records import enter, enter_many
from registry.usecases._tables import Line, UnusableTable, read_table
from registry.usecases.intake import (
    TakenMarks,
    assess,
    enter_arrivals,
    enter_problems,
    enter_seals,
    lock_intake,
    mark_the_other,
)
from registry.usecases.stations import RefusedLine

COLUMNS: dict[str, tuple[str, ...]] = {
    "container": ("type", "noun", "container type"),
    "content": ("kind", "content class", "contents", "class"),
    "election": ("election name", "name of election"),
    "constituency_number": ("constituency no", "constituency", "const no"),
    "constituency_name": ("name of constituency",),
    "station_number": ("station no", "polling station number", "ps no", "stations"),
    "station_name": ("polling station name", "polling station", "ps name"),
    "control_unit": ("control unit serial", "cu serial", "cu no", "cu"),
    "paper_trail_unit": ("paper trail unit serial", "paper trail serial", "printer"),
    "poll_date": ("date of poll", "polled on"),
    "counting_date": ("date of counting", "counted on"),
    "unreadable": ("unreadable markings",),
    "sealed_on": ("date of sealing", "sealed"),
    "received_on": ("date of receipt", "received"),
    "slips": ("slip count", "number of slips"),
    "self_test_reports": ("self test count", "self tests"),
    "seal_kind": ("type of seal",),
    "seal_maker": ("seal owner", "die"),
    "seal_number": ("seal serial", "seal no", "seal"),
    "seal_signed": ("signed",),
    "box": ("box label", "box no", "box number", "label"),
    "weight_kg": ("gross weight", "weight"),
    "description": ("packet", "packet title"),
    "remarks": ("note",),
}
REQUIRED = ("content",)
# What tells a list of containers from a list of polling stations.
TELLS_CONTAINERS = {"content", "kind", "contentclass", "contents", "container"}

_KINDS = {
    **{plain_name(kind.value.replace("-", " ")): kind for kind in ContentKind},
    **{plain_name(kind.value): kind for kind in ContentKind},
    "poll": ContentKind.POLL_SLIPS,
    "mock poll slips": ContentKind.MOCK_POLL_SLIPS,
    "mock poll": ContentKind.MOCK_POLL_SLIPS,
    "statutory packets": ContentKind.STATUTORY_PACKET,
    "packet": ContentKind.STATUTORY_PACKET,
}
_SEALS = {
    "": None,
    "wax": SealKind.WAX,
    "wax seal": SealKind.WAX,
    "paper": SealKind.PAPER,
    "paper seal": SealKind.PAPER,
    "numbered paper seal": SealKind.PAPER,
    "strap": SealKind.STRAP,
    "cable": SealKind.STRAP,
}
_SIGNED = {"yes": True, "y": True, "signed": True, "1": True, "true": True,
           "no": False, "n": False, "unsigned": False, "0": False, "false": False,
           "": None, "not seen": None}  # fmt: skip
_MARKING_COLUMNS = {
    Marking(m): "election" if m is Marking.ELECTION else m.value.replace("-", "_")
    for m in Marking
}


@dataclass(frozen=True)
class IntakeRead:
    """What a list of containers brings, and which of its lines cannot be taken."""

    accepted: int
    refused: tuple[RefusedLine, ...]
    quarantined: int
    problems: tuple[tuple[int, tuple[str, ...]], ...]
    columns: tuple[str, ...]
    read_as: str
    unknown_columns: tuple[str, ...] = ()
    intake: str = ""
    numbers: tuple[str, ...] = ()


@dataclass
class _Batch:
    """The lines that can be taken, with what they become."""

    lines: list[Line] = field(default_factory=list)
    arrivals: list[Arrival] = field(default_factory=list)
    containers: list[Box | Envelope] = field(default_factory=list)
    problems: list[tuple[Problem, ...]] = field(default_factory=list)
    labels: list[str] = field(default_factory=list)


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
    """Say what a list of containers would bring, without taking it."""
    read, _ = _read(content, file_name, room, election, actor, at)
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
    lock_intake()
    read, batch = _read(content, file_name, room, election, actor, at)
    digest = hashlib.sha256(content).hexdigest()
    before = Intake.objects.filter(file_digest=digest).first()
    if before:
        raise Refused(
            f"This very file was taken on {before.received_on:%-d %B %Y} as "
            f"{before.number}. Nothing was entered a second time."
        )
    if not batch.containers:
        return read
    into = batch.containers[0].room
    intake = enter(
        Intake(
            room=into,
            received_on=legal_date(None, at),
            delivered_by=delivered_by.strip(),
            received_by_id=actor.person_id,
            file_name=file_name[:200],
            file_digest=digest,
            containers=len(batch.containers),
        )
    )
    _enter(batch, intake, actor, at)
    note_access(intake.number, file=file_name, accepted=read.accepted)
    numbers = tuple(container.number for container in batch.containers)
    return IntakeRead(
        **{**vars(read), "intake": intake.number, "numbers": numbers}  # type: ignore[arg-type]
    )


def _enter(batch: _Batch, intake: Intake, actor: Actor, at: datetime) -> None:
    for container in batch.containers:
        container.intake = intake
    boxes = [c for c in batch.containers if isinstance(c, Box)]
    enter_many(boxes)
    by_label = {_box_key(box, box.label): box for box in boxes if box.label}
    for container, label in zip(batch.containers, batch.labels, strict=True):
        if isinstance(container, Envelope) and label:
            _lay_into(container, by_label.get(_box_key(container, label)))
    enter_many([c for c in batch.containers if isinstance(c, Envelope)])
    enter_seals(list(zip(batch.containers, batch.arrivals, strict=True)), actor, at)
    found = list(zip(batch.containers, _numbered(batch), strict=True))
    enter_problems(found, at)
    for _, problems in found:
        mark_the_other(problems, at)
    enter_arrivals(batch.containers, actor, at, intake)


def _numbered(batch: _Batch) -> list[tuple[Problem, ...]]:
    """Name the other bearer of a number by its register number, not by its line."""
    number_of = {
        _name_of_line(line): container.number
        for line, container in zip(batch.lines, batch.containers, strict=True)
    }
    return [
        tuple(
            replace(
                problem,
                other=number_of.get(problem.other, problem.other),
                detail=problem.detail.replace(
                    problem.other, number_of.get(problem.other, problem.other)
                ),
            )
            if problem.other
            else problem
            for problem in problems
        )
        for problems in batch.problems
    ]


def _name_of_line(line: Line) -> str:
    return f"line {line.number} of this file"


def _box_key(container: Box | Envelope, label: str) -> tuple[int | None, str, str]:
    return container.contest_id, container.kind, plain_name(label)


def _lay_into(envelope: Envelope, box: Box | None) -> None:
    """Lay an envelope into the box it arrived in; quarantine is set apart."""
    if box is None or envelope.state != ContainerState.HELD:
        return
    envelope.box = box
    envelope.whereabouts = Whereabouts.IN_BOX


def _read(
    content: bytes,
    file_name: str,
    room: str,
    election: str,
    actor: Actor,
    at: datetime,
) -> tuple[IntakeRead, _Batch]:
    try:
        table = read_table(content, file_name, COLUMNS, REQUIRED)
    except UnusableTable as error:
        raise Mistaken(file=str(error)) from error
    into = _room(room, actor)
    refused: dict[int, list[str]] = defaultdict(list)
    batch = _Batch()
    by_election: dict[Election, list[tuple[Line, Arrival]]] = defaultdict(list)
    elections = _Elections(actor, election)
    seen: dict[tuple[tuple[str, str], ...], int] = {}
    for line in table.lines:
        reasons = refused[line.number]
        same = tuple(sorted(line.cells.items()))
        if same in seen:
            reasons.append(
                f"It repeats line {seen[same]}; a container is entered once."
            )
            continue
        seen[same] = line.number
        of = elections.of(line, reasons)
        arrival = _arrival(line, legal_date(of, at), reasons)
        if of and arrival and not reasons:
            by_election[of].append((line, arrival))
    for of, pairs in by_election.items():
        _assess(of, pairs, into, batch, refused)
    _join_boxes(batch, refused)
    problems = tuple(
        (line.number, tuple(p.detail for p in found))
        for line, found in zip(batch.lines, batch.problems, strict=True)
        if found
    )
    read = IntakeRead(
        accepted=len(batch.containers),
        refused=tuple(
            RefusedLine(line.number, tuple(refused[line.number]), dict(line.cells))
            for line in table.lines
            if refused[line.number]
        ),
        quarantined=len(problems),
        problems=problems,
        columns=table.columns,
        read_as=table.read_as,
        unknown_columns=table.unknown_columns,
    )
    return read, batch


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


def _arrival(line: Line, today: date, reasons: list[str]) -> Arrival | None:
    if "" in line.cells:
        reasons.append("It has more cells than the first line has columns.")
        return None
    kind = _KINDS.get(plain_name(line["content"].replace("-", " ")))
    if kind is None:
        reasons.append(
            f"Its content “{line['content']}” is none of poll slips, mock-poll slips, "
            "statutory packet."
        )
    noun = line["container"].casefold() or "envelope"
    if noun not in ("envelope", "box"):
        reasons.append(f"A container is an envelope or a box, not “{noun}”.")
    received = _day(line, "received_on", reasons) or today
    sealed = _day(line, "sealed_on", reasons)
    if received > today:
        reasons.append(f"The day of receipt {received.isoformat()} has not come yet.")
    if sealed and sealed > received:
        reasons.append("It is said to be sealed after it was received.")
    written = {m: line[c] for m, c in _MARKING_COLUMNS.items() if line[c]}
    if not written and not line["seal_number"]:
        reasons.append("Nothing that is written on the container stands here.")
    seals = _seals(line, reasons)
    slips = _count(line, "slips", reasons)
    tests = _count(line, "self_test_reports", reasons)
    weight = _weight(line, reasons)
    unreadable = _unreadable(line, reasons)
    if reasons or kind is None:
        return None
    return Arrival(
        noun=noun,
        kind=kind,
        received_on=received,
        sealed_on=sealed,
        written=written,
        unreadable=unreadable,
        seals=seals,
        slip_count=slips,
        self_test_count=tests,
        description=line["description"],
        remarks=line["remarks"],
        label=line["box"] if noun == "box" else "",
        gross_weight_kg=weight,
    )


def _day(line: Line, column: str, reasons: list[str]) -> date | None:
    if not line[column]:
        return None
    day = read_date(line[column])
    if day is None:
        reasons.append(f"The date {line[column]} ({column}) cannot be read.")
    return day


def _count(line: Line, column: str, reasons: list[str]) -> int | None:
    text = line[column]
    if not text:
        return None
    if not (text.isascii() and text.isdigit()) or len(text) > 7:
        reasons.append(f"{text} ({column}) is not a count.")
        return None
    return int(text)


def _weight(line: Line, reasons: list[str]) -> Decimal | None:
    text = line["weight_kg"].replace(",", ".")
    if not text:
        return None
    try:
        weight = Decimal(text)
    except InvalidOperation:
        weight = Decimal(-1)
    if not weight.is_finite() or not 0 < weight < 1000:
        reasons.append(f"{line['weight_kg']} is not a weight in kilograms.")
        return None
    return weight.quantize(Decimal("0.01"))


def _seals(line: Line, reasons: list[str]) -> tuple[SealEntry, ...]:
    """Read the seals of a line; several numbers stand apart by a semicolon."""
    kind_text = plain_name(line["seal_kind"])
    if kind_text not in _SEALS:
        reasons.append(f"“{line['seal_kind']}” is no kind of seal: wax, paper, strap.")
        return ()
    if line["seal_signed"].casefold() not in _SIGNED:
        reasons.append(f"“Signed” must be yes or no, not {line['seal_signed']}.")
        return ()
    kind = _SEALS[kind_text]
    serials = [part.strip() for part in line["seal_number"].split(";") if part.strip()]
    if kind is None and not serials:
        return ()
    if kind is None:
        kind = SealKind.PAPER if line["container"].casefold() == "box" else SealKind.WAX
    if kind is not SealKind.WAX and not serials:
        reasons.append(f"A {kind} seal has a number; it is missing.")
        return ()
    signed = _SIGNED[line["seal_signed"].casefold()]
    return tuple(
        SealEntry(kind, line["seal_maker"], serial, signed)
        for serial in serials or [""]
    )


def _unreadable(line: Line, reasons: list[str]) -> frozenset[Marking]:
    names = [p.strip() for p in line["unreadable"].replace(";", ",").split(",")]
    found = set()
    for name in filter(None, names):
        try:
            found.add(Marking(name.casefold().replace(" ", "-").replace("_", "-")))
        except ValueError:
            reasons.append(f"“{name}” is no marking.")
    return frozenset(found)


def _assess(
    election: Election,
    pairs: Sequence[tuple[Line, Arrival]],
    room: StrongRoom,
    batch: _Batch,
    refused: Mapping[int, list[str]],
) -> None:
    arrivals = [arrival for _, arrival in pairs]
    recognised = ExpectedContainers(election, arrivals)
    taken = TakenMarks.for_arrivals(arrivals)
    live = _LiveUnits(election)
    for line, arrival in pairs:
        match = recognised.match(arrival)
        known = live.bearing(match, arrival)
        again = _entered_before(arrival, known, taken)
        if again:
            refused[line.number].append(
                f"It is in the register already, as {again}, with the same writing."
            )
            continue
        container, problems, match = assess(
            arrival, recognised, taken, room, live_envelopes=known
        )
        if arrival.noun == "envelope" and not problems:
            live.add(match, arrival, _name_of_line(line))
        for seal in arrival.seals:
            if seal.identity:
                taken.seals.setdefault(seal.identity, _name_of_line(line))
        batch.lines.append(line)
        batch.arrivals.append(arrival)
        batch.containers.append(container)
        batch.problems.append(problems)
        batch.labels.append(line["box"])


def _entered_before(
    arrival: Arrival, bearers: Sequence[str], taken: TakenMarks
) -> str | None:
    """Return the live container that is this very one: a list was loaded again.

    Two containers may bear the same serial; two that agree in every writing, seal
    and count are one.
    """
    on_seals = {taken.seals.get(seal.identity) for seal in arrival.seals}  # type: ignore[arg-type]
    rows = Box if arrival.noun == "box" else Envelope
    for number in sorted({n for n in (*bearers, *on_seals) if n}):
        known = rows.objects.numbered(number).prefetch_related("seals").first()
        if (
            known
            and known.written == dict(arrival.written)
            and known.sealed_on == arrival.sealed_on
            and getattr(known, "label", "") == arrival.label
            and getattr(known, "slip_count", None) == arrival.slip_count
            and sorted(seal.serial for seal in known.seals.all())
            == sorted(seal.serial for seal in arrival.seals)
        ):
            return number
    return None


class _LiveUnits:
    """Which units already have a live envelope of a kind, in the register or file."""

    def __init__(self, election: Election) -> None:
        self._bearers: dict[tuple[str, str, object], str] = {}
        rows = Envelope.objects.filter(
            election=election, state=ContainerState.HELD, unit_set__isnull=False
        ).values_list(
            "kind", "unit_set_id", "control_unit", "paper_trail_unit",
            "control_unit_kept", "paper_trail_kept", "number",
        )  # fmt: skip
        for kind, units, control, paper, kept, paper_kept, number in rows.iterator():
            self._put(kind, units, control, paper, kept, paper_kept, number)

    def _put(
        self,
        kind: str,
        units: int,
        control: str,
        paper: str,
        control_kept: bool,
        paper_kept: bool,
        number: str,
    ) -> None:
        if kind == ContentKind.STATUTORY_PACKET.value:
            return
        self._bearers[kind, "set", units] = number
        if not control_kept:
            self._bearers[kind, "control", control] = number
        if not paper_kept:
            self._bearers[kind, "paper", paper] = number

    def add(self, match: Match, arrival: Arrival, number: str) -> None:
        """Count an envelope of this file as live."""
        units = match.unit_set
        if units:
            self._put(
                arrival.kind.value,
                units.pk,
                units.control_unit_plain,
                units.paper_trail_plain,
                units.control_unit_kept,
                units.paper_trail_kept,
                number,
            )

    def bearing(self, match: Match, arrival: Arrival) -> list[str]:
        """Return which live envelopes stand for the same units."""
        units = match.unit_set
        if units is None or arrival.noun != "envelope":
            return []
        kind = arrival.kind.value
        keys: list[tuple[str, str, object]] = [(kind, "set", units.pk)]
        if not units.control_unit_kept:
            keys.append((kind, "control", units.control_unit_plain))
        if not units.paper_trail_kept:
            keys.append((kind, "paper", units.paper_trail_plain))
        return sorted({self._bearers[key] for key in keys if key in self._bearers})


def _join_boxes(batch: _Batch, refused: Mapping[int, list[str]]) -> None:
    """Refuse envelopes whose box is not in the list: it would need to be opened."""
    boxes = {
        _box_key(c, c.label) for c in batch.containers if isinstance(c, Box) and c.label
    }
    keep = []
    for index, container in enumerate(batch.containers):
        label = batch.labels[index]
        fine = (
            isinstance(container, Box)
            or not label
            or container.state != ContainerState.HELD
            or _box_key(container, label) in boxes
        )
        if not fine:
            refused[batch.lines[index].number].append(
                f"Box {label} of this constituency and content is not in this list. "
                "Add its line, or leave the box empty and put the envelope into an "
                "open box afterwards."
            )
        keep.append(fine)
    if not all(keep):
        for name in ("lines", "arrivals", "containers", "problems", "labels"):
            values = getattr(batch, name)
            setattr(batch, name, [v for v, k in zip(values, keep, strict=True) if k])
    _compare_station_lists(batch)


def _compare_station_lists(batch: _Batch) -> None:
    """Compare the stations a box names with those whose envelopes lie in it."""

    held: dict[tuple[int | None, str, str], set[str]] = defaultdict(set)
    for container, label in zip(batch.containers, batch.labels, strict=True):
        if isinstance(container, Envelope) and container.station and label:
            held[_box_key(container, label)].add(
                plain_station(container.station.station_number)
            )
    for index, container in enumerate(batch.containers):
        if not isinstance(container, Box) or not container.written_station_number:
            continue
        inside = held.get(_box_key(container, container.label), set())
        named = station_set(container.written_station_number)
        if inside and named != inside:
            batch.problems[index] = (
                *batch.problems[index],
                Problem(
                    DiscrepancyKind.MARKING_DIFFERS,
                    marking=Marking.STATION_NUMBER.value,
                    written=container.written_station_number,
                    expected=", ".join(sorted(inside, key=lambda n: (len(n), n))),
                    detail="The stations written on the box are not those whose "
                    "envelopes lie in it.",
                ),
            )
            container.state = ContainerState.QUARANTINED
