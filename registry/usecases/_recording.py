"""Entering what arrived: its seals, what is wrong with it, and that it came in."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime

from registry.models import (
    Box,
    ContainerState,
    Contest,
    CustodyMovement,
    Discrepancy,
    Envelope,
    Intake,
    NumberSeries,
    PollingStation,
    Seal,
    SealAct,
    SealEvent,
    StrongRoom,
    UnitSet,
)
from registry.queries.expected import live_seals
from registry.rules.arrivals import (
    Arrival,
    DiscrepancyKind,
    Problem,
    SealEntry,
    SealKind,
)
from registry.rules.powers import Actor
from registry.usecases._answerable import (
    Answerable,
    answerable,
    answerable_for_many,
)
from registry.usecases._door import Refused
from registry.usecases._records import enter, enter_many


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


def enter_seals(
    arrivals: Sequence[tuple[Envelope | Box, Arrival]], actor: Actor, at: datetime
) -> list[Seal]:
    """Enter the seals found on containers, each with its first event.

    A paper seal or strap whose number cannot be read is not one that could ever be
    checked against its record: it stands as a discrepancy and not as a seal.
    """
    pairs = [
        (seal_record(entry, container), entry, container)
        for container, arrival in arrivals
        for entry in arrival.seals
        if entry.kind is SealKind.WAX or entry.identity
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
    who = answerable_for_many(at)
    enter_many(
        [
            discrepancy(container, problem, at, answers=who(container))
            for container, problems in found
            for problem in problems
        ]
    )


def enter_not_there(of: Box | Envelope, detail: str, at: datetime) -> None:
    """Open a discrepancy on what was looked for in vain, unless one is open already.

    Nobody's look moves anything: it is missing once a custodian of its room says so,
    and that is then the same discrepancy (failure mode 61).
    """
    kind = DiscrepancyKind.NOT_FOUND
    if of.discrepancies.filter(kind=kind.value, resolved_at__isnull=True).exists():
        return
    enter(discrepancy(of, Problem(kind, detail=detail.strip()), at))


def discrepancy(
    about: Envelope | Box | Contest | StrongRoom,
    problem: Problem,
    at: datetime,
    *,
    station: PollingStation | None = None,
    unit_set: UnitSet | None = None,
    content: str = "",
    room: StrongRoom | None = None,
    answers: Answerable | None = None,
) -> Discrepancy:
    """Return the open discrepancy of one problem; the caller enters it.

    Args:
        about: what it is shown with: a container; where none is on record, the
            contest that expected one or the room in which something was seen.
        station, unit_set, content: what was expected, where ``about`` is a contest.
        room: where it was found, besides what it is about.
        answers: who owns it and by when; by default the custodian who found it,
            within the days that the schedule gives (``_answerable``).
    """
    answers = answers or answerable(about, at, room)
    return Discrepancy(
        kind=problem.kind.value,
        box=about if isinstance(about, Box) else None,
        envelope=about if isinstance(about, Envelope) else None,
        contest=about if isinstance(about, Contest) else None,
        station=station,
        unit_set=unit_set,
        content=content,
        room=about if isinstance(about, StrongRoom) else room,
        owner_id=answers.owner_id,
        due_on=answers.due_on,
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
    by_bearer = {(p.other, p.kind): p for p in problems if p.other}
    for (number, _), problem in by_bearer.items():
        other = (
            Envelope.objects.numbered(number).first()
            or Box.objects.numbered(number).get()
        )
        known = other.discrepancies.filter(
            kind=problem.kind.value, resolved_at__isnull=True
        )
        if not known.exists():
            what = problem.written or "the serial of its units"
            detail = f"Another arrival bears the same number: {what}."
            same = Problem(problem.kind, written=problem.written, detail=detail)
            enter(discrepancy(other, same, at))


def enter_arrivals(
    containers: Sequence[Envelope | Box],
    actor: Actor,
    at: datetime,
    intake: Intake | None,
    received_at: datetime | None = None,
    table: str = "intake table",
) -> None:
    """Enter that containers came in, from whom and by whom."""
    enter_many(
        [
            CustodyMovement(
                act=CustodyMovement.Act.RECEIVED,
                box=c if isinstance(c, Box) else None,
                envelope=c if isinstance(c, Envelope) else None,
                from_person=intake.delivered_by if intake else "",
                to_person=actor.name,
                to_place=f"{c.room}, {table}",
                occurred_at=received_at or at,
                recorded_at=at,
                recorded_by_id=actor.person_id,
            )
            for c in containers
        ]
    )


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
    """Raise Refused where an envelope is of other content, or in another room."""
    reasons = []
    if envelope.election_id != box.election_id:
        reasons.append(f"{envelope.number} is of another election than {box.number}.")
    elif envelope.contest_id != box.contest_id:
        reasons.append(
            f"{envelope.number} is of {envelope.contest}, box {box.number} holds "
            f"{box.contest}."
        )
    if envelope.room_id != box.room_id:
        reasons.append(
            f"{envelope.number} is in {envelope.room}, {box.number} in {box.room}."
        )
    if envelope.kind != box.kind:
        reasons.append(
            f"{envelope.number} holds {envelope.get_kind_display().lower()}, box "
            f"{box.number} holds {box.get_kind_display().lower()}."
        )
    if reasons:
        raise Refused(*reasons)
