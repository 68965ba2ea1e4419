"""Whether a case holds what it concerns, and until when.

A case holds from the day on which it is heard of. A decision ends it in its court,
but settles nothing while an appeal, a restoration or a substitution can still come:
the schedule names these windows, and where it names none for a decision below the
last court there is no end; a window that the law does not wait for is shown only. A
part that goes on as a case of its own holds here until that case is entered. Leave
to withdraw that is only asked for changes nothing. Whatever brings the case back
(appeal, review, restoration, substitution, remand) holds again, after settlement
too. An earlier window is never cut short by a later event, so that nothing entered
about a case can release anything sooner than its decisions do.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from enum import StrEnum

from registry.rules.calendars import Calendar
from registry.rules.case_events import (
    DECISIONS,
    GOES_ON_ELSEWHERE,
    ONLY_EXPECTED,
    REVIVALS,
    CaseEventFact,
    CaseEventKind,
    CaseFact,
    CourtLevel,
    height,
    in_order,
)
from registry.rules.case_steps import case_step, struck, told
from registry.rules.case_windows import End, ends_of
from registry.rules.schedules import Schedule
from registry.rules.steps import Fact, Step

__all__ = [
    "CaseEventFact",
    "CaseEventKind",
    "CaseFact",
    "CaseStand",
    "CaseStanding",
    "CourtLevel",
    "stand_of",
]


class CaseStanding(StrEnum):
    """Where a case stands on a day."""

    NOT_BEGUN = "not-begun"
    PENDING = "pending"
    APPEAL_WINDOW = "appeal-window"
    SETTLED = "settled"


@dataclass(frozen=True)
class CaseStand:
    """Where a case stands on a day, and the steps that lead there.

    Attributes:
        holds_through: the last day it holds; None where it has no end (pending, or
            decided with no window in the schedule) or holds nothing (not begun).
        steps: the last one decides.
    """

    standing: CaseStanding
    holds_through: date | None
    steps: tuple[Step, ...]

    @property
    def has_no_end(self) -> bool:
        """Whether it holds with no end in sight."""
        return self.holds_through is None and self.standing is not (
            CaseStanding.NOT_BEGUN
        )


def stand_of(
    case: CaseFact, schedule: Schedule, calendar: Calendar, as_of: date
) -> CaseStand:
    """Return where the case stands on a day.

    Args:
        case: its events in any order; those after ``as_of`` have not happened yet,
            those struck count for nothing.
        schedule: names the windows after a decision.
        calendar: of the court that would receive an appeal.
        as_of: the day asked about.
    """
    events = in_order(
        tuple(event for event in case.events if not event.struck and event.on <= as_of)
    )
    steps = [told(case, event) for event in events]
    steps += struck(case, as_of)
    if not events:
        return _without_events(case, steps, as_of)
    ineffective = _ineffective(case, events)
    steps += ineffective
    events = [event for event in events if _counts(event, events)]
    if not events:
        # It was entered as dropped, and for no reason: what it was is not known.
        conclusion = replace(ineffective[-1], decides=True)
        return CaseStand(CaseStanding.PENDING, None, (*steps[:-1], conclusion))
    latest = _latest_by_court(events)
    alive = _alive(case, events, latest)
    if alive:
        return CaseStand(CaseStanding.PENDING, None, (*steps, alive))
    ends = ends_of(case, events, latest, schedule, calendar, as_of)
    return _decided(steps, ends, as_of)


def _alive(
    case: CaseFact,
    events: Sequence[CaseEventFact],
    latest: dict[CourtLevel, CaseEventFact],
) -> Step | None:
    """Conclude that the case is pending, or that a part of it is; None if neither."""
    pending = in_order(tuple(e for e in latest.values() if e.kind not in DECISIONS))
    if pending:
        return replace(case_step("case.pending", case, pending[-1]), decides=True)
    unnamed = [e for e in events if e.kind in GOES_ON_ELSEWHERE and not e.other]
    if unnamed:
        return replace(
            case_step("case.part-not-entered", case, unnamed[-1]), decides=True
        )
    return None


def _counts(event: CaseEventFact, events: Sequence[CaseEventFact]) -> bool:
    """Tell whether an event counts; "no longer expected" does not always.

    It needs a reason, and a case of which more is known than that it was expected is
    ended by its court alone.
    """
    if event.kind is not CaseEventKind.NO_LONGER_EXPECTED:
        return True
    return bool(event.reason.strip()) and all(e.kind in ONLY_EXPECTED for e in events)


def _ineffective(case: CaseFact, events: Sequence[CaseEventFact]) -> list[Step]:
    return [
        case_step("case.still-expected", case, event)
        for event in events
        if not _counts(event, events)
    ]


def _latest_by_court(
    events: Sequence[CaseEventFact],
) -> dict[CourtLevel, CaseEventFact]:
    """Return, for each court, the event that says whether the case is alive there.

    A listing, a transfer or a wish to withdraw tells of a live case only where
    nothing else is recorded: a hearing listed before the dismissal revives nothing.
    """
    latest: dict[CourtLevel, CaseEventFact] = {}
    for event in events:
        if event.kind is CaseEventKind.FINALLY_DISPOSED:
            below = [c for c in latest if height(c) < height(event.level)]
            latest.update(dict.fromkeys(below, event))
        if event.kind in DECISIONS | REVIVALS:
            latest[event.level] = event
        else:
            latest.setdefault(event.level, event)
    return latest


def _decided(steps: list[Step], ends: list[End], as_of: date) -> CaseStand:
    """Conclude with the latest end; its step is put last and decides."""
    governing = max(ends, key=lambda end: (end.through is None, end.through or as_of))
    others = [step for end in ends if end is not governing for step in end.steps]
    conclusion = replace(governing.steps[-1], decides=True)
    steps = [*steps, *others, *governing.steps[:-1], conclusion]
    runs = governing.through is None or governing.through >= as_of
    standing = CaseStanding.APPEAL_WINDOW if runs else CaseStanding.SETTLED
    return CaseStand(standing, governing.through, tuple(steps))


def _without_events(case: CaseFact, steps: list[Step], as_of: date) -> CaseStand:
    """Judge a case of which nothing has happened by the day.

    A case entered with no event at all is not understood, so it holds; so does one
    that is already known though its events lie ahead. One that nobody could know of,
    or whose events were all struck as errors, holds nothing.
    """
    facts: dict[str, Fact] = {"case": case.number, "title": case.title}
    expected = in_order(
        tuple(event for event in case.events if _is_expected(event, as_of))
    )
    if expected:
        conclusion = case_step("case.expected", case, expected[0])
    elif case.events:
        conclusion = Step(as_of, "case.not-begun", facts)
    else:
        conclusion = Step(as_of, "case.without-events", facts)
    holds = bool(expected) or not case.events
    standing = CaseStanding.PENDING if holds else CaseStanding.NOT_BEGUN
    return CaseStand(standing, None, (*steps, replace(conclusion, decides=True)))


def _is_expected(event: CaseEventFact, as_of: date) -> bool:
    """Tell whether an event lies ahead and the register knows of it by the day."""
    known = event.recorded_at is not None and event.recorded_at.date() <= as_of
    return known and not event.struck and event.on > as_of
