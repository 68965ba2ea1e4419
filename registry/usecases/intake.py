"""Intake: what arrives at the strong room is logged, whatever state it is in."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from registry.models import (
    Box,
    ContainerState,
    Contest,
    CustodyMovement,
    Discrepancy,
    Election,
    Envelope,
    Intake,
    NumberSeries,
    Seal,
    SealAct,
    SealEvent,
    StrongRoom,
    Whereabouts,
    written_field,
)
from registry.queries.expected import (
    ExpectedContainers,
    Match,
    live_seals,
    live_with_serial,
)
from registry.queries.find import the
from registry.queries.keeping import legal_date, schedule_of
from registry.queries.scope import boxes_of, contests_of, elections_of, rooms_of
from registry.rules.arrivals import (
    Arrival,
    Problem,
    SealEntry,
    problems_with,
)
from registry.rules.markings import Finding, Marking, compare
from registry.rules.numbers import plain_serial
from registry.rules.powers import Actor, Power
from registry.rules.schedules import ContentKind
from registry.usecases._door import Mistaken, Refused, note_access, usecase
from registry.usecases._records import enter, enter_many


@dataclass(frozen=True)
class Logged:
    """What became of an arrival."""

    number: str
    noun: str
    quarantined: bool
    problems: tuple[str, ...]
    recognised_as: str


@usecase("intake.begin", power=Power.KEEP, subject="room")
def begin_intake(*, room: str, delivered_by: str, actor: Actor, at: datetime) -> str:
    """Open an intake: who brings containers to which room; returns its number."""
    of = the(rooms_of(actor), room, "strong room")
    if not delivered_by.strip():
        raise Mistaken(delivered_by="Name the person who delivers.")
    intake = enter(
        Intake(
            room=of,
            received_on=legal_date(None, at),
            delivered_by=delivered_by.strip(),
            received_by_id=actor.person_id,
        )
    )
    return intake.number


@usecase("intake.log", power=Power.KEEP)
def log_container(
    *,
    arrival: Arrival,
    election: str,
    room: str,
    contest: str = "",
    box: str = "",
    intake: str = "",
    actor: Actor,
    at: datetime,
) -> Logged:
    """Log one sealed envelope or box as it stands on the table.

    Args:
        arrival: what is written on it and its seals.
        election: number of the election being taken in.
        room: number of the strong room that receives it.
        contest: number of the contest being taken in, if only one is.
        box: number of an open box into which an envelope is put at once.
        intake: number of the intake it came with, for the receipt.

    Returns:
        What became of it; with any problem it stands in quarantine.

    Raises:
        Mistaken: a date lies in the future, or nothing at all was entered.
    """
    of = the(elections_of(actor), election, "election")
    into = the(rooms_of(actor), room, "strong room")
    hint = the(contests_of(actor), contest, "contest") if contest else None
    came_with = the(Intake.objects.all(), intake, "intake") if intake else None
    _refuse_the_impossible(arrival, of, at)
    lock_intake()
    recognised = ExpectedContainers(of, [arrival])
    taken = TakenMarks.for_arrivals([arrival])
    container, problems, match = assess(arrival, recognised, taken, into, hint)
    container.intake = came_with
    enter(container)
    enter_seals([(container, arrival)], actor, at)
    enter_problems([(container, problems)], at)
    mark_the_other(problems, at)
    enter_arrivals([container], actor, at, came_with)
    if box and isinstance(container, Envelope):
        _put_at_once(container, the(boxes_of(actor), box, "box"))
    note_access(container.number, quarantined=bool(problems))
    return Logged(
        number=container.number,
        noun=arrival.noun,
        quarantined=bool(problems),
        problems=tuple(problem.detail for problem in problems),
        recognised_as=_name_of(match),
    )


def lock_intake() -> None:
    """Let arrivals in one after the other, on PostgreSQL too.

    Two custodians may scan the same serial at once. Waiting here, the second sees
    what the first has entered and goes into quarantine, instead of being refused by
    a constraint: nothing is refused at the door.
    """
    NumberSeries.objects.get_or_create(prefix="IN")
    NumberSeries.objects.select_for_update().get(prefix="IN")


@dataclass
class TakenMarks:
    """Seal numbers that stand on live containers, by what identifies them."""

    seals: dict[tuple[str, str, str], str]

    @classmethod
    def for_arrivals(cls, arrivals: Iterable[Arrival]) -> "TakenMarks":
        """Look up the seal numbers of these arrivals."""
        wanted = [s.identity for a in arrivals for s in a.seals if s.identity]
        return cls(
            {
                identity: (seal.box or seal.envelope).number  # type: ignore[union-attr]
                for identity, seal in live_seals(wanted).items()
            }
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


def assess(
    arrival: Arrival,
    recognised: ExpectedContainers,
    taken: TakenMarks,
    room: StrongRoom,
    hint: Contest | None = None,
    live_envelopes: Sequence[str] | None = None,
) -> tuple[Envelope | Box, tuple[Problem, ...], Match]:
    """Return the record an arrival becomes, with all that is wrong with it.

    Args:
        live_envelopes: numbers of live envelopes of the same units, where the caller
            has them already.
    """
    match = recognised.match(arrival, hint)
    findings = findings_of(arrival, recognised, match)
    if live_envelopes is None:
        live_envelopes = [
            e.number for e in live_with_serial(recognised.election, arrival.kind, match)
        ]
    problems = problems_with(
        arrival,
        findings,
        is_expected=match.contest is not None,
        same_serial_on=live_envelopes,
        same_seal_on=taken.seals,
    )
    return _record(arrival, recognised.election, match, room, problems), problems, match


def findings_of(
    arrival: Arrival, recognised: ExpectedContainers, match: Match
) -> tuple[Finding, ...]:
    """Compare the markings of an arrival with what they must be."""
    rules = schedule_of(recognised.election.schedule).classes.get(arrival.kind)
    if rules is None:
        required: tuple[Marking, ...] = tuple(Marking)
    elif arrival.noun == "box":
        required = rules.box_markings
    else:
        required = rules.envelope_markings
    expected = recognised.markings(match, arrival)
    return compare(arrival.written, expected, required, arrival.unreadable)


def _record(
    arrival: Arrival,
    election: Election,
    match: Match,
    room: StrongRoom,
    problems: Sequence[Problem],
) -> Envelope | Box:
    state = ContainerState.QUARANTINED if problems else ContainerState.HELD
    kind: type[Envelope] | type[Box] = Box if arrival.noun == "box" else Envelope
    record = kind(
        kind=arrival.kind.value,
        # The election is what is being taken in, not what is known of a container
        # that nobody expected.
        election=election if match.contest else None,
        contest=match.contest,
        room=room,
        state=state,
        whereabouts=Whereabouts.INTAKE,
        sealed_on=arrival.sealed_on,
        received_on=arrival.received_on,
        description=arrival.description,
        remarks=arrival.remarks,
        unreadable=",".join(sorted(arrival.unreadable)),
        **{written_field(m): text.strip() for m, text in arrival.written.items()},
    )
    if isinstance(record, Box):
        record.label = arrival.label
        record.gross_weight_kg = arrival.gross_weight_kg
        record.closed_on = _closing_day(arrival)
    else:
        record.slip_count = arrival.slip_count
        record.self_test_count = arrival.self_test_count
        attribute(record, match, written=arrival.written)
    return record


def _closing_day(arrival: Arrival) -> date | None:
    return (arrival.sealed_on or arrival.received_on) if arrival.closed else None


def attribute(
    envelope: Envelope, match: Match, written: dict[Marking, str] | None = None
) -> None:
    """Let an envelope stand for a station's unit set; what is written stays."""
    envelope.station = match.station
    envelope.unit_set = match.unit_set
    if envelope.kind == ContentKind.STATUTORY_PACKET.value:
        return
    if match.unit_set:
        envelope.control_unit = match.unit_set.control_unit_plain
        envelope.paper_trail_unit = match.unit_set.paper_trail_plain
        envelope.control_unit_kept = match.unit_set.control_unit_kept
        envelope.paper_trail_kept = match.unit_set.paper_trail_kept
        return
    as_written = written or {}
    envelope.control_unit = plain_serial(as_written.get(Marking.CONTROL_UNIT, ""))
    envelope.paper_trail_unit = plain_serial(
        as_written.get(Marking.PAPER_TRAIL_UNIT, "")
    )


def _name_of(match: Match) -> str:
    if match.unit_set:
        return f"{match.contest}, station {match.station}, units {match.unit_set}"
    if match.station:
        return f"{match.contest}, station {match.station}"
    return str(match.contest or "")


def enter_seals(
    arrivals: Sequence[tuple[Envelope | Box, Arrival]], actor: Actor, at: datetime
) -> list[Seal]:
    """Enter the seals found on containers, each with its first event."""
    pairs = [
        (seal_record(entry, container), entry, container)
        for container, arrival in arrivals
        for entry in arrival.seals
    ]
    seals = enter_many([seal for seal, _, _ in pairs])
    applied = [
        SealEvent(
            seal=seal,
            act=SealAct.FOUND_BROKEN if entry.broken else SealAct.APPLIED,
            occurred_on=container.sealed_on or container.received_on,
            recorded_at=at,
            recorded_by_id=actor.person_id,
        )
        for seal, (_, entry, container) in zip(seals, pairs, strict=True)
    ]
    enter_many(applied)
    return seals


def seal_record(entry: SealEntry, container: Envelope | Box) -> Seal:
    """Return the record of a seal on a container."""
    identity = entry.identity
    return Seal(
        kind=entry.kind.value,
        maker=entry.maker.strip(),
        maker_plain=" ".join(entry.maker.casefold().split()),
        serial=entry.serial.strip(),
        serial_plain=identity[2] if identity else "",
        signed=entry.signed,
        state="broken" if entry.broken else "applied",
        quarantined=container.state == ContainerState.QUARANTINED,
        box=container if isinstance(container, Box) else None,
        envelope=container if isinstance(container, Envelope) else None,
    )


def enter_problems(
    found: Sequence[tuple[Envelope | Box, Sequence[Problem]]], at: datetime
) -> None:
    """Open a discrepancy for each thing that is wrong."""
    enter_many(
        [
            discrepancy(container, problem, at)
            for container, problems in found
            for problem in problems
        ]
    )


def discrepancy(
    container: Envelope | Box, problem: Problem, at: datetime
) -> Discrepancy:
    """Return the open discrepancy of one problem."""
    return Discrepancy(
        kind=problem.kind.value,
        box=container if isinstance(container, Box) else None,
        envelope=container if isinstance(container, Envelope) else None,
        marking=problem.marking,
        written=problem.written[:400],
        expected=problem.expected[:400],
        detail=problem.detail[:400],
        opened_at=at,
    )


def mark_the_other(problems: Iterable[Problem], at: datetime) -> None:
    """Open a discrepancy on the container that bears the same number already.

    Nobody can tell from the numbers which of the two is right.
    """
    for number, problem in {p.other: p for p in problems if p.other}.items():
        other = (
            Envelope.objects.numbered(number).first()
            or Box.objects.numbered(number).get()
        )
        known = other.discrepancies.filter(
            kind=problem.kind.value, resolved_at__isnull=True
        )
        if not known.exists():
            detail = f"Another arrival bears the same number: {problem.written}"
            same = Problem(problem.kind, written=problem.written, detail=detail)
            enter(discrepancy(other, same, at))


def enter_arrivals(
    containers: Sequence[Envelope | Box],
    actor: Actor,
    at: datetime,
    intake: Intake | None,
) -> None:
    enter_many(
        [
            CustodyMovement(
                act=CustodyMovement.Act.RECEIVED,
                box=c if isinstance(c, Box) else None,
                envelope=c if isinstance(c, Envelope) else None,
                from_person=intake.delivered_by if intake else "",
                to_person=actor.name,
                to_place=f"{c.room}, intake table",
                occurred_at=at,
                recorded_at=at,
                recorded_by_id=actor.person_id,
            )
            for c in containers
        ]
    )


def _put_at_once(envelope: Envelope, box: Box) -> None:
    if envelope.state == ContainerState.QUARANTINED:
        return
    refuse_a_closed_box(box)
    refuse_what_does_not_belong(envelope, box)
    envelope.box = box
    envelope.whereabouts = Whereabouts.IN_BOX
    envelope.save()


def refuse_a_closed_box(box: Box) -> None:
    """Raise Refused for a box that was closed and sealed."""
    if box.state != ContainerState.HELD:
        raise Refused(f"Box {box.number} is {box.get_state_display()}.")
    if box.closed_on:
        raise Refused(
            f"Box {box.number} was closed and sealed on {box.closed_on:%-d %B %Y}. "
            "It is opened only with the authority's permission."
        )


def refuse_what_does_not_belong(envelope: Envelope, box: Box) -> None:
    """Raise Refused where an envelope is of another election, contest or content."""
    reasons = []
    if envelope.election_id != box.election_id:
        reasons.append(f"{envelope.number} is of another election than {box.number}.")
    elif envelope.contest_id != box.contest_id:
        reasons.append(
            f"{envelope.number} is of {envelope.contest}, box {box.number} holds "
            f"{box.contest}."
        )
    if envelope.kind != box.kind:
        reasons.append(
            f"{envelope.number} holds {envelope.get_kind_display().lower()}, box "
            f"{box.number} holds {box.get_kind_display().lower()}."
        )
    if reasons:
        raise Refused(*reasons)
