"""Counting a legal period for anyone who asks; it touches no record.

The same count as ``manage.py deadline``: an aid, since statute, court and counsel
decide.
"""

from dataclasses import dataclass, field
from datetime import date
from itertools import pairwise

from registry.rules.calendars import Calendar, CalendarError, Closure
from registry.rules.periods import (
    Counting,
    Direction,
    IfClosed,
    MonthEnd,
    Period,
    PeriodError,
    Unit,
    last_day,
)
from registry.rules.steps import Step
from registry.usecases._door import Mistaken


@dataclass(frozen=True)
class PeriodAsked:
    """The events, the period, and the days on which the office is closed.

    Attributes:
        starts: days of the events; of several the latest counts.
        closed_weekdays: Monday is 0.
        closed: spans of closed days, first and last day included.
    """

    starts: tuple[date, ...]
    length: int
    unit: str
    counting: str = Counting.EXCLUDE_FIRST
    month_end: str = MonthEnd.CORRESPONDING
    direction: str = Direction.FORWARD
    if_closed: str = IfClosed.KEEP
    skip_closed_within: int = 0
    at_least_working_days: int = 0
    closed_weekdays: frozenset[int] = field(default_factory=frozenset)
    closed: tuple[tuple[date, date], ...] = ()


@dataclass(frozen=True)
class Counted:
    """The day, what it is called, and the steps that lead to it."""

    day: date
    called: str
    steps: tuple[Step, ...]


def count_period(asked: PeriodAsked) -> Counted:
    """Count a period and say step by step why it ends where it does.

    Raises:
        Mistaken: the parts make no period, or the calendar cannot be.
    """
    try:
        period = Period(
            length=asked.length,
            unit=Unit(asked.unit),
            counting=Counting(asked.counting),
            month_end=MonthEnd(asked.month_end),
            direction=Direction(asked.direction),
            if_closed=IfClosed(asked.if_closed),
            skip_closed_within=asked.skip_closed_within,
            at_least_working_days=asked.at_least_working_days,
        )
        closures = tuple(Closure(*span) for span in sorted(asked.closed))
        _refuse_overlap(closures)
        calendar = Calendar(asked.closed_weekdays, closures)
        counted = last_day(asked.starts, period, calendar)
    except CalendarError as error:
        raise Mistaken(closed=str(error)) from error
    except PeriodError as error:
        raise Mistaken(length=str(error)) from error
    earliest = (period.counting, period.direction) == (
        Counting.CLEAR,
        Direction.FORWARD,
    )
    called = "First day on which it may happen" if earliest else "Last day"
    return Counted(counted.last_day, called, counted.steps)


def _refuse_overlap(closures: tuple[Closure, ...]) -> None:
    for before, after in pairwise(closures):
        if after.first <= before.last:
            raise Mistaken(
                closed=f"{after.first} is given twice; give each closed day once."
            )
