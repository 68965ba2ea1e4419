"""The climate of a strong room: its limits, its readings, its picture."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from registry.models import (
    Box,
    ClimateReading,
    ContainerState,
    Envelope,
    Paper,
    RetentionSchedule,
    StrongRoom,
)
from registry.queries.keeping import schedule_of
from registry.rules.climate import Reading, faults_of, limits_for
from registry.rules.contents import ContentKind
from registry.rules.keeping_parts import ClimateLimits

_LIVE = (ContainerState.HELD, ContainerState.QUARANTINED)
PICTURE_DAYS = 90
WIDTH, HEIGHT, LEFT, RIGHT, TOP, BOTTOM = 360, 130, 34, 8, 16, 20


def limits_of(room: StrongRoom) -> ClimateLimits:
    """Return the limits of a room, by what stands in it."""
    elections: set[int] = set()
    for model in (Box, Envelope):
        rows = model._default_manager.filter(room=room, state__in=_LIVE)
        found = rows.exclude(election=None).values_list("election_id", flat=True)
        elections |= {each for each in found.distinct() if each}
    schedules = RetentionSchedule.objects.filter(election__in=elections).distinct()
    own = [schedule_of(row).keeping.climate for row in schedules]
    slips = Envelope.objects.filter(room=room, state__in=_LIVE)
    fading = slips.exclude(kind=ContentKind.STATUTORY_PACKET.value).exclude(
        paper=Paper.PLAIN
    )
    return limits_for([each for each in own if each], holds_thermal=fading.exists())


def reading_fact(row: ClimateReading) -> Reading:
    """Return a reading as the rules know it."""
    return Reading(row.taken_at, row.temperature_c, row.humidity_percent)


def was_out_of_limits(room: StrongRoom, limits: ClimateLimits) -> bool:
    """Tell whether two readings of the room in a row were ever out of limits."""
    rows = room.climate_readings.order_by("taken_at", "id")
    before = False
    for row in rows:
        out = bool(faults_of(reading_fact(row), limits))
        if out and before:
            return True
        before = out
    return False


@dataclass(frozen=True)
class ReadingRow:
    """A reading in a list, with what is out of limits about it."""

    number: str
    taken_at: datetime
    recorded_at: datetime
    celsius: str
    humidity: str
    instrument: str
    note: str
    recorded_by: str
    faults: tuple[str, ...]


@dataclass(frozen=True)
class ClimateLine:
    """One of the two drawings: its line, its marks, and the band of its limits."""

    title: str
    unit: str
    points: str
    marks: tuple[tuple[float, float, bool], ...]
    band_top: float
    band_height: float
    upper: int
    lower: int

    @property
    def band_bottom(self) -> float:
        """Where the lower limit is drawn."""
        return self.band_top + self.band_height


@dataclass(frozen=True)
class ClimatePicture:
    """The last ninety days, drawn; all in units of its viewBox."""

    width: int
    height: int
    first: date
    last: date
    lines: tuple[ClimateLine, ...]


@dataclass(frozen=True)
class ClimateFile:
    """Everything that the page of a room's climate shows."""

    room: str
    room_number: str
    limits: ClimateLimits
    rows: tuple[ReadingRow, ...]
    picture: ClimatePicture | None
    last: ReadingRow | None
    due_on: date | None
    is_overdue: bool


def reading_rows(
    readings: Iterable[ClimateReading], limits: ClimateLimits
) -> tuple[ReadingRow, ...]:
    """Return readings as rows."""
    return tuple(
        ReadingRow(
            number=row.number,
            taken_at=row.taken_at,
            recorded_at=row.recorded_at,
            celsius=f"{row.temperature_c} °C",
            humidity=f"{row.humidity_percent} %",
            instrument=row.instrument,
            note=row.note,
            recorded_by=row.recorded_by.name,
            faults=faults_of(reading_fact(row), limits),
        )
        for row in readings
    )


def climate_file(
    room: StrongRoom, every_days: int, on: date, at: datetime
) -> ClimateFile:
    """Gather what the page of a room's climate shows, newest reading first."""
    limits = limits_of(room)
    since = at - timedelta(days=PICTURE_DAYS)
    newest = room.climate_readings.select_related("recorded_by").order_by(
        "-taken_at", "-id"
    )
    rows = reading_rows(newest[:200], limits)
    drawn = [reading_fact(row) for row in newest.filter(taken_at__gte=since)]
    last = rows[0] if rows else None
    due = last.taken_at.date() + timedelta(days=every_days) if last else on
    return ClimateFile(
        room=str(room),
        room_number=room.number,
        limits=limits,
        rows=rows,
        picture=_picture(drawn[::-1], limits, since, at) if drawn else None,
        last=last,
        due_on=due,
        is_overdue=due < on,
    )


def _picture(
    readings: Sequence[Reading], limits: ClimateLimits, since: datetime, at: datetime
) -> ClimatePicture:
    lines = (
        _line(
            "Temperature", "°C", [(r.taken_at, float(r.celsius)) for r in readings],
            limits.lowest_c, limits.highest_c, since, at,
        ),
        _line(
            "Relative humidity", "%",
            [(r.taken_at, float(r.humidity)) for r in readings],
            limits.lowest_humidity, limits.highest_humidity, since, at,
        ),
    )  # fmt: skip
    return ClimatePicture(WIDTH, HEIGHT, since.date(), at.date(), lines)


def _line(
    title: str,
    unit: str,
    values: Sequence[tuple[datetime, float]],
    lower: int,
    upper: int,
    since: datetime,
    at: datetime,
) -> ClimateLine:
    margin = max((upper - lower) * 0.3, 2)
    low = min([lower - margin, *(value for _, value in values)])
    high = max([upper + margin, *(value for _, value in values)])

    def y(value: float) -> float:
        return round(TOP + (HEIGHT - TOP - BOTTOM) * (high - value) / (high - low), 1)

    def x(moment: datetime) -> float:
        share = (moment - since) / (at - since)
        return round(LEFT + (WIDTH - LEFT - RIGHT) * share, 1)

    marks = tuple((x(m), y(v), not lower <= v <= upper) for m, v in values)
    return ClimateLine(
        title=title,
        unit=unit,
        points=" ".join(f"{a},{b}" for a, b, _ in marks),
        marks=marks,
        band_top=y(upper),
        band_height=round(y(lower) - y(upper), 1),
        upper=upper,
        lower=lower,
    )
