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
    moved,
    nth_open,
)
from registry.rules.rolling import closed_steps, rolled
from registry.rules.steps import Fact, Step
from registry.rules.terms import (
    FIRST_DAY_COUNTS,
    Counting,
    Direction,
    IfClosed,
    MonthEnd,
    Period,
    PeriodError,
    RollsOn,
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
    "RollsOn",
    "Unit",
    "last_day",
    "last_day_of_legs",
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
        end, moved_on = rolled(end, period, calendar)
        steps += moved_on
    except CalendarError as error:
        raise PeriodError(str(error)) from error
    return Computed(end, (*steps[:-1], replace(steps[-1], decides=True)))


def last_day_of_legs(
    starts: Sequence[date], legs: Sequence[Period], calendar: Calendar = OPEN_EVERY_DAY
) -> Computed:
    """Count several periods one after the other, each from the end of the one before.

    Ten days and two months are not two months and ten days: the legs count in the
    order given. An end in between is no last day, so it stays where it falls; only the
    last leg rolls. Raises PeriodError as ``last_day`` does, and where there is no leg.
    """
    if not legs:
        raise PeriodError("A time of several legs needs at least one leg.")
    steps: list[Step] = []
    for leg in legs[:-1]:
        stays = replace(leg, if_closed=IfClosed.KEEP, forward_if_not_receiving=False)
        computed = last_day(starts, stays, calendar)
        starts = [computed.last_day]
        facts: dict[str, Fact] = {"end": computed.last_day, **_span(leg)}
        then = Step(computed.last_day, "period.next-leg", facts)
        steps += [*(replace(step, decides=False) for step in computed.steps), then]
    computed = last_day(starts, legs[-1], calendar)
    return Computed(computed.last_day, (*steps, *computed.steps))


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
        closed = closed_steps(first, end, calendar)
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
    closed = closed_steps(untold, needed, calendar)
    facts: dict[str, Fact] = {"wanted": wanted, "held": held, "end": needed}
    return needed, [*closed, Step(needed, "period.extended", facts)]


def _cleared(end: date, period: Period) -> tuple[date, list[Step]]:
    if period.counting != Counting.CLEAR:
        return end, []
    day = moved(end, period.sign)
    facts = {"end": end, "day": day}
    return day, [Step(day, f"period.clear-{period.direction}", facts)]


def _span(period: Period) -> dict[str, Fact]:
    return {
        "length": period.length,
        "unit": str(period.unit),
        "direction": str(period.direction),
    }
