"""Read the keys of a period out of a schedule's tables."""

from dataclasses import dataclass, replace

from registry.rules.periods import (
    Counting,
    Direction,
    IfClosed,
    MonthEnd,
    Period,
    RollsOn,
    Unit,
)
from registry.rules.toml_tables import Table

# No retention period comes near these; a date beyond them is a slip of the finger.
_LONGEST = {
    Unit.DAYS: 36_500,
    Unit.WORKING_DAYS: 26_000,
    Unit.WEEKS: 5_200,
    Unit.MONTHS: 1_200,
    Unit.YEARS: 100,
}


@dataclass(frozen=True)
class _Roll:
    """The three keys that say what becomes of a last day."""

    if_closed: IfClosed
    rolls_on: RollsOn
    forward_if_not_receiving: bool


def read_legs(
    table: Table, direction: Direction = Direction.FORWARD
) -> tuple[Period, ...]:
    """Return the legs of a term or a window: one where it has a length of its own."""
    roll = _roll(table)
    if direction is Direction.FORWARD:
        _refuse_early_roll(table, roll.if_closed)
    else:
        _refuse_roll_back(table, roll.if_closed)
    headed = table.tables("legs")
    if not headed:
        return (_rolling(_leg(table, direction), roll),)
    legs = [_leg(each, direction) for each in headed]
    for each in headed:
        each.finish()
    return (*legs[:-1], _rolling(legs[-1], roll))


def read_notice_period(table: Table) -> Period:
    """Return the period of a notice, which is counted backward from the act."""
    roll = _roll(table)
    if roll.if_closed in (IfClosed.NEXT_OPEN, IfClosed.FIRST_OPEN_AFTER):
        table.wrong(
            "if_closed",
            'would shorten the notice; write "keep" or "previous-open".',
        )
    return _rolling(_leg(table, Direction.BACKWARD), roll)


def _roll(table: Table) -> _Roll:
    return _Roll(
        table.word("if_closed", IfClosed, IfClosed.KEEP),
        table.word("rolls_on", RollsOn, RollsOn.ANY_CLOSED_DAY),
        table.flag("forward_if_not_receiving", False),
    )


def _rolling(leg: Period, roll: _Roll) -> Period:
    return replace(
        leg,
        if_closed=roll.if_closed,
        rolls_on=roll.rolls_on,
        forward_if_not_receiving=roll.forward_if_not_receiving,
    )


def _leg(table: Table, direction: Direction) -> Period:
    unit = table.word("unit", Unit)
    return Period(
        length=table.whole("length", least=1, most=_LONGEST[unit]),
        unit=unit,
        counting=_counting(table, direction),
        month_end=table.word("month_end", MonthEnd, MonthEnd.CORRESPONDING),
        direction=direction,
        skip_closed_within=table.whole("skip_closed_within", 0, least=0, most=366),
        at_least_working_days=table.whole(
            "at_least_working_days", 0, least=0, most=366
        ),
    )


def _counting(table: Table, direction: Direction) -> Counting:
    counting = table.word("counting", Counting, Counting.EXCLUDE_FIRST)
    if counting is Counting.CLEAR and direction is Direction.FORWARD:
        table.wrong(
            "counting",
            "clear days give a first free day, not a last day to keep; write "
            '"exclude-first" with the same length: it keeps through the same day.',
        )
    return counting


def _refuse_early_roll(table: Table, if_closed: IfClosed) -> None:
    if if_closed is IfClosed.PREVIOUS_OPEN:
        table.wrong(
            "if_closed",
            "would release containers before the period is over; write "
            '"keep" or "next-open".',
        )


def _refuse_roll_back(table: Table, if_closed: IfClosed) -> None:
    if if_closed is IfClosed.PREVIOUS_OPEN:
        table.wrong(
            "if_closed",
            "would release containers before the day so counted; write "
            '"keep" or "next-open".',
        )
