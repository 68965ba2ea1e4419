"""What holds for every period, whatever the event, the rule and the calendar."""

from dataclasses import replace
from datetime import date, timedelta

from dateutil.relativedelta import relativedelta
from hypothesis import assume, given
from hypothesis import strategies as st

from registry.rules.calendars import Calendar, Closure, moved, open_days_between
from registry.rules.periods import (
    Counting,
    Direction,
    IfClosed,
    MonthEnd,
    Period,
    Unit,
    last_day,
)

events = st.dates(date(1950, 1, 1), date(2150, 12, 31))
lengths = st.integers(1, 120)
closures = st.builds(
    lambda first, length: Closure(first, moved(first, length), "closed"),
    events,
    st.integers(0, 40),
)
some_calendars = st.builds(
    Calendar,
    st.frozensets(st.integers(0, 6), max_size=5),
    st.lists(closures, max_size=4).map(tuple),
)
periods = st.builds(
    Period,
    lengths,
    st.sampled_from(Unit),
    st.sampled_from(Counting),
    st.sampled_from(MonthEnd),
    st.sampled_from(Direction),
    st.sampled_from(IfClosed),
    st.integers(0, 10),
    st.integers(0, 5),
)
kept = periods.map(lambda period: replace(period, if_closed=IfClosed.KEEP))
FORWARD, BACKWARD = Direction.FORWARD, Direction.BACKWARD
DAY = timedelta(days=1)


def day_of(event, period, calendar):
    return last_day([event], period, calendar).last_day


@given(events, lengths, some_calendars)
def test_days_with_the_first_left_out_are_plain_addition(event, length, calendar):
    expected = event + timedelta(days=length)
    assert day_of(event, Period(length, Unit.DAYS), calendar) == expected


@given(events, lengths, st.sampled_from([Unit.WEEKS, Unit.MONTHS, Unit.YEARS]))
def test_weeks_months_and_years_agree_with_dateutil(event, length, unit):
    # Source: python-dateutil's relativedelta, run beside ours.
    step = relativedelta(**{unit.value: length})
    assert day_of(event, Period(length, unit), Calendar()) == event + step
    backward = Period(length, unit, direction=BACKWARD)
    assert day_of(event, backward, Calendar()) == event - step


@given(events, kept, some_calendars)
def test_a_longer_period_never_ends_nearer_to_the_event(event, period, calendar):
    # Not so across the limit up to which closed days are left out: a period of six
    # days may by law end before one of five.
    period = replace(period, skip_closed_within=0)
    longer = replace(period, length=period.length + 1)
    here, there = day_of(event, period, calendar), day_of(event, longer, calendar)
    assert there >= here if period.direction == FORWARD else there <= here


@given(events, lengths, st.sampled_from([Unit.DAYS, Unit.MONTHS]), some_calendars)
def test_rolling_keeps_the_order_of_lengths(event, length, unit, calendar):
    for if_closed in IfClosed:
        period = Period(length, unit, if_closed=if_closed)
        longer = replace(period, length=length + 1)
        assert day_of(event, longer, calendar) >= day_of(event, period, calendar)


@given(events, kept, some_calendars)
def test_a_later_event_never_gives_an_earlier_day(event, period, calendar):
    later = day_of(event + DAY, period, calendar)
    assert later >= day_of(event, period, calendar)


@given(events, periods, some_calendars)
def test_a_roll_ends_on_an_open_day_on_its_own_side(event, period, calendar):
    counted = day_of(event, replace(period, if_closed=IfClosed.KEEP), calendar)
    rolled = {
        if_closed: day_of(event, replace(period, if_closed=if_closed), calendar)
        for if_closed in IfClosed
    }
    assert rolled[IfClosed.PREVIOUS_OPEN] <= counted <= rolled[IfClosed.NEXT_OPEN]
    assert counted < rolled[IfClosed.FIRST_OPEN_AFTER]
    for if_closed in set(IfClosed) - {IfClosed.KEEP}:
        assert not calendar.is_closed(rolled[if_closed])
    if not calendar.is_closed(counted):
        assert rolled[IfClosed.PREVIOUS_OPEN] == counted == rolled[IfClosed.NEXT_OPEN]


def mirrored(event, day):
    """The same distance from the event, on its other side."""
    return event - (day - event)


@given(events, kept, some_calendars)
def test_days_counted_backward_mirror_days_counted_forward(event, period, calendar):
    assume(period.unit not in (Unit.MONTHS, Unit.YEARS))
    seen_in_the_mirror = Calendar(
        frozenset((2 * event.weekday() - day) % 7 for day in calendar.weekdays),
        tuple(
            Closure(mirrored(event, each.last), mirrored(event, each.first))
            for each in calendar.closures
        ),
    )
    forward = day_of(event, replace(period, direction=FORWARD), calendar)
    backward = day_of(event, replace(period, direction=BACKWARD), seen_in_the_mirror)
    assert backward == mirrored(event, forward)


@given(events, lengths)
def test_months_with_their_first_day_are_the_same_from_either_end(event, length):
    # The first of a month ends a month on a last day, which corresponds to no first:
    # there it takes last-to-last for a month to be a month from either end.
    begins = event.replace(day=min(event.day, 28))
    month_end = MonthEnd.LAST_TO_LAST if begins.day == 1 else MonthEnd.CORRESPONDING
    period = Period(length, Unit.MONTHS, Counting.INCLUDE_FIRST, month_end)
    ends = day_of(begins, period, Calendar())
    assert ends + DAY == begins + relativedelta(months=length)
    back = replace(period, direction=BACKWARD)
    assert day_of(ends, back, Calendar()) == begins


@given(events, kept, some_calendars)
def test_starting_afresh_is_counting_in_the_next_day(event, period, calendar):
    afresh = replace(period, counting=Counting.DAY_AFTER)
    included = replace(period, counting=Counting.INCLUDE_FIRST)
    next_day = event + DAY * period.sign
    assert day_of(event, afresh, calendar) == day_of(next_day, included, calendar)


@given(events, kept, some_calendars)
def test_clear_time_is_one_day_more_than_leaving_the_first_out(event, period, calendar):
    clear = replace(period, counting=Counting.CLEAR)
    excluded = replace(period, counting=Counting.EXCLUDE_FIRST)
    assert day_of(event, clear, calendar) == (
        day_of(event, excluded, calendar) + DAY * period.sign
    )


@given(events, kept, some_calendars)
def test_counting_the_first_day_in_never_lengthens_a_period(event, period, calendar):
    included = replace(period, counting=Counting.INCLUDE_FIRST)
    excluded = replace(period, counting=Counting.EXCLUDE_FIRST)
    difference = day_of(event, excluded, calendar) - day_of(event, included, calendar)
    assert difference * period.sign >= timedelta(0)


@given(st.lists(events, min_size=1, max_size=5), periods, some_calendars, st.randoms())
def test_the_latest_event_governs_in_any_order(starts, period, calendar, random):
    computed = last_day(starts, period, calendar)
    assert computed.last_day == day_of(max(starts), period, calendar)
    random.shuffle(starts)
    assert last_day(starts, period, calendar) == computed


@given(events, st.integers(1, 10), st.sampled_from(Direction), some_calendars)
def test_a_short_period_holds_its_length_in_open_days(
    event, length, direction, calendar
):
    period = Period(length, Unit.DAYS, direction=direction, skip_closed_within=10)
    end = day_of(event, period, calendar)
    assert not calendar.is_closed(end)
    first, last = sorted((end, event + DAY * period.sign))
    assert open_days_between(first, last, calendar) == length
    working = replace(period, unit=Unit.WORKING_DAYS, skip_closed_within=0)
    assert day_of(event, working, calendar) == end


@given(events, kept, st.integers(1, 12), some_calendars)
def test_an_extended_period_holds_the_open_days_it_must(
    event, period, wanted, calendar
):
    period = replace(period, counting=Counting.EXCLUDE_FIRST)
    plain = replace(period, at_least_working_days=0)
    extended = replace(period, at_least_working_days=wanted)
    before, after = day_of(event, plain, calendar), day_of(event, extended, calendar)
    first, last = sorted((after, event + DAY * period.sign))
    held = open_days_between(first, last, calendar)
    assert held >= wanted
    if after != before:
        assert held == wanted
        assert (after - before) * period.sign > timedelta(0)


@given(events, periods, some_calendars)
def test_every_answer_is_explained_to_its_last_step(event, period, calendar):
    computed = last_day([event], period, calendar)
    assert computed.steps[0].date == event
    assert computed.steps[-1].date == computed.last_day
    assert [step.decides for step in computed.steps].count(True) == 1
    assert computed.steps[-1].decides
    for step in computed.steps:
        assert step.date is not None
        assert step.text.endswith(".")
        assert "{" not in step.text
