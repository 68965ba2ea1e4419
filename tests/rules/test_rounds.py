"""When a room is next walked, and in which order (common practice, no source)."""

from datetime import date

import pytest

from registry.rules.keeping_parts import RoundRules
from registry.rules.rounds import (
    HOUSE_ROUNDS,
    RoundsDone,
    next_round,
    strictest,
    walking_order,
)

SINCE = date(2026, 3, 2)


def test_the_house_walks_a_quarter_and_a_month() -> None:
    """Desks.md B.1: quarterly round with seal reading, monthly what is contested."""
    assert (HOUSE_ROUNDS.every_days, HOUSE_ROUNDS.contested_every_days) == (91, 30)


@pytest.mark.parametrize(
    ("done", "due", "contested_only"),
    [
        # Never walked: counted from the day on which the first container came in.
        (RoundsDone(SINCE), date(2026, 6, 1), False),
        (RoundsDone(SINCE, holds_contested=True), date(2026, 4, 1), True),
        # A round of the whole room counts for what a case holds as well.
        (
            RoundsDone(SINCE, whole=date(2026, 6, 1), holds_contested=True),
            date(2026, 7, 1),
            True,
        ),
        # The monthly rounds do not put the quarterly one off.
        (
            RoundsDone(
                SINCE,
                whole=date(2026, 6, 1),
                contested=date(2026, 8, 20),
                holds_contested=True,
            ),
            date(2026, 8, 31),
            False,
        ),
        # Nothing is contested any more: the quarter alone counts.
        (
            RoundsDone(SINCE, whole=date(2026, 6, 1), contested=date(2026, 6, 20)),
            date(2026, 8, 31),
            False,
        ),
    ],
)
def test_the_next_round(done: RoundsDone, due: date, contested_only: bool) -> None:
    found = next_round(done, HOUSE_ROUNDS)
    assert found
    assert (found.on, found.contested_only) == (due, contested_only)


def test_an_empty_room_is_not_walked() -> None:
    assert next_round(RoundsDone(None), HOUSE_ROUNDS) is None


def test_of_several_schedules_the_shortest_times_count() -> None:
    rules = strictest([RoundRules(60, 45, 3, 14, "rule 20"), None])
    assert (rules.every_days, rules.contested_every_days) == (60, 30)
    assert (rules.climate_every_days, rules.finding_due_days) == (3, 7)
    assert "rule 20" in rules.clause
    assert "rule of the house" in rules.clause
    assert strictest([]) == HOUSE_ROUNDS


def test_shelves_are_walked_bay_by_bay_from_the_floor_up() -> None:
    shelves = [("B", 1, "1"), ("A", 2, "10"), ("A", 1, "9"), ("A", 1, "10")]
    shelves += [("A", None, "0"), ("A10", 1, "1"), ("A9", 1, "1")]
    walked = sorted(shelves, key=lambda shelf: walking_order(*shelf))
    assert walked == [
        ("A", None, "0"),
        ("A", 1, "9"),
        ("A", 1, "10"),
        ("A", 2, "10"),
        ("A9", 1, "1"),
        ("A10", 1, "1"),
        ("B", 1, "1"),
    ]
