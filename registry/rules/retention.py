"""Held until when, why, by which rule: one pure answer over facts.

Terms of the schedule, cases and preservation orders all hold; the latest governs,
and whatever has no end outranks every date. An unknown input means keep. A floor
does not roll: ``retain_through`` is the last day of keeping, disposal may come from
the day after. The answer is an aid; statute, court and counsel decide.
"""

from dataclasses import replace
from datetime import date, datetime, timedelta

from registry.rules.as_known import calendar_as_known, facts_as_known
from registry.rules.calendars import Calendar
from registry.rules.cases import CaseStanding, stand_of
from registry.rules.retention_answer import Hold, Reason, Retention
from registry.rules.retention_facts import (
    ContestDates,
    DateEntry,
    OrderFact,
    RetentionFacts,
)
from registry.rules.retention_terms import TRIGGER_TITLES, outer_margin, term_holds
from registry.rules.schedules import Schedule
from registry.rules.steps import Fact, Step

__all__ = [
    "TRIGGER_TITLES",
    "ContestDates",
    "DateEntry",
    "Hold",
    "OrderFact",
    "Reason",
    "Retention",
    "RetentionFacts",
    "retention_of",
]


def retention_of(
    facts: RetentionFacts,
    schedule: Schedule,
    calendar: Calendar,
    as_of: date,
    known_at: datetime | None = None,
) -> Retention:
    """Return how long a container is kept, as of a day.

    Args:
        facts: what is known of its contest, and the cases and orders covering it, in
            any order. What lies after ``as_of`` has not happened yet.
        schedule: the version to which the election is pinned.
        calendar: of the court in which petitions and appeals are filed.
        as_of: the day asked about.
        known_at: the moment whose knowledge counts; what was recorded later is left
            out. None for what is known now.

    Raises:
        ValueError: ``known_at`` has no time zone.
    """
    facts = facts_as_known(facts, known_at)
    calendar = calendar_as_known(calendar, known_at)
    windows = _windows(facts, schedule, calendar, as_of)
    terms = term_holds(facts, schedule, calendar, as_of)
    holds = (*terms, *windows, *_orders(facts, as_of))
    holds = (*holds, *outer_margin(holds, schedule))
    governing = max(holds, key=_weight)
    through = governing.through
    is_over = not governing.holds_on(as_of)
    free_from = through + timedelta(days=1) if through else None
    return Retention(
        retain_through=through,
        may_be_disposed_from=free_from,
        is_over=is_over,
        reason=Reason.PERIOD_OVER if is_over else governing.reason,
        governed_by=governing.governed_by,
        steps=_steps(holds, governing),
        as_of=as_of,
        contest=facts.contest.number,
        governing=governing,
        holds=holds,
        confirm_through=_confirm_through(facts, schedule, terms, windows),
        known_at=known_at,
    )


def _weight(hold: Hold) -> tuple[bool, date, int, str]:
    """Weigh a hold: no end before any date, then the later, then a fixed order."""
    place = -list(Reason).index(hold.reason)
    return hold.through is None, hold.through or date.max, place, hold.governed_by


def _steps(holds: tuple[Hold, ...], governing: Hold) -> tuple[Step, ...]:
    """Return all steps; only the conclusion of what governs decides."""
    steps: list[Step] = []
    for hold in holds:
        *way, conclusion = (replace(step, decides=False) for step in hold.steps)
        steps += [*way, replace(conclusion, decides=hold is governing)]
    if governing.through:
        free_from = governing.through + timedelta(days=1)
        told = {"through": governing.through, "free_from": free_from}
        steps.append(Step(free_from, "retention.free-from", told))
    return tuple(steps)


def _windows(
    facts: RetentionFacts, schedule: Schedule, calendar: Calendar, as_of: date
) -> tuple[Hold, ...]:
    """Return what each case holds, in the order of the cases' numbers."""
    holds = []
    for case in sorted(facts.cases, key=lambda case: case.number):
        stand = stand_of(case, schedule, calendar, as_of)
        if stand.standing is CaseStanding.NOT_BEGUN:
            continue
        pending = stand.standing is CaseStanding.PENDING
        reason = Reason.CASE_PENDING if pending else Reason.APPEAL_WINDOW
        holds.append(
            Hold(reason, case.number, case.title, stand.holds_through, stand.steps)
        )
    return tuple(holds)


def _orders(facts: RetentionFacts, as_of: date) -> tuple[Hold, ...]:
    """Return what each order holds, in the order of the orders' numbers."""
    in_force = [
        order
        for order in sorted(facts.orders, key=lambda order: order.number)
        if min(order.from_on, order.made_on or order.from_on) <= as_of
    ]
    return tuple(_order(order, as_of) for order in in_force)


def _order(order: OrderFact, as_of: date) -> Hold:
    until, lifted = order.until_on, order.lifted_on
    told: dict[str, Fact] = {"order": order.number, "title": order.title}
    told["from_on"] = order.from_on
    if until:
        told["until_on"] = until
    through, code = until, "order.until"
    if until is None or until < order.from_on:
        # Dates that contradict each other are an unknown input: keep.
        through = None
        code = "order.ends-before-it-begins" if until else "order.without-end"
    if lifted and lifted <= as_of and (through is None or lifted < through):
        through, code = lifted, "order.lifted"
        told["lifted_on"] = lifted
    step = Step(through or order.from_on, code, told)
    return Hold(Reason.PRESERVATION_ORDER, order.number, order.title, through, (step,))


def _confirm_through(
    facts: RetentionFacts,
    schedule: Schedule,
    terms: tuple[Hold, ...],
    windows: tuple[Hold, ...],
) -> date | None:
    rules = schedule.classes.get(facts.kind)
    if rules is None:
        return None
    named = {term.name for term in rules.terms if term.petition_window}
    petitions = [hold for hold in terms if hold.governed_by in named]
    ends = [hold.through for hold in (*petitions, *windows)]
    known = [end for end in ends if end is not None]
    return max(known) if known and len(known) == len(ends) else None
