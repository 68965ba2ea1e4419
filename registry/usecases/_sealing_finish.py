"""Entering what was sealed: envelopes by the path of intake, counts, discrepancies."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from registry.models import Box, Discrepancy, Envelope
from registry.queries.find import NotThere, the
from registry.queries.keeping import legal_date
from registry.queries.scope import boxes_of
from registry.queries.sealings import AtTable
from registry.rules.arrivals import Problem
from registry.rules.contents import ContentKind
from registry.rules.keeping_parts import MADE, SealingFact
from registry.rules.powers import Actor
from registry.rules.sealing import Unit, counted, is_absent, kinds_sealed, said
from registry.rules.sealing_checks import Contradiction, contradictions
from registry.usecases._arrivals import too_long
from registry.usecases._door import Mistaken
from registry.usecases._records import enter
from registry.usecases._sealing_answers import enter_answer
from registry.usecases._sealing_envelopes import Envelopes
from registry.usecases._taking_in import Received, put_at_once, take_in

_TABLE = "sealing table"


@dataclass(frozen=True)
class SealedEnvelope:
    """One envelope that was sealed; ``not_boxed``: why it is in no box."""

    number: str
    quarantined: bool
    problems: tuple[str, ...]
    box: str
    not_boxed: tuple[str, ...]


@dataclass(frozen=True)
class Sealed:
    """A finished station: its envelopes, and what else was found."""

    station: str
    contest: str
    envelopes: tuple[SealedEnvelope, ...]
    found: tuple[str, ...]


def enter_what_was_sealed(
    table: AtTable, sealed_at: datetime, *, actor: Actor, at: datetime
) -> Sealed:
    """Enter every envelope of the station, and every discrepancy that was found.

    The caller holds the sealing and ``lock_intake``.

    Args:
        sealed_at: when it was sealed; earlier than ``at`` where a form says so.

    Raises:
        Mistaken: a box that was named is none.
    """
    kinds = kinds_sealed(table.steps)
    boxes = _boxes(table, actor)
    on = legal_date(table.sealing.station.contest.election, sealed_at)
    making = Envelopes(table, on)
    found = contradictions(table.asked, table.station, table.answers, kinds)
    to_make = [
        (unit, kind)
        for unit in table.station.units
        if not is_absent(table.answers, unit.number)
        for kind in kinds
        if kind not in unit.sealed
    ]
    envelopes = tuple(
        _enter_envelope(
            table,
            making,
            unit,
            kind,
            [c.problem for c in found if (c.unit, c.of) == (unit.number, kind)],
            boxes.get(making.said(SealingFact.BOX, unit, kind)),
            sealed_at,
            actor=actor,
            at=at,
        )
        for unit, kind in to_make
    )
    made = {(unit.number, kind) for unit, kind in to_make}
    elsewhere = [c for c in found if (c.unit, c.of) not in made]
    for contradiction in elsewhere:
        _enter_discrepancy(table, making, contradiction, at)
    _enter_votes(table, making)
    return Sealed(
        station=str(table.sealing.station),
        contest=table.sealing.station.contest.number,
        envelopes=envelopes,
        found=tuple(c.problem.detail for c in elsewhere),
    )


def _boxes(table: AtTable, actor: Actor) -> dict[str, Box]:
    """Return the boxes that were named, locked, by what was typed."""
    rows = boxes_of(actor).select_for_update(of=("self",))
    found: dict[str, Box] = {}
    wrong: dict[str, list[str]] = {}
    for question in table.asked:
        text = table.answers.get(question.about, "").strip()
        if question.step.records is SealingFact.BOX and text:
            try:
                found[text] = the(rows, text, "box")
            except NotThere as missing:
                wrong[question.field] = [str(missing)]
    if wrong:
        raise Mistaken(wrong)
    return found


def _enter_envelope(
    table: AtTable,
    making: Envelopes,
    unit: Unit,
    kind: ContentKind,
    further: Sequence[Problem],
    box: Box | None,
    sealed_at: datetime,
    *,
    actor: Actor,
    at: datetime,
) -> SealedEnvelope:
    sealing = table.sealing
    arrival = making.arrival(unit, kind)
    excess = too_long(arrival)
    if excess:
        raise Mistaken({name: [words] for name, words in excess.items()})
    received = Received(sealing.room, sealed_at, sealing.intake, _TABLE)
    contest = sealing.station.contest
    envelope, problems, _ = take_in(
        arrival, contest.election, received, contest, further, actor=actor, at=at
    )
    assert isinstance(envelope, Envelope)
    not_boxed: tuple[str, ...] = ()
    if box:
        not_boxed = put_at_once(envelope, box, actor, at, sealed_at, _TABLE)
    enter_answer(table, (unit.number, f"{MADE}@{kind}"), envelope.number, actor, at)
    return SealedEnvelope(
        number=envelope.number,
        quarantined=bool(problems),
        problems=tuple(problem.detail for problem in problems),
        box=box.number if box and not not_boxed else "",
        not_boxed=not_boxed,
    )


def _enter_discrepancy(
    table: AtTable, making: Envelopes, found: Contradiction, at: datetime
) -> None:
    """Open a discrepancy of the station, where no envelope is in doubt for it."""
    station = table.sealing.station
    enter(
        Discrepancy(
            kind=found.problem.kind.value,
            contest=station.contest,
            station=station,
            unit_set=making.sets.get(found.unit),
            content=found.content.value if found.content else "",
            room=table.sealing.room,
            written=found.problem.written[:400],
            expected=found.problem.expected[:400],
            detail=found.problem.detail[:400],
            opened_at=at,
        )
    )


def _enter_votes(table: AtTable, making: Envelopes) -> None:
    """Write down what each control unit showed."""
    for number, row in making.sets.items():
        shown = counted(
            said(
                table.asked,
                table.answers,
                SealingFact.VOTES_RECORDED,
                number,
                ContentKind.POLL_SLIPS,
            )
        )
        if shown is not None and shown != row.votes_recorded:
            row.votes_recorded = shown
            row.votes_source = f"read at the sealing table, {table.sealing.number}"
            row.save()
