"""When places come free, under assumptions that stand beside the answer.

No new case and no new order comes; confirmations come on time; the permission to
destroy is given, and carried out, within a number of days. None of this is certain:
the answer helps to plan space and decides nothing.
"""

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta

from registry.rules.retention_answer import Reason, Retention

DAYS_TO_PERMISSION = 30
LONGEST_DAYS = 3650

# In the units of the drawing.
WIDTH = 360
BAR_FROM = 92
BAR_TO = 316
ROW = 20
MOST_ROWS = 24

IN_QUARANTINE = "in quarantine, until what is wrong with them is resolved"
NOT_KNOWN = "while a date or the contest is not known"
_WHILE = {
    Reason.CASE_PENDING: "while a case is pending",
    Reason.APPEAL_WINDOW: "while the time to appeal has no end",
    Reason.PRESERVATION_ORDER: "while an order preserves them",
    Reason.UNKNOWN_INPUT: NOT_KNOWN,
    Reason.TERM: NOT_KNOWN,
}


@dataclass(frozen=True)
class Stay:
    """Boxes that take places, with what keeps them."""

    retention: Retention | None
    quarantined: bool
    boxes: int = 1


@dataclass(frozen=True)
class MonthFree:
    """A month in which places come free.

    Attributes:
        places: how many in this month.
        empty_after: how many are empty at its end, if nothing is put there meanwhile.
    """

    first_day: date
    places: int
    empty_after: int


@dataclass(frozen=True)
class Staying:
    """Boxes of which no end can be told, and why."""

    why: str
    boxes: int


@dataclass(frozen=True)
class ComingFree:
    """When places come free, as of a day."""

    on: date
    within_days: int
    empty_now: int
    months: tuple[MonthFree, ...]
    staying: tuple[Staying, ...]


def coming_free(
    stays: Iterable[Stay], empty_now: int, on: date, within_days: int
) -> ComingFree:
    """Return in which month how many places come free, and what stays without an end.

    Args:
        empty_now: places that are empty on the day.
        on: the day asked on; what is free already waits for its permission from it.
        within_days: from the end of keeping until permission is given and used.

    Raises:
        ValueError: the days are none, or more than ten years.
    """
    if not 0 <= within_days <= LONGEST_DAYS:
        raise ValueError(f"Give a number of days from 0 to {LONGEST_DAYS}.")
    leaving: Counter[date] = Counter()
    staying: Counter[str] = Counter()
    for stay in stays:
        day = _leaves_on(stay, on, within_days)
        if day is None:
            staying[_why(stay)] += stay.boxes
        else:
            leaving[day.replace(day=1)] += stay.boxes
    months, empty = [], empty_now
    for first_day in sorted(leaving):
        empty += leaving[first_day]
        months.append(MonthFree(first_day, leaving[first_day], empty))
    return ComingFree(
        on,
        within_days,
        empty_now,
        tuple(months),
        tuple(Staying(why, n) for why, n in sorted(staying.items())),
    )


def _leaves_on(stay: Stay, on: date, within_days: int) -> date | None:
    if stay.quarantined or stay.retention is None:
        return None
    free_from = stay.retention.may_be_disposed_from
    if free_from is None:
        return None
    try:
        return max(free_from, on) + timedelta(days=within_days)
    except OverflowError:
        return None


def _why(stay: Stay) -> str:
    if stay.quarantined:
        return IN_QUARANTINE
    if stay.retention is None:
        return NOT_KNOWN
    return _WHILE.get(stay.retention.reason, NOT_KNOWN)


@dataclass(frozen=True)
class FreeBar:
    """One bar of the picture: a month, or a year where there are many months."""

    label: str
    places: int
    y: int
    width: int

    @property
    def text_y(self) -> int:
        """The line on which its words stand."""
        return self.y + 11

    @property
    def end(self) -> int:
        """Where its number stands."""
        return BAR_FROM + self.width + 5


@dataclass(frozen=True)
class FreePicture:
    """All that a drawing of the places coming free needs."""

    width: int
    height: int
    bar_from: int
    bars: tuple[FreeBar, ...]


def free_picture(told: ComingFree) -> FreePicture | None:
    """Return the picture; None where no place comes free at a day that is known."""
    counted = [(f"{m.first_day:%B %Y}", m.places) for m in told.months]
    if len(counted) > MOST_ROWS:
        years: Counter[str] = Counter()
        for month in told.months:
            years[str(month.first_day.year)] += month.places
        counted = list(years.items())
    if not counted:
        return None
    most = max(n for _, n in counted)
    bars = tuple(
        FreeBar(label, n, row * ROW, max(round(n / most * (BAR_TO - BAR_FROM)), 2))
        for row, (label, n) in enumerate(counted)
    )
    return FreePicture(WIDTH, ROW * len(bars), BAR_FROM, bars)
