"""What an entry would change, asked before it is made: nothing is saved.

Each of these takes what the entering use case takes, as far as it bears on keeping,
and refuses what that refuses. The counts are of containers within the asker's charge.
"""

from dataclasses import dataclass
from datetime import date, datetime
from typing import TypeVar

from django.db.models import Model, QuerySet

from registry.models import Contest, Election, PreservationOrder
from registry.queries import supposing
from registry.queries.case_facts import legal_zone
from registry.queries.effects import (
    AS_RECORDED,
    EffectRow,
    Effects,
    Supposed,
    effects_on,
)
from registry.queries.find import the
from registry.queries.keeping import legal_date
from registry.queries.scope import (
    cases_of,
    contests_of,
    elections_of,
    of_elections_in_scope,
)
from registry.queries.supposing import Named
from registry.rules.case_events import CaseEventKind, CourtLevel
from registry.rules.cases import CaseEventFact
from registry.rules.powers import Actor, Power
from registry.rules.retention import OrderFact
from registry.usecases._covers import Covered, Covers, covered_by, refuse_future
from registry.usecases._door import Mistaken, note_access, usecase
from registry.usecases.calendars import held_by
from registry.usecases.setting_up import ContestDays, dates_in_order

__all__ = [
    "EffectRow",
    "Effects",
    "WhatIf",
    "suppose_case",
    "suppose_case_event",
    "suppose_case_scope",
    "suppose_contest_dates",
    "suppose_event_struck",
    "suppose_lifting",
    "suppose_order",
]


Row = TypeVar("Row", bound=Model)


@dataclass(frozen=True)
class WhatIf:
    """What would become of the containers within the asker's charge, as of a day.

    Attributes:
        freed: how many would be free of every time of keeping on that day, and are
            not so now; ``held_again``: the other way about.
    """

    effects: Effects
    as_of: date
    freed: int
    held_again: int


@usecase("case.suppose", power=Power.ENTER_CASES, subject="election")
def suppose_case(
    *,
    election: str,
    covers: Covers,
    first_event: str,
    level: str,
    occurred_on: date,
    actor: Actor,
    at: datetime,
) -> WhatIf:
    """Tell what entering a case would change."""
    of = the(_elections(actor), election, "election")
    covered = covered_by(of, covers, actor)
    event = _event(of, first_event, level, occurred_on, "", "", at)
    named = _named(covered)
    supposed = supposing.a_new_case(of, event, named, whole=covers.whole_election)
    return _what_if(of, supposed, actor, at)


@usecase("case.suppose", power=Power.ENTER_CASES, subject="case")
def suppose_case_event(
    *,
    case: str,
    kind: str,
    level: str,
    occurred_on: date,
    paper: str = "",
    note: str = "",
    actor: Actor,
    at: datetime,
) -> WhatIf:
    """Tell what recording an event of a case would change."""
    of = the(_with_rules(cases_of(actor)), case, "case")
    event = _event(of.election, kind, level, occurred_on, paper, note, at)
    return _what_if(of.election, supposing.a_new_event(of, event), actor, at)


@usecase("case.suppose", power=Power.ENTER_CASES, subject="case")
def suppose_event_struck(
    *, case: str, event: str, actor: Actor, at: datetime
) -> WhatIf:
    """Tell what striking an event of a case would change."""
    of = the(_with_rules(cases_of(actor)), case, "case")
    struck = the(of.events.all(), event, "event of this case")
    return _what_if(of.election, supposing.an_event_struck(of, struck), actor, at)


@usecase("case.suppose", power=Power.ENTER_CASES, subject="case")
def suppose_case_scope(
    *, case: str, covers: Covers, actor: Actor, at: datetime
) -> WhatIf:
    """Tell what another scope of a case would change."""
    of = the(_with_rules(cases_of(actor)), case, "case")
    named = _named(covered_by(of.election, covers, actor))
    supposed = supposing.another_scope(of, named, whole=covers.whole_election)
    return _what_if(of.election, supposed, actor, at)


@usecase("order.suppose", power=Power.ENTER_CASES, subject="election")
def suppose_order(
    *,
    election: str,
    dated: date,
    from_on: date,
    until_on: date | None,
    covers: Covers,
    actor: Actor,
    at: datetime,
) -> WhatIf:
    """Tell what entering an order to preserve would change."""
    of = the(_elections(actor), election, "election")
    if until_on and until_on < from_on:
        raise Mistaken(until_on="The order would end before it begins.")
    refuse_future(of, dated, at, "dated")
    order = OrderFact(
        number=supposing.NOT_ENTERED,
        title="order to be entered",
        from_on=from_on,
        until_on=until_on,
        made_on=dated,
    )
    covered = covered_by(of, covers, actor)
    supposed = supposing.a_new_order(
        of, order, _named(covered), whole=covered.everything
    )
    return _what_if(of, supposed, actor, at)


@usecase("order.suppose", power=Power.ENTER_CASES, subject="order")
def suppose_lifting(
    *, order: str, lifted_on: date, actor: Actor, at: datetime
) -> WhatIf:
    """Tell what the lifting of an order to preserve would change."""
    rows = of_elections_in_scope(PreservationOrder.objects.all(), actor)
    of = the(_with_rules(rows), order, "preservation order")
    refuse_future(of.election, lifted_on, at, "lifted_on")
    return _what_if(of.election, supposing.a_lifting(of, lifted_on), actor, at)


@usecase("contest.suppose", power=Power.RECORD_DATES, subject="contest")
def suppose_contest_dates(
    *, contest: str, days: ContestDays, actor: Actor, at: datetime
) -> WhatIf:
    """Tell what other dates of a contest would change."""
    of: Contest = the(_with_rules(contests_of(actor)), contest, "contest")
    problems = dates_in_order(days, legal_date(of.election, at))
    if problems:
        raise Mistaken(problems)
    return _what_if(of.election, supposing.other_dates(of, vars(days)), actor, at)


def _elections(actor: Actor) -> QuerySet[Election]:
    return elections_of(actor).select_related("schedule", "calendar")


def _with_rules(rows: QuerySet[Row]) -> QuerySet[Row]:
    return rows.select_related("election__schedule", "election__calendar")


def _named(covered: Covered) -> list[Named]:
    if covered.everything:
        return []
    return [
        *(Named(contest.pk) for contest in covered.contests),
        *(Named(station.contest_id, station.pk) for station in covered.stations),
    ]


def _event(
    election: Election,
    kind: str,
    level: str,
    occurred_on: date,
    paper: str,
    note: str,
    at: datetime,
) -> CaseEventFact:
    if kind not in set(CaseEventKind) or level not in set(CourtLevel):
        raise Mistaken(kind="Say what happened, and in which court.")
    refuse_future(election, occurred_on, at)
    return CaseEventFact(
        CaseEventKind(kind),
        occurred_on,
        CourtLevel(level),
        number=paper.strip(),
        recorded_at=at.astimezone(legal_zone(election)),
        reason=note.strip(),
    )


def _what_if(
    election: Election, supposed: Supposed, actor: Actor, at: datetime
) -> WhatIf:
    on = legal_date(election, at)
    before = AS_RECORDED
    if not actor.may(Power.LOOK_AT_CASES):
        before = supposing.by_dates_alone(election)
        supposed = supposing.by_dates_alone(election, supposed)
    effects = effects_on([election], held_by(actor), supposed, at, before)
    note_access(later=effects.later, earlier=effects.earlier)
    freed = sum(row.containers for row in effects.rows if _becomes_free(row, on))
    again = sum(row.containers for row in effects.rows if _is_held_again(row, on))
    return WhatIf(effects, on, freed, again)


def _becomes_free(row: EffectRow, on: date) -> bool:
    return _free(row.after, on) and not _free(row.before, on)


def _is_held_again(row: EffectRow, on: date) -> bool:
    return _free(row.before, on) and not _free(row.after, on)


def _free(from_on: date | None, on: date) -> bool:
    return from_on is not None and from_on <= on
