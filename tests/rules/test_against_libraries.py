"""Open days and working days against libraries that count them in their own way.

References, run beside ours: `holidays` 0.86 (HolidayBase: is_working_day,
get_nth_working_day, get_working_days_count) and `python-dateutil` 4.0.0 (rrule,
relativedelta). Days, weeks, months and years against relativedelta stand in
test_periods_properties.py.
"""

from datetime import date, datetime, time, timedelta

import holidays
import pytest
from dateutil.relativedelta import relativedelta, weekday
from dateutil.rrule import DAILY, MONTHLY, rrule, rruleset
from hypothesis import given
from hypothesis import strategies as st

from registry.rules.calendars import (
    BACKWARD,
    FORWARD,
    Calendar,
    Closure,
    ClosureKind,
    next_open,
    nth_open,
    open_days_between,
    previous_open,
)
from registry.rules.periods import (
    Counting,
    Direction,
    IfClosed,
    MonthEnd,
    Period,
    Unit,
    last_day,
)

DAY = timedelta(days=1)
YEARS = range(2019, 2032)
# Places with and without parts, and with other weekends; weekends and closed days
# that no place has are drawn beside them.
PLACES = (("IE", None), ("GB", "SCT"), ("IN", "KL"), ("SA", None), ("US", None))

days = st.dates(date(2020, 3, 1), date(2030, 10, 31))
counts = st.integers(1, 40)
weekends = st.frozensets(st.integers(0, 6), max_size=6)
lists = st.lists(
    st.dates(date(2020, 1, 1), date(2030, 12, 31)), max_size=60, unique=True
)


def of_a_place(code: str, part: str | None):
    """A country's holidays as the library has them, and our calendar of the same."""
    reference = holidays.country_holidays(code, subdiv=part, years=YEARS, expand=False)
    # Days on which a weekend is worked in exchange are not in our calendar.
    reference.weekend_workdays.clear()
    return reference, ours(reference.weekend, reference)


def of_a_list(weekend, closed):
    """A table of closed days that no country has, in both."""
    reference = holidays.HolidayBase()
    reference.weekend = set(weekend)
    for day in closed:
        reference[day] = "closed"
    return reference, ours(weekend, closed)


def ours(weekend, closed) -> Calendar:
    closures = (Closure(d, d, "", kind=ClosureKind.HOLIDAY) for d in closed)
    return Calendar(frozenset(weekend), tuple(closures))


KNOWN = {place: of_a_place(*place) for place in PLACES}
pairs = st.one_of(
    st.sampled_from(PLACES).map(KNOWN.__getitem__),
    st.builds(of_a_list, weekends, lists),
)


@pytest.mark.parametrize("place", PLACES, ids=lambda place: place[0])
def test_the_tables_hold_what_they_should(place):
    """So that the comparisons below cannot hold for want of holidays."""
    reference, calendar = KNOWN[place]
    assert len(reference) > 8 * len(YEARS)
    assert len(calendar.closures) == len(reference)
    assert calendar.weekdays


@given(pairs, days)
def test_what_is_closed_is_no_working_day(pair, day):
    # Source: holidays 0.86, is_working_day.
    reference, calendar = pair
    assert calendar.is_closed(day) is not reference.is_working_day(day)


@given(pairs, days)
def test_the_nearest_open_days_agree(pair, day):
    # Source: holidays 0.86, get_nth_working_day.
    reference, calendar = pair
    assert next_open(day, calendar) == reference.get_nth_working_day(day, 0)
    assert next_open(day + DAY, calendar) == reference.get_nth_working_day(day, 1)
    back = reference.get_nth_working_day(day, -1)
    assert previous_open(day - DAY, calendar) == back


@given(pairs, days, counts)
def test_the_nth_open_day_agrees(pair, day, count):
    # Source: holidays 0.86, get_nth_working_day.
    reference, calendar = pair
    forward = reference.get_nth_working_day(day, count)
    backward = reference.get_nth_working_day(day, -count)
    assert nth_open(day + DAY, count, calendar, FORWARD) == forward
    assert nth_open(day - DAY, count, calendar, BACKWARD) == backward


@given(pairs, days, st.integers(0, 400))
def test_the_number_of_open_days_agrees(pair, first, length):
    # Source: holidays 0.86, get_working_days_count (both ends included).
    reference, calendar = pair
    last = min(first + length * DAY, date(2030, 12, 31))
    counted = reference.get_working_days_count(first, last)
    assert open_days_between(first, last, calendar) == counted


def ends(event: date, period: Period, calendar: Calendar) -> date:
    return last_day([event], period, calendar).last_day


@given(pairs, days, counts)
def test_periods_of_working_days_agree(pair, event, count):
    # Source: holidays 0.86, get_nth_working_day: the event's own day is left out.
    reference, calendar = pair
    period = Period(count, Unit.WORKING_DAYS)
    assert ends(event, period, calendar) == reference.get_nth_working_day(event, count)
    back = Period(count, Unit.WORKING_DAYS, direction=Direction.BACKWARD)
    assert ends(event, back, calendar) == reference.get_nth_working_day(event, -count)


@given(pairs, days, counts)
def test_working_days_with_the_first_counted_agree(pair, event, count):
    # Source: holidays 0.86, get_nth_working_day from the day before.
    reference, calendar = pair
    period = Period(count, Unit.WORKING_DAYS, Counting.INCLUDE_FIRST)
    expected = reference.get_nth_working_day(event - DAY, count)
    assert ends(event, period, calendar) == expected


@given(pairs, days, st.integers(1, 60))
def test_a_last_day_rolls_to_the_working_day(pair, event, length):
    # Sources: python-dateutil 4.0.0, relativedelta, for the day; holidays 0.86,
    # get_nth_working_day, for the roll.
    reference, calendar = pair
    falls = event + relativedelta(days=length)
    on = Period(length, Unit.DAYS, if_closed=IfClosed.NEXT_OPEN)
    assert ends(event, on, calendar) == reference.get_nth_working_day(falls, 0)
    back = Period(length, Unit.DAYS, if_closed=IfClosed.PREVIOUS_OPEN)
    previous = reference.get_nth_working_day(falls + DAY, -1)
    assert ends(event, back, calendar) == previous


@given(pairs, days, st.integers(1, 7))
def test_short_periods_leave_closed_days_out_as_working_days(pair, event, length):
    # Source: holidays 0.86, get_nth_working_day.
    reference, calendar = pair
    period = Period(length, Unit.DAYS, skip_closed_within=7)
    expected = reference.get_nth_working_day(event, length)
    assert ends(event, period, calendar) == expected


def at_midnight(day: date) -> datetime:
    return datetime.combine(day, time.min)


def open_days(begins: date, weekend, closed) -> rruleset:
    """Every open day from ``begins`` on, as a recurrence (RFC 5545, 3.8.5)."""
    recurs = rruleset()
    opened = sorted(set(range(7)) - weekend)
    recurs.rrule(rrule(DAILY, dtstart=at_midnight(begins), byweekday=opened))
    for day in closed:
        recurs.exdate(at_midnight(day))
    return recurs


@given(weekends, lists, days, counts)
def test_working_days_agree_with_a_recurrence(weekend, closed, event, count):
    # Source: python-dateutil 4.0.0, rruleset of a daily rule with exceptions.
    found = open_days(event + DAY, weekend, closed)[count - 1].date()
    calendar = ours(weekend, closed)
    assert ends(event, Period(count, Unit.WORKING_DAYS), calendar) == found
    assert nth_open(event + DAY, count, calendar, FORWARD) == found


@given(weekends, lists, days, st.integers(0, 200))
def test_open_days_between_agree_with_a_recurrence(weekend, closed, first, length):
    # Source: python-dateutil 4.0.0, rruleset.between.
    last = first + length * DAY
    recurs = open_days(first, weekend, closed)
    found = recurs.between(at_midnight(first), at_midnight(last), inc=True)
    assert open_days_between(first, last, ours(weekend, closed)) == len(found)


@given(days, st.integers(0, 6))
def test_the_one_open_weekday_is_the_next_and_the_last_of_its_name(day, only):
    # Source: python-dateutil 4.0.0, relativedelta(weekday=MO(+1)), which stays where
    # the day is that weekday already.
    calendar = Calendar(frozenset(range(7)) - {only})
    after = day + relativedelta(weekday=weekday(only)(+1))
    before = day + relativedelta(weekday=weekday(only)(-1))
    assert (previous_open(day, calendar), next_open(day, calendar)) == (before, after)


@given(st.integers(1950, 2100), st.integers(1, 12), st.integers(1, 60))
def test_last_to_last_agrees_with_the_last_days_of_months(year, month, length):
    # Source: python-dateutil 4.0.0, rrule(MONTHLY, bymonthday=-1): the last day of
    # each month, the first of them the month of the event itself.
    first = at_midnight(date(year, month, 1))
    lasts = rrule(MONTHLY, dtstart=first, bymonthday=-1, count=length + 1)
    event, expected = lasts[0].date(), lasts[length].date()
    period = Period(length, Unit.MONTHS, month_end=MonthEnd.LAST_TO_LAST)
    assert ends(event, period, Calendar()) == expected
    back = Period(
        length,
        Unit.MONTHS,
        month_end=MonthEnd.LAST_TO_LAST,
        direction=Direction.BACKWARD,
    )
    assert ends(expected, back, Calendar()) == event
