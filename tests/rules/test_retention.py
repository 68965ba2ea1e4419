"""Held until when, why, by which rule.

"Failure mode N" is the list of that name in this project's reference; "row" names a
row of the project's deadline_cases.csv, with its degree of confidence.
"""

from dataclasses import replace
from datetime import date, timedelta
from random import Random

import pytest
from hypothesis import HealthCheck, Phase, example, find, given, settings
from hypothesis import strategies as st

from registry.rules.calendars import Calendar, Closure
from registry.rules.cases import CaseEventFact, CaseFact
from registry.rules.periods import IfClosed, Period, Unit
from registry.rules.retention import (
    OrderFact,
    Reason,
    Retention,
    RetentionFacts,
    retention_of,
)
from registry.rules.schedules import (
    ClassRules,
    ContentKind,
    Schedule,
    Term,
    Trigger,
)
from tests.rules.calvenna import (
    DECLARED,
    EVERY_DAY_OPEN,
    FINAL,
    HIGH_BENCH,
    SCHEDULE,
    case,
    day,
    event,
    harbour_reach,
    slips,
)
from tests.rules.case_strategies import (
    calls_back,
    case_events,
    cases,
    days,
    orders,
    retention_facts,
)


def kept(facts: RetentionFacts, on: str, calendar: Calendar = HIGH_BENCH) -> Retention:
    return retention_of(facts, SCHEDULE, calendar, day(on))


def order(
    from_on: str, until_on: str | None = None, lifted_on: str | None = None
) -> OrderFact:
    return OrderFact(
        "PO-000001",
        "Keep all slips of Harbour Reach",
        day(from_on),
        day(until_on) if until_on else None,
        day(lifted_on) if lifted_on else None,
    )


def only(*terms: Term) -> Schedule:
    """Return the demo's schedule with these terms alone for poll slips."""
    rules = SCHEDULE.classes[ContentKind.POLL_SLIPS]
    classes: dict[ContentKind, ClassRules] = {rules.kind: replace(rules, terms=terms)}
    return replace(SCHEDULE, classes=classes)


def term(length: int, unit: Unit, *triggers: Trigger, roll: bool = False) -> Term:
    period = Period(
        length, unit, if_closed=IfClosed.NEXT_OPEN if roll else IfClosed.KEEP
    )
    return Term(
        f"{length}-{unit}", f"{length} {unit}", triggers, period, "s 1", "a law"
    )


# --- the terms ---------------------------------------------------------------------


def test_the_latest_term_governs() -> None:
    retention = kept(slips(), "2026-06-01")
    assert retention.retain_through == date(2027, 5, 5)
    assert retention.may_be_disposed_from == date(2027, 5, 6)
    assert (retention.reason, retention.governed_by) == (Reason.TERM, "minimum-slips")
    assert not retention.is_over
    assert "Keep through 5 May 2027" in retention.summary


def test_the_petition_window_alone_releases_no_slips() -> None:
    # The two clocks are confused in practice: "45 days" is the petition window, the
    # slips are kept longer (project reference, desks.md B.1).
    assert not kept(slips(), "2026-06-20").is_over


def test_the_last_day_is_kept_whole_and_disposal_may_come_the_day_after() -> None:
    assert not kept(slips(), "2027-05-05").is_over
    over = kept(slips(), "2027-05-06")
    assert over.is_over
    assert over.reason is Reason.PERIOD_OVER
    assert over.governed_by == "minimum-slips"
    assert "ended on 5 May 2027" in over.summary


def test_a_floor_that_ends_on_a_closed_day_does_not_roll() -> None:
    # 16 May 2027 is a Sunday, on which the Registry is closed.
    declared = harbour_reach(declared=date(2026, 5, 16))
    retention = kept(slips(contest=declared), "2026-06-01")
    assert retention.retain_through == date(2027, 5, 16)
    assert "stays where it falls" in " ".join(step.text for step in retention.steps)


# Published windows after the declaration. Every row stands in deadline_cases.csv.
PETITION_WINDOWS = [
    # India, Representation of the People Act 1951 s 81(1): 45 days, General Clauses
    # Act s 9 (the first day excluded) and s 10 (a closed last day).
    ("IN-02, published value", 45, "1974-04-30", "", "1974-06-14"),
    ("IN-01, published outcome", 45, "1998-11-28", "", "1999-01-12"),
    ("IN-04, published value", 45, "1972-02-02", "", "1972-03-18"),
    (
        "IN-07, rule seen; value derived",
        45,
        "1989-11-26",
        "1990-01-02..1990-01-12",
        "1990-01-15",
    ),
    ("IN-12, rule seen; value derived", 45, "2024-06-04", "", "2024-07-19"),
    # Kenya, Constitution art 87(2): 28 days from the declaration.
    ("KE-02, rule seen; value derived", 28, "2013-03-07", "", "2013-04-04"),
]


@pytest.mark.parametrize(
    ("row", "length", "declared", "closed", "last"), PETITION_WINDOWS
)
def test_published_petition_windows(
    row: str, length: int, declared: str, closed: str, last: str
) -> None:
    closures: tuple[Closure, ...] = ()
    if closed:
        first, end = closed.split("..")
        closures = (Closure(day(first), day(end), "vacation"),)
    weekdays = frozenset({5, 6}) if closed else frozenset({6})
    window = term(length, Unit.DAYS, Trigger.RESULT_DECLARED, roll=True)
    facts = slips(contest=harbour_reach(declared=day(declared)))
    retention = retention_of(
        facts, only(window), Calendar(weekdays, closures), day(declared)
    )
    assert retention.retain_through == day(last), row


def test_a_window_that_ends_in_the_courts_holiday_runs_to_the_reopening() -> None:
    # Hari Shanker Tripathi v Shiv Harsh (SC India 1976), in the project reference,
    # desks.md B.2: declared 30 April 1974, closed 25 May to 7 July, filed on the day
    # of reopening, 8 July, held in time.
    holiday = Calendar(
        closures=(Closure(date(1974, 5, 25), date(1974, 7, 7), "holiday"),)
    )
    window = term(45, Unit.DAYS, Trigger.RESULT_DECLARED, roll=True)
    facts = slips(contest=harbour_reach(declared=date(1974, 4, 30)))
    retention = retention_of(facts, only(window), holiday, date(1974, 5, 1))
    assert retention.retain_through == date(1974, 7, 8)


def test_two_regimes_on_one_container_are_kept_by_the_longer() -> None:
    # Failure mode 32; USA: 22 months under 52 U.S.C. 20701 (row US-04, rule seen,
    # value derived) against a local 12 months.
    both = only(
        term(12, Unit.MONTHS, Trigger.POLLED), term(22, Unit.MONTHS, Trigger.POLLED)
    )
    facts = slips(contest=harbour_reach(polled=date(2024, 11, 5)))
    retention = retention_of(facts, both, EVERY_DAY_OPEN, date(2025, 1, 1))
    assert retention.retain_through == date(2026, 9, 5)
    assert retention.governed_by == "22-months"


def test_the_latest_of_several_triggers_starts_the_term() -> None:
    # Failure mode 9: of several dates in one contest the latest counts.
    latest = only(term(6, Unit.MONTHS, Trigger.POLLED, Trigger.RETURN_RECEIVED))
    contest = harbour_reach()
    received = {**contest.events, Trigger.RETURN_RECEIVED: date(2026, 5, 20)}
    facts = slips(contest=replace(contest, events=received))
    retention = retention_of(facts, latest, EVERY_DAY_OPEN, date(2026, 6, 1))
    assert retention.retain_through == date(2026, 11, 20)


def test_each_contest_counts_from_its_own_declaration() -> None:
    # Failure mode 8; failure mode 24: after a re-poll the final declaration counts.
    late = harbour_reach(declared=date(2026, 6, 9))
    retention = kept(slips(contest=late), "2026-07-01")
    assert retention.retain_through == date(2027, 6, 9)


def test_a_corrected_declaration_moves_the_end_both_ways() -> None:
    # Failure mode 7.
    ends = [
        kept(slips(contest=harbour_reach(declared=day(d))), "2026-08-01").retain_through
        for d in ("2026-05-05", "2026-05-08", "2026-05-05")
    ]
    assert ends == [date(2027, 5, 5), date(2027, 5, 8), date(2027, 5, 5)]


def test_one_year_from_the_29th_of_february() -> None:
    # Failure mode 34; row DU-06 (rule recalled; value derived).
    leap = only(term(1, Unit.YEARS, Trigger.RESULT_DECLARED))
    facts = slips(contest=harbour_reach(declared=date(2024, 2, 29)))
    retention = retention_of(facts, leap, EVERY_DAY_OPEN, date(2024, 3, 1))
    assert retention.retain_through == date(2025, 2, 28)
    assert retention.may_be_disposed_from == date(2025, 3, 1)


# --- unknown means keep ------------------------------------------------------------


def test_a_result_not_yet_declared_means_keep_without_end() -> None:
    # Failure mode 10.
    retention = kept(slips(contest=harbour_reach(declared=None)), "2046-01-01")
    assert retention.retain_through is None
    assert retention.may_be_disposed_from is None
    assert not retention.is_over
    assert retention.reason is Reason.UNKNOWN_INPUT
    assert "unknown means keep" in retention.deciding_step.text


def test_a_declaration_dated_ahead_starts_nothing() -> None:
    # Failure mode 10: a scheduled declaration never starts a window.
    retention = kept(slips(), (DECLARED - timedelta(days=1)).isoformat())
    assert retention.retain_through is None
    assert "lies ahead" in retention.deciding_step.text


def test_a_class_of_which_the_schedule_says_nothing_is_kept_without_end() -> None:
    silent = replace(SCHEDULE, classes={})
    retention = retention_of(slips(), silent, HIGH_BENCH, date(2046, 1, 1))
    assert retention.reason is Reason.UNKNOWN_INPUT
    assert retention.retain_through is None


def test_one_unknown_trigger_of_two_means_keep() -> None:
    both = only(term(6, Unit.MONTHS, Trigger.POLLED, Trigger.RETURN_RECEIVED))
    retention = retention_of(slips(), both, HIGH_BENCH, date(2046, 1, 1))
    assert retention.reason is Reason.UNKNOWN_INPUT


def test_a_calendar_that_is_never_open_means_keep_not_a_crash() -> None:
    never = Calendar(weekdays=frozenset(range(7)))
    retention = kept(slips(), "2046-01-01", never)
    assert retention.retain_through is None
    assert "cannot be counted" in retention.deciding_step.text


# --- cases -------------------------------------------------------------------------


def test_a_pending_case_holds_without_end_after_every_term_is_over() -> None:
    retention = kept(slips(cases=(case(event("filed", "2026-06-19")),)), "2046-01-01")
    assert retention.retain_through is None
    assert (retention.reason, retention.governed_by) == (
        Reason.CASE_PENDING,
        "CA-000001",
    )
    assert "is pending" in retention.summary


def test_a_case_filed_on_the_last_day_and_entered_later_holds_from_its_filing() -> None:
    # Failure mode 1: 19 June 2026 is day 45 after the declaration of 5 May.
    late = case(event("filed", "2026-06-19", recorded="2026-07-03"))
    assert kept(slips(cases=(late,)), "2026-06-19").reason is Reason.CASE_PENDING


def test_dismissal_is_not_settlement_while_an_appeal_can_come() -> None:
    dismissed = case(event("filed", "2026-06-01"), event("dismissed", "2027-06-01"))
    facts = slips(cases=(dismissed,))
    window = kept(facts, "2027-06-02")
    assert window.reason is Reason.APPEAL_WINDOW
    assert window.retain_through == date(2027, 7, 1)
    assert "not settled before" in window.summary
    assert kept(facts, "2027-07-02").is_over


def test_material_is_released_on_finality_not_on_the_judgments_day() -> None:
    # Texas Election Code s 1.013 (row US-09, rule seen; value derived): keep until the
    # judgment becomes final. Here the appeal window makes it final.
    # Failure mode 27: an election declared void is kept to the end of the appeal.
    void = case(event("filed", "2026-06-01"), event("allowed", "2027-11-18"))
    facts = slips(cases=(void,))
    assert kept(facts, "2027-11-18").retain_through == date(2027, 12, 18)
    assert not kept(facts, "2027-12-18").is_over


def test_a_case_settled_early_leaves_the_term_to_govern() -> None:
    settled = case(event("filed", "2026-06-01"), event("dismissed", "2026-08-03"))
    retention = kept(slips(cases=(settled,)), "2026-12-01")
    assert (retention.reason, retention.retain_through) == (
        Reason.TERM,
        date(2027, 5, 5),
    )


def test_a_case_determined_later_than_the_terms_governs() -> None:
    # NSW Electoral Act 2017 s 175(4) (row NSW-02, rule seen; value derived): latest of
    # six months after the poll and the day the petition is determined.
    six_months = only(term(6, Unit.MONTHS, Trigger.POLLED))
    six_months = replace(six_months, appeal_windows=())
    contest = harbour_reach(polled=date(2023, 3, 25), declared=date(2023, 4, 20))
    before = retention_of(
        slips(contest=contest), six_months, EVERY_DAY_OPEN, date(2023, 5, 1)
    )
    determined = case(
        event("filed", "2023-05-20", FINAL), event("dismissed", "2023-11-30", FINAL)
    )
    after = retention_of(
        slips(contest=contest, cases=(determined,)),
        six_months,
        EVERY_DAY_OPEN,
        date(2023, 11, 30),
    )
    assert before.retain_through == date(2023, 9, 25)
    assert after.retain_through == date(2023, 11, 30)


def test_settling_one_of_two_cases_settles_nothing() -> None:
    # Failure mode 18.
    one = case(event("filed", "2026-06-01"), event("dismissed", "2026-08-03"))
    other = case(event("filed", "2026-06-02"), number="CA-000002")
    retention = kept(slips(cases=(one, other)), "2046-01-01")
    assert retention.governed_by == "CA-000002"


def test_an_appeal_after_settlement_holds_again() -> None:
    # Failure mode 11.
    reopened = case(
        event("filed", "2026-06-01"),
        event("dismissed", "2026-08-03"),
        event("appealed", "2027-09-01", FINAL),
    )
    facts = slips(cases=(reopened,))
    assert kept(facts, "2027-08-31").is_over
    assert kept(facts, "2027-09-01").reason is Reason.CASE_PENDING


def test_everything_that_still_holds_is_listed_not_only_what_governs() -> None:
    facts = slips(
        cases=(case(event("filed", "2026-06-01")),), orders=(order("2026-06-02"),)
    )
    running = {hold.reason for hold in kept(facts, "2026-06-10").running}
    assert running == {Reason.TERM, Reason.CASE_PENDING, Reason.PRESERVATION_ORDER}


def test_the_summary_names_the_case_or_the_order_by_its_number() -> None:
    pending = kept(slips(cases=(case(event("filed", "2026-06-01")),)), "2026-06-10")
    ordered = kept(slips(orders=(order("2026-06-01"),)), "2026-06-10")
    assert "case CA-000001 (Alder against" in pending.summary
    assert "preservation order PO-000001 (Keep all" in ordered.summary


# --- preservation orders -----------------------------------------------------------


def test_an_order_without_end_holds_until_it_is_lifted() -> None:
    held = kept(slips(orders=(order("2026-06-01"),)), "2046-01-01")
    assert held.retain_through is None
    assert held.reason is Reason.PRESERVATION_ORDER


def test_an_order_with_an_end_holds_through_that_day() -> None:
    facts = slips(orders=(order("2026-06-01", "2028-01-31"),))
    assert kept(facts, "2026-07-01").retain_through == date(2028, 1, 31)
    assert not kept(facts, "2028-01-31").is_over
    assert kept(facts, "2028-02-01").is_over


def test_an_order_holds_nothing_before_it_begins() -> None:
    assert kept(slips(orders=(order("2027-06-01"),)), "2027-05-20").is_over


def test_an_order_holds_on_its_first_day_which_may_be_its_last() -> None:
    one_day = slips(orders=(order("2028-01-31", "2028-01-31"),))
    assert kept(one_day, "2028-01-30").is_over
    assert kept(one_day, "2028-01-31").retain_through == date(2028, 1, 31)
    assert kept(one_day, "2028-02-01").is_over


def test_an_order_that_was_made_holds_before_the_day_it_names() -> None:
    coming = replace(order("2027-06-01"), made_on=date(2027, 5, 18))
    retention = kept(slips(orders=(coming,)), "2027-05-20")
    assert retention.reason is Reason.PRESERVATION_ORDER


def test_an_order_lifted_holds_through_the_day_of_lifting_and_not_before_that() -> None:
    # Failure mode 6: extended for everybody without end, then closed.
    facts = slips(orders=(order("2026-06-01", None, "2028-03-14"),))
    assert kept(facts, "2028-03-13").retain_through is None
    assert kept(facts, "2028-03-14").retain_through == date(2028, 3, 14)
    assert kept(facts, "2028-03-15").is_over


def test_an_order_that_ends_before_it_begins_holds_without_end() -> None:
    held = kept(slips(orders=(order("2026-06-01", "2025-06-01"),)), "2046-01-01")
    assert held.reason is Reason.PRESERVATION_ORDER
    assert "until this is corrected" in held.deciding_step.text


@pytest.mark.parametrize(
    ("given_order", "on", "dated", "text"),
    [
        (
            order("2026-06-01"),
            "2026-06-02",
            "2026-06-01",
            "Preservation order PO-000001 (Keep all slips of Harbour Reach) holds from "
            "1 June 2026 until it is lifted.",
        ),
        (
            order("2026-06-01", "2028-03-14"),
            "2026-06-02",
            "2028-03-14",
            "Preservation order PO-000001 (Keep all slips of Harbour Reach) holds from "
            "1 June 2026 through 14 March 2028.",
        ),
        (
            order("2026-06-01", None, "2028-03-14"),
            "2028-03-14",
            "2028-03-14",
            "Preservation order PO-000001 (Keep all slips of Harbour Reach) held from "
            "1 June 2026 and was lifted on 14 March 2028; that day is still kept.",
        ),
        # Lifted on the very day it names: it ran its time.
        (
            order("2026-06-01", "2028-03-14", "2028-03-14"),
            "2028-03-14",
            "2028-03-14",
            "Preservation order PO-000001 (Keep all slips of Harbour Reach) holds from "
            "1 June 2026 through 14 March 2028.",
        ),
    ],
)
def test_an_order_is_told_with_its_days(
    given_order: OrderFact, on: str, dated: str, text: str
) -> None:
    told = kept(slips(orders=(given_order,)), on).deciding_step
    assert (told.date, told.text) == (day(dated), text)


def test_a_term_that_cannot_be_counted_is_told_with_its_reason() -> None:
    never_open = Calendar(weekdays=frozenset(range(7)))
    held = kept(slips(), "2026-06-01", never_open).deciding_step
    assert held.date == day("2026-06-01")
    assert "Every weekday is closed in this calendar" in held.text
    summary = kept(slips(), "2026-06-01", never_open).summary
    assert "“Window for election petitions” needs is not known" in summary


# --- what a confirmation must reach past -------------------------------------------


def test_a_confirmation_must_reach_past_the_petition_window() -> None:
    # Day 45 after 5 May 2026 is Friday 19 June.
    assert kept(slips(), "2026-06-01").confirm_through == date(2026, 6, 19)


def test_a_confirmation_must_reach_past_the_windows_of_the_cases() -> None:
    dismissed = case(event("filed", "2026-06-01"), event("dismissed", "2027-06-01"))
    facts = slips(cases=(dismissed,))
    assert kept(facts, "2027-06-02").confirm_through == date(2027, 7, 1)
    assert kept(facts, "2027-05-01").confirm_through is None


# --- properties --------------------------------------------------------------------


def held(facts: RetentionFacts, on: date) -> Retention:
    return retention_of(facts, SCHEDULE, HIGH_BENCH, on)


def at_least_as_long(one: Retention, other: Retention) -> bool:
    if one.retain_through is None:
        return True
    return other.retain_through is not None and (
        one.retain_through >= other.retain_through
    )


@pytest.mark.parametrize("reason", Reason)
def test_the_facts_made_up_here_come_to_every_answer(reason: Reason) -> None:
    made_up = st.tuples(retention_facts(), days)
    facts, on = find(
        made_up,
        lambda each: held(*each).reason is reason,
        settings=settings(
            max_examples=2000,
            phases=[Phase.generate],
            suppress_health_check=list(HealthCheck),
            database=None,
        ),
        # The same search each time: seldom answers must not be missed by chance.
        random=Random(1),
    )
    assert held(facts, on).reason is reason


@given(retention_facts(), days)
def test_nothing_is_released_before_the_petition_windows_end(
    facts: RetentionFacts, on: date
) -> None:
    retention = held(facts, on)
    declared = facts.contest.events.get(Trigger.RESULT_DECLARED)
    if retention.retain_through is not None:
        assert declared is not None
        assert retention.retain_through >= declared + timedelta(days=45)
        if facts.kind is not ContentKind.STATUTORY_PACKET:
            # Twelve months are never fewer days than the shortest year.
            assert retention.retain_through >= declared + timedelta(days=365)


@given(retention_facts(), cases(number=9, min_size=0), days)
def test_adding_a_case_never_shortens(
    facts: RetentionFacts, more: CaseFact, on: date
) -> None:
    longer = replace(facts, cases=(*facts.cases, more))
    assert at_least_as_long(held(longer, on), held(facts, on))


@given(
    retention_facts(), cases(number=9, min_size=1), case_events(kind=calls_back), days
)
def test_adding_an_event_that_brings_a_case_back_never_shortens(
    facts: RetentionFacts, the_case: CaseFact, more: CaseEventFact, on: date
) -> None:
    longer = replace(the_case, events=(*the_case.events, more))
    with_more = replace(facts, cases=(*facts.cases, longer))
    without = replace(facts, cases=(*facts.cases, the_case))
    assert at_least_as_long(held(with_more, on), held(without, on))


@given(retention_facts(), orders(number=9), days)
def test_adding_an_order_never_shortens(
    facts: RetentionFacts, more: OrderFact, on: date
) -> None:
    longer = replace(facts, orders=(*facts.orders, more))
    assert at_least_as_long(held(longer, on), held(facts, on))


@given(retention_facts(), days, st.randoms(use_true_random=False))
def test_the_order_of_facts_never_matters(
    facts: RetentionFacts, on: date, chance: Random
) -> None:
    shuffled_cases = [
        replace(each, events=tuple(chance.sample(each.events, len(each.events))))
        for each in chance.sample(facts.cases, len(facts.cases))
    ]
    shuffled = replace(
        facts,
        cases=tuple(shuffled_cases),
        orders=tuple(chance.sample(facts.orders, len(facts.orders))),
        contest=replace(
            facts.contest,
            events=dict(chance.sample(list(facts.contest.events.items()),
                                      len(facts.contest.events))),
        ),
    )  # fmt: skip
    assert held(shuffled, on) == held(facts, on)


@given(retention_facts(), days)
def test_an_unknown_declaration_means_keep(facts: RetentionFacts, on: date) -> None:
    known = dict(facts.contest.events)
    known.pop(Trigger.RESULT_DECLARED, None)
    unknown = replace(facts, contest=replace(facts.contest, events=known))
    retention = held(unknown, on)
    assert retention.retain_through is None
    assert not retention.is_over


@given(retention_facts(), days)
def test_exactly_one_step_decides_and_everything_can_be_said(
    facts: RetentionFacts, on: date
) -> None:
    retention = held(facts, on)
    assert sum(step.decides for step in retention.steps) == 1
    assert retention.deciding_step in [
        replace(hold.steps[-1], decides=True) for hold in retention.holds
    ]
    texts = [step.text for step in retention.steps] + [retention.summary]
    assert all(text.endswith((".", "!")) and "{" not in text for text in texts)


@given(retention_facts(), days)
def test_the_answers_parts_agree_with_each_other(
    facts: RetentionFacts, on: date
) -> None:
    retention = held(facts, on)
    through, free_from = retention.retain_through, retention.may_be_disposed_from
    assert (through is None) == (free_from is None)
    assert retention.is_over == (through is not None and on > through)
    assert retention.is_over == (retention.reason is Reason.PERIOD_OVER)
    assert retention.is_over == (not retention.running)
    if through and free_from:
        assert free_from - through == timedelta(days=1)


@given(retention_facts(), days, st.integers(0, 3000))
@settings(max_examples=200)
@example(slips(), date(2027, 5, 6), 1)
def test_what_is_over_stays_over_unless_something_happens(
    facts: RetentionFacts, on: date, wait: int
) -> None:
    # Everything known has happened by the day asked about: no event lies ahead.
    settled = replace(
        facts,
        cases=tuple(
            replace(each, events=tuple(e for e in each.events if e.on <= on))
            for each in facts.cases
        ),
        orders=tuple(
            each for each in facts.orders
            if min(each.from_on, each.made_on or each.from_on) <= on
        ),
        contest=replace(
            facts.contest,
            events={t: d for t, d in facts.contest.events.items() if d <= on},
        ),
    )  # fmt: skip
    if held(settled, on).is_over:
        assert held(settled, on + timedelta(days=wait)).is_over
