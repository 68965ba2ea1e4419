"""A case holds from the day it is heard of until nothing more can come of it.

"Failure mode N" is the list of that name in this project's reference.
"""

from dataclasses import replace
from datetime import date, timedelta
from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from registry.rules.case_events import DECISIONS
from registry.rules.cases import (
    CaseEventFact,
    CaseEventKind,
    CaseFact,
    CaseStand,
    CaseStanding,
    CourtLevel,
    stand_of,
)
from registry.rules.schedules import Schedule
from tests.rules.calvenna import (
    APPEAL,
    FINAL,
    HIGH_BENCH,
    SCHEDULE,
    case,
    day,
    event,
)
from tests.rules.case_strategies import (
    COURT_DECISIONS,
    calls_back,
    case_events,
    cases,
    days,
)


def stands(the_case: CaseFact, on: str) -> CaseStand:
    return stand_of(the_case, SCHEDULE, HIGH_BENCH, day(on))


def codes(stand: CaseStand) -> list[str]:
    return [step.code for step in stand.steps]


# --- it holds at once --------------------------------------------------------------


@pytest.mark.parametrize(
    "kind", ["heard-of", "filed", "admitted", "hearing", "transferred", "appealed"]
)
def test_a_case_holds_from_the_day_of_whatever_is_first_known_of_it(kind: str) -> None:
    stand = stands(case(event(kind, "2026-05-20")), "2026-05-20")
    assert stand.standing is CaseStanding.PENDING
    assert stand.has_no_end


def test_a_case_that_has_not_yet_happened_holds_nothing() -> None:
    stand = stands(case(event("heard-of", "2026-05-20")), "2026-05-19")
    assert stand.standing is CaseStanding.NOT_BEGUN
    assert not stand.has_no_end


def test_a_case_that_is_expected_holds_as_soon_as_it_is_entered() -> None:
    # Issue 3 of this project: a case reasonably expected can be entered and holds.
    expected = case(event("filed", "2026-06-01", recorded="2026-05-20"))
    assert stands(expected, "2026-05-19").standing is CaseStanding.NOT_BEGUN
    assert stands(expected, "2026-05-20").standing is CaseStanding.PENDING
    told = stands(expected, "2026-05-20").steps[-1]
    assert "filed in the court of first instance is dated 1 June 2026, which" in (
        told.text
    )
    nothing = stands(expected, "2026-05-19").steps[-1]
    assert (nothing.date, nothing.code) == (day("2026-05-19"), "case.not-begun")


def test_a_case_entered_without_any_event_holds() -> None:
    stand = stands(case(), "2026-05-20")
    assert stand.standing is CaseStanding.PENDING
    assert codes(stand) == ["case.without-events"]


# --- a decision is not a settlement ------------------------------------------------


@pytest.mark.parametrize(
    ("kind", "through"),
    [
        # 30 days after Monday 4 January 2027: Wednesday 3 February.
        ("dismissed", "2027-02-03"),
        ("allowed", "2027-02-03"),
        ("finally-disposed-of", "2027-02-03"),
        # Failure mode 12: a default dismissal carries a restoration period.
        ("dismissed-for-default", "2027-02-03"),
        # Failure mode 13: abated; 14 days for a substitute, but 30 for an appeal.
        ("abated", "2027-02-03"),
        ("withdrawn", "2027-02-03"),
    ],
)
def test_a_decision_of_the_first_court_settles_only_after_its_last_window(
    kind: str, through: str
) -> None:
    decided = case(event("filed", "2026-06-01"), event(kind, "2027-01-04"))
    assert stands(decided, "2027-01-03").standing is CaseStanding.PENDING
    assert stands(decided, "2027-01-04").standing is CaseStanding.APPEAL_WINDOW
    assert stands(decided, through).standing is CaseStanding.APPEAL_WINDOW
    settled = stands(decided, (day(through) + timedelta(days=1)).isoformat())
    assert settled.standing is CaseStanding.SETTLED
    assert settled.holds_through == day(through)


def test_an_abatement_opens_the_time_for_a_substitute() -> None:
    # India, Representation of the People Act 1951 s 112(3): 14 days; published on
    # 8 August 1978, last day 22 August (deadline_cases.csv IN-10, value derived).
    # In the last court no appeal is left, so that the fourteen days stand alone.
    abated = case(event("abated", "1978-08-08", FINAL))
    assert stands(abated, "1978-08-22").holds_through == date(1978, 8, 22)
    assert stands(abated, "1978-08-22").standing is CaseStanding.APPEAL_WINDOW
    assert stands(abated, "1978-08-23").standing is CaseStanding.SETTLED


def test_an_appeal_window_that_ends_on_a_sunday_runs_through_monday() -> None:
    # India, Representation of the People Act 1951 s 116A: order of 31 January 2025,
    # last day Monday 3 March (deadline_cases.csv IN-13, rule recalled, value derived).
    dismissed = case(event("dismissed", "2025-01-31"))
    assert stands(dismissed, "2025-03-03").holds_through == date(2025, 3, 3)


def test_an_appeal_window_that_ends_in_the_vacation_runs_to_the_reopening() -> None:
    # Failure mode 4. The invented vacation lasts to Sunday 12 July 2026.
    dismissed = case(event("dismissed", "2026-06-05"))
    assert stands(dismissed, "2026-06-30").holds_through == date(2026, 7, 13)


def test_a_decision_for_which_the_schedule_has_no_window_holds_without_end() -> None:
    silent = replace(SCHEDULE, appeal_windows=())
    dismissed = case(event("dismissed", "2026-06-05"))
    stand = stand_of(dismissed, silent, HIGH_BENCH, date(2046, 1, 1))
    assert stand.standing is CaseStanding.APPEAL_WINDOW
    assert stand.has_no_end
    assert "does not say how long an appeal may come" in stand.steps[-1].text


def test_the_last_courts_decision_settles_where_no_review_is_possible() -> None:
    silent = replace(SCHEDULE, appeal_windows=())
    decided = case(
        event("dismissed", "2026-06-05"),
        event("appealed", "2026-06-20", FINAL),
        event("dismissed", "2026-09-01", FINAL),
    )
    stand = stand_of(decided, silent, HIGH_BENCH, date(2026, 9, 2))
    assert stand.standing is CaseStanding.SETTLED
    assert stand.holds_through == date(2026, 9, 1)


def windows_only_for(*kinds: str) -> Schedule:
    """Return a schedule that is silent on every decision but these."""
    named = frozenset(CaseEventKind(kind) for kind in kinds)
    window = replace(
        SCHEDULE.appeal_windows[0], after=named, levels=frozenset(CourtLevel)
    )
    return replace(SCHEDULE, appeal_windows=(window,))


def stands_where_only_abated_is_settled(*events: CaseEventFact) -> CaseStand:
    schedule = windows_only_for("abated")
    return stand_of(case(*events), schedule, HIGH_BENCH, date(2046, 1, 1))


def test_a_later_decision_of_the_same_court_stands_for_an_unnamed_one() -> None:
    stand = stands_where_only_abated_is_settled(
        event("dismissed", "2026-08-03"),
        event("restored", "2026-08-20"),
        event("abated", "2026-10-01"),
    )
    assert stand.standing is CaseStanding.SETTLED
    assert stand.holds_through == date(2026, 10, 31)


def test_a_higher_courts_decision_stands_for_one_the_schedule_is_silent_on() -> None:
    stand = stands_where_only_abated_is_settled(
        event("dismissed", "2026-08-03"), event("abated", "2026-10-01", APPEAL)
    )
    assert stand.standing is CaseStanding.SETTLED


def test_a_lower_courts_decision_does_not_stand_for_the_higher_ones() -> None:
    stand = stands_where_only_abated_is_settled(
        event("dismissed", "2026-08-03", APPEAL), event("abated", "2026-10-01")
    )
    assert stand.has_no_end
    assert "court of appeal" in stand.steps[-1].text


def test_the_decision_without_an_end_governs_over_one_with_an_end() -> None:
    stand = stands_where_only_abated_is_settled(
        event("abated", "2026-08-03", APPEAL), event("dismissed", "2026-10-01")
    )
    assert stand.has_no_end
    assert stand.steps[-1].code == "case.no-window"


def test_every_window_that_runs_is_shown_with_its_clause() -> None:
    abated = case(event("filed", "2026-06-01"), event("abated", "2027-01-04"))
    shown = [
        step.facts["clause"]
        for step in stands(abated, "2027-01-05").steps
        if step.code == "case.window"
    ]
    assert shown == ["rule 11(3)", "rule 10(2)"]


def test_leave_to_withdraw_that_is_only_asked_for_changes_nothing() -> None:
    # Failure mode 14.
    asked = case(event("filed", "2026-06-01"), event("withdrawal-sought", "2026-07-20"))
    assert stands(asked, "2030-01-01").standing is CaseStanding.PENDING


def test_a_hearing_listed_before_the_dismissal_revives_nothing() -> None:
    # Common practice, no published source: cause lists outlive the case.
    listed = case(
        event("filed", "2026-06-01"),
        event("hearing", "2026-09-10"),
        event("dismissed", "2026-08-03"),
    )
    assert stands(listed, "2026-12-01").standing is CaseStanding.SETTLED


# --- what brings a case back -------------------------------------------------------


@pytest.mark.parametrize(
    "kind",
    ["appealed", "restored", "remanded", "review-sought", "substituted", "filed"],
)
@pytest.mark.parametrize("on", ["2026-08-20", "2027-03-01"])
def test_what_brings_a_case_back_holds_again_inside_and_after_the_window(
    kind: str, on: str
) -> None:
    # Failure modes 11, 12 and 13: after "settled" too the hold returns.
    back = case(event("dismissed", "2026-08-03"), event(kind, on))
    assert stands(back, on).standing is CaseStanding.PENDING


def test_a_remand_and_the_decision_that_orders_it_are_one_order() -> None:
    same_day = case(
        event("dismissed", "2026-08-03"),
        event("appealed", "2026-08-20", APPEAL),
        event("remanded", "2026-10-01"),
        event("allowed", "2026-10-01", APPEAL),
    )
    assert stands(same_day, "2030-01-01").standing is CaseStanding.PENDING


def test_a_petition_filed_and_dismissed_on_one_day_is_dismissed() -> None:
    same_day = case(event("dismissed", "2026-06-01"), event("filed", "2026-06-01"))
    assert stands(same_day, "2026-06-01").standing is CaseStanding.APPEAL_WINDOW


def test_an_appeal_filed_and_dismissed_on_one_day_is_dismissed() -> None:
    same_day = case(
        event("dismissed", "2026-06-01"),
        event("dismissed", "2026-06-15", FINAL),
        event("appealed", "2026-06-15", FINAL),
    )
    assert stands(same_day, "2026-06-15").standing is CaseStanding.APPEAL_WINDOW


def test_an_appeal_entered_under_the_court_appealed_from_still_holds() -> None:
    same_day = case(event("appealed", "2026-06-01"), event("dismissed", "2026-06-01"))
    assert stands(same_day, "2030-01-01").standing is CaseStanding.PENDING


def test_a_decision_below_does_not_end_the_appeal_above() -> None:
    crossed = case(
        event("dismissed", "2026-06-01"),
        event("appealed", "2026-06-15", FINAL),
        event("dismissed", "2026-07-20"),
    )
    stand = stands(crossed, "2030-01-01")
    assert stand.standing is CaseStanding.PENDING
    assert "last court" in stand.steps[-1].text


def test_an_appeal_on_a_side_question_does_not_end_the_petition() -> None:
    aside = case(
        event("filed", "2026-06-01"),
        event("appealed", "2026-06-15", FINAL),
        event("dismissed", "2026-07-20", FINAL),
    )
    assert stands(aside, "2030-01-01").standing is CaseStanding.PENDING


def test_finally_disposed_of_by_the_last_court_ends_the_courts_below() -> None:
    ended = case(
        event("filed", "2026-06-01"),
        event("appealed", "2026-06-15", FINAL),
        event("finally-disposed-of", "2026-07-20", FINAL),
    )
    stand = stands(ended, "2026-07-21")
    assert stand.standing is CaseStanding.SETTLED
    assert stand.holds_through == date(2026, 7, 20)


# --- when it was known, and what was entered in error ------------------------------


def test_what_is_entered_late_counts_from_when_it_happened_and_says_so() -> None:
    # Failure mode 1: filed on the last day, entered two weeks later.
    late = case(event("filed", "2026-06-19", recorded="2026-07-03"))
    stand = stands(late, "2026-06-19")
    assert stand.standing is CaseStanding.PENDING
    assert "learnt of it on 3 July 2026" in stand.steps[0].text


def test_an_entry_on_its_own_day_mentions_no_delay() -> None:
    prompt = case(event("filed", "2026-06-19", recorded="2026-06-19"))
    assert codes(stands(prompt, "2026-06-19"))[0] == "case.event"


def test_a_disposal_entered_in_error_and_struck_leaves_the_case_pending() -> None:
    # Failure mode 22: marked as settled by mistake.
    corrected = case(
        event("filed", "2026-06-01"),
        event("finally-disposed-of", "2026-07-20", FINAL, struck=True),
    )
    stand = stands(corrected, "2026-12-01")
    assert stand.standing is CaseStanding.PENDING
    assert "case.event-struck" in codes(stand)


def test_a_case_whose_every_entry_was_struck_holds_nothing_and_shows_why() -> None:
    stand = stands(case(event("filed", "2026-06-01", struck=True)), "2026-12-01")
    assert stand.standing is CaseStanding.NOT_BEGUN
    assert "case.event-struck" in codes(stand)


# --- properties --------------------------------------------------------------------


def later_or_same(one: CaseStand, other: CaseStand) -> bool:
    """Tell whether the first holds at least as long as the second."""
    if other.standing is CaseStanding.NOT_BEGUN or one.has_no_end:
        return True
    if other.has_no_end or one.holds_through is None or other.holds_through is None:
        return False
    return one.holds_through >= other.holds_through


def stand_on(the_case: CaseFact, on: date) -> CaseStand:
    return stand_of(the_case, SCHEDULE, HIGH_BENCH, on)


@given(cases(), days, st.randoms(use_true_random=False))
def test_the_order_of_entry_never_matters(
    the_case: CaseFact, on: date, chance: Random
) -> None:
    events = list(the_case.events)
    chance.shuffle(events)
    shuffled = replace(the_case, events=tuple(events))
    assert stand_on(shuffled, on) == stand_on(the_case, on)


@given(cases(min_size=1), case_events(kind=calls_back), days)
def test_what_is_no_decision_never_shortens(
    the_case: CaseFact, more: CaseEventFact, on: date
) -> None:
    longer = CaseFact(the_case.number, the_case.title, (*the_case.events, more))
    assert later_or_same(stand_on(longer, on), stand_on(the_case, on))


@given(cases(), days)
def test_a_case_without_a_decision_is_never_settled(
    the_case: CaseFact, on: date
) -> None:
    happened = [e for e in the_case.events if e.on <= on and not e.struck]
    if happened and not any(e.kind in DECISIONS for e in happened):
        assert stand_on(the_case, on).standing is CaseStanding.PENDING


@given(cases(), days)
def test_no_end_comes_before_the_last_decision_that_counts(
    the_case: CaseFact, on: date
) -> None:
    stand = stand_on(the_case, on)
    if stand.holds_through is not None and any(
        e.on <= on and not e.struck and e.kind in COURT_DECISIONS
        for e in the_case.events
    ):
        decided = [
            e.on for e in the_case.events
            if e.on <= on and not e.struck and e.kind in COURT_DECISIONS
        ]  # fmt: skip
        assert stand.holds_through >= max(decided)
        # A court never closes for more than the invented vacation, so thirty days
        # end at most two weeks late: nothing is held longer than the rules say.
        assert stand.holds_through <= max(decided) + timedelta(days=30 + 13)


@given(cases(min_size=1), case_events(struck=st.just(True)), days)
def test_a_struck_entry_changes_nothing_but_is_shown(
    the_case: CaseFact, struck: CaseEventFact, on: date
) -> None:
    with_it = CaseFact(the_case.number, the_case.title, (*the_case.events, struck))
    one, other = stand_on(with_it, on), stand_on(the_case, on)
    assert (one.standing, one.holds_through) == (other.standing, other.holds_through)
    assert len(one.steps) == len(other.steps) + (struck.on <= on)


@given(cases(), days)
def test_the_last_step_alone_decides_and_every_step_can_be_said(
    the_case: CaseFact, on: date
) -> None:
    steps = stand_on(the_case, on).steps
    assert [step.decides for step in steps] == [False] * (len(steps) - 1) + [True]
    assert all(step.text and "{" not in step.text for step in steps)


@given(st.sampled_from(CourtLevel), days)
def test_heard_of_in_any_court_holds(level: CourtLevel, on: date) -> None:
    heard = event("heard-of", on.isoformat(), level)
    assert stand_on(case(heard), on).has_no_end
