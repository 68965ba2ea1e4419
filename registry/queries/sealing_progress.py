"""How far each contest is sealed, and which stations are at the table now."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime

from django.db.models import Exists, OuterRef, QuerySet

from registry.models import (
    ContainerState,
    Contest,
    Envelope,
    Intake,
    PollingStation,
    StationSealing,
    StrongRoom,
    UnitSet,
)
from registry.queries.sealings import steps_of
from registry.rules.sealing import kinds_sealed

FEW = 12


@dataclass(frozen=True)
class ContestProgress:
    """How far the stations of a contest are sealed.

    Attributes:
        next_up: numbers of a few stations that are not sealed yet.
    """

    number: str
    name: str
    election: str
    stations: int
    sealed: int
    next_up: tuple[str, ...]

    @property
    def more(self) -> int:
        """How many beside those named are not sealed yet."""
        return self.stations - self.sealed - len(self.next_up)


@dataclass(frozen=True)
class SealingRow:
    """A sealing in a list."""

    number: str
    station: str
    contest: str
    room: str
    state_word: str
    begun_by: str
    begun_at: datetime


@dataclass(frozen=True)
class SealingList:
    """What the first page of the sealing table shows.

    Attributes:
        intakes: the newest ones, on whose receipt a station may stand.
    """

    contests: tuple[ContestProgress, ...]
    open: tuple[SealingRow, ...]
    rooms: tuple[tuple[str, str], ...]
    intakes: tuple[tuple[str, str], ...]


def progress_of(contest: Contest) -> ContestProgress:
    """Return how many stations are sealed of all.

    One is sealed when its sealing was finished, or when every unit set has its
    envelopes on record whichever way they came in.
    """
    steps, _ = steps_of(contest.election)
    waiting = PollingStation.objects.none()
    for kind in kinds_sealed(steps):
        unsealed = UnitSet.objects.filter(station=OuterRef("pk")).exclude(
            Exists(
                Envelope.objects.filter(
                    unit_set=OuterRef("pk"),
                    kind=kind.value,
                    state__in=(ContainerState.HELD, ContainerState.QUARANTINED),
                )
            )
        )
        waiting = waiting | contest.stations.filter(Exists(unsealed))
    finished = StationSealing.objects.filter(
        station=OuterRef("pk"), state=StationSealing.State.DONE
    )
    left = waiting.exclude(Exists(finished)).order_by("id")
    total = contest.stations.count()
    numbers = list(left.values_list("station_number", flat=True))
    return ContestProgress(
        number=contest.number,
        name=str(contest),
        election=contest.election.name,
        stations=total,
        sealed=total - len(numbers),
        next_up=tuple(numbers[:FEW]),
    )


def sealing_list(
    contests: QuerySet[Contest],
    sealings: QuerySet[StationSealing],
    rooms: QuerySet[StrongRoom],
) -> SealingList:
    """Gather what the first page of the sealing table shows."""
    in_hand = sealings.filter(state=StationSealing.State.OPEN)
    rows = in_hand.select_related("begun_by").order_by("begun_at", "id")
    return SealingList(
        contests=tuple(
            progress_of(contest)
            for contest in contests.select_related("election__schedule").order_by("id")
        ),
        open=tuple(
            SealingRow(
                number=row.number,
                station=str(row.station),
                contest=str(row.station.contest),
                room=str(row.room),
                state_word=row.get_state_display(),
                begun_by=row.begun_by.name,
                begun_at=row.begun_at,
            )
            for row in rows
        ),
        rooms=tuple((room.number, room.name) for room in rooms.order_by("id")),
        intakes=tuple(_intakes(rooms)),
    )


def _intakes(rooms: QuerySet[StrongRoom]) -> Iterator[tuple[str, str]]:
    newest = Intake.objects.filter(room__in=rooms).select_related("room")
    for row in newest.order_by("-id")[:FEW]:
        by = f" by {row.delivered_by}" if row.delivered_by else ""
        came = f"{row.received_on:%-d %B %Y}{by}"
        yield row.number, f"{row.number}: {came}, {row.room}"
