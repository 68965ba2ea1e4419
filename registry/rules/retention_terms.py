"""How long each term of the schedule holds a container."""

from collections.abc import Mapping
from datetime import date

from registry.rules.calendars import Calendar
from registry.rules.limits import extended, with_margin
from registry.rules.periods import Direction, PeriodError, last_day_of_legs
from registry.rules.retention_answer import Hold, Reason
from registry.rules.retention_facts import ContestDates, RetentionFacts
from registry.rules.schedules import Schedule, Term, Trigger
from registry.rules.steps import Fact, Step

TRIGGER_TITLES = {
    Trigger.RESULT_DECLARED: "declaration of the result",
    Trigger.RETURN_MADE: "return",
    Trigger.RETURN_RECEIVED: "receipt of the return",
    Trigger.GAZETTED: "publication in the gazette",
    Trigger.POLLED: "poll",
    Trigger.COUNTED: "count",
    Trigger.PAPERS_RECEIVED: "receipt of the papers",
    Trigger.NEXT_POLL: "next poll",
}


def term_holds(
    facts: RetentionFacts, schedule: Schedule, calendar: Calendar, as_of: date
) -> tuple[Hold, ...]:
    """Return what each term of the class holds; a class left out is held for ever."""
    rules = schedule.classes.get(facts.kind)
    if rules is None or not rules.terms:
        told: dict[str, Fact] = {"kind": facts.kind.value, "schedule": schedule.title}
        told["version"] = schedule.version
        step = Step(as_of, "term.class-not-in-schedule", told)
        return (Hold(Reason.UNKNOWN_INPUT, facts.kind, facts.kind, None, (step,)),)
    return tuple(
        _term(term, facts.contest, schedule, calendar, as_of) for term in rules.terms
    )


def _term(
    term: Term,
    contest: ContestDates,
    schedule: Schedule,
    calendar: Calendar,
    as_of: date,
) -> Hold:
    """Count one term, or say what is not known of it."""
    told: dict[str, Fact] = {
        "term": term.title,
        "clause": term.clause,
        "source": term.source,
    }
    known, unknown = _triggers(term, contest, told, as_of)
    try:
        starts = [contest.events[trigger] for trigger in term.triggers if not unknown]
        end, way = _counted(starts, term, schedule, calendar, as_of)
    except PeriodError as error:
        problem = Step(as_of, "term.cannot-be-counted", {**told, "problem": str(error)})
        path = (*known, *(unknown or [problem]))
        return Hold(Reason.UNKNOWN_INPUT, term.name, term.title, None, path)
    if end is None:
        path = (*known, *way, Step(as_of, "term.extended-without-end", told))
        return Hold(Reason.UNKNOWN_INPUT, term.name, term.title, None, path)
    path = (*known, *way, Step(end, "term.ends", {**told, "through": end}))
    return Hold(Reason.TERM, term.name, term.title, end, path)


def _counted(
    starts: list[date],
    term: Term,
    schedule: Schedule,
    calendar: Calendar,
    as_of: date,
) -> tuple[date | None, tuple[Step, ...]]:
    """Count a term; only a petition window is a limit that courts extend.

    A time of keeping is no time for acting: no order of a court that extends limits
    lengthens it, and no margin is needed for papers on their way.
    """
    if not term.petition_window:
        counted = last_day_of_legs(starts, term.legs, calendar)
        return counted.last_day, counted.steps
    counted = last_day_of_legs(starts, term.legs, calendar.for_election_petitions())
    end, by_orders = extended(max(starts), counted.last_day, calendar.extensions, as_of)
    if end is None:
        return None, (*counted.steps, *by_orders)
    margins = schedule.margins
    end, margin = with_margin(end, margins.inner_days, margins.clause)
    return end, (*counted.steps, *by_orders, *margin)


def _triggers(
    term: Term, contest: ContestDates, told: Mapping[str, Fact], as_of: date
) -> tuple[list[Step], list[Step]]:
    """Tell the days on which the term's triggers came, and which are not known."""
    known, unknown = [], []
    backward = term.period.direction == Direction.BACKWARD
    for trigger in term.triggers:
        event = {**told, "event": TRIGGER_TITLES[trigger], "contest": contest.title}
        on = contest.events.get(trigger)
        if on is None:
            unknown.append(Step(as_of, "term.trigger-unknown", event))
        elif backward:
            known.append(Step(on, "term.backward", {**event, "on": on}))
        elif on > as_of:
            unknown.append(Step(as_of, "term.trigger-ahead", {**event, "on": on}))
        else:
            known.append(Step(on, "term.trigger", {**event, "on": on}))
    return known, unknown


def outer_margin(holds: tuple[Hold, ...], schedule: Schedule) -> tuple[Hold, ...]:
    """Return the margin kept after everything else, or nothing where there is none."""
    days = schedule.margins.outer_days
    ends = [hold.through for hold in holds]
    known = [end for end in ends if end is not None]
    if not days or len(known) < len(ends):
        return ()
    end = max(known)
    try:
        through, _ = with_margin(end, days, schedule.margins.clause)
    except PeriodError:
        return ()
    facts: dict[str, Fact] = {
        "end": end,
        "length": days,
        "unit": "days",
        "clause": schedule.margins.clause or "no clause named",
        "through": through,
    }
    step = Step(through, "margin.outer", facts)
    return (Hold(Reason.TERM, "safety-margin", "Safety margin", through, (step,)),)
