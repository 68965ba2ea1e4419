"""Days on which an office is closed, and steps over them.

"Closed" is only ever what somebody entered: a weekday that the calendar names, or a
closure with the notification that ordered it. Nothing is inferred from a weekend.
"""

from bisect import bisect_right
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from datetime import date, timedelta
from functools import cached_property

from registry.rules.closures import (
    CalendarError,
    Closure,
    ClosureKind,
    Effect,
    Extension,
)

__all__ = [
    "BACKWARD",
    "FORWARD",
    "OPEN_EVERY_DAY",
    "WEEKDAY_NAMES",
    "Calendar",
    "CalendarError",
    "Closure",
    "ClosureKind",
    "Effect",
    "Extension",
    "beyond",
    "closed_runs_between",
    "moved",
    "next_open",
    "nth_open",
    "open_days_between",
    "previous_open",
]

WEEKDAY_NAMES = (
    "Monday",
    "Tuesday",
    "Wednesday",
    "Thursday",
    "Friday",
    "Saturday",
    "Sunday",
)
SUNDAY = 6
LONGEST_COUNT = (date.max - date.min).days
FORWARD, BACKWARD = 1, -1


@dataclass(frozen=True)
class Calendar:
    """Weekdays (Monday = 0) and closures on which an office is closed.

    Closures may overlap: a holiday inside a court vacation keeps its own reason. An
    entry that opens days opens them whatever else closes them, save an event (a storm,
    a strike): on such a day nobody received anything. Raises CalendarError for a
    weekday that is not 0 to 6.

    Attributes:
        extensions: general orders by which limits run longer.
        for_petitions: whether the days opened for election petitions alone are open.
    """

    weekdays: frozenset[int] = frozenset()
    closures: tuple[Closure, ...] = ()
    extensions: tuple[Extension, ...] = ()
    for_petitions: bool = False

    def __post_init__(self) -> None:
        unknown = sorted(day for day in self.weekdays if day not in range(7))
        if unknown:
            raise CalendarError(
                f"{unknown[0]} is not a weekday: Monday is 0, Sunday is 6."
            )

    def is_closed(self, day: date) -> bool:
        if self._span_over(day) is not None:
            return True
        return day.weekday() in self.weekdays and not self._is_opened(day)

    def why_closed(self, day: date) -> str:
        """Give every reason for which ``day`` is closed; empty where it is open."""
        return "; ".join(self._reasons(day))

    def for_election_petitions(self) -> "Calendar":
        """Give the same calendar as it stands for the filing of election petitions."""
        if any(c.effect == Effect.OPEN_FOR_PETITIONS for c in self.closures):
            return replace(self, for_petitions=True)
        return self

    def not_receiving(self) -> "Calendar":
        """Give the days alone on which, by a named paper, nothing was received."""
        stopped = (each for each in self.closures if each.stops_filing)
        return replace(
            self, weekdays=frozenset(), closures=self._with_openings(stopped)
        )

    def sundays_and_holidays(self) -> "Calendar":
        """Give the Sundays and holidays alone, of all the days that are closed.

        A Sunday is left out only where the calendar does not name it.
        """
        holidays = (
            each
            for each in self.closures
            if each.kind in (ClosureKind.HOLIDAY, ClosureKind.UNSAID)
            and each.effect == Effect.CLOSED
        )
        return replace(
            self,
            weekdays=self.weekdays & {SUNDAY},
            closures=self._with_openings(holidays),
        )

    def without_events(self) -> "Calendar":
        """Give the days that close as a rule, without those closed by an event."""
        others = (c for c in self.closures if c.kind != ClosureKind.EVENT)
        return replace(self, closures=tuple(others))

    def events(self) -> "Calendar":
        """Give the days alone on which, by a named paper, an event stopped receipt."""
        events = (
            each
            for each in self.closures
            if each.stops_filing and each.kind == ClosureKind.EVENT
        )
        return replace(self, weekdays=frozenset(), closures=tuple(events))

    def _with_openings(self, closed: Iterator[Closure]) -> tuple[Closure, ...]:
        opened = (each for each in self.closures if each.effect != Effect.CLOSED)
        return (*closed, *opened)

    def _reasons(self, day: date) -> Iterator[str]:
        if not self.is_closed(day):
            return
        opened = self._is_opened(day)
        for closure in self.closures:
            is_event = closure.kind == ClosureKind.EVENT
            closes = closure.effect == Effect.CLOSED and (is_event or not opened)
            if closes and closure.first <= day <= closure.last:
                yield closure.why
        if day.weekday() in self.weekdays and not opened:
            yield WEEKDAY_NAMES[day.weekday()]

    def _opens(self, closure: Closure) -> bool:
        for_petitions = closure.effect == Effect.OPEN_FOR_PETITIONS
        return closure.effect == Effect.OPEN or (for_petitions and self.for_petitions)

    def _is_opened(self, day: date) -> bool:
        return any(first <= day <= last for first, last in self._openings)

    @cached_property
    def _openings(self) -> list[tuple[date, date]]:
        return _merged((c.first, c.last) for c in self.closures if self._opens(c))

    @cached_property
    def _spans(self) -> list[tuple[date, date]]:
        """Closed spans without overlaps, in order, so that bisection finds a day."""
        closed = [each for each in self.closures if each.effect == Effect.CLOSED]
        events = [c for c in closed if c.kind == ClosureKind.EVENT]
        others = [c for c in closed if c.kind != ClosureKind.EVENT]
        left = _without(_merged((c.first, c.last) for c in others), self._openings)
        return _merged([*left, *((c.first, c.last) for c in events)])

    def _span_over(self, day: date) -> tuple[date, date] | None:
        index = bisect_right(self._spans, (day, date.max)) - 1
        if index >= 0 and day <= self._spans[index][1]:
            return self._spans[index]
        return None


def _merged(spans: Iterable[tuple[date, date]]) -> list[tuple[date, date]]:
    """Give the same days as spans that do not overlap, in order."""
    merged: list[tuple[date, date]] = []
    for first, last in sorted(spans):
        if merged and first <= merged[-1][1]:
            begun, ended = merged.pop()
            merged.append((begun, max(ended, last)))
        else:
            merged.append((first, last))
    return merged


def _without(
    spans: list[tuple[date, date]], openings: list[tuple[date, date]]
) -> list[tuple[date, date]]:
    """Cut the openings out of the spans."""
    for opened_from, opened_to in openings:
        left: list[tuple[date, date]] = []
        for first, last in spans:
            if last < opened_from or opened_to < first:
                left.append((first, last))
                continue
            if first < opened_from:
                left.append((first, opened_from - timedelta(days=1)))
            if opened_to < last:
                left.append((opened_to + timedelta(days=1), last))
        spans = left
    return spans


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
