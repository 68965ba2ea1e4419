"""Whether a case holds what it concerns, and until when.

A case holds from the day on which it is heard of. A decision ends it in its court,
but settles nothing while an appeal, a restoration or a substitution can still come:
the schedule names these windows, and where it names none for a decision below the
last court there is no end. Leave to withdraw that is only asked for changes nothing.
Whatever brings the case back (appeal, review, restoration, substitution, remand)
holds again, after settlement too. An earlier window is never cut short by a later
event, so that nothing entered about a case can release anything sooner than its
decisions do.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from enum import StrEnum
from types import MappingProxyType

from registry.rules.calendars import Calendar
from registry.rules.case_events import (
    DECISIONS,
    EVENT_TITLES,
    LEVEL_TITLES,
    REVIVALS,
    CaseEventFact,
    CaseEventKind,
    CaseFact,
    CourtLevel,
    height,
    in_order,
)
from registry.rules.periods import PeriodError, last_day
from registry.rules.schedules import AppealWindow, Schedule
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


@dataclass(frozen=True)
class _End:
    """When one decision no longer holds; ``through`` is None for no end."""

    through: date | None
    steps: tuple[Step, ...]


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
    steps = [_told(case, event) for event in events]
    steps += _struck(case, as_of)
    if not events:
        return _without_events(case, steps, as_of)
    latest = _latest_by_court(events)
    pending = in_order(tuple(e for e in latest.values() if e.kind not in DECISIONS))
    if pending:
        conclusion = _step("case.pending", case, pending[-1])
        steps.append(replace(conclusion, decides=True))
        return CaseStand(CaseStanding.PENDING, None, tuple(steps))
    ends = _ends(case, events, latest, schedule, calendar)
    return _decided(steps, ends, as_of)


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


def _ends(
    case: CaseFact,
    events: Sequence[CaseEventFact],
    latest: dict[CourtLevel, CaseEventFact],
    schedule: Schedule,
    calendar: Calendar,
) -> list[_End]:
    """Return when each decision no longer holds, in the order of the decisions."""
    ends = []
    for position, event in enumerate(events):
        if event.kind not in DECISIONS:
            continue
        windows = schedule.windows_after(event.kind, event.level)
        if windows:
            ends += [_window_end(case, event, window, calendar) for window in windows]
        elif event.level is CourtLevel.FINAL:
            step = _step("case.last-court", case, event)
            ends.append(_End(event.on, (step,)))
        elif not _is_overtaken(event, events[position + 1 :], latest):
            facts: dict[str, Fact] = {"schedule": schedule.title}
            facts["version"] = schedule.version
            step = _step("case.no-window", case, event, facts)
            ends.append(_End(None, (step,)))
        else:
            ends.append(_End(event.on, (_step("case.overtaken", case, event),)))
    return ends


def _is_overtaken(
    event: CaseEventFact,
    later: Sequence[CaseEventFact],
    latest: dict[CourtLevel, CaseEventFact],
) -> bool:
    """Tell whether a later decision, of this court or a higher one, stands instead."""
    return latest[event.level] != event or any(
        other.kind in DECISIONS and height(other.level) > height(event.level)
        for other in later
    )


def _window_end(
    case: CaseFact, event: CaseEventFact, window: AppealWindow, calendar: Calendar
) -> _End:
    """Count one window; what cannot be counted has no end."""
    facts: dict[str, Fact] = {
        "window": window.name,
        "clause": window.clause,
        "source": window.source,
    }
    try:
        counted = last_day([event.on], window.period, calendar)
    except PeriodError as error:
        facts["problem"] = str(error)
        step = _step("case.window-cannot-be-counted", case, event, facts)
        return _End(None, (step,))
    end = counted.last_day
    conclusion = _step("case.window", case, event, {**facts, "through": end})
    counting = tuple(replace(step, decides=False) for step in counted.steps)
    return _End(end, (*counting, replace(conclusion, date=end)))


def _decided(steps: list[Step], ends: list[_End], as_of: date) -> CaseStand:
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
        conclusion = _step("case.expected", case, expected[0])
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


def _told(case: CaseFact, event: CaseEventFact) -> Step:
    """Tell an event, and when the register learnt of it if that was later."""
    if event.recorded_at and event.recorded_at.date() > event.on:
        recorded_on = event.recorded_at.date()
        return _step("case.event-late", case, event, {"recorded_on": recorded_on})
    return _step("case.event", case, event)


def _struck(case: CaseFact, as_of: date) -> list[Step]:
    struck = tuple(event for event in case.events if event.struck)
    return [
        _step("case.event-struck", case, event)
        for event in in_order(struck)
        if event.on <= as_of
    ]


def _step(
    code: str,
    case: CaseFact,
    event: CaseEventFact,
    facts: Mapping[str, Fact] = MappingProxyType({}),
) -> Step:
    told: dict[str, Fact] = {
        "case": case.number,
        "title": case.title,
        "event": EVENT_TITLES[event.kind],
        "court": LEVEL_TITLES[event.level],
        "on": event.on,
    }
    return Step(event.on, code, {**told, **facts})
