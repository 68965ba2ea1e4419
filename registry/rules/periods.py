"""Legal periods: from an event and a rule to the last day, with the reasoning.

The conventions are those that published law takes; which one applies is the
schedule's to say, never this module's. A computed day is an aid: the statute, the
court and counsel decide.
"""

import datetime
from calendar import monthrange
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date

from dateutil.relativedelta import relativedelta

from registry.rules import calendars
from registry.rules.calendars import (
    OPEN_EVERY_DAY,
    Calendar,
    CalendarError,
    Closure,
    moved,
    nth_open,
)
from registry.rules.steps import Fact, Step
from registry.rules.terms import (
    FIRST_DAY_COUNTS,
    Counting,
    Direction,
    IfClosed,
    MonthEnd,
    Period,
    PeriodError,
    Unit,
)

__all__ = [
    "Computed",
    "Counting",
    "Direction",
    "IfClosed",
    "MonthEnd",
    "Period",
    "PeriodError",
    "Unit",
    "last_day",
]


@dataclass(frozen=True)
class Computed:
    """The day a period gives, and the steps that led to it; the last one decides.

    For clear time counted forward it is the first day on which the thing may happen.
    """

    last_day: date
    steps: tuple[Step, ...]


def last_day(
    starts: Sequence[date], period: Period, calendar: Calendar = OPEN_EVERY_DAY
) -> Computed:
    """Count a period from its event and say why it ends where it does.

    Of several starts the latest counts, in whatever order they are given. Raises
    PeriodError where there is no start, no open day, or no such year.
    """
    try:
        event, steps = _governing(starts)
        first = _day_one(event, period)
        steps += _opening(event, first, period, calendar)
        end, counted = _counted(event, first, period, calendar)
        steps += counted
        end, extended = _extended(first, end, period, calendar)
        steps += extended
        end, cleared = _cleared(end, period)
        steps += cleared
        end, rolled = _rolled(end, period, calendar)
        steps += rolled
    except CalendarError as error:
        raise PeriodError(str(error)) from error
    return Computed(end, (*steps[:-1], replace(steps[-1], decides=True)))


def _governing(starts: Sequence[date]) -> tuple[date, list[Step]]:
    if not starts:
        raise PeriodError("A period needs the date of an event to start from.")
    if any(isinstance(start, datetime.datetime) for start in starts):
        raise PeriodError(
            "A period starts from a day, not from a moment: give the local date."
        )
    *earlier, event = sorted(set(starts))
    facts = [{"event": start, "governs": event} for start in earlier]
    steps = [Step(each["event"], "period.earlier-event", each) for each in facts]
    return event, [*steps, Step(event, "period.event", {"event": event})]


def _day_one(event: date, period: Period) -> date:
    if period.counting == Counting.INCLUDE_FIRST:
        return event
    return moved(event, period.sign)


def _opening(
    event: date, first: date, period: Period, calendar: Calendar
) -> list[Step]:
    """Say which day is day one, and whether closed days are left out."""
    forward = period.direction == Direction.FORWARD
    code = {
        Counting.EXCLUDE_FIRST: "period.first-day-excluded",
        Counting.INCLUDE_FIRST: "period.first-day-included",
        Counting.DAY_AFTER: f"period.starts-day-{'after' if forward else 'before'}",
        Counting.CLEAR: "period.clear",
    }[period.counting]
    steps = []
    if period.length:
        steps.append(Step(first, code, {"event": event, "first": first}))
    if period.skip_closed_within and period.unit != Unit.WORKING_DAYS:
        code = "period.short" if period.is_short else "period.not-short"
        facts = {"limit": period.skip_closed_within, **_span(period)}
        steps.append(Step(first, code, facts))
    if period.unit == Unit.WORKING_DAYS and calendar == OPEN_EVERY_DAY:
        steps.append(Step(first, "period.no-closed-days"))
    return steps


def _counted(
    event: date, first: date, period: Period, calendar: Calendar
) -> tuple[date, list[Step]]:
    """Count the length itself, before any extension or roll."""
    if not period.length:
        return event, [Step(event, "period.nothing-counted", {"end": event})]
    if period.counts_open_days:
        end = nth_open(first, period.length, calendar, period.sign)
        facts = {"end": end, **_span(period)}
        closed = _closed_steps(first, end, calendar)
        return end, [*closed, Step(end, "period.open-days", facts)]
    if period.unit in (Unit.MONTHS, Unit.YEARS):
        begins = first if period.counting in FIRST_DAY_COUNTS else event
        end, code = _months_end(begins, period)
        facts = {"begins": begins, "day": begins.day, "end": end, **_span(period)}
        return end, [Step(end, code, facts)]
    days = period.length * 7 if period.unit == Unit.WEEKS else period.length
    end = moved(first, period.sign * (days - 1))
    facts = {"first": first, "end": end, **_span(period)}
    return end, [Step(end, "period.days", facts)]


def _months_end(begins: date, period: Period) -> tuple[date, str]:
    """Give the day on which months or years end, and the code of the rule.

    Where the first day counts, time forward ends the day before the corresponding
    date, or on the month's last day where there is none. Backward mirrors it: the day
    after the corresponding date, or the first day after the month that has none, so
    that 1 to 31 March is one month from either end.
    """
    corresponding = _corresponding(begins, period)
    missing = corresponding.day != begins.day
    to_last = period.month_end == MonthEnd.LAST_TO_LAST and begins == _month_last(
        begins
    )
    code = "no-corresponding" if missing else "corresponding"
    if to_last:
        corresponding, code = _month_last(corresponding), "last-to-last"
    if period.counting not in FIRST_DAY_COUNTS:
        return corresponding, f"period.{code}"
    if period.direction == Direction.BACKWARD:
        code = f"{code}-back" if missing or to_last else "after-corresponding"
        return moved(corresponding, 1), f"period.{code}"
    if missing or to_last:
        return corresponding, f"period.{code}"
    return moved(corresponding, -1), "period.before-corresponding"


def _corresponding(begins: date, period: Period) -> date:
    """Give the same day so many months on or back, or that month's last day."""
    months = period.length * (12 if period.unit == Unit.YEARS else 1)
    try:
        return begins + relativedelta(months=period.sign * months)
    except (ValueError, OverflowError):
        raise calendars.beyond(begins) from None


def _month_last(day: date) -> date:
    return day.replace(day=monthrange(day.year, day.month)[1])


def _extended(
    first: date, end: date, period: Period, calendar: Calendar
) -> tuple[date, list[Step]]:
    """Extend the period until it holds the open days it must hold."""
    wanted = period.at_least_working_days
    if not wanted:
        return end, []
    needed = nth_open(first, wanted, calendar, period.sign)
    if (needed - end).days * period.sign <= 0:
        return end, []
    # A period of no length ends before its day one, and so holds nothing.
    one, other = (first, end) if period.sign == calendars.FORWARD else (end, first)
    held = calendars.open_days_between(one, other, calendar)
    # Where closed days were left out already, those up to the end have been told.
    untold = moved(end, period.sign) if period.counts_open_days else first
    closed = _closed_steps(untold, needed, calendar)
    facts: dict[str, Fact] = {"wanted": wanted, "held": held, "end": needed}
    return needed, [*closed, Step(needed, "period.extended", facts)]


def _cleared(end: date, period: Period) -> tuple[date, list[Step]]:
    if period.counting != Counting.CLEAR:
        return end, []
    day = moved(end, period.sign)
    facts = {"end": end, "day": day}
    return day, [Step(day, f"period.clear-{period.direction}", facts)]


def _rolled(end: date, period: Period, calendar: Calendar) -> tuple[date, list[Step]]:
    """Move a day that falls on a closed one as the rule says, or say that it stays."""
    if period.if_closed == IfClosed.FIRST_OPEN_AFTER:
        return _first_open_after(end, calendar)
    if not calendar.is_closed(end):
        return end, []
    if period.if_closed == IfClosed.KEEP:
        facts = _closed(end, end, calendar)
        return end, [Step(end, "period.kept-though-closed", facts)]
    if period.if_closed == IfClosed.NEXT_OPEN:
        day = calendars.next_open(end, calendar)
        facts = _closed(end, moved(day, -1), calendar)
    else:
        day = calendars.previous_open(end, calendar)
        facts = _closed(moved(day, 1), end, calendar)
    return day, [Step(day, f"period.{period.if_closed}", {**facts, "day": day})]


def _first_open_after(end: date, calendar: Calendar) -> tuple[date, list[Step]]:
    after = moved(end, 1)
    day = calendars.next_open(after, calendar)
    closed = _closed_steps(after, day, calendar)
    facts = {"counted": end, "day": day}
    return day, [*closed, Step(day, "period.first-open-after", facts)]


def _closed_steps(one: date, other: date, calendar: Calendar) -> list[Step]:
    """Name each run of closed days between two days, in the order counted."""
    runs = calendars.closed_runs_between(min(one, other), max(one, other), calendar)
    return [
        Step(run.first, "period.not-counted", _facts_of(run))
        for run in (runs if one <= other else reversed(runs))
    ]


def _closed(first: date, last: date, calendar: Calendar) -> dict[str, Fact]:
    (run,) = calendars.closed_runs_between(first, last, calendar)
    return _facts_of(run)


def _facts_of(run: Closure) -> dict[str, Fact]:
    return {"first": run.first, "last": run.last, "reason": run.reason}


def _span(period: Period) -> dict[str, Fact]:
    return {
        "length": period.length,
        "unit": str(period.unit),
        "direction": str(period.direction),
    }
