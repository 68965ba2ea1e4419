"""Pictures as numbers: where bars, marks and lines stand. Templates draw them."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from registry.rules.retention import Hold, Retention

WIDTH = 720
LABELS = 210  # room for what each bar is called
ROW = 26
TOP = 30
BOTTOM = 10


@dataclass(frozen=True)
class Bar:
    """One term, case or order: from when it counts to when it ends.

    Attributes:
        endless: it has no end; the bar runs off the picture with an arrow.
        governs: it decides the answer.
    """

    label: str
    start: date
    through: date | None
    x: int
    y: int
    width: int
    endless: bool
    governs: bool

    @property
    def text_y(self) -> int:
        """The line on which its label is written."""
        return self.y + 16

    @property
    def top(self) -> int:
        """The upper edge of its ink."""
        return self.y + 5


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
    def bottom(self) -> int:
        """Where upright lines end."""
        return self.height - BOTTOM // 2

    @property
    def right(self) -> int:
        """Where time ends in the picture."""
        return self.width - 12


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
    first = min(start for _, start in dated)
    ends = [hold.through for hold, _ in dated if hold.through]
    last = max([retention.as_of, *ends])
    margin = max((last - first) // 12, timedelta(days=10))
    scale = _Scale(first - margin, last + margin)
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
        return round(LABELS + share * (WIDTH - 12 - LABELS))


def _start(hold: Hold) -> date | None:
    days = [step.date for step in hold.steps if step.date]
    return min(days) if days else None


def _bar(
    hold: Hold, start: date, row: int, scale: _Scale, retention: Retention
) -> Bar:
    end = scale.x(hold.through) if hold.through else WIDTH - 12
    x = scale.x(start)
    return Bar(
        label=hold.title if len(hold.title) <= 34 else f"{hold.title[:33]}…",
        start=start,
        through=hold.through,
        x=x,
        y=TOP + row * ROW,
        width=max(end - x, 2),
        endless=hold.through is None,
        governs=hold.governed_by == retention.governed_by,
    )


def _ticks(scale: _Scale) -> tuple[Tick, ...]:
    """Return quarter days on a picture of less than three years, else new years."""
    months: Sequence[int] = (1, 4, 7, 10)
    if (scale.last - scale.first).days > 3 * 366:
        months = (1,)
    days = [
        date(year, month, 1)
        for year in range(scale.first.year, scale.last.year + 1)
        for month in months
    ]
    return tuple(
        Tick(f"{day:%Y}" if day.month == 1 else f"{day:%b}", scale.x(day))
        for day in days
        if scale.first <= day <= scale.last
    )
