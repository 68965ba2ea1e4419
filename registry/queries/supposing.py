"""What if: cases, orders and dates that are not entered, put beside those that are.

Nothing is saved. The same rules answer over the facts on record with the new fact
added, and ``effects_on`` counts what would become of the containers.
"""

from collections.abc import Sequence
from copy import copy
from dataclasses import dataclass, replace
from datetime import date

from registry.models import Case, CaseEvent, Contest, Election, PreservationOrder
from registry.queries.case_facts import event_fact, legal_zone
from registry.queries.covering import Scope
from registry.queries.effects import AS_RECORDED, Supposed
from registry.queries.keeping import Keeper
from registry.rules.cases import CaseEventFact, CaseFact
from registry.rules.retention import OrderFact

# No register number is like this, so that it stands beside every one on record.
NOT_ENTERED = "the new entry"


@dataclass(frozen=True)
class Named:
    """A contest that would be covered, or one station of it."""

    contest_id: int
    station_id: int | None = None


def a_new_case(
    election: Election, event: CaseEventFact, scopes: Sequence[Named], *, whole: bool
) -> Supposed:
    """Suppose that a case is entered with its first event."""
    fact = CaseFact(number=NOT_ENTERED, title="case to be entered", events=(event,))

    def enter(keeper: Keeper) -> None:
        keeper.cases(election).file(fact, scopes, whole=whole)

    return Supposed(facts=enter, parted=_parted(scopes))


def a_new_event(case: Case, event: CaseEventFact) -> Supposed:
    """Suppose that something is recorded in a case."""

    def record(keeper: Keeper) -> None:
        keeper.cases(case.election).replace(
            case.number, lambda fact: replace(fact, events=(*fact.events, event))
        )

    return Supposed(facts=record)


def an_event_struck(case: Case, event: CaseEvent) -> Supposed:
    """Suppose that an event of a case is declared to have been entered in error."""
    entered = event_fact(event, legal_zone(case.election))

    def is_it(one: CaseEventFact) -> bool:
        return replace(one, other="") == entered

    def strike(keeper: Keeper) -> None:
        keeper.cases(case.election).replace(
            case.number,
            lambda fact: replace(
                fact,
                events=tuple(
                    replace(one, struck=True) if is_it(one) else one
                    for one in fact.events
                ),
            ),
        )

    return Supposed(facts=strike)


def another_scope(case: Case, scopes: Sequence[Named], *, whole: bool) -> Supposed:
    """Suppose that a case covers something else."""

    def cover(keeper: Keeper) -> None:
        covering = keeper.cases(case.election)
        for fact in covering.remove(case.number):
            covering.file(fact, scopes, whole=whole)

    return Supposed(facts=cover, parted=_parted(scopes))


def a_new_order(
    election: Election, order: OrderFact, scopes: Sequence[Named], *, whole: bool
) -> Supposed:
    """Suppose that an order to preserve is entered."""

    def enter(keeper: Keeper) -> None:
        keeper.orders(election).file(order, scopes, whole=whole)

    return Supposed(facts=enter, parted=_parted(scopes))


def a_lifting(order: PreservationOrder, on: date) -> Supposed:
    """Suppose that an order to preserve is lifted on a day."""

    def lift(keeper: Keeper) -> None:
        keeper.orders(order.election).replace(
            order.number, lambda fact: replace(fact, lifted_on=on)
        )

    return Supposed(facts=lift)


def other_dates(contest: Contest, days: dict[str, date | None]) -> Supposed:
    """Suppose that a contest has these dates, by the names of its columns."""
    supposed = copy(contest)
    for name, day in days.items():
        setattr(supposed, name, day)

    def put(keeper: Keeper) -> None:
        keeper.suppose_dates(supposed)

    return Supposed(facts=put)


def by_dates_alone(election: Election, then: Supposed = AS_RECORDED) -> Supposed:
    """Suppose that there is neither case nor order, for who may not know of any."""

    def forget(keeper: Keeper) -> None:
        keeper.cases(election).clear()
        keeper.orders(election).clear()
        if then.facts:
            then.facts(keeper)

    return replace(then, facts=forget)


def _parted(scopes: Sequence[Scope]) -> frozenset[int]:
    return frozenset(s.contest_id for s in scopes if s.station_id is not None)
