"""What contradicts at the sealing table; recorded as it was read, never refused.

Serials are compared once more, with all markings, when the envelope is taken in; here
they are compared so that the custodian is told while the unit is still in hand.
"""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

from registry.rules.arrivals import DiscrepancyKind, Problem
from registry.rules.contents import ContentKind
from registry.rules.keeping_parts import ABSENT, Asked, SealingFact, SealingPlace
from registry.rules.numbers import plain_serial
from registry.rules.sealing import (
    NOT_KNOWN,
    Answers,
    Question,
    Station,
    Unit,
    counted,
    is_absent,
    said,
    tag_is_of,
    wrong_with,
)

_SLIPS = ContentKind.POLL_SLIPS


@dataclass(frozen=True)
class Contradiction:
    """Something at the table that is not as it must be.

    Attributes:
        unit: the unit set; empty for the station.
        of: the envelope that goes into quarantine for it; None: no envelope does.
        content: of a unit set that is not there: the content that is missing.
    """

    problem: Problem
    unit: str = ""
    of: ContentKind | None = None
    content: ContentKind | None = None


def told_at_once(
    asked: Sequence[Question], station: Station, answers: Answers
) -> dict[str, str]:
    """Return what to tell the custodian beside each question, by its field."""
    told = {
        question.field: words
        for question in asked
        if (answer := answers.get(question.about, "").strip())
        and (words := _told_of(question, answer, station))
    }
    for unit, problem in _counts(asked, station, answers):
        for question in asked:
            of_it = question.unit == unit and question.kind in (None, _SLIPS)
            if of_it and question.step.records is SealingFact.VOTES_RECORDED:
                told[question.field] = problem.detail
    return told


def _told_of(question: Question, answer: str, station: Station) -> str:
    wrong = wrong_with(question, answer)
    if wrong:
        return wrong
    if answer == "no":
        return "Recorded as not done: a discrepancy is opened."
    if answer == NOT_KNOWN or not question.unit:
        return ""
    unit = station.unit(question.unit)
    if question.step.records is SealingFact.STATION_TAG:
        if tag_is_of(answer, station, unit):
            return ""
        return f"The tag is not that of station {station.station_number}. {_AS_READ}"
    expected = {
        SealingFact.CONTROL_UNIT: unit.control_unit,
        SealingFact.PAPER_TRAIL_UNIT: unit.paper_trail_unit,
    }.get(question.step.records)
    if expected and plain_serial(answer) != plain_serial(expected):
        return f"{expected} is expected here. {_AS_READ}"
    return ""


_AS_READ = (
    "Look at the unit again; what stands here is recorded as read, and the envelope "
    "goes into quarantine."
)


def contradictions(
    asked: Sequence[Question],
    station: Station,
    answers: Answers,
    kinds: Sequence[ContentKind],
) -> tuple[Contradiction, ...]:
    """Return all that contradicts, beside the markings that intake compares itself.

    Args:
        kinds: the contents that the checklist makes envelopes of.
    """
    return (
        *_absent(station, answers, kinds),
        *(c for question in asked for c in _answered_no(question, answers)),
        *(c for unit in station.units for c in _tag(asked, station, unit, answers)),
        *(
            Contradiction(problem, unit, of=_SLIPS)
            for unit, problem in _counts(asked, station, answers)
        ),
    )


def _absent(
    station: Station, answers: Answers, kinds: Sequence[ContentKind]
) -> list[Contradiction]:
    return [
        Contradiction(
            Problem(
                DiscrepancyKind.MISSING,
                expected=f"{unit.control_unit} with {unit.paper_trail_unit}",
                detail="The unit set was not at the sealing table: "
                + answers[unit.number, ABSENT].strip(),
            ),
            unit.number,
            content=kind,
        )
        for unit in station.units
        if is_absent(answers, unit.number)
        for kind in kinds
        if kind not in unit.sealed
    ]


def _answered_no(question: Question, answers: Answers) -> list[Contradiction]:
    step = question.step
    if step.asked is not Asked.TICK or answers.get(question.about) != "no":
        return []
    problem = Problem(
        DiscrepancyKind.OTHER,
        written="no",
        expected="yes",
        detail=f"At the sealing table: “{step.title}” was answered with no.",
    )
    # Slips may be left in a unit that was not shown empty; a power pack left in it
    # touches no envelope.
    in_doubt = step.records is SealingFact.UNIT_EMPTY
    if step.where is SealingPlace.ENVELOPE:
        return [Contradiction(problem, question.unit, of=question.kind)]
    return [Contradiction(problem, question.unit, of=_SLIPS if in_doubt else None)]


def _tag(
    asked: Sequence[Question], station: Station, unit: Unit, answers: Answers
) -> list[Contradiction]:
    answer = said(asked, answers, SealingFact.STATION_TAG, unit.number)
    if answer in ("", NOT_KNOWN) or tag_is_of(answer, station, unit):
        return []
    problem = Problem(
        DiscrepancyKind.MARKING_DIFFERS,
        written=answer,
        expected=station.station_number,
        detail=f"Address tag of the unit: “{answer}” stands on it, that of station "
        f"{station.station_number} must hang there.",
    )
    return [Contradiction(problem, unit.number, of=_SLIPS)]


def _counts(
    asked: Sequence[Question], station: Station, answers: Answers
) -> list[tuple[str, Problem]]:
    """Compare slips with votes; a control unit that was kept counted on for both sets.

    The comparison waits until every set of that control unit is counted.
    """
    sets: dict[str, list[Unit]] = defaultdict(list)
    for unit in station.units:
        sets[plain_serial(unit.control_unit)].append(unit)
    found = []
    for units in sets.values():
        found += _against_record(asked, units, answers)
        votes = [_votes(asked, unit, answers) for unit in units]
        known = [v for v in votes if v is not None]
        slips = [_slips(asked, unit, answers) for unit in units]
        if not known or None in slips:
            continue
        total = sum(count for count in slips if count is not None)
        if total != max(known):
            detail = (
                f"{total:,} slips, those hanging uncut included; the control unit "
                f"shows {max(known):,} votes."
            )
            found.append((units[-1].number, _differs(total, max(known), detail)))
    return found


def _against_record(
    asked: Sequence[Question], units: Sequence[Unit], answers: Answers
) -> list[tuple[str, Problem]]:
    found = []
    for unit in units:
        shown = counted(
            said(asked, answers, SealingFact.VOTES_RECORDED, unit.number, _SLIPS)
        )
        if shown is None or unit.votes_known in (None, shown):
            continue
        detail = (
            f"The control unit shows {shown:,} votes; {unit.votes_known:,} are on "
            "record."
        )
        found.append((unit.number, _differs(shown, unit.votes_known or 0, detail)))
    return found


def _votes(asked: Sequence[Question], unit: Unit, answers: Answers) -> int | None:
    shown = said(asked, answers, SealingFact.VOTES_RECORDED, unit.number, _SLIPS)
    read = counted(shown)
    return unit.votes_known if read is None else read


def _slips(asked: Sequence[Question], unit: Unit, answers: Answers) -> int | None:
    slips = counted(said(asked, answers, SealingFact.SLIP_COUNT, unit.number, _SLIPS))
    uncut = said(asked, answers, SealingFact.UNCUT_COUNT, unit.number, _SLIPS)
    if slips is None or uncut == NOT_KNOWN:
        return None
    return slips + (counted(uncut) or 0)


def _differs(written: int, expected: int, detail: str) -> Problem:
    return Problem(
        DiscrepancyKind.COUNT_DIFFERS,
        written=str(written),
        expected=str(expected),
        detail=detail,
    )
