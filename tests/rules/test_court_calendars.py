"""What is entered into a court's calendar, and what it does to a petition window.

The real cases are those of this project's desks.md B.2, with its marks; "failure mode"
names its failure_modes.md.
"""

from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from random import Random
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from registry.rules.calendars import (
    Calendar,
    CalendarError,
    Closure,
    ClosureKind,
    Effect,
    Extension,
    next_open,
)
from registry.rules.limits import extended, with_margin
from registry.rules.periods import PeriodError
from registry.rules.retention import Reason
from registry.rules.wording import shown
from tests.rules.calvenna import case, day, event
from tests.rules.written import ANY_TERM, kept_by, written

SATURDAY, SUNDAY = 5, 6

# India, RPA 1951 s 81(1) with General Clauses Act ss 9 and 10.
INDIA = written(
    """
[[term]]
name = "petition"
title = "Window for election petitions"
for = ["poll-slips"]
after = ["result-declared"]
clause = "s 81(1)"
length = 45
unit = "days"
if_closed = "next-open"
petition_window = true
"""
)


def window_ends(
    declared: str, calendar: Calendar, as_of: str | None = None
) -> date | None:
    events = {"result-declared": declared}
    kept = kept_by(INDIA, events, as_of or declared, calendar=calendar)
    return kept.retain_through


def vacation(first: str, last: str) -> Closure:
    return Closure(
        day(first), day(last), "vacation", "the court's calendar", ClosureKind.VACATION
    )


def opened(
    first: str, last: str, effect: Effect = Effect.OPEN_FOR_PETITIONS
) -> Closure:
    return Closure(day(first), day(last), "registry works", "N 1/1996", effect=effect)


# --- same calendar, opposite results -----------------------------------------------


def test_a_closed_registry_carries_the_window_to_the_reopening() -> None:
    # Hari Shanker Tripathi v Shiv Harsh, SC India 3 Feb 1976: declared 30 April 1974,
    # closed 25 May to 7 July, filed Monday 8 July: in time.
    closed = Calendar(closures=(vacation("1974-05-25", "1974-07-07"),))
    assert window_ends("1974-04-30", closed) == date(1974, 7, 8)


JUNE_1996 = vacation("1996-06-01", "1996-06-30")


def test_a_notification_that_keeps_it_open_for_petitions_lets_the_window_run_out() -> (
    None
):
    # Lachhman Das Arora v Ganeshi Lal, SC India 1 Sep 1999: declared 10 May 1996, 45
    # days are Monday 24 June, in the vacation of 1 to 30 June; by a notification the
    # court received election petitions. Filed 1 July: late.
    open_for_petitions = Calendar(
        closures=(JUNE_1996, opened("1996-06-01", "1996-06-30"))
    )
    assert window_ends("1996-05-10", open_for_petitions) == date(1996, 6, 24)


def test_without_that_notification_the_same_calendar_gives_the_later_day() -> None:
    # Failure mode 5: the unconfirmed value is the later one.
    assert window_ends("1996-05-10", Calendar(closures=(JUNE_1996,))) == date(
        1996, 7, 1
    )


def test_days_open_for_petitions_are_closed_for_an_appeal() -> None:
    calendar = Calendar(closures=(JUNE_1996, opened("1996-06-01", "1996-06-30")))
    appeal = """
[[appeal_window]]
name = "appeal"
after = ["dismissed"]
levels = ["first"]
clause = "s 116A"
length = 30
unit = "days"
if_closed = "next-open"
"""
    decided = case(event("filed", "1996-05-11"), event("dismissed", "1996-05-13"))
    kept = kept_by(
        written(ANY_TERM + appeal),
        {"polled": "1996-05-02"},
        "1996-05-14",
        calendar=calendar,
        cases=(decided,),
    )
    assert kept.retain_through == date(1996, 7, 1)


def test_a_working_saturday_ends_the_window_though_judges_do_not_sit() -> None:
    # Hukumdev v L.N. Mishra, SC India 21 Dec 1973: Saturday 18 March 1972, registry
    # working; filed on Monday: late.
    assert window_ends("1972-02-02", Calendar(frozenset({SUNDAY}))) == date(1972, 3, 18)


# --- failure mode 4: a window that ends on a closed day, and events ----------------


def test_a_day_closed_by_a_storm_runs_on() -> None:
    storm = Closure(
        day("2024-07-19"), day("2024-07-19"), "storm", "N 9/2024", ClosureKind.EVENT
    )
    # Row IN-12: 45 days from 4 June 2024 end on Friday 19 July.
    assert window_ends("2024-06-04", Calendar(closures=(storm,))) == date(2024, 7, 20)


def test_nothing_opens_a_day_on_which_nothing_could_be_received() -> None:
    storm = Closure(
        day("2024-07-19"), day("2024-07-19"), "storm", "N 9/2024", ClosureKind.EVENT
    )
    sitting = opened("2024-07-01", "2024-07-31", Effect.OPEN)
    both = Calendar(frozenset({SATURDAY, SUNDAY}), (storm, sitting))
    # The special sitting opens the Saturday after the storm as well.
    assert window_ends("2024-06-04", both) == date(2024, 7, 20)
    assert both.why_closed(day("2024-07-19")) == "storm (N 9/2024)"
    assert both.why_closed(day("2024-07-20")) == ""


def test_a_special_sitting_cuts_a_vacation_in_two() -> None:
    cut = Calendar(
        closures=(
            vacation("2024-07-01", "2024-07-31"),
            opened("2024-07-10", "2024-07-11", Effect.OPEN),
        )
    )
    assert next_open(day("2024-07-01"), cut) == day("2024-07-10")
    assert next_open(day("2024-07-12"), cut) == day("2024-08-01")
    assert not cut.is_closed(day("2024-07-11"))


@pytest.mark.parametrize(
    ("opening", "still_closed"),
    [
        # Ten days are closed, 10 to 19 July; an opening cuts them to the day.
        (("07-01", "07-09"), range(10, 20)),
        (("07-01", "07-10"), range(11, 20)),
        (("07-10", "07-10"), range(11, 20)),
        (("07-19", "07-19"), range(10, 19)),
        (("07-19", "07-31"), range(10, 19)),
        (("07-20", "07-31"), range(10, 20)),
        (("07-10", "07-19"), range(0)),
        (("07-14", "07-14"), [*range(10, 14), *range(15, 20)]),
    ],
)
def test_an_opening_cuts_a_closure_to_the_day(
    opening: tuple[str, str], still_closed: Sequence[int]
) -> None:
    first, last = (f"2024-{text}" for text in opening)
    # A later vacation, and one that touches, must not be lost behind the first.
    calendar = Calendar(
        closures=(
            vacation("2024-07-10", "2024-07-19"),
            vacation("2024-08-05", "2024-08-06"),
            vacation("2024-08-07", "2024-08-07"),
            opened(first, last, Effect.OPEN),
        )
    )
    july = [on for on in range(1, 32) if calendar.is_closed(date(2024, 7, on))]
    assert july == list(still_closed)
    august = [on for on in range(1, 32) if calendar.is_closed(date(2024, 8, on))]
    assert august == [5, 6, 7]


def test_a_weekday_is_opened_from_the_first_day_to_the_last() -> None:
    # 6 and 13 July 2024 are Saturdays, 7 and 14 July Sundays.
    sitting = opened("2024-07-07", "2024-07-13", Effect.OPEN)
    weekend = Calendar(frozenset({SATURDAY, SUNDAY}), (sitting,))
    closed = [on for on in range(1, 22) if weekend.is_closed(date(2024, 7, on))]
    assert closed == [6, 14, 20, 21]


def test_an_opened_day_that_a_storm_closes_names_the_storm_alone() -> None:
    storm = Closure(
        day("2024-07-07"), day("2024-07-07"), "storm", "N 9", ClosureKind.EVENT
    )
    sitting = opened("2024-07-01", "2024-07-31", Effect.OPEN)
    around = vacation("2024-07-01", "2024-07-31")
    calendar = Calendar(frozenset({SUNDAY}), (around, storm, sitting))
    assert calendar.why_closed(day("2024-07-07")) == "storm (N 9)"
    without = Calendar(frozenset({SUNDAY}), (around, storm))
    assert without.why_closed(day("2024-07-07")) == (
        "vacation (the court's calendar); storm (N 9); Sunday"
    )


def test_an_opening_without_its_paper_is_refused() -> None:
    with pytest.raises(CalendarError, match="name the notification"):
        Closure(day("2024-07-01"), day("2024-07-02"), effect=Effect.OPEN)


def test_days_open_for_petitions_are_open_for_nothing_else() -> None:
    calendar = Calendar(closures=(JUNE_1996, opened("1996-06-03", "1996-06-04")))
    assert calendar.is_closed(day("1996-06-03"))
    petitions = calendar.for_election_petitions()
    assert not petitions.is_closed(day("1996-06-03"))
    assert petitions.is_closed(day("1996-06-05"))


spans = st.tuples(
    st.dates(date(2024, 1, 1), date(2024, 3, 31)), st.integers(0, 20)
).map(lambda pair: (pair[0], date.fromordinal(pair[0].toordinal() + pair[1])))


@st.composite
def entries(draw: st.DrawFn) -> Closure:
    first, last = draw(spans)
    return Closure(
        first,
        last,
        "entered",
        draw(st.sampled_from(["N 1", "N 2"])),
        draw(st.sampled_from(ClosureKind)),
        draw(st.sampled_from(Effect)),
    )


def closed_by_hand(on: date, calendar: Calendar) -> bool:
    """Judge one day by the entries one by one, without spans."""
    over = [c for c in calendar.closures if c.first <= on <= c.last]
    if any(c.effect is Effect.CLOSED and c.kind is ClosureKind.EVENT for c in over):
        return True
    opens = {Effect.OPEN} | (
        {Effect.OPEN_FOR_PETITIONS} if calendar.for_petitions else set()
    )
    if any(c.effect in opens for c in over):
        return False
    return on.weekday() in calendar.weekdays or any(
        c.effect is Effect.CLOSED for c in over
    )


@given(
    st.lists(entries(), max_size=6),
    st.sets(st.integers(0, 6), max_size=2),
    st.booleans(),
    st.dates(date(2023, 12, 20), date(2024, 4, 30)),
)
def test_every_day_is_closed_or_open_as_its_entries_say(
    made: list[Closure], weekdays: set[int], for_petitions: bool, on: date
) -> None:
    calendar = Calendar(frozenset(weekdays), tuple(made), (), for_petitions)
    assert calendar.is_closed(on) == closed_by_hand(on, calendar)
    assert bool(calendar.why_closed(on)) == calendar.is_closed(on)
    found = next_open(on, calendar)
    assert not closed_by_hand(found, calendar)
    between = range(on.toordinal(), found.toordinal())
    assert all(closed_by_hand(date.fromordinal(d), calendar) for d in between)


# --- limits extended by a court's general order ------------------------------------

# India, Supreme Court, In re Cognizance for Extension of Limitation, looked up at
# lawlens.in and gstindia.biz: order of 27 April 2021, from 15 March 2020, no end named;
# order of 23 September 2021: 15 March 2020 to 2 October 2021 excluded, 90 days from
# 3 October 2021 at the least.
OPEN_ENDED = Extension(
    day("2020-03-15"), None, "order of 27 April 2021", made_on=day("2021-04-27")
)
CLOSED_ORDER = Extension(
    day("2020-03-15"),
    day("2021-10-02"),
    "order of 23 September 2021",
    then_days=90,
    excludes=True,
    made_on=day("2021-09-23"),
)


def test_an_order_without_end_makes_the_window_open_ended() -> None:
    # Failure mode 6: nothing is eligible while limitation is extended for everybody.
    calendar = Calendar(extensions=(OPEN_ENDED,))
    events = {"result-declared": "2021-05-02"}
    kept = kept_by(INDIA, events, "2023-01-01", calendar=calendar)
    assert kept.retain_through is None
    assert kept.confirm_through is None
    assert kept.reason is Reason.UNKNOWN_INPUT
    assert "16 June 2021 is not the end" in " ".join(s.text for s in kept.steps)


def test_before_the_order_was_made_nobody_reckoned_with_it() -> None:
    calendar = Calendar(extensions=(OPEN_ENDED,))
    before = window_ends("2021-03-01", calendar, as_of="2021-04-26")
    assert before == date(2021, 4, 15)
    assert window_ends("2021-03-01", calendar, as_of="2021-04-27") is None


def test_a_window_that_ended_before_the_order_is_left_alone() -> None:
    calendar = Calendar(extensions=(OPEN_ENDED,))
    # 30 January 2020 + 45 days = 15 March 2020, the first day under the order.
    assert window_ends("2020-01-29", calendar, as_of="2022-01-01") == date(2020, 3, 14)
    assert window_ends("2020-01-30", calendar, as_of="2022-01-01") is None


def test_closing_the_order_gives_every_window_an_end_again() -> None:
    calendar = Calendar(extensions=(CLOSED_ORDER,))
    # Ends inside: 90 days from 3 October 2021, that day being the first.
    assert window_ends("2021-05-02", calendar, as_of="2022-06-01") == date(2021, 12, 31)
    # 44 of 45 days are left on 15 March 2020: the longer of the two is 90 days.
    assert window_ends("2020-03-13", calendar, as_of="2022-06-01") == date(2021, 12, 31)


def test_days_under_the_order_do_not_count_for_a_window_that_outlives_it() -> None:
    calendar = Calendar(extensions=(CLOSED_ORDER,))
    # Declared 25 September 2021: 9 November as counted; the seven days from 26
    # September to 2 October do not count: 16 November.
    assert window_ends("2021-09-25", calendar, as_of="2022-06-01") == date(2021, 11, 16)
    # Declared on the order's last day: all its days come after.
    assert window_ends("2021-10-02", calendar, as_of="2022-06-01") == date(2021, 11, 16)


def test_an_order_with_an_end_moves_what_ends_inside_to_its_end() -> None:
    order = Extension(day("2024-07-01"), day("2024-08-10"), "order 5/2024")
    calendar = Calendar(extensions=(order,))
    assert window_ends("2024-06-04", calendar) == date(2024, 7, 19)
    assert window_ends("2024-06-04", calendar, "2024-07-01") == date(2024, 8, 10)
    assert window_ends("2024-07-01", calendar, "2024-07-01") == date(2024, 8, 15)


def test_an_order_that_touches_an_appeal_window_holds_without_end() -> None:
    appeal = """
[[appeal_window]]
name = "appeal"
after = ["dismissed"]
levels = ["first"]
clause = "s 116A"
length = 30
unit = "days"
"""
    decided = case(event("filed", "2021-02-01"), event("dismissed", "2021-05-03"))
    kept = kept_by(
        written(ANY_TERM + appeal),
        {"polled": "2021-01-05"},
        "2022-01-01",
        calendar=Calendar(extensions=(OPEN_ENDED,)),
        cases=(decided,),
    )
    assert kept.retain_through is None
    assert kept.reason is Reason.APPEAL_WINDOW
    assert "extended until a further order" in kept.deciding_step.text


def test_a_time_of_keeping_is_no_limit_and_is_not_extended() -> None:
    floor = written(ANY_TERM)
    calendar = Calendar(extensions=(OPEN_ENDED,))
    kept = kept_by(floor, {"polled": "2021-05-02"}, "2022-01-01", calendar=calendar)
    assert kept.retain_through == date(2021, 5, 3)


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"until": day("2024-01-31")}, "before it begins"),
        ({"notification": " "}, "the order that gives it"),
        ({"then_days": -1}, "whole number"),
        ({"then_days": True}, "whole number"),
    ],
)
def test_an_extension_that_cannot_be_is_refused(
    change: dict[str, Any], message: str
) -> None:
    with pytest.raises(CalendarError, match=message):
        replace(Extension(day("2024-02-01"), None, "order 1"), **change)


def in_2024(month_and_day: str) -> date:
    return day(f"2024-{month_and_day}")


@pytest.mark.parametrize(
    ("first", "end", "order", "expected"),
    [
        # The limit ends on the order's own last day, or the day after it.
        ("06-01", "07-31", ("07-01", "07-31", 5, False), "08-05"),
        ("06-01", "08-01", ("07-01", "07-31", 5, False), "08-01"),
        # One day alone does not count: it lies inside, is the last, or is the event's.
        ("06-01", "07-31", ("07-01", "07-01", 0, True), "08-01"),
        ("06-01", "07-01", ("07-01", "07-01", 0, True), "07-02"),
        ("06-30", "07-31", ("07-01", "07-01", 0, True), "08-01"),
        ("07-01", "07-31", ("07-01", "07-01", 0, True), "07-31"),
        ("07-02", "07-31", ("07-01", "07-01", 0, True), "07-31"),
        # The longer of the two counts: what was left, or the days granted.
        ("06-01", "07-20", ("07-01", "07-31", 10, True), "08-20"),
        ("06-01", "07-05", ("07-01", "07-31", 10, True), "08-10"),
        # It ended the day before the order begins, or on the day on which it begins.
        ("06-01", "06-30", ("07-01", "07-31", 0, False), "06-30"),
        ("06-01", "07-01", ("07-01", "07-31", 0, False), "07-31"),
    ],
)  # fmt: skip
def test_a_limit_under_an_order_to_the_day(
    first: str, end: str, order: tuple[str, str, int, bool], expected: str
) -> None:
    # All in 2024.
    begins, until, then_days, excludes = order
    made = Extension(in_2024(begins), in_2024(until), "order 1", then_days, excludes)
    got, steps = extended(in_2024(first), in_2024(end), [made], date(2030, 1, 1))
    assert got == in_2024(expected)
    if expected != end:
        assert steps[-1].date == got
        assert "order 1" in steps[-1].text
        moved = f"from {shown(in_2024(end))} to {shown(got)}"
        assert moved in steps[-1].text


def test_orders_work_one_after_the_other_by_their_days() -> None:
    spring = Extension(day("2024-03-01"), day("2024-03-31"), "spring")
    summer = Extension(day("2024-03-20"), day("2024-06-30"), "summer")
    for made in ([spring, summer], [summer, spring]):
        got, steps = extended(
            day("2024-02-01"), day("2024-03-10"), made, date(2030, 1, 1)
        )
        assert got == day("2024-06-30")
        assert ["spring" in s.text for s in steps] == [True, False]
    # Two orders from one day, one of them without an end.
    open_one = Extension(day("2024-03-01"), None, "open")
    for made in ([spring, open_one], [open_one, spring]):
        assert (
            extended(day("2024-02-01"), day("2024-03-10"), made, date(2030, 1, 1))[0]
            is None
        )
    endless = Extension(day("2024-03-20"), None, "endless")
    for made in ([spring, endless], [endless, spring]):
        ended, _ = extended(
            day("2024-02-01"), day("2024-03-10"), made, date(2030, 1, 1)
        )
        assert ended is None


def test_an_extension_beyond_the_calendar_is_refused() -> None:
    order = Extension(date.min, date.max, "x", then_days=1)
    with pytest.raises(PeriodError, match="leaves the calendar"):
        extended(date(2024, 1, 1), date(2024, 2, 1), [order], date(2024, 3, 1))
    with pytest.raises(PeriodError, match="leaves the calendar"):
        with_margin(date.max, 1, "")


orders = st.builds(
    lambda first, length, then, excludes: Extension(
        first,
        None if length is None else date.fromordinal(first.toordinal() + length),
        f"order of {first}",
        then,
        excludes,
    ),
    st.dates(date(2024, 1, 1), date(2024, 6, 30)),
    st.none() | st.integers(0, 90),
    st.integers(0, 30),
    st.booleans(),
)


@given(
    st.dates(date(2024, 1, 1), date(2024, 6, 30)),
    st.integers(1, 60),
    st.lists(orders, max_size=3),
    st.randoms(use_true_random=False),
)
def test_an_order_never_ends_a_limit_sooner_in_whatever_order_it_is_entered(
    first: date, length: int, made: list[Extension], chance: Random
) -> None:
    end = date.fromordinal(first.toordinal() + length)
    later, steps = extended(first, end, made, date(2030, 1, 1))
    assert later is None or later >= end
    assert (later == end) == (not steps)
    assert all(step.text for step in steps)
    shuffled = list(made)
    chance.shuffle(shuffled)
    assert extended(first, end, shuffled, date(2030, 1, 1))[0] == later
