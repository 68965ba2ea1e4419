"""Closed days: what is closed, why, and the nearest open day."""

from calendar import day_name
from dataclasses import FrozenInstanceError
from datetime import date
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from registry.rules.calendars import (
    BACKWARD,
    FORWARD,
    OPEN_EVERY_DAY,
    Calendar,
    CalendarError,
    Closure,
    closed_runs_between,
    moved,
    next_open,
    nth_open,
    open_days_between,
    previous_open,
)

FRIDAY, SATURDAY, SUNDAY = date(2007, 8, 31), date(2007, 9, 1), date(2007, 9, 2)
LABOUR_DAY, TUESDAY = date(2007, 9, 3), date(2007, 9, 4)
COURT = Calendar(
    frozenset({5, 6}), (Closure(LABOUR_DAY, LABOUR_DAY, "Labour Day", "Notice 7"),)
)

days = st.dates(date(1990, 1, 1), date(2060, 12, 31))
closures = st.builds(
    lambda first, length: Closure(first, moved(first, length), "closed"),
    days,
    st.integers(0, 60),
)
some_calendars = st.builds(
    Calendar,
    st.frozensets(st.integers(0, 6), max_size=6),
    st.lists(closures, max_size=6).map(tuple),
)


def closed_by_hand(day, calendar):
    listed = any(each.first <= day <= each.last for each in calendar.closures)
    return listed or day.weekday() in calendar.weekdays


def test_a_weekend_is_open_unless_the_calendar_says_otherwise():
    assert not OPEN_EVERY_DAY.is_closed(SUNDAY)
    assert OPEN_EVERY_DAY.why_closed(SUNDAY) == ""


def test_a_closed_day_says_why():
    assert COURT.why_closed(SATURDAY) == "Saturday"
    assert COURT.why_closed(LABOUR_DAY) == "Labour Day (Notice 7)"
    assert Closure(SUNDAY, SUNDAY).why == "a closed date"


def test_each_weekday_is_named():
    every = Calendar(frozenset(range(7)))
    names = [every.why_closed(date(2024, 3, day)) for day in range(4, 11)]
    # Source: Python's own calendar module; 4 March 2024 is a Monday.
    assert names == list(day_name)


def test_closures_and_calendars_are_never_altered():
    for fixed, name in ((COURT, "weekdays"), (COURT.closures[0], "reason")):
        with pytest.raises(FrozenInstanceError):
            setattr(fixed, name, None)
    assert len({COURT, OPEN_EVERY_DAY}) == 2


def test_a_holiday_inside_a_vacation_keeps_its_own_reason():
    vacation = Closure(date(2026, 5, 1), date(2026, 5, 20), "vacation")
    calendar = Calendar(
        frozenset({6}), (vacation, Closure(date(2026, 5, 3), date(2026, 5, 3), "feast"))
    )
    assert calendar.why_closed(date(2026, 5, 3)) == "vacation; feast; Sunday"
    assert calendar.is_closed(date(2026, 5, 20))
    assert not calendar.is_closed(date(2026, 5, 21))


def test_the_long_weekend_of_labour_day_2007():
    # Source: US Fed. R. App. P. 26, 2009 Committee Note (FRAP-01 and FRAP-02).
    assert next_open(SATURDAY, COURT) == TUESDAY
    assert previous_open(LABOUR_DAY, COURT) == FRIDAY
    (run,) = closed_runs_between(FRIDAY, TUESDAY, COURT)
    assert (run.first, run.last) == (SATURDAY, LABOUR_DAY)
    assert run.reason == "Saturday; Sunday; Labour Day (Notice 7)"


def test_runs_are_parted_by_open_days():
    runs = closed_runs_between(date(2024, 3, 1), date(2024, 3, 31), COURT)
    assert [run.first.day for run in runs] == [2, 9, 16, 23, 30]
    assert [run.last.day for run in runs] == [3, 10, 17, 24, 31]


def test_an_open_day_is_its_own_nearest_open_day():
    assert next_open(FRIDAY, COURT) == previous_open(FRIDAY, COURT) == FRIDAY


def test_open_days_are_counted_with_both_ends():
    assert open_days_between(FRIDAY, TUESDAY, COURT) == 2
    assert open_days_between(FRIDAY, FRIDAY, COURT) == 1
    assert open_days_between(TUESDAY, FRIDAY, COURT) == 0


def test_the_nth_open_day_is_counted_either_way():
    assert nth_open(SATURDAY, 2, COURT, FORWARD) == date(2007, 9, 5)
    assert nth_open(LABOUR_DAY, 2, COURT, BACKWARD) == date(2007, 8, 30)


def test_a_closure_cannot_end_before_it_begins():
    with pytest.raises(CalendarError, match="give the earlier day first"):
        Closure(TUESDAY, FRIDAY)


@pytest.mark.parametrize("weekday", [-1, 7])
def test_a_weekday_that_is_none_is_refused(weekday):
    with pytest.raises(CalendarError, match=f"{weekday} is not a weekday"):
        Calendar(frozenset({1, weekday}))


@pytest.mark.parametrize("search", [next_open, previous_open])
def test_a_calendar_with_nothing_open_is_an_error_and_no_endless_search(search):
    no_weekday = Calendar(frozenset(range(7)))
    with pytest.raises(CalendarError, match="leave at least one weekday open"):
        search(FRIDAY, no_weekday)
    no_day = Calendar(closures=(Closure(date.min, date.max, "for ever"),))
    with pytest.raises(CalendarError, match="years 1 to 9999"):
        search(FRIDAY, no_day)


def test_counting_stops_at_the_end_of_the_calendar():
    assert moved(date.max, 0) == date.max
    with pytest.raises(CalendarError, match="Counting from 9999-12-31 leaves"):
        moved(date.max, 1)
    with pytest.raises(CalendarError):
        moved(date.min, -1)
    with pytest.raises(CalendarError):
        nth_open(FRIDAY, 10**12, COURT, FORWARD)
    with pytest.raises(CalendarError):
        nth_open(FRIDAY, 0, COURT, FORWARD)


def test_the_last_day_of_all_is_counted_without_overflow():
    assert open_days_between(date(9999, 12, 30), date.max, OPEN_EVERY_DAY) == 2


@given(days, some_calendars)
def test_closed_is_what_a_closure_or_a_weekday_says(day, calendar):
    assert calendar.is_closed(day) == closed_by_hand(day, calendar)
    assert bool(calendar.why_closed(day)) == calendar.is_closed(day)


@given(days, some_calendars)
def test_the_next_open_day_is_open_and_nothing_open_lies_between(day, calendar):
    found = next_open(day, calendar)
    assert found >= day
    assert not closed_by_hand(found, calendar)
    assert open_days_between(day, found, calendar) == 1


@given(days, some_calendars)
def test_the_previous_open_day_is_open_and_nothing_open_lies_between(day, calendar):
    found = previous_open(day, calendar)
    assert found <= day
    assert not closed_by_hand(found, calendar)
    assert open_days_between(found, day, calendar) == 1


@given(days, st.integers(1, 40), some_calendars)
def test_counting_open_days_and_finding_them_agree(day, count, calendar):
    assert open_days_between(
        day, nth_open(day, count, calendar, FORWARD), calendar
    ) == (count)
    assert open_days_between(
        nth_open(day, count, calendar, BACKWARD), day, calendar
    ) == (count)


@given(days, st.integers(0, 120), some_calendars)
def test_runs_hold_every_closed_day_once_and_no_open_one(day, length, calendar):
    last = moved(day, length)
    runs = closed_runs_between(day, last, calendar)
    closed = sum((run.last - run.first).days + 1 for run in runs)
    assert closed == length + 1 - open_days_between(day, last, calendar)
    for before, after in pairwise(runs):
        assert (after.first - before.last).days > 1
