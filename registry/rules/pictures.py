"""Pictures as numbers: where bars, marks and lines stand. Templates draw them.

The drawing is as wide as a column of text, so that it can be read in the margin of a
page, on a telephone and on paper: each bar has its name above it, not beside it.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from registry.rules.retention import Hold, Retention

# All in units of the drawing.
WIDTH = 360
RIGHT = WIDTH - 14  # where time ends; beyond it stand the arrows of what has no end
NAME = 14  # height of the line with a bar's name
INK = 10  # height of a bar
ROW = 32
TOP = 24
BOTTOM = 6
LONGEST_NAME = 52
TICKS_APART = 34  # so that two years' names do not touch


@dataclass(frozen=True)
class Bar:
    """One term, case or order: from when it counts to when it ends.

    Attributes:
        through: the last day; None where it has no end, and its bar an arrow.
        governs: it decides the answer.
    """

    label: str
    start: date
    through: date | None
    x: int
    y: int
    width: int
    governs: bool

    @property
    def endless(self) -> bool:
        """Whether it has no end."""
        return self.through is None

    @property
    def text_y(self) -> int:
        """The line on which its name is written."""
        return self.y + NAME - 3

    @property
    def top(self) -> int:
        """The upper edge of its ink."""
        return self.y + NAME + 1

    @property
    def line_from(self) -> int:
        """Where the upright lines at its side begin."""
        return self.top - 3

    @property
    def line_to(self) -> int:
        """Where the upright lines at its side end."""
        return self.top + INK + 3


@dataclass(frozen=True)
class Tick:
    """A first of January, or of another month on short pictures."""

    text: str
    x: int


@dataclass(frozen=True)
class TimelinePicture:
    """All that a drawing of a retention needs, in the units of its viewBox."""

    width: int
    height: int
    bars: tuple[Bar, ...]
    ticks: tuple[Tick, ...]
    today: date
    today_x: int
    text: str

    @property
    def right(self) -> int:
        """Where time ends in the picture."""
        return RIGHT


def retention_picture(retention: Retention | None) -> TimelinePicture | None:
    """Return the picture of a retention: a bar for each thing that holds or held.

    Returns:
        None where there is nothing dated to draw.
    """
    if retention is None:
        return None
    dated = [(hold, start) for hold in retention.holds if (start := _start(hold))]
    if not dated:
        return None
    scale = _scale(dated, retention.as_of)
    bars = tuple(
        _bar(hold, start, row, scale, retention)
        for row, (hold, start) in enumerate(dated)
    )
    return TimelinePicture(
        width=WIDTH,
        height=TOP + ROW * len(bars) + BOTTOM,
        bars=bars,
        ticks=_ticks(scale),
        today=retention.as_of,
        today_x=scale.x(retention.as_of),
        text=retention.summary,
    )


@dataclass(frozen=True)
class _Scale:
    """Days to units of the drawing."""

    first: date
    last: date

    def x(self, day: date) -> int:
        """Return where a day stands."""
        share = (day - self.first) / (self.last - self.first)
        return round(share * RIGHT)


def _scale(dated: Sequence[tuple[Hold, date]], as_of: date) -> _Scale:
    """Return a scale on which every bar and the day asked about stand."""
    first = min(as_of, *(start for _, start in dated))
    last = max([as_of, *(hold.through for hold, _ in dated if hold.through)])
    margin = max((last - first) // 12, timedelta(days=10))
    return _Scale(_moved(first, -margin), _moved(last, margin))


def _moved(day: date, by: timedelta) -> date:
    try:
        return day + by
    except OverflowError:
        return date.max if by > timedelta(0) else date.min


def _start(hold: Hold) -> date | None:
    days = [step.date for step in hold.steps if step.date]
    return min(days) if days else None


def _bar(hold: Hold, start: date, row: int, scale: _Scale, retention: Retention) -> Bar:
    x = scale.x(start)
    end = scale.x(hold.through) if hold.through else RIGHT
    name = f"{hold.title[:1].upper()}{hold.title[1:]}"
    if len(name) > LONGEST_NAME:
        name = f"{name[: LONGEST_NAME - 1]}…"
    return Bar(
        label=name,
        start=start,
        through=hold.through,
        x=x,
        y=TOP + row * ROW,
        width=max(end - x, 3),
        governs=hold is retention.governing,
    )


def _ticks(scale: _Scale) -> tuple[Tick, ...]:
    """Return quarters on a picture of less than two years, else new years."""
    days = (scale.last - scale.first).days
    months: Sequence[int] = (1, 4, 7, 10) if days < 2 * 366 else (1,)
    # So few years apart that their names fit beside each other.
    every = (
        max(1, round(days / 366 * TICKS_APART / RIGHT + 0.5)) if len(months) == 1 else 1
    )
    firsts = (
        date(year, month, 1)
        for year in range(scale.first.year, scale.last.year + 1)
        if year % every == 0
        for month in months
    )
    return tuple(
        Tick(_tick_name(day, short=len(months) > 1), scale.x(day))
        for day in firsts
        if scale.first <= day <= scale.last
    )


def _tick_name(day: date, *, short: bool) -> str:
    months = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct")
    return months[day.month - 1] if short and day.month > 1 else str(day.year)
