"""The terms in which a rule states a period: length, unit, and how it is counted."""

from dataclasses import dataclass
from enum import StrEnum

from registry.rules import calendars


class PeriodError(ValueError):
    """A period that cannot be counted; the message says what to change."""


class Unit(StrEnum):
    DAYS = "days"
    WORKING_DAYS = "working-days"
    WEEKS = "weeks"
    MONTHS = "months"
    YEARS = "years"


class Counting(StrEnum):
    """What becomes of the event's own day (and, for clear time, of the last one)."""

    EXCLUDE_FIRST = "exclude-first"
    INCLUDE_FIRST = "include-first"
    DAY_AFTER = "day-after"
    CLEAR = "clear"


class MonthEnd(StrEnum):
    """Where months and years end that begin on a month's last day."""

    CORRESPONDING = "corresponding"
    LAST_TO_LAST = "last-to-last"


class Direction(StrEnum):
    FORWARD = "forward"
    BACKWARD = "backward"


class IfClosed(StrEnum):
    """What becomes of a counted day on which the office is closed.

    Next, previous and after are said of the calendar, whichever way the period runs.
    """

    KEEP = "keep"
    NEXT_OPEN = "next-open"
    PREVIOUS_OPEN = "previous-open"
    FIRST_OPEN_AFTER = "first-open-after"


class RollsOn(StrEnum):
    """Which closed days move a counted day; the others leave it where it falls."""

    ANY_CLOSED_DAY = "any-closed-day"
    NOT_RECEIVING = "not-receiving"
    SUNDAYS_AND_HOLIDAYS = "sundays-and-holidays"


_WORDS = {
    "unit": Unit,
    "counting": Counting,
    "month_end": MonthEnd,
    "direction": Direction,
    "if_closed": IfClosed,
    "rolls_on": RollsOn,
}
_NUMBERS = ("length", "skip_closed_within", "at_least_working_days")
FIRST_DAY_COUNTS = (Counting.INCLUDE_FIRST, Counting.DAY_AFTER)


@dataclass(frozen=True)
class Period:
    """A length of time and the rule by which it is counted.

    ``skip_closed_within`` leaves closed days out of periods of so many days or fewer;
    a week is never such a period, since it runs to the same weekday.
    ``at_least_working_days`` is the number of open days the period must hold.
    ``rolls_on`` says which closed days move the last one, and
    ``forward_if_not_receiving`` runs on, whichever way the period was counted, where by
    a named paper an event (a storm, a strike) stopped receipt on the day so found.
    Raises PeriodError where the parts make no period.
    """

    length: int
    unit: Unit
    counting: Counting = Counting.EXCLUDE_FIRST
    month_end: MonthEnd = MonthEnd.CORRESPONDING
    direction: Direction = Direction.FORWARD
    if_closed: IfClosed = IfClosed.KEEP
    skip_closed_within: int = 0
    at_least_working_days: int = 0
    rolls_on: RollsOn = RollsOn.ANY_CLOSED_DAY
    forward_if_not_receiving: bool = False

    def __post_init__(self) -> None:
        for name, words in _WORDS.items():
            if getattr(self, name) not in set(words):
                raise PeriodError(
                    f"{name} {getattr(self, name)!r} is not known: "
                    f"use one of {', '.join(words)}."
                )
        for name in _NUMBERS:
            number = getattr(self, name)
            if type(number) is not int or number < 0:
                raise PeriodError(
                    f"{name} {number!r} is not a whole number of 0 or more; to count "
                    "towards the past, count backward."
                )
        if not self.length and self.counting in FIRST_DAY_COUNTS:
            raise PeriodError(
                f"A period of no length has no day one to count ({self.counting}): "
                "use exclude-first or clear, or a length of 1 or more."
            )

    @property
    def sign(self) -> int:
        forward = self.direction == Direction.FORWARD
        return calendars.FORWARD if forward else calendars.BACKWARD

    @property
    def is_short(self) -> bool:
        """Whether it is a period in days in which closed days are left out."""
        return self.unit == Unit.DAYS and self.length <= self.skip_closed_within

    @property
    def counts_open_days(self) -> bool:
        return self.unit == Unit.WORKING_DAYS or self.is_short
