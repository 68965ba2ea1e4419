"""The second clock: the answer that the register gave at a moment, exactly.

"What did the register say on the day the disposal was permitted?" must be answerable
(issue 3 of this project).
"""

from dataclasses import dataclass, field, replace
from datetime import UTC, date, datetime, timedelta
from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from registry.rules.as_known import calendar_as_known, facts_as_known
from registry.rules.calendars import Calendar, Closure, ClosureKind, Extension
from registry.rules.cases import CaseEventFact, CaseEventKind, CaseFact, CourtLevel
from registry.rules.retention import (
    ContestDates,
    DateEntry,
    OrderFact,
    Retention,
    RetentionFacts,
    retention_of,
)
from registry.rules.schedules import ContentKind, Trigger
from tests.rules.calvenna import HIGH_BENCH, SCHEDULE, case, day, event, slips
from tests.rules.case_strategies import close_days, days, kinds, levels

DECLARED = Trigger.RESULT_DECLARED


def at(text: str) -> datetime:
    return datetime.fromisoformat(f"{text}T10:00:00+00:00")


def kept(
    facts: RetentionFacts,
    on: str,
    known: str | None = None,
    calendar: Calendar = HIGH_BENCH,
) -> Retention:
    known_at = at(known) if known else None
    return retention_of(facts, SCHEDULE, calendar, day(on), known_at)


# --- each kind of fact --------------------------------------------------------------


def test_a_petition_entered_two_weeks_late_was_not_known_before() -> None:
    # Failure mode 1: filed on the last day, entered two weeks later.
    late = slips(cases=(case(event("filed", "2026-06-19", recorded="2026-07-03")),))
    assert kept(late, "2026-06-20").retain_through is None
    before = kept(late, "2026-06-20", "2026-07-02")
    assert before.retain_through == date(2027, 5, 5)
    assert before.known_at == at("2026-07-02")
    assert kept(late, "2026-06-20", "2026-07-03").retain_through is None


def test_a_case_of_which_only_a_later_event_is_unknown_stays() -> None:
    decided = case(
        event("filed", "2026-06-01", recorded="2026-06-01"),
        event("dismissed", "2026-07-20", recorded="2026-08-20"),
    )
    facts = slips(cases=(decided,))
    assert kept(facts, "2027-06-01", "2026-08-19").retain_through is None
    assert kept(facts, "2027-06-01", "2026-08-20").is_over


def test_a_case_entered_without_events_was_known_from_its_entry() -> None:
    bare = replace(case(), recorded_at=at("2026-06-01"))
    facts = slips(cases=(bare,))
    assert kept(facts, "2026-06-02", "2026-05-31").retain_through is not None
    assert kept(facts, "2026-06-02", "2026-06-01").retain_through is None
    # When it was entered is not known: it always was.
    assert (
        kept(slips(cases=(case(),)), "2026-06-02", "2020-01-01").retain_through is None
    )


def test_a_case_known_before_any_of_its_events_holds() -> None:
    known = replace(
        case(event("filed", "2026-06-01", recorded="2026-07-01")),
        recorded_at=at("2026-06-01"),
    )
    facts = slips(cases=(known,))
    assert kept(facts, "2026-06-02", "2026-06-02").retain_through is None


def test_an_entry_struck_later_still_counted_then() -> None:
    wrong = replace(
        event("dismissed", "2026-07-20", recorded="2026-07-21"),
        struck=True,
        struck_at=at("2026-09-01"),
    )
    filed = event("filed", "2026-06-01", recorded="2026-06-01")
    facts = slips(cases=(case(filed, wrong),))
    assert kept(facts, "2027-06-01").retain_through is None
    assert kept(facts, "2027-06-01", "2026-08-31").is_over
    assert kept(facts, "2027-06-01", "2026-09-01").retain_through is None


def test_an_entry_of_which_nobody_knows_when_it_was_struck_never_counted() -> None:
    wrong = event("dismissed", "2026-07-20", recorded="2026-07-21", struck=True)
    facts = slips(cases=(case(event("filed", "2026-06-01"), wrong),))
    assert kept(facts, "2027-06-01", "2026-08-31").retain_through is None


def test_an_order_and_its_lifting_are_known_from_their_entries() -> None:
    order = OrderFact(
        "PO-000001",
        "Keep all slips",
        day("2026-06-01"),
        None,
        lifted_on=day("2026-09-01"),
        recorded_at=at("2026-06-10"),
        lift_recorded_at=at("2026-09-20"),
    )
    facts = slips(orders=(order,))
    assert kept(facts, "2028-01-01", "2026-06-09").is_over
    assert kept(facts, "2028-01-01", "2026-09-19").retain_through is None
    assert kept(facts, "2028-01-01", "2026-09-20").is_over


def test_a_corrected_declaration_was_another_day_before() -> None:
    # Failure mode 7: the declaration's date is corrected after the window was counted.
    entries = (
        DateEntry(DECLARED, day("2026-05-15"), at("2026-06-01")),
        DateEntry(DECLARED, day("2026-05-05"), at("2026-05-06")),
        DateEntry(Trigger.POLLED, day("2026-05-02")),
    )
    contest = ContestDates("CT-000011", "11 Harbour Reach", {}, entries)
    facts = slips(contest=contest)
    assert kept(facts, "2026-07-01").retain_through == date(2027, 5, 15)
    then = kept(facts, "2026-07-01", "2026-05-31")
    assert then.retain_through == date(2027, 5, 5)
    assert kept(facts, "2026-07-01", "2026-05-05").retain_through is None


def test_a_date_taken_back_is_not_known() -> None:
    entries = (
        DateEntry(DECLARED, day("2026-05-05"), at("2026-05-06")),
        DateEntry(DECLARED, None, at("2026-05-20")),
    )
    facts = slips(contest=ContestDates("CT-000011", "11 Harbour Reach", {}, entries))
    assert kept(facts, "2026-07-01").retain_through is None
    assert kept(facts, "2026-07-01", "2026-05-19").retain_through == date(2027, 5, 5)


def test_of_two_dates_entered_at_one_instant_the_later_counts() -> None:
    one, other = (
        DateEntry(DECLARED, day(text), at("2026-05-06"))
        for text in ("2026-05-05", "2026-05-04")
    )
    for entries in ((one, other), (other, one)):
        contest = ContestDates("CT-000011", "11 Harbour Reach", {}, entries)
        assert contest.as_known(None).events == {DECLARED: date(2026, 5, 5)}


def test_a_date_that_was_always_known_yields_to_one_that_was_entered() -> None:
    always = DateEntry(DECLARED, day("2026-05-30"))
    entered = DateEntry(DECLARED, day("2026-05-05"), at("1960-05-06"))
    for entries in ((always, entered), (entered, always)):
        contest = ContestDates("CT-000011", "11 Harbour Reach", {}, entries)
        assert contest.as_known(None).events == {DECLARED: date(2026, 5, 5)}
        before = contest.as_known(at("1960-05-05"))
        assert before.events == {DECLARED: date(2026, 5, 30)}


def test_an_order_whose_lifting_is_not_known_shows_nothing_of_it() -> None:
    order = OrderFact(
        "PO-000001",
        "Keep",
        day("2026-06-01"),
        None,
        lifted_on=day("2026-09-01"),
        lift_recorded_at=at("2026-09-20"),
    )
    (then,) = facts_as_known(slips(orders=(order,)), at("2026-09-19")).orders
    assert then == replace(order, lifted_on=None, lift_recorded_at=None)


def test_a_closed_day_entered_later_moves_the_window_from_then_on() -> None:
    # Issue 3: a later-entered closed day recomputes what it touches.
    strike = Closure(
        day("2026-06-19"),
        day("2026-06-19"),
        "strike",
        "N 3/2026",
        ClosureKind.EVENT,
        recorded_at=at("2026-06-22"),
    )
    court = replace(HIGH_BENCH, closures=(*HIGH_BENCH.closures, strike))
    now = kept(slips(), "2026-06-30", calendar=court)
    then = kept(slips(), "2026-06-30", "2026-06-21", calendar=court)
    window = {hold.governed_by: hold.through for hold in now.holds}["petition-window"]
    before = {hold.governed_by: hold.through for hold in then.holds}["petition-window"]
    assert (before, window) == (date(2026, 6, 19), date(2026, 6, 20))


def test_a_closure_struck_as_an_error_counts_until_it_was_struck() -> None:
    error = Closure(
        day("2026-06-19"), day("2026-06-30"), "error", "N 4", struck_at=at("2026-06-25")
    )
    court = Calendar(closures=(error,))
    assert calendar_as_known(court, None).closures == ()
    assert calendar_as_known(court, at("2026-06-24")).closures == (error,)
    assert calendar_as_known(court, at("2026-06-25")).closures == ()


def test_an_extension_is_known_from_its_entry() -> None:
    order = Extension(day("2026-06-01"), None, "order 1", recorded_at=at("2026-06-10"))
    court = Calendar(extensions=(order,))
    assert calendar_as_known(court, at("2026-06-09")).extensions == ()
    assert calendar_as_known(court, at("2026-06-10")) is court


def test_a_moment_without_its_zone_is_refused() -> None:
    naive = datetime.fromisoformat("2026-06-01T10:00:00")
    with pytest.raises(ValueError, match="time zone"):
        facts_as_known(slips(), naive)
    with pytest.raises(ValueError, match="time zone"):
        calendar_as_known(Calendar(), naive)


# --- as-of now equals replay -------------------------------------------------------


@dataclass
class Register:
    """A register that is written entry by entry and forgets nothing it was told.

    It knows no second clock: it stands as the entries made so far leave it.
    """

    dates: dict[Trigger, date] = field(default_factory=dict)
    events: dict[str, list[CaseEventFact]] = field(default_factory=dict)
    orders: dict[str, OrderFact] = field(default_factory=dict)
    closures: list[Closure] = field(default_factory=list)

    def answers(self, on: date) -> Retention:
        contest = ContestDates("CT-000011", "11 Harbour Reach", dict(self.dates))
        cases = tuple(
            CaseFact(number, number, tuple(events))
            for number, events in self.events.items()
        )
        facts = RetentionFacts(
            ContentKind.POLL_SLIPS, contest, cases, tuple(self.orders.values())
        )
        return retention_of(
            facts, SCHEDULE, Calendar(closures=tuple(self.closures)), on
        )


@dataclass(frozen=True)
class Entered:
    """One entry as it was made; ``what`` is a date, event, strike, order, lift, day."""

    what: str
    on: date
    kind: CaseEventKind
    level: CourtLevel
    case: str


entries_made = st.lists(
    st.builds(
        Entered,
        what=st.sampled_from(
            ["date", "event", "event", "event", "strike", "order", "lift", "day"]
        ),
        on=st.one_of(days, close_days),
        kind=kinds,
        level=levels,
        case=st.sampled_from(["CA-000001", "CA-000002"]),
    ),
    min_size=1,
    max_size=12,
)
START = datetime(2026, 5, 1, 9, tzinfo=UTC)


class History:
    """Every entry with its moment, from which any earlier state can be told."""

    def __init__(self) -> None:
        self.dates: list[DateEntry] = []
        self.events: list[tuple[str, CaseEventFact]] = []
        self.orders: list[OrderFact] = []
        self.closures: list[Closure] = []

    def facts(self) -> RetentionFacts:
        by_case: dict[str, list[CaseEventFact]] = {}
        for number, made in self.events:
            by_case.setdefault(number, []).append(made)
        cases = tuple(CaseFact(n, n, tuple(made)) for n, made in by_case.items())
        contest = ContestDates("CT-000011", "11 Harbour Reach", {}, tuple(self.dates))
        return RetentionFacts(
            ContentKind.POLL_SLIPS, contest, cases, tuple(self.orders)
        )

    def calendar(self) -> Calendar:
        return Calendar(closures=tuple(self.closures))


def enter(
    made: Entered, moment: datetime, register: Register, history: History
) -> None:
    """Make one entry in both."""
    if made.what == "date":
        register.dates[DECLARED] = made.on
        history.dates.append(DateEntry(DECLARED, made.on, moment))
    elif made.what == "event":
        fact = CaseEventFact(made.kind, made.on, made.level, recorded_at=moment)
        register.events.setdefault(made.case, []).append(fact)
        history.events.append((made.case, fact))
    elif made.what == "strike":
        _strike(made, moment, register, history)
    elif made.what == "order":
        number = f"PO-{len(history.orders):06d}"
        fact_o = OrderFact(number, "order", made.on, None, recorded_at=moment)
        register.orders[number] = fact_o
        history.orders.append(fact_o)
    elif made.what == "lift" and history.orders:
        _lift(made, moment, register, history)
    elif made.what == "day":
        closure = Closure(made.on, made.on, "closed", "N 1", recorded_at=moment)
        register.closures.append(closure)
        history.closures.append(closure)


def _strike(
    made: Entered, moment: datetime, register: Register, history: History
) -> None:
    of_case = register.events.get(made.case, [])
    live = [n for n, fact in enumerate(of_case) if not fact.struck]
    if not live:
        return
    place = live[0]
    fact = of_case[place]
    where = history.events.index((made.case, fact))
    of_case[place] = replace(fact, struck=True)
    history.events[where] = (made.case, replace(fact, struck=True, struck_at=moment))
    # Both name the same entry from now on, so that it can be found again.
    of_case[place] = history.events[where][1]


def _lift(
    made: Entered, moment: datetime, register: Register, history: History
) -> None:
    *others, order = history.orders
    if order.lifted_on is None:
        lifted = replace(order, lifted_on=made.on, lift_recorded_at=moment)
        register.orders[order.number] = lifted
        history.orders[:] = [*others, lifted]


@given(entries_made, days, st.randoms(use_true_random=False))
def test_as_known_at_a_moment_is_what_the_register_said_then(
    made: list[Entered], on: date, chance: Random
) -> None:
    register, history = Register(), History()
    said: list[tuple[datetime, Retention]] = []
    for number, entry in enumerate(made):
        moment = START + timedelta(days=number)
        enter(entry, moment, register, history)
        said.append((moment, register.answers(on)))

    facts = history.facts()
    # The order in which the history is read back says nothing.
    shuffled = list(facts.cases)
    chance.shuffle(shuffled)
    facts = replace(facts, cases=tuple(shuffled))
    for moment, answer in said:
        then = retention_of(facts, SCHEDULE, history.calendar(), on, moment)
        assert (then.retain_through, then.reason, then.governed_by) == (
            answer.retain_through,
            answer.reason,
            answer.governed_by,
        )
        assert then.confirm_through == answer.confirm_through
    last = retention_of(facts, SCHEDULE, history.calendar(), on)
    assert last.retain_through == said[-1][1].retain_through
