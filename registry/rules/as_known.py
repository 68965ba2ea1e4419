"""The facts as the register knew them at a moment: the second of the two clocks.

The first clock says when a thing happened, the second when it was recorded. An answer
as known at a moment leaves out what was recorded later, and counts as standing what was
struck later: it is the answer that the register gave at that moment.
"""

from dataclasses import replace
from datetime import datetime
from typing import Protocol

from registry.rules.calendars import Calendar
from registry.rules.cases import CaseFact
from registry.rules.retention_facts import OrderFact, RetentionFacts


class _Entered(Protocol):
    @property
    def recorded_at(self) -> datetime | None: ...


class _Struck(_Entered, Protocol):
    @property
    def struck_at(self) -> datetime | None: ...


def facts_as_known(facts: RetentionFacts, known_at: datetime | None) -> RetentionFacts:
    """Return the facts as known at a moment; None for now.

    Raises ValueError for a moment without its time zone.
    """
    _need_zone(known_at)
    contest = facts.contest.as_known(known_at)
    if known_at is None:
        return replace(facts, contest=contest)
    cases = (_case(case, known_at) for case in facts.cases)
    orders = (_order(order, known_at) for order in facts.orders)
    return replace(
        facts,
        contest=contest,
        cases=tuple(case for case in cases if case),
        orders=tuple(order for order in orders if order),
    )


def calendar_as_known(calendar: Calendar, known_at: datetime | None) -> Calendar:
    """Return a calendar with the closures and extensions known at a moment.

    An entry that was struck by then counts for nothing. Raises ValueError for a moment
    without its time zone.
    """
    _need_zone(known_at)
    closures = tuple(c for c in calendar.closures if _stands(c, known_at))
    extensions = tuple(e for e in calendar.extensions if _stands(e, known_at))
    if closures == calendar.closures and extensions == calendar.extensions:
        return calendar
    return replace(calendar, closures=closures, extensions=extensions)


def _case(case: CaseFact, known_at: datetime) -> CaseFact | None:
    """Return a case as known, or None if nothing of it was.

    A case entered with no event at all holds; one whose events all came later was not
    known, unless it is known that the case itself was entered before.
    """
    if not _known(case, known_at):
        return None
    events = tuple(
        replace(event, struck=event.struck and _struck_by(event, known_at))
        for event in case.events
        if _known(event, known_at)
    )
    if case.events and not events and case.recorded_at is None:
        return None
    return replace(case, events=events)


def _order(order: OrderFact, known_at: datetime) -> OrderFact | None:
    if not _known(order, known_at):
        return None
    lifted_at = order.lift_recorded_at
    if lifted_at is not None and lifted_at > known_at:
        return replace(order, lifted_on=None, lift_recorded_at=None)
    return order


def _known(entry: _Entered, known_at: datetime | None) -> bool:
    at = entry.recorded_at
    return known_at is None or at is None or at <= known_at


def _struck_by(entry: _Struck, known_at: datetime | None) -> bool:
    at = entry.struck_at
    return known_at is None or at is None or at <= known_at


def _stands(entry: _Struck, known_at: datetime | None) -> bool:
    struck = entry.struck_at is not None and _struck_by(entry, known_at)
    return _known(entry, known_at) and not struck


def _need_zone(known_at: datetime | None) -> None:
    if known_at is not None and known_at.tzinfo is None:
        raise ValueError("A moment of knowledge needs its time zone.")
