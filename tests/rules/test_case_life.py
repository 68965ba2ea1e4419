"""The life of a case: joined, parted, moved, expected, ended, and what never ends it.

"Failure mode N" is the list of that name in this project's reference.
"""

from datetime import date

import pytest

from registry.rules.case_events import (
    DECISIONS,
    EVENT_TITLES,
    GOES_ON_ELSEWHERE,
    REVIVALS,
    CaseEventFact,
    CaseEventKind,
    CaseFact,
)
from registry.rules.cases import CaseStand, CaseStanding, stand_of
from registry.rules.retention import Retention, retention_of
from tests.rules.calvenna import (
    APPEAL,
    FINAL,
    FIRST,
    HIGH_BENCH,
    SCHEDULE,
    case,
    day,
    event,
    slips,
)


def kept(*cases: CaseFact) -> Retention:
    return retention_of(slips(cases=cases), SCHEDULE, HIGH_BENCH, day("2028-01-01"))


def stands(the_case: CaseFact, on: str) -> CaseStand:
    return stand_of(the_case, SCHEDULE, HIGH_BENCH, day(on))


def named(
    kind: str, on: str, *, number: str = "", other: str = "", reason: str = ""
) -> CaseEventFact:
    return CaseEventFact(
        CaseEventKind(kind), day(on), FIRST, number=number, other=other, reason=reason
    )


def test_every_kind_of_event_has_a_title_and_one_bearing() -> None:
    assert set(EVENT_TITLES) == set(CaseEventKind)
    assert len(set(EVENT_TITLES.values())) == len(CaseEventKind)
    assert not DECISIONS & REVIVALS
    assert not GOES_ON_ELSEWHERE & (DECISIONS | REVIVALS)


# --- joined and moved: an alias, never a settlement --------------------------------


def test_settling_one_of_two_consolidated_cases_does_not_settle_the_other() -> None:
    # Failure mode 18.
    lead = case(
        event("filed", "2026-06-01"), event("finally-disposed-of", "2026-12-01", FINAL)
    )
    joined = case(
        event("filed", "2026-06-02"),
        named("consolidated", "2026-07-01", other="CA-000001"),
        number="CA-000002",
    )
    assert joined.aliases == ("CA-000001",)
    kept = retention_of(
        slips(cases=(lead, joined)), SCHEDULE, HIGH_BENCH, day("2028-01-01")
    )
    assert kept.retain_through is None
    assert kept.governed_by == "CA-000002"
    assert stands(lead, "2028-01-01").standing is CaseStanding.SETTLED


def test_a_case_goes_by_every_number_it_was_given() -> None:
    moved = case(
        event("filed", "2026-06-01"),
        named("renumbered", "2026-08-01", number="EP 9/2026"),
        named("transferred", "2026-07-01", number="EP 4/2026"),
        CaseEventFact(
            CaseEventKind.RENUMBERED, day("2026-09-01"), FIRST, "EP 77", struck=True
        ),
    )
    assert moved.aliases == ("EP 4/2026", "EP 9/2026")
    assert stands(moved, "2030-01-01").standing is CaseStanding.PENDING


def test_a_transferred_case_is_settled_by_the_court_it_went_to() -> None:
    moved = case(
        event("filed", "2026-06-01"),
        event("transferred", "2026-07-20"),
        event("dismissed", "2026-10-01"),
    )
    assert stands(moved, "2026-10-02").standing is CaseStanding.APPEAL_WINDOW
    assert stands(moved, "2027-01-01").standing is CaseStanding.SETTLED


# --- parted: the other part must be entered ----------------------------------------


@pytest.mark.parametrize("kind", ["split", "cross-petition"])
def test_a_part_that_is_not_entered_holds_where_it_came_from(kind: str) -> None:
    parted = (event("filed", "2026-06-01"), event("dismissed", "2026-08-03"))
    unnamed = stands(case(*parted, named(kind, "2026-07-01")), "2028-01-01")
    assert unnamed.standing is CaseStanding.PENDING
    assert "is not entered" in unnamed.steps[-1].text

    entered = case(*parted, named(kind, "2026-07-01", other="CA-000009"))
    assert stands(entered, "2028-01-01").standing is CaseStanding.SETTLED


def test_a_part_with_a_life_of_its_own_is_not_settled_with_the_rest() -> None:
    rest = case(
        event("filed", "2026-06-01"),
        named("split", "2026-07-01", other="CA-000002"),
        event("finally-disposed-of", "2026-08-03", FINAL),
    )
    part = case(event("filed", "2026-07-01"), number="CA-000002")
    kept = retention_of(
        slips(cases=(rest, part)), SCHEDULE, HIGH_BENCH, day("2028-01-01")
    )
    assert kept.governed_by == "CA-000002"
    assert kept.retain_through is None


def test_a_cross_petition_outlives_the_petition() -> None:
    petition = case(
        event("filed", "2026-06-01"),
        named("cross-petition", "2026-06-20", other="CA-000002"),
        event("withdrawn", "2026-08-03"),
    )
    cross = case(event("filed", "2026-06-20"), number="CA-000002")
    assert kept(petition, cross).governed_by == "CA-000002"


# --- wrong forum -------------------------------------------------------------------


def test_a_petition_returned_and_not_yet_filed_again_still_holds() -> None:
    # Failure mode 17: the gap between return and filing anew.
    returned = case(
        event("filed", "2026-06-01"), event("returned-for-defects", "2026-06-10")
    )
    assert stands(returned, "2030-01-01").standing is CaseStanding.PENDING


# --- expected ----------------------------------------------------------------------


def test_a_case_that_is_expected_holds_from_when_it_was_entered() -> None:
    # New Zealand, Electoral Act 1993 s 189(3) (looked up): not destroyed so long as it
    # may reasonably be expected to be required.
    expected = case(event("expected", "2026-05-20"))
    assert stands(expected, "2026-05-19").standing is CaseStanding.NOT_BEGUN
    assert stands(expected, "2030-01-01").standing is CaseStanding.PENDING


def test_it_is_dropped_by_a_named_reason_and_by_nothing_else() -> None:
    entered = event("expected", "2026-05-20")
    without = stands(
        case(entered, named("no-longer-expected", "2026-07-01")), "2027-01-01"
    )
    assert without.standing is CaseStanding.PENDING
    assert "needs a reason" in " ".join(step.text for step in without.steps)

    why = "the police closed the inquiry, letter of 30 June"
    dropped = case(entered, named("no-longer-expected", "2026-07-01", reason=why))
    stand = stands(dropped, "2026-07-02")
    assert stand.standing is CaseStanding.SETTLED
    assert stand.holds_through == date(2026, 7, 1)
    assert why in stand.steps[-1].text


def test_a_blank_reason_is_no_reason() -> None:
    blank = named("no-longer-expected", "2026-07-01", reason="  ")
    dropped = case(event("expected", "2026-05-20"), blank)
    assert stands(dropped, "2027-01-01").standing is CaseStanding.PENDING


def test_a_case_that_was_filed_is_ended_by_its_court_alone() -> None:
    reason = named("no-longer-expected", "2026-08-01", reason="we think it is over")
    filed = case(event("expected", "2026-05-20"), event("filed", "2026-06-01"), reason)
    assert stands(filed, "2027-01-01").standing is CaseStanding.PENDING
    decided = case(*filed.events, event("dismissed", "2026-07-20"))
    stand = stands(decided, "2027-01-01")
    assert stand.standing is CaseStanding.SETTLED
    assert stand.holds_through == date(2026, 8, 19)


def test_what_was_dropped_may_come_after_all() -> None:
    dropped = (
        event("expected", "2026-05-20"),
        named("no-longer-expected", "2026-07-01", reason="a letter"),
    )
    for kind in ("expected", "heard-of", "filed"):
        again = case(*dropped, event(kind, "2026-09-01"))
        assert stands(again, "2027-01-01").standing is CaseStanding.PENDING


def test_an_entry_that_drops_what_nobody_expected_holds() -> None:
    lonely = case(named("no-longer-expected", "2026-07-01"))
    assert stands(lonely, "2027-01-01").standing is CaseStanding.PENDING


def test_an_expectation_entered_in_error_is_struck() -> None:
    struck = case(event("expected", "2026-05-20", struck=True))
    assert stands(struck, "2027-01-01").standing is CaseStanding.NOT_BEGUN


# --- appeals and reviews at several levels -----------------------------------------


def test_a_case_through_every_court_and_back() -> None:
    # Issue 3 of this project: final only when the last window has run out without an
    # appeal or the last court has decided.
    life = [
        (event("filed", "2026-06-01"), CaseStanding.PENDING),
        (event("dismissed", "2026-08-03"), CaseStanding.APPEAL_WINDOW),
        (event("appealed", "2026-08-20", APPEAL), CaseStanding.PENDING),
        (event("allowed", "2026-10-01", APPEAL), CaseStanding.APPEAL_WINDOW),
        (event("appealed", "2026-10-15", FINAL), CaseStanding.PENDING),
        (event("dismissed", "2027-01-11", FINAL), CaseStanding.APPEAL_WINDOW),
        (event("review-sought", "2027-02-01", FINAL), CaseStanding.PENDING),
        (event("dismissed", "2027-03-01", FINAL), CaseStanding.APPEAL_WINDOW),
        (event("remanded", "2027-03-20"), CaseStanding.PENDING),
        (event("dismissed", "2027-06-01"), CaseStanding.APPEAL_WINDOW),
    ]
    so_far: list[CaseEventFact] = []
    for happened, standing in life:
        so_far.append(happened)
        on = happened.on.isoformat()
        assert stands(case(*so_far), on).standing is standing, happened.kind
    assert stands(case(*so_far), "2027-07-01").standing is CaseStanding.APPEAL_WINDOW
    assert stands(case(*so_far), "2027-07-02").standing is CaseStanding.SETTLED


def test_a_disposal_entered_in_error_and_corrected_counts_from_the_right_day() -> None:
    # Failure mode 22.
    wrong = event("dismissed", "2026-07-20", struck=True)
    right = event("dismissed", "2026-08-03")
    corrected = case(event("filed", "2026-06-01"), wrong, right)
    assert stands(corrected, "2026-08-04").holds_through == date(2026, 9, 2)
