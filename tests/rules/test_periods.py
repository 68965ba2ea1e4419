"""How periods are counted: each convention, and conventions met together.

Values without a source beside them follow from the wording of issue 2 (the paragraph
on ``deadline``); published examples stand in test_periods_published.py.
"""

from dataclasses import FrozenInstanceError
from datetime import date, datetime

import pytest

from registry.rules import wording
from registry.rules.calendars import Calendar, Closure
from registry.rules.periods import (
    Counting,
    Direction,
    IfClosed,
    MonthEnd,
    Period,
    PeriodError,
    Unit,
    last_day,
)
from registry.rules.steps import Step

OPEN = Calendar()
WEEKEND = Calendar(frozenset({5, 6}))
BACK = Direction.BACKWARD
INCLUDED, AFRESH, CLEAR = Counting.INCLUDE_FIRST, Counting.DAY_AFTER, Counting.CLEAR


def day_of(start, length, unit, calendar=WEEKEND, **rule):
    return last_day(
        [date.fromisoformat(start)], Period(length, Unit(unit), **rule), calendar
    ).last_day.isoformat()


def texts(start, length, unit, calendar=WEEKEND, **rule):
    period = Period(length, Unit(unit), **rule)
    return [
        step.text
        for step in last_day([date.fromisoformat(start)], period, calendar).steps
    ]


# Months whose first day counts.


@pytest.mark.parametrize(
    ("start", "length", "unit", "expected"),
    [
        ("2024-02-15", 1, "months", "2024-03-14"),
        ("2023-01-28", 1, "months", "2023-02-27"),
        ("2023-01-29", 1, "months", "2023-02-28"),
        ("2023-01-31", 1, "months", "2023-02-28"),
        ("2023-02-01", 1, "months", "2023-02-28"),
        ("2024-02-29", 1, "years", "2025-02-28"),
        ("2024-02-29", 4, "years", "2028-02-28"),
        ("2024-12-01", 1, "months", "2024-12-31"),
    ],
)
def test_with_the_first_day_counted_a_month_ends_before_the_corresponding_date(
    start, length, unit, expected
):
    assert day_of(start, length, unit, counting=INCLUDED) == expected


@pytest.mark.parametrize(
    ("start", "expected"),
    [
        ("2023-03-15", "2023-02-16"),
        ("2023-03-28", "2023-03-01"),
        ("2023-03-29", "2023-03-01"),
        ("2023-03-31", "2023-03-01"),
        ("2023-04-01", "2023-03-02"),
    ],
)
def test_counted_back_with_the_first_day_a_month_is_the_same_month(start, expected):
    # 1 to 31 March is one month from either end: the mirror of the forward rule.
    assert day_of(start, 1, "months", counting=INCLUDED, direction=BACK) == expected


# Months whose first day does not count.


@pytest.mark.parametrize(
    ("start", "length", "unit", "direction", "expected"),
    [
        ("2023-03-31", 1, "months", "backward", "2023-02-28"),
        ("2024-03-31", 1, "months", "backward", "2024-02-29"),
        ("2023-02-28", 1, "months", "backward", "2023-01-28"),
        ("2024-02-29", 1, "years", "backward", "2023-02-28"),
        ("2024-03-05", 2, "weeks", "backward", "2024-02-20"),
        ("2024-03-05", 2, "weeks", "forward", "2024-03-19"),
    ],
)
def test_months_years_and_weeks_run_either_way(
    start, length, unit, direction, expected
):
    assert day_of(start, length, unit, direction=direction) == expected


@pytest.mark.parametrize(
    ("start", "length", "unit", "rule", "expected"),
    [
        ("2003-02-28", 1, "months", {}, "2003-03-31"),
        ("2004-02-28", 1, "months", {}, "2004-03-28"),
        ("2003-04-30", 1, "months", {}, "2003-05-31"),
        ("2003-01-31", 1, "months", {}, "2003-02-28"),
        ("2003-04-29", 1, "months", {}, "2003-05-29"),
        ("2023-02-28", 1, "years", {}, "2024-02-29"),
        ("2023-02-28", 1, "months", {"direction": BACK}, "2023-01-31"),
        ("2023-02-28", 1, "months", {"counting": INCLUDED}, "2023-03-31"),
        ("2023-01-31", 1, "months", {"counting": INCLUDED}, "2023-02-28"),
        (
            "2023-02-28",
            1,
            "months",
            {"counting": INCLUDED, "direction": BACK},
            "2023-02-01",
        ),
        ("2023-02-27", 1, "months", {"counting": AFRESH}, "2023-03-31"),
        ("2023-02-28", 1, "months", {"counting": AFRESH}, "2023-03-31"),
        ("2023-02-28", 1, "months", {"counting": CLEAR}, "2023-04-01"),
    ],
)
def test_last_to_last_runs_from_a_months_end_to_a_months_end(
    start, length, unit, rule, expected
):
    rule = {"month_end": MonthEnd.LAST_TO_LAST, **rule}
    assert day_of(start, length, unit, **rule) == expected


def test_last_to_last_leaves_days_and_weeks_alone():
    for unit, expected in (("days", "2023-03-03"), ("weeks", "2023-03-21")):
        for month_end in MonthEnd:
            assert day_of("2023-02-28", 3, unit, month_end=month_end) == expected


# Starting afresh on the day after.


@pytest.mark.parametrize(
    ("start", "length", "unit", "direction", "expected"),
    [
        ("2021-09-30", 3, "months", "forward", "2021-12-31"),
        ("2021-09-29", 3, "months", "forward", "2021-12-29"),
        ("2021-09-30", 3, "days", "forward", "2021-10-03"),
        ("2021-09-30", 1, "weeks", "forward", "2021-10-07"),
        ("2021-10-01", 3, "months", "backward", "2021-07-01"),
        ("2021-10-01", 3, "days", "backward", "2021-09-28"),
    ],
)
def test_a_period_may_start_afresh_on_the_next_day(
    start, length, unit, direction, expected
):
    assert day_of(start, length, unit, counting=AFRESH, direction=direction) == expected


# Clear time.


@pytest.mark.parametrize(
    ("start", "length", "unit", "direction", "expected"),
    [
        ("2024-03-04", 1, "weeks", "forward", "2024-03-12"),
        ("2024-01-31", 1, "months", "forward", "2024-03-01"),
        ("2024-03-31", 1, "months", "backward", "2024-02-28"),
        ("2024-03-04", 2, "working-days", "forward", "2024-03-07"),
        ("2024-03-06", 2, "working-days", "forward", "2024-03-09"),
        ("2024-03-07", 2, "working-days", "backward", "2024-03-04"),
        ("2024-03-04", 0, "days", "forward", "2024-03-05"),
        ("2024-03-04", 0, "days", "backward", "2024-03-03"),
    ],
)
def test_clear_time_leaves_out_the_day_at_either_end(
    start, length, unit, direction, expected
):
    assert day_of(start, length, unit, counting=CLEAR, direction=direction) == expected


def test_the_day_after_clear_working_days_may_be_closed_and_then_rolls_by_the_rule():
    rule = {"counting": CLEAR, "if_closed": IfClosed.NEXT_OPEN}
    assert day_of("2024-03-06", 2, "working-days", **rule) == "2024-03-11"


# Closed days within the period.


@pytest.mark.parametrize(
    ("start", "length", "rule", "expected"),
    [
        ("2024-03-08", 1, {}, "2024-03-11"),
        ("2024-03-08", 0, {}, "2024-03-08"),
        ("2024-03-09", 0, {}, "2024-03-09"),
        ("2024-03-09", 1, {"counting": INCLUDED}, "2024-03-11"),
        ("2024-03-08", 1, {"counting": INCLUDED}, "2024-03-08"),
        ("2024-03-08", 2, {"counting": INCLUDED}, "2024-03-11"),
        ("2024-03-08", 2, {"counting": AFRESH}, "2024-03-12"),
        ("2024-03-11", 1, {"direction": BACK}, "2024-03-08"),
        ("2024-03-11", 2, {"direction": BACK, "counting": INCLUDED}, "2024-03-08"),
    ],
)
def test_working_days_count_open_days_only(start, length, rule, expected):
    assert day_of(start, length, "working-days", **rule) == expected


@pytest.mark.parametrize(
    ("length", "within", "expected"),
    [
        (5, 5, "2024-03-15"),
        (5, 4, "2024-03-13"),
        (5, 0, "2024-03-13"),
        (6, 5, "2024-03-14"),
        (1, 5, "2024-03-11"),
    ],
)
def test_closed_days_are_left_out_of_short_periods_only(length, within, expected):
    assert day_of("2024-03-08", length, "days", skip_closed_within=within) == expected


def test_a_week_is_no_short_period_of_seven_days():
    assert day_of("2024-03-08", 1, "weeks", skip_closed_within=7) == "2024-03-15"
    assert day_of("2024-03-08", 1, "months", skip_closed_within=31) == "2024-04-08"


@pytest.mark.parametrize(
    ("start", "length", "rule", "expected"),
    [
        ("2024-03-07", 2, {}, "2024-03-11"),
        ("2024-03-04", 2, {}, "2024-03-06"),
        ("2024-03-08", 0, {}, "2024-03-12"),
        ("2024-03-08", 2, {"counting": INCLUDED}, "2024-03-11"),
        ("2024-03-11", 2, {"direction": BACK}, "2024-03-07"),
        ("2024-03-07", 2, {"counting": CLEAR}, "2024-03-12"),
        ("2024-03-11", 2, {"counting": CLEAR, "direction": BACK}, "2024-03-06"),
    ],
)
def test_a_period_is_extended_until_it_holds_two_working_days(
    start, length, rule, expected
):
    assert day_of(start, length, "days", at_least_working_days=2, **rule) == expected


def test_extension_comes_before_the_roll():
    rule = {"at_least_working_days": 2, "if_closed": IfClosed.FIRST_OPEN_AFTER}
    assert day_of("2024-03-07", 2, "days", **rule) == "2024-03-12"


# A counted day that is closed.


@pytest.mark.parametrize("direction", list(Direction))
@pytest.mark.parametrize(
    ("if_closed", "expected"),
    [
        ("keep", "2024-03-09"),
        ("next-open", "2024-03-11"),
        ("previous-open", "2024-03-08"),
        ("first-open-after", "2024-03-11"),
    ],
)
def test_a_closed_day_is_treated_as_the_rule_says_in_either_direction(
    direction, if_closed, expected
):
    start = {"forward": "2024-03-05", "backward": "2024-03-13"}[direction]
    rule = {"direction": direction, "if_closed": if_closed}
    assert day_of(start, 4, "days", **rule) == expected


@pytest.mark.parametrize(
    ("if_closed", "expected"),
    [
        ("keep", "2024-03-08"),
        ("next-open", "2024-03-08"),
        ("previous-open", "2024-03-08"),
        ("first-open-after", "2024-03-11"),
    ],
)
def test_an_open_day_moves_only_where_the_day_after_is_asked_for(if_closed, expected):
    assert day_of("2024-03-04", 4, "days", if_closed=if_closed) == expected


# Several events.


def test_the_latest_of_several_events_counts_and_the_others_are_named():
    early, late = date(2024, 3, 1), date(2024, 3, 4)
    period = Period(10, Unit.DAYS)
    computed = last_day([late, early, late], period)
    assert computed.last_day == date(2024, 3, 14)
    assert computed == last_day([early, late], period)
    assert [step.code for step in computed.steps[:2]] == [
        "period.earlier-event",
        "period.event",
    ]
    assert "1 March 2024 is earlier than that of 4 March 2024" in computed.steps[0].text


def test_the_latest_event_counts_backward_too():
    period = Period(10, Unit.DAYS, direction=BACK)
    starts = [date(2024, 3, 11), date(2024, 3, 21)]
    assert last_day(starts, period).last_day == date(2024, 3, 11)


# What is refused.


def test_a_period_without_an_event_is_refused():
    with pytest.raises(PeriodError, match="needs the date of an event"):
        last_day([], Period(1, Unit.DAYS))


def test_a_moment_is_no_day():
    with pytest.raises(PeriodError, match="not from a moment"):
        last_day([datetime(2024, 3, 1, 23, 59)], Period(1, Unit.DAYS))  # noqa: DTZ001


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"length": -1}, "length -1 is not a whole number of 0 or more"),
        ({"length": 1.5}, "length 1.5 is not a whole number"),
        ({"length": True}, "length True is not a whole number"),
        ({"skip_closed_within": -1}, "skip_closed_within -1"),
        ({"at_least_working_days": -2}, "at_least_working_days -2"),
        ({"unit": "hours"}, "unit 'hours' is not known: use one of days, working-days"),
        ({"counting": "inclusive"}, "counting 'inclusive' is not known"),
        ({"month_end": "sticky"}, "month_end 'sticky' is not known"),
        ({"direction": "up"}, "direction 'up' is not known"),
        ({"if_closed": "roll"}, "if_closed 'roll' is not known: use one of keep"),
        ({"length": 0, "counting": INCLUDED}, "no day one to count .include-first."),
        ({"length": 0, "counting": AFRESH}, "no day one to count .day-after."),
    ],
)
def test_parts_that_make_no_period_are_refused(change, message):
    with pytest.raises(PeriodError, match=message):
        Period(**{"length": 1, "unit": Unit.DAYS, **change})


@pytest.mark.parametrize("unit", list(Unit))
@pytest.mark.parametrize("direction", list(Direction))
@pytest.mark.parametrize("length", [4_000_000, 10**12, 10**30])
def test_a_period_that_leaves_the_calendar_is_refused(unit, direction, length):
    period = Period(length, unit, direction=direction)
    with pytest.raises(PeriodError, match="years 1 to 9999"):
        last_day([date(2024, 3, 1)], period, WEEKEND)


def test_counting_and_rolling_stop_at_the_calendars_own_ends():
    eve = date(9999, 12, 30)
    closed = Calendar(closures=(Closure(eve, date.max, "end"),))
    assert last_day([eve], Period(1, Unit.DAYS)).last_day == date.max
    with pytest.raises(PeriodError, match="years 1 to 9999"):
        last_day([eve], Period(2, Unit.DAYS))
    with pytest.raises(PeriodError, match="years 1 to 9999"):
        last_day([eve], Period(1, Unit.DAYS, if_closed=IfClosed.NEXT_OPEN), closed)
    with pytest.raises(PeriodError, match="years 1 to 9999"):
        last_day([date(1, 1, 31)], Period(1, Unit.MONTHS, direction=BACK))


def test_a_calendar_with_nothing_open_is_refused_and_not_searched_for_ever():
    shut = Calendar(frozenset(range(7)))
    event = [date(2024, 3, 1)]
    for period in (
        Period(1, Unit.WORKING_DAYS),
        Period(1, Unit.DAYS, if_closed=IfClosed.NEXT_OPEN),
        Period(1, Unit.DAYS, at_least_working_days=1),
        Period(1, Unit.DAYS, skip_closed_within=1),
    ):
        with pytest.raises(PeriodError, match="leave at least one weekday open"):
            last_day(event, period, shut)
    assert last_day(event, Period(1, Unit.DAYS), shut).last_day == date(2024, 3, 2)


def test_a_period_and_its_answer_are_never_altered():
    period = Period(1, Unit.DAYS)
    computed = last_day([date(2024, 3, 1)], period)
    for fixed, name in ((period, "length"), (computed, "last_day")):
        with pytest.raises(FrozenInstanceError):
            setattr(fixed, name, 2)


# The reasoning.


def test_every_step_of_a_rolled_period_is_told():
    court = Calendar(
        frozenset({5, 6}),
        (Closure(date(2007, 9, 3), date(2007, 9, 3), "Labour Day", "Order 12"),),
    )
    assert texts("2007-08-22", 10, "days", court, if_closed="next-open") == [
        "The event is on 22 August 2007.",
        "The event's day, 22 August 2007, is not counted; 23 August 2007 is day one.",
        "10 days counted on, 23 August 2007 being day one: 1 September 2007.",
        "1 September 2007 to 3 September 2007 are closed (Saturday; Sunday; Labour Day "
        "(Order 12)): the day moves to the next open day, 4 September 2007.",
    ]


def test_a_closed_day_that_stays_is_told_too():
    assert texts("2024-03-05", 4, "days")[-1] == (
        "9 March 2024 is closed (Saturday); under this rule the day stays where it "
        "falls."
    )


def test_a_roll_back_is_told():
    rule = {"if_closed": "previous-open", "direction": "backward"}
    assert texts("2024-03-13", 3, "days", **rule)[-2:] == [
        "3 days counted back, 12 March 2024 being day one: 10 March 2024.",
        "9 March 2024 to 10 March 2024 are closed (Saturday; Sunday): the day moves to "
        "the open day before, 8 March 2024.",
    ]


def test_the_first_open_day_after_is_told_with_what_lies_between():
    assert texts("2024-03-01", 7, "days", if_closed="first-open-after")[-2:] == [
        "9 March 2024 to 10 March 2024 are closed (Saturday; Sunday) and not counted.",
        "The day is the first open day strictly after 8 March 2024: 11 March 2024.",
    ]


def test_days_left_out_of_a_short_period_are_told_in_the_order_counted():
    rule = {"skip_closed_within": 7, "direction": "backward"}
    assert texts("2024-03-18", 6, "days", **rule)[1:] == [
        "The event's day, 18 March 2024, is not counted; 17 March 2024 is day one.",
        "A period of 7 days or fewer: closed days are not counted.",
        "16 March 2024 to 17 March 2024 are closed (Saturday; Sunday) and not counted.",
        "9 March 2024 to 10 March 2024 are closed (Saturday; Sunday) and not counted.",
        "6 days counted back, closed days left out: 8 March 2024.",
    ]


def test_a_period_too_long_for_the_exception_says_so():
    assert "8 days: not a period of 7 days or fewer, so closed days are counted." in (
        texts("2024-03-18", 8, "days", skip_closed_within=7)
    )


def test_an_extension_is_told():
    assert texts("2024-03-07", 2, "days", at_least_working_days=2)[-2:] == [
        "9 March 2024 to 10 March 2024 are closed (Saturday; Sunday) and not counted.",
        "The period must hold working days: 2 at least; it held 1, so it is extended "
        "to 11 March 2024.",
    ]
    backward = {"at_least_working_days": 2, "direction": "backward"}
    assert "it held 0," in texts("2024-03-11", 1, "days", **backward)[-1]
    assert "it held 1," in texts("2024-03-12", 2, "days", **backward)[-1]
    assert "it held 0," in texts("2024-03-04", 0, "days", at_least_working_days=1)[-1]


def test_a_period_that_holds_just_enough_is_not_said_to_be_extended():
    told = texts("2024-03-04", 2, "days", at_least_working_days=2)
    assert told[-1].startswith("2 days counted on")


@pytest.mark.parametrize(
    ("start", "told_before"),
    [
        (
            "2024-03-08",
            "1 working day counted on, closed days left out: 11 March 2024.",
        ),
        ("2024-03-07", "The period must hold working days"),
    ],
)
def test_days_left_out_are_told_once_where_they_are_met(start, told_before):
    told = texts(start, 1, "working-days", at_least_working_days=2)
    weekend = (
        "9 March 2024 to 10 March 2024 are closed (Saturday; Sunday) and not counted."
    )
    assert told.count(weekend) == 1
    assert told[told.index(weekend) + 1].startswith(told_before)


def test_clear_time_says_what_the_day_means():
    forward = texts("2023-10-01", 28, "days", counting="clear")
    assert forward[-2:] == [
        "28 days counted on, 2 October 2023 being day one: 29 October 2023.",
        "The clear time ends with 29 October 2023: the first day on which it may "
        "happen is 30 October 2023.",
    ]
    backward = {"counting": "clear", "direction": "backward"}
    assert texts("2017-03-30", 7, "days", **backward)[-1] == (
        "The clear time reaches back to 23 March 2017: the last day on which it may be "
        "done is 22 March 2017."
    )


@pytest.mark.parametrize(
    ("start", "rule", "told"),
    [
        ("2001-04-04", {}, "the corresponding date is 4 May 2001"),
        ("2001-01-31", {}, "has no day 31, so the period ends on the month's last day"),
        (
            "2003-02-28",
            {"month_end": "last-to-last"},
            "from a month's last day to a month's last day, 31 March 2003",
        ),
        (
            "2024-02-15",
            {"counting": "include-first"},
            "the day before the corresponding date is 14 March 2024",
        ),
        (
            "2023-01-31",
            {"counting": "include-first"},
            "has no day 31, so the period ends on the month's last day, 28 February",
        ),
        (
            "2023-04-30",
            {"counting": "include-first", "month_end": "last-to-last"},
            "from a month's last day to a month's last day, 31 May 2023",
        ),
        (
            "2023-03-15",
            {"counting": "include-first", "direction": "backward"},
            "the day after the corresponding date is 16 February 2023",
        ),
        (
            "2023-03-31",
            {"counting": "include-first", "direction": "backward"},
            "has no day 31, so the period reaches back to the first day after that "
            "month, 1 March 2023",
        ),
        (
            "2023-04-30",
            {
                "counting": "include-first",
                "direction": "backward",
                "month_end": "last-to-last",
            },
            "to the day after a month's last day, 1 April 2023",
        ),
    ],
)
def test_the_rule_that_ends_a_month_is_named(start, rule, told):
    assert told in texts(start, 1, "months", OPEN, **rule)[-1]


@pytest.mark.parametrize(
    ("rule", "told"),
    [
        ({"counting": "include-first"}, "4 March 2024, is counted as day one"),
        ({"counting": "day-after"}, "on the day after the event: 5 March 2024 is day"),
        (
            {"counting": "day-after", "direction": "backward"},
            "on the day before the event: 3 March 2024 is day one",
        ),
        ({"counting": "clear"}, "5 March 2024 is the first clear day"),
    ],
)
def test_day_one_is_named(rule, told):
    assert told in texts("2024-03-04", 3, "days", **rule)[1]


def test_a_period_of_no_length_says_so():
    assert texts("2024-03-04", 0, "days") == [
        "The event is on 4 March 2024.",
        "A period of no length ends on the event's day, 4 March 2024.",
    ]


def test_working_days_without_any_closed_day_raise_a_doubt():
    doubt = "No closed days were given: every day is taken as a working day."
    assert doubt in texts("2024-03-04", 3, "working-days", OPEN)
    assert doubt not in texts("2024-03-04", 3, "working-days")
    assert doubt not in texts("2024-03-04", 3, "days", OPEN)


def test_the_last_step_decides_and_carries_the_day():
    computed = last_day([date(2024, 3, 5)], Period(4, Unit.DAYS), WEEKEND)
    assert [step.decides for step in computed.steps] == [False, False, False, True]
    assert computed.steps[-1].date == computed.last_day


def test_one_is_said_in_the_singular():
    assert wording.span(1, "working-days") == "1 working day"
    assert wording.span(2, "years") == "2 years"


def test_a_step_keeps_its_code_and_facts_for_other_languages():
    step = Step(date(2024, 3, 4), "period.event", {"event": date(2024, 3, 4)})
    assert (step.code, step.facts["event"]) == ("period.event", date(2024, 3, 4))
    assert step.text == "The event is on 4 March 2024."
    assert {step} == {step}
    with pytest.raises(FrozenInstanceError):
        step.code = "period.days"


def test_a_code_without_words_or_facts_is_an_error_and_no_blank():
    with pytest.raises(wording.WordingError, match="'unheard-of'"):
        wording.say("unheard-of", {})
    with pytest.raises(wording.WordingError, match="lacks its fact 'event'"):
        wording.say("period.event", {})
