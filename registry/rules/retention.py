"""Held until when, why, by which rule: one pure answer over facts.

Terms of the schedule, cases and preservation orders all hold; the latest governs,
and whatever has no end outranks every date. An unknown input means keep. A floor
does not roll: ``retain_through`` is the last day of keeping, disposal may come from
the day after. The answer is an aid; statute, court and counsel decide.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date, timedelta
from enum import StrEnum

from registry.rules.calendars import Calendar
from registry.rules.cases import CaseFact, CaseStanding, stand_of
from registry.rules.periods import PeriodError, last_day
from registry.rules.schedules import ContentKind, Schedule, Term, Trigger
from registry.rules.steps import Fact, Step
from registry.rules.wording import say

TRIGGER_TITLES = {
    Trigger.RESULT_DECLARED: "declaration of the result",
    Trigger.RETURN_MADE: "return",
    Trigger.RETURN_RECEIVED: "receipt of the return",
    Trigger.GAZETTED: "publication in the gazette",
    Trigger.POLLED: "poll",
    Trigger.COUNTED: "count",
}


class Reason(StrEnum):
    """What governs the answer; what has no end stands before what has one."""

    CASE_PENDING = "case-pending"
    PRESERVATION_ORDER = "preservation-order"
    UNKNOWN_INPUT = "unknown-input"
    APPEAL_WINDOW = "appeal-window"
    TERM = "term"
    PERIOD_OVER = "period-over"


@dataclass(frozen=True)
class ContestDates:
    """A contest and the days on which things happened in it, as far as known."""

    number: str
    title: str
    events: Mapping[Trigger, date]


@dataclass(frozen=True)
class OrderFact:
    """A preservation order; without ``until_on`` it holds until it is lifted.

    Attributes:
        from_on: the day from which it holds.
        until_on: the last day it names, if it names one.
        lifted_on: the day on which it was lifted; that day is still kept.
        made_on: the day on which it was made, if that was before ``from_on``; an
            order that is known to be coming holds from then.
    """

    number: str
    title: str
    from_on: date
    until_on: date | None
    lifted_on: date | None = None
    made_on: date | None = None


@dataclass(frozen=True)
class RetentionFacts:
    """All that bears on one container: only the cases and orders that cover it."""

    kind: ContentKind
    contest: ContestDates
    cases: tuple[CaseFact, ...] = ()
    orders: tuple[OrderFact, ...] = ()


@dataclass(frozen=True)
class Hold:
    """One term, case or order, and the last day on which it holds (None: no end).

    Attributes:
        governed_by: the term's name, the case's or the order's number.
        steps: the last one is its conclusion.
    """

    reason: Reason
    governed_by: str
    title: str
    through: date | None
    steps: tuple[Step, ...]

    @property
    def called(self) -> str:
        """How it is called in a sentence: a number says more than a title."""
        if self.reason in (Reason.CASE_PENDING, Reason.APPEAL_WINDOW):
            return f"case {self.governed_by} ({self.title})"
        if self.reason is Reason.PRESERVATION_ORDER:
            return f"preservation order {self.governed_by} ({self.title})"
        return f"“{self.title}”"

    def holds_on(self, on: date) -> bool:
        """Tell whether it still holds on this day."""
        return self.through is None or self.through >= on


@dataclass(frozen=True)
class Retention:
    """How long a container is kept, as of a day, with the reasoning.

    Attributes:
        retain_through: the last day it must be kept; None for no end.
        may_be_disposed_from: the day after; None for no end.
        is_over: whether the last day lies before ``as_of``.
        governed_by: the name of the term, or the number of the case or order.
        steps: the reasoning; exactly one step decides.
        governing: the term, case or order that governs.
        holds: every term, case and order that was weighed, running or over.
        confirm_through: the day past which a no-petition confirmation must reach:
            the latest end of the petition windows and of the windows after a
            decision; None while one of them has no end.
    """

    retain_through: date | None
    may_be_disposed_from: date | None
    is_over: bool
    reason: Reason
    governed_by: str
    steps: tuple[Step, ...]
    as_of: date
    contest: str
    governing: Hold
    holds: tuple[Hold, ...]
    confirm_through: date | None

    @property
    def running(self) -> tuple[Hold, ...]:
        """Everything that still holds on the day, not only what governs."""
        return tuple(hold for hold in self.holds if hold.holds_on(self.as_of))

    @property
    def deciding_step(self) -> Step:
        """The step that decides."""
        return next(step for step in self.steps if step.decides)

    @property
    def summary(self) -> str:
        """The answer in one plain sentence."""
        ending = "no-end" if self.retain_through is None else "ends"
        code = "over" if self.is_over else f"{self.reason}-{ending}"
        facts: dict[str, Fact] = {"governing": self.governing.called}
        if self.retain_through and self.may_be_disposed_from:
            facts["through"] = self.retain_through
            facts["free_from"] = self.may_be_disposed_from
        return say(f"retention.{code}", facts)


def retention_of(
    facts: RetentionFacts, schedule: Schedule, calendar: Calendar, as_of: date
) -> Retention:
    """Return how long a container is kept, as of a day.

    Args:
        facts: what is known of its contest, and the cases and orders covering it, in
            any order. What lies after ``as_of`` has not happened yet.
        schedule: the version to which the election is pinned.
        calendar: of the court in which petitions and appeals are filed.
        as_of: the day asked about.
    """
    windows = _windows(facts, schedule, calendar, as_of)
    terms = _terms(facts, schedule, calendar, as_of)
    orders = _orders(facts, as_of)
    holds = (*terms, *windows, *orders)
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


def _terms(
    facts: RetentionFacts, schedule: Schedule, calendar: Calendar, as_of: date
) -> tuple[Hold, ...]:
    rules = schedule.classes.get(facts.kind)
    if rules is None or not rules.terms:
        told: dict[str, Fact] = {"kind": facts.kind.value, "schedule": schedule.title}
        told["version"] = schedule.version
        step = Step(as_of, "term.class-not-in-schedule", told)
        return (Hold(Reason.UNKNOWN_INPUT, facts.kind, facts.kind, None, (step,)),)
    return tuple(_term(term, facts.contest, calendar, as_of) for term in rules.terms)


def _term(term: Term, contest: ContestDates, calendar: Calendar, as_of: date) -> Hold:
    """Count one term, or say what is not known of it."""
    told: dict[str, Fact] = {
        "term": term.title,
        "clause": term.clause,
        "source": term.source,
    }
    known, unknown = _triggers(term, contest, told, as_of)
    try:
        starts = [contest.events[trigger] for trigger in term.triggers if not unknown]
        counted = last_day(starts, term.period, calendar)
    except PeriodError as error:
        problem = Step(as_of, "term.cannot-be-counted", {**told, "problem": str(error)})
        path = (*known, *(unknown or [problem]))
        return Hold(Reason.UNKNOWN_INPUT, term.name, term.title, None, path)
    end = counted.last_day
    path = (*known, *counted.steps, Step(end, "term.ends", {**told, "through": end}))
    return Hold(Reason.TERM, term.name, term.title, end, path)


def _triggers(
    term: Term, contest: ContestDates, told: Mapping[str, Fact], as_of: date
) -> tuple[list[Step], list[Step]]:
    """Tell the days on which the term's triggers came, and which are not known."""
    known, unknown = [], []
    for trigger in term.triggers:
        event = {**told, "event": TRIGGER_TITLES[trigger], "contest": contest.title}
        on = contest.events.get(trigger)
        if on is None:
            unknown.append(Step(as_of, "term.trigger-unknown", event))
        elif on > as_of:
            unknown.append(Step(as_of, "term.trigger-ahead", {**event, "on": on}))
        else:
            known.append(Step(on, "term.trigger", {**event, "on": on}))
    return known, unknown


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
