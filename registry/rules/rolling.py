"""What becomes of a counted day on which the office is closed."""

from datetime import date

from registry.rules import calendars
from registry.rules.calendars import Calendar, Closure, moved
from registry.rules.steps import Fact, Step
from registry.rules.terms import IfClosed, Period, RollsOn


def rolled(end: date, period: Period, calendar: Calendar) -> tuple[date, list[Step]]:
    """Move a day that falls on a closed one as the rule says, or say that it stays.

    Raises CalendarError where there is no open day.
    """
    # A storm moves no day back: where the law runs on from it, it is met afterwards.
    runs_on = period.forward_if_not_receiving
    foreseen = calendar.without_events() if runs_on else calendar
    if period.if_closed == IfClosed.FIRST_OPEN_AFTER:
        day, steps = _first_open_after(end, foreseen)
    else:
        day, steps = _moved(end, period, foreseen)
    if runs_on:
        day, again = _forward_again(day, calendar)
        steps += again
    return day, steps


def _moved(end: date, period: Period, calendar: Calendar) -> tuple[date, list[Step]]:
    if not calendar.is_closed(end):
        return end, []
    if period.if_closed == IfClosed.KEEP:
        facts = _closed(end, end, calendar)
        return end, [Step(end, "period.kept-though-closed", facts)]
    if not _of_the_kind(period.rolls_on, calendar).is_closed(end):
        facts = _closed(end, end, calendar)
        return end, [Step(end, f"period.kept-{period.rolls_on}", facts)]
    if period.rolls_on == RollsOn.SUNDAYS_AND_HOLIDAYS:
        # Such a law knows no other closed days, so none of them moves the day on.
        calendar = calendar.sundays_and_holidays()
    if period.if_closed == IfClosed.NEXT_OPEN:
        day = calendars.next_open(end, calendar)
        facts = _closed(end, moved(day, -1), calendar)
    else:
        day = calendars.previous_open(end, calendar)
        facts = _closed(moved(day, 1), end, calendar)
    return day, [Step(day, f"period.{period.if_closed}", {**facts, "day": day})]


def _of_the_kind(rolls_on: RollsOn, calendar: Calendar) -> Calendar:
    """Give the closed days that move a last day under this rule."""
    if rolls_on == RollsOn.NOT_RECEIVING:
        return calendar.not_receiving()
    if rolls_on == RollsOn.SUNDAYS_AND_HOLIDAYS:
        return calendar.sundays_and_holidays()
    return calendar


def _first_open_after(end: date, calendar: Calendar) -> tuple[date, list[Step]]:
    after = moved(end, 1)
    day = calendars.next_open(after, calendar)
    closed = closed_steps(after, day, calendar)
    facts = {"counted": end, "day": day}
    return day, [*closed, Step(day, "period.first-open-after", facts)]


def _forward_again(day: date, calendar: Calendar) -> tuple[date, list[Step]]:
    """Run on from a day on which, by a named paper, an event stopped receipt."""
    if not calendar.events().is_closed(day):
        return day, []
    later = calendars.next_open(day, calendar)
    facts = _closed(day, moved(later, -1), calendar)
    return later, [Step(later, "period.forward-again", {**facts, "day": later})]


def closed_steps(one: date, other: date, calendar: Calendar) -> list[Step]:
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
