"""Worked examples from published law, counted by the engine.

The table is ``cases/deadline_cases.csv``. Its columns from ``id`` to ``confidence``
are the evidence: source, section, the facts, the day, and how far the row may be
trusted. The columns after it are ours:

``scope``          ``day period``, or ``not a day period`` (hours, which are no days)
``standing``       what stands behind the expected day:
                   ``published value`` (the source prints it),
                   ``published outcome; value derived`` (a court held late or in time),
                   ``rule seen; value derived`` (the rule was read, the day computed),
                   ``from memory`` (neither was looked up), or
                   ``published value differs`` (the source prints another day, kept in
                   ``published_day``; the note says why we do not follow it)
``answer``         ``last day`` or ``earliest day``: what the day means
``starts`` … ``at_least_working_days``   the engine's arguments, as data
``then_length``, ``then_unit``           a second leg from the first one's end

A year or a calendar day that the source leaves open was chosen by us, and the note
says so. Rows from UKT24-01 on were added to the shared table of 76.
"""

import csv
from collections import Counter
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from dateutil.relativedelta import relativedelta

from registry.rules.calendars import Calendar, Closure
from registry.rules.periods import Counting, Period, Unit, last_day

CASES = Path(__file__).parent / "cases" / "deadline_cases.csv"
WEEKDAYS = ["mon", "tue", "wed", "thu", "fri", "sat", "sun"]
STANDINGS = {
    "published value",
    "published outcome; value derived",
    "rule seen; value derived",
    "from memory",
    "published value differs",
}

with CASES.open(newline="", encoding="utf-8") as lines:
    ROWS = list(csv.DictReader(lines))
DAY_ROWS = [row for row in ROWS if row["scope"] == "day period"]


def by_id(rows):
    return [pytest.param(row, id=row["id"]) for row in rows]


def calendar_of(row):
    weekdays = row["closed_weekdays"].split(",") if row["closed_weekdays"] else []
    closures = []
    for part in row["closed_dates"].split(",") if row["closed_dates"] else []:
        first, _, last = part.partition("..")
        closures.append(
            Closure(date.fromisoformat(first), date.fromisoformat(last or first))
        )
    return Calendar(
        frozenset(WEEKDAYS.index(name) for name in weekdays), tuple(closures)
    )


def period_of(row, length, unit):
    return Period(
        length=int(length),
        unit=Unit(unit),
        counting=row["counting"],
        month_end=row["month_end"],
        direction=row["direction"],
        if_closed=row["if_closed"],
        skip_closed_within=int(row["skip_closed_within"]),
        at_least_working_days=int(row["at_least_working_days"]),
    )


def counted(row):
    starts = [date.fromisoformat(start) for start in row["starts"].split(";")]
    legs = [(row["first_length"], row["first_unit"])]
    if row["then_length"]:
        legs.append((row["then_length"], row["then_unit"]))
    for length, unit in legs:
        computed = last_day(starts, period_of(row, length, unit), calendar_of(row))
        starts = [computed.last_day]
    return computed.last_day


@pytest.mark.parametrize("row", by_id(DAY_ROWS))
def test_the_engine_gives_the_expected_day(row):
    assert counted(row) == date.fromisoformat(row["expected_last_day"])


@pytest.mark.parametrize(
    "row", by_id(row for row in ROWS if row["standing"] == "published value")
)
def test_a_published_value_is_the_day_the_source_prints(row):
    assert counted(row) == date.fromisoformat(row["published_day"])


@pytest.mark.parametrize(
    "row", by_id(row for row in ROWS if row["standing"] == "published value differs")
)
def test_where_the_source_prints_another_day_we_say_so_and_do_not_follow(row):
    assert counted(row) != date.fromisoformat(row["published_day"])
    assert row["note"].startswith("FLAG: ")


def test_no_row_hides_how_far_it_may_be_trusted():
    assert {row["standing"] for row in ROWS} == STANDINGS
    assert all(row["source"] and row["confidence"] for row in ROWS)
    remembered = [row for row in ROWS if row["confidence"].startswith("from memory")]
    assert {row["standing"] for row in remembered} == {"from memory"}
    assert all(
        row["confidence"].startswith("seen in stored text")
        for row in ROWS
        if row["standing"] not in ("from memory",)
    )


def test_the_table_is_whole():
    # Issue 3 asks for 90 rows from 20 sources; the shared table brought 76.
    assert len(ROWS) == 133
    assert len({row["id"] for row in ROWS}) == len(ROWS)
    assert len({row["source"] for row in ROWS}) >= 20
    used = Counter(row["counting"] for row in DAY_ROWS)
    assert set(used) == set(Counting)


def test_hours_are_no_days_and_are_left_to_the_clock():
    """FRCP-05 is out of the engine's scope: 72 hours across a change of clocks.

    The engine knows no such unit, so nobody can pass hours off as days; the example
    itself is checked against the time zone database.
    """
    (row,) = [row for row in ROWS if row["scope"] == "not a day period"]
    assert row["unit"] == "hours"
    assert row["unit"] not in set(Unit)
    new_york = ZoneInfo("America/New_York")
    filed = datetime.fromisoformat(row["start_date"]).replace(tzinfo=new_york)
    ends = (filed.astimezone(UTC) + timedelta(hours=72)).astimezone(new_york)
    assert ends.strftime("%Y-%m-%dT%H:%M") == row["expected_last_day"]


PLAIN = [
    row
    for row in DAY_ROWS
    if row["convention"] == "excl_first" and row["unit"] != "working-days"
]


@pytest.mark.parametrize("row", by_id(PLAIN))
def test_plain_periods_agree_with_dateutil(row):
    # Source: python-dateutil's relativedelta, run beside ours.
    step = relativedelta(**{row["unit"]: int(row["length"])})
    expected = date.fromisoformat(row["start_date"]) + step
    if row["if_closed"] == "keep":
        assert counted(row) == expected
    else:
        assert counted(row) >= expected
