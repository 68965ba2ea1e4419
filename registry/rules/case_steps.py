"""How the events of a case are told in a reasoning."""

from collections.abc import Mapping
from datetime import date
from types import MappingProxyType

from registry.rules.case_events import (
    EVENT_TITLES,
    LEVEL_TITLES,
    CaseEventFact,
    CaseFact,
    in_order,
)
from registry.rules.steps import Fact, Step


def told(case: CaseFact, event: CaseEventFact) -> Step:
    """Tell an event, and when the register learnt of it if that was later."""
    if event.recorded_at and event.recorded_at.date() > event.on:
        recorded_on = event.recorded_at.date()
        return case_step("case.event-late", case, event, {"recorded_on": recorded_on})
    return case_step("case.event", case, event)


def struck(case: CaseFact, as_of: date) -> list[Step]:
    """Tell the entries made in error, of days gone by."""
    errors = tuple(event for event in case.events if event.struck)
    return [
        case_step("case.event-struck", case, event)
        for event in in_order(errors)
        if event.on <= as_of
    ]


def case_step(
    code: str,
    case: CaseFact,
    event: CaseEventFact,
    facts: Mapping[str, Fact] = MappingProxyType({}),
) -> Step:
    """Make a step of a case's reasoning out of one of its events."""
    about: dict[str, Fact] = {
        "case": case.number,
        "title": case.title,
        "event": EVENT_TITLES[event.kind],
        "court": LEVEL_TITLES[event.level],
        "on": event.on,
    }
    return Step(event.on, code, {**about, **facts})
