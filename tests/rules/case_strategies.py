"""Cases, orders and contests as Hypothesis makes them up, of real variety.

Days lie within two years, close enough to each other that windows overlap, events
share days, and the day asked about falls before, inside and after all of them.
"""

from datetime import UTC, date, datetime, time, timedelta

from hypothesis import strategies as st

from registry.rules.case_events import DECISIONS
from registry.rules.cases import CaseEventFact, CaseEventKind, CaseFact, CourtLevel
from registry.rules.retention import ContestDates, OrderFact, RetentionFacts
from registry.rules.schedules import ContentKind, Trigger

OPENING, CLOSING = date(2026, 5, 1), date(2028, 4, 30)

days = st.dates(OPENING, CLOSING)
close_days = st.dates(date(2026, 5, 1), date(2026, 9, 30))
levels = st.sampled_from(CourtLevel)
# What a court decides; that a case is no longer expected is nobody's decision.
COURT_DECISIONS = DECISIONS - {CaseEventKind.NO_LONGER_EXPECTED}
# A flat choice of kinds would hardly ever leave a case decided in all its courts.
kinds = st.one_of(
    st.sampled_from(CaseEventKind), st.sampled_from(sorted(COURT_DECISIONS))
)
calls_back = st.sampled_from(sorted(set(CaseEventKind) - DECISIONS))


seldom = st.sampled_from([False, False, False, True])


@st.composite
def case_events(
    draw: st.DrawFn,
    kind: st.SearchStrategy[CaseEventKind] = kinds,
    struck: st.SearchStrategy[bool] = seldom,
) -> CaseEventFact:
    """Make up one event, recorded on its day, later, earlier or at no known time."""
    on = draw(st.one_of(days, close_days))
    lag = draw(st.one_of(st.none(), st.integers(-10, 40)))
    at = None
    if lag is not None:
        at = datetime.combine(on + timedelta(days=lag), time(9), UTC)
    return CaseEventFact(
        kind=draw(kind),
        on=on,
        level=draw(levels),
        number=draw(st.sampled_from(["", "12/2026"])),
        recorded_at=at,
        struck=draw(struck),
        other=draw(st.sampled_from(["", "CA-000009"])),
        reason=draw(st.sampled_from(["", "a letter of the police"])),
    )


@st.composite
def plain_lives(draw: st.DrawFn) -> list[CaseEventFact]:
    """Make up a case that goes its usual way: filed, and decided in its court."""
    filed = draw(st.one_of(close_days, days))
    decided = filed + timedelta(days=draw(st.integers(0, 400)))
    kind = draw(st.sampled_from(sorted(COURT_DECISIONS)))
    level = draw(levels)
    return [
        CaseEventFact(CaseEventKind.FILED, filed, level),
        CaseEventFact(kind, decided, level),
    ]


@st.composite
def cases(draw: st.DrawFn, number: int = 1, min_size: int = 0) -> CaseFact:
    """Make up one case, going its usual way or with any events in any order."""
    any_events = st.lists(case_events(), min_size=min_size, max_size=6)
    events = draw(st.one_of(plain_lives(), plain_lives(), any_events))
    return CaseFact(f"CA-{number:06d}", f"Case {number}", tuple(events))


@st.composite
def orders(draw: st.DrawFn, number: int = 1) -> OrderFact:
    """Make up one preservation order, also one whose dates contradict each other."""
    return OrderFact(
        number=f"PO-{number:06d}",
        title=f"Order {number}",
        from_on=draw(days),
        until_on=draw(st.none() | days),
        lifted_on=draw(st.none() | days),
        made_on=draw(st.none() | days),
    )


@st.composite
def contests(draw: st.DrawFn) -> ContestDates:
    """Make up a contest whose dates are mostly known."""
    known = st.dictionaries(
        st.sampled_from(Trigger), st.one_of(close_days, days), max_size=6
    )
    usual = {
        Trigger.POLLED: date(2026, 5, 2),
        Trigger.COUNTED: date(2026, 5, 4),
        Trigger.RESULT_DECLARED: date(2026, 5, 5),
    }
    events = draw(st.one_of(st.just(usual), known.map(lambda k: usual | k), known))
    return ContestDates("CT-000011", "11 Harbour Reach", events)


@st.composite
def retention_facts(draw: st.DrawFn) -> RetentionFacts:
    """Make up all that bears on a container."""
    case_numbers = range(1, draw(st.integers(0, 3)) + 1)
    order_numbers = range(1, draw(st.sampled_from([0, 0, 1, 2])) + 1)
    return RetentionFacts(
        kind=draw(st.sampled_from(ContentKind)),
        contest=draw(contests()),
        cases=tuple(draw(cases(number)) for number in case_numbers),
        orders=tuple(draw(orders(number)) for number in order_numbers),
    )
