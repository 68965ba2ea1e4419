"""What a court's general order does to a time limit that was counted already.

Such orders extend limits for everybody, often with no end in sight (India, In re
Cognizance for Extension of Limitation, orders of 23 March 2020 and 27 April 2021). A
time of keeping is no limit: nothing here touches one.
"""

from collections.abc import Iterable
from datetime import date

from registry.rules.calendars import CalendarError, moved
from registry.rules.closures import Extension
from registry.rules.periods import PeriodError
from registry.rules.steps import Fact, Step


def extended(
    first: date, end: date, extensions: Iterable[Extension], as_of: date
) -> tuple[date | None, tuple[Step, ...]]:
    """Return the end of a limit under the orders made by a day, and what they did.

    Args:
        first: the event that the limit runs from.
        end: its last day as counted.
        extensions: in any order; one not yet made by ``as_of`` does nothing.
        as_of: the day asked about.

    Returns:
        The last day, or None while an order has no end; and the steps, the last of
        which carries the day.

    Raises:
        PeriodError: the end leaves years 1 to 9999.
    """
    steps: list[Step] = []
    # An order touches what earlier orders left: in the order of their days.
    for order in sorted(extensions, key=_place):
        if not order.in_force_on(as_of) or end < order.from_on:
            continue
        facts: dict[str, Fact] = {
            "order": order.notification,
            "from_on": order.from_on,
            "end": end,
        }
        if order.until is None:
            steps.append(Step(as_of, "limit.extended-without-end", facts))
            return None, tuple(steps)
        later = _end_under(order, order.until, first, end)
        if later != end:
            told: dict[str, Fact] = {**facts, "until": order.until, "day": later}
            steps.append(Step(later, "limit.extended", told))
            end = later
    return end, tuple(steps)


def _place(order: Extension) -> tuple[date, date, bool, int, str]:
    until = order.until or date.max
    return order.from_on, until, order.excludes, order.then_days, order.notification


def _end_under(order: Extension, until: date, first: date, end: date) -> date:
    # The event's own day is not part of the limit; it cannot be a day left over.
    counted_from = max(moved(first, 1), order.from_on)
    try:
        candidates = [end]
        if end <= until:
            candidates.append(moved(until, order.then_days))
        if order.excludes and counted_from <= until:
            candidates.append(moved(end, (until - counted_from).days + 1))
    except CalendarError as error:
        raise PeriodError(str(error)) from error
    return max(candidates)


def with_margin(end: date, days: int, clause: str) -> tuple[date, tuple[Step, ...]]:
    """Add the safety margin that a schedule keeps after a limit has run out.

    Raises PeriodError where it leaves years 1 to 9999.
    """
    if not days:
        return end, ()
    try:
        later = moved(end, days)
    except CalendarError as error:
        raise PeriodError(str(error)) from error
    facts: dict[str, Fact] = {
        "end": end,
        "length": days,
        "unit": "days",
        "clause": clause or "no clause named",
        "day": later,
    }
    return later, (Step(later, "limit.margin", facts),)
