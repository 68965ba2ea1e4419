"""Days on which an office is closed, and steps over them.

"Closed" is only ever what somebody entered: a weekday that the calendar names, or a
closure with the notification that ordered it. Nothing is inferred from a weekend.
"""

from bisect import bisect_right
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from functools import cached_property

WEEKDAY_NAMES = (
    "Monday",
    "Tuesday",
    "Wednesday",
    "Thursday",
    "Friday",
    "Saturday",
    "Sunday",
)
LONGEST_COUNT = (date.max - date.min).days
FORWARD, BACKWARD = 1, -1


class CalendarError(ValueError):
    """A calendar that cannot be, or a day that no calendar can give."""


@dataclass(frozen=True)
class Closure:
    """Days closed for one reason, from ``first`` to ``last``, both included.

    ``notification`` names the paper that says so. Raises CalendarError where the
    last day comes before the first.
    """

    first: date
    last: date
    reason: str = ""
    notification: str = ""

    def __post_init__(self) -> None:
        if self.last < self.first:
            raise CalendarError(
                f"A closure ends on {self.last}, before it begins on {self.first}: "
                "give the earlier day first."
            )

    @property
    def why(self) -> str:
        reason = self.reason or "a closed date"
        return f"{reason} ({self.notification})" if self.notification else reason


@dataclass(frozen=True)
class Calendar:
    """Weekdays (Monday = 0) and closures on which an office is closed.

    Closures may overlap: a holiday inside a court vacation keeps its own reason.
    Raises CalendarError for a weekday that is not 0 to 6.
    """

    weekdays: frozenset[int] = frozenset()
    closures: tuple[Closure, ...] = ()

    def __post_init__(self) -> None:
        unknown = sorted(day for day in self.weekdays if day not in range(7))
        if unknown:
            raise CalendarError(
                f"{unknown[0]} is not a weekday: Monday is 0, Sunday is 6."
            )

    def is_closed(self, day: date) -> bool:
        return day.weekday() in self.weekdays or self._span_over(day) is not None

    def why_closed(self, day: date) -> str:
        """Give every reason for which ``day`` is closed; empty where it is open."""
        return "; ".join(self._reasons(day))

    def _reasons(self, day: date) -> Iterator[str]:
        for closure in self.closures:
            if closure.first <= day <= closure.last:
                yield closure.why
        if day.weekday() in self.weekdays:
            yield WEEKDAY_NAMES[day.weekday()]

    @cached_property
    def _spans(self) -> list[tuple[date, date]]:
        """Closures without overlaps, in order, so that a day is found by bisection."""
        spans: list[tuple[date, date]] = []
        for closure in sorted(self.closures, key=lambda each: each.first):
            if spans and closure.first <= spans[-1][1]:
                first, last = spans.pop()
                spans.append((first, max(last, closure.last)))
            else:
                spans.append((closure.first, closure.last))
        return spans

    def _span_over(self, day: date) -> tuple[date, date] | None:
        index = bisect_right(self._spans, (day, date.max)) - 1
        if index >= 0 and day <= self._spans[index][1]:
            return self._spans[index]
        return None


OPEN_EVERY_DAY = Calendar()


def next_open(day: date, calendar: Calendar) -> date:
    """Give the first open day on or after ``day``.

    Raises CalendarError where no such day exists.
    """
    return nth_open(day, 1, calendar, FORWARD)


def previous_open(day: date, calendar: Calendar) -> date:
    """Give the last open day on or before ``day``.

    Raises CalendarError where no such day exists.
    """
    return nth_open(day, 1, calendar, BACKWARD)


def nth_open(day: date, count: int, calendar: Calendar, sign: int) -> date:
    """Give the ``count``-th open day from ``day``, that day included if it is open.

    ``sign`` is FORWARD or BACKWARD. Raises CalendarError where there are not so many.
    """
    if len(calendar.weekdays) == 7:
        raise CalendarError(
            "Every weekday is closed in this calendar: leave at least one weekday open."
        )
    if not 1 <= count <= LONGEST_COUNT:
        raise beyond(day)
    day = _nearest_open(day, calendar, sign)
    for _ in range(count - 1):
        day = _nearest_open(moved(day, sign), calendar, sign)
    return day


def _nearest_open(day: date, calendar: Calendar, sign: int) -> date:
    while calendar.is_closed(day):
        # A long vacation is stepped over at once, not day by day.
        first, last = calendar._span_over(day) or (day, day)
        day = moved(last if sign == FORWARD else first, sign)
    return day


def open_days_between(first: date, last: date, calendar: Calendar) -> int:
    """Count the open days from ``first`` to ``last``, both included."""
    return sum(not calendar.is_closed(day) for day in _days(first, last))


def closed_runs_between(
    first: date, last: date, calendar: Calendar
) -> tuple[Closure, ...]:
    """Give the unbroken runs of closed days from ``first`` to ``last``, with reasons.

    Each run's reason names each reason met in it once, in order.
    """
    runs: list[tuple[date, date, dict[str, None]]] = []
    for day in _days(first, last):
        if not calendar.is_closed(day):
            continue
        reasons = dict.fromkeys(calendar._reasons(day))
        if runs and moved(runs[-1][1], 1) == day:
            begun, _, met = runs.pop()
            runs.append((begun, day, met | reasons))
        else:
            runs.append((day, day, reasons))
    return tuple(Closure(start, end, "; ".join(why)) for start, end, why in runs)


def moved(day: date, days: int) -> date:
    """Add days (or take them away); raises CalendarError beyond years 1 to 9999."""
    try:
        return day + timedelta(days=days)
    except OverflowError:
        raise beyond(day) from None


def _days(first: date, last: date) -> Iterator[date]:
    # By ordinal: stepping past 31 December 9999 would overflow.
    return map(date.fromordinal, range(first.toordinal(), last.toordinal() + 1))


def beyond(day: date) -> CalendarError:
    """Give the error for a count that leaves years 1 to 9999."""
    return CalendarError(
        f"Counting from {day} leaves the calendar, which holds years 1 to 9999: "
        "check the length, the date and the closed days."
    )
