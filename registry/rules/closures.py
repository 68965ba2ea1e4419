"""What is entered into a court's calendar: closed days, open days, extended limits.

Each entry carries its effect and the paper that orders it. Nothing is inferred: not a
closure from a weekend, and not an opening from custom.
"""

from dataclasses import dataclass
from datetime import date, datetime
from enum import StrEnum


class CalendarError(ValueError):
    """A calendar that cannot be, or a day that no calendar can give."""


class ClosureKind(StrEnum):
    """Why an office is closed; some laws roll over holidays only.

    A kind that nobody named counts as a holiday: the later day is the safe one.
    """

    UNSAID = "unsaid"
    HOLIDAY = "holiday"
    VACATION = "vacation"
    EVENT = "event"


class Effect(StrEnum):
    """What an entry does to its days."""

    CLOSED = "closed-for-filing"
    OPEN = "open"
    OPEN_FOR_PETITIONS = "open-for-election-petitions"


@dataclass(frozen=True)
class Closure:
    """Days with one effect for one reason, from ``first`` to ``last``, both included.

    An entry that opens days needs its notification: opening ends windows sooner.
    Raises CalendarError where the last day comes before the first, or where days are
    opened without a notification.

    Attributes:
        notification: names the paper that says so.
        recorded_at: when the register learnt of it; None for always known.
        struck_at: when it was declared to have been entered in error.
    """

    first: date
    last: date
    reason: str = ""
    notification: str = ""
    kind: ClosureKind = ClosureKind.UNSAID
    effect: Effect = Effect.CLOSED
    recorded_at: datetime | None = None
    struck_at: datetime | None = None

    def __post_init__(self) -> None:
        if self.last < self.first:
            raise CalendarError(
                f"A closure ends on {self.last}, before it begins on {self.first}: "
                "give the earlier day first."
            )
        if self.effect != Effect.CLOSED and not self.notification.strip():
            raise CalendarError(
                f"The days from {self.first} are entered as open without the paper "
                "that opens them: name the notification."
            )

    @property
    def why(self) -> str:
        reason = self.reason or "a closed date"
        return f"{reason} ({self.notification})" if self.notification else reason

    @property
    def stops_filing(self) -> bool:
        """Whether a named paper says that the registry received nothing."""
        closes = self.effect == Effect.CLOSED
        return closes and bool(self.notification.strip())


@dataclass(frozen=True)
class Extension:
    """A court's general order by which time limits do not run out as counted.

    A limit that would end from ``from_on`` on has no end while ``until`` is not
    known, and ends ``then_days`` after ``until`` at the earliest once it is. Times of
    keeping are no limits and are left alone. Raises CalendarError where the order
    ends before it begins, or names no notification.

    Attributes:
        excludes: the days under the order do not count at all, so that what was left
            of a limit on ``from_on`` runs on after ``until``.
        made_on: when it was made, if later than ``from_on``; unknown before that.
        recorded_at: when the register learnt of it; None for always known.
        struck_at: when it was declared to have been entered in error.
    """

    from_on: date
    until: date | None
    notification: str
    then_days: int = 0
    excludes: bool = False
    made_on: date | None = None
    recorded_at: datetime | None = None
    struck_at: datetime | None = None

    def __post_init__(self) -> None:
        if self.until is not None and self.until < self.from_on:
            raise CalendarError(
                f"An extension ends on {self.until}, before it begins on "
                f"{self.from_on}: give the earlier day first."
            )
        if not self.notification.strip():
            raise CalendarError("An extension of time needs the order that gives it.")
        if type(self.then_days) is not int or self.then_days < 0:
            raise CalendarError(
                f"then_days {self.then_days!r} is not a whole number of 0 or more."
            )

    def in_force_on(self, as_of: date) -> bool:
        """Tell whether the order has been made by this day."""
        return max(self.from_on, self.made_on or self.from_on) <= as_of
