"""How long each decision in a case still holds: the windows it opens."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date

from registry.rules.calendars import Calendar
from registry.rules.case_events import (
    DECISIONS,
    OPENS_A_WINDOW,
    CaseEventFact,
    CaseEventKind,
    CaseFact,
    CourtLevel,
    height,
)
from registry.rules.case_steps import case_step
from registry.rules.limits import extended, with_margin
from registry.rules.periods import PeriodError, last_day_of_legs
from registry.rules.schedules import AppealWindow, Schedule
from registry.rules.steps import Fact, Step


@dataclass(frozen=True)
class End:
    """When one decision no longer holds; ``through`` is None for no end."""

    through: date | None
    steps: tuple[Step, ...]


def ends_of(
    case: CaseFact,
    events: Sequence[CaseEventFact],
    latest: dict[CourtLevel, CaseEventFact],
    schedule: Schedule,
    calendar: Calendar,
    as_of: date,
) -> list[End]:
    """Return when each decision no longer holds, in the order of the decisions."""
    ends = []
    for position, event in enumerate(events):
        if event.kind not in OPENS_A_WINDOW:
            continue
        windows = schedule.windows_after(event.kind, event.level)
        if windows:
            ends += [
                _window_end(case, event, window, schedule, calendar, as_of)
                for window in windows
            ]
        elif event.kind not in DECISIONS:
            continue
        elif event.kind is CaseEventKind.NO_LONGER_EXPECTED:
            facts: dict[str, Fact] = {"reason": event.reason}
            step = case_step("case.no-longer-expected", case, event, facts)
            ends.append(End(event.on, (step,)))
        elif event.level is CourtLevel.FINAL:
            step = case_step("case.last-court", case, event)
            ends.append(End(event.on, (step,)))
        elif not _is_overtaken(event, events[position + 1 :], latest):
            facts = {"schedule": schedule.title, "version": schedule.version}
            step = case_step("case.no-window", case, event, facts)
            ends.append(End(None, (step,)))
        else:
            ends.append(End(event.on, (case_step("case.overtaken", case, event),)))
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
    case: CaseFact,
    event: CaseEventFact,
    window: AppealWindow,
    schedule: Schedule,
    calendar: Calendar,
    as_of: date,
) -> End:
    """Count one window; what cannot be counted, or is extended openly, has no end."""
    facts: dict[str, Fact] = {
        "window": window.name,
        "clause": window.clause,
        "source": window.source,
    }
    try:
        counted = last_day_of_legs([event.on], window.legs, calendar)
        end, by_orders = extended(
            event.on, counted.last_day, calendar.extensions, as_of
        )
        kept, margin = with_margin(
            end or event.on, schedule.margins.inner_days, schedule.margins.clause
        )
    except PeriodError as error:
        facts["problem"] = str(error)
        step = case_step("case.window-cannot-be-counted", case, event, facts)
        return End(None, (step,))
    way = [replace(step, decides=False) for step in counted.steps]
    way += by_orders
    if not window.waits:
        told = {**facts, "through": end or counted.last_day}
        shown = case_step("case.window-not-waited-for", case, event, told)
        return End(event.on, (*way, replace(shown, date=event.on)))
    if end is None:
        return End(None, (*way, case_step("case.window-extended", case, event, facts)))
    conclusion = case_step("case.window", case, event, {**facts, "through": kept})
    return End(kept, (*way, *margin, replace(conclusion, date=kept)))
