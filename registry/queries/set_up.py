"""Elections, contests, rooms and calendars as their pages show them."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.db.models import Count, Q, QuerySet, Sum

from registry.models import (
    Bay,
    ContainerState,
    Contest,
    Election,
    Envelope,
    PollingStation,
    RoomCharge,
    Shelf,
    StrongRoom,
    UnitSet,
    Whereabouts,
)
from registry.queries.room_doors import RoomDoor
from registry.queries.timeline import TimelineEntry, timeline_of
from registry.rules.schedules import ContentKind

CONTENT = {
    ContentKind.POLL_SLIPS: "Poll slips",
    ContentKind.MOCK_POLL_SLIPS: "Mock-poll slips",
    ContentKind.STATUTORY_PACKET: "Statutory packet",
}
_ENDED = (ContainerState.DISPOSED, ContainerState.SUPERSEDED)


@dataclass(frozen=True)
class ElectionRow:
    """An election in a list, with how far its set-up is."""

    number: str
    code: str
    name: str
    schedule: str
    contests: int
    declared: int
    stations: int


@dataclass(frozen=True)
class ContestRow:
    """A contest in a list.

    Attributes:
        expected: its unit sets, each of which yields one envelope of poll slips.
        received: of these, how many envelopes have come in.
    """

    number: str
    title: str
    returning_officer: str
    polled_on: date | None
    counted_on: date | None
    declared_on: date | None
    stations: int
    expected: int
    received: int


@dataclass(frozen=True)
class ElectionFile:
    """Everything that an election's page shows."""

    number: str
    code: str
    name: str
    legal_zone: str
    schedule: tuple[str, str]
    calendar: tuple[str, str]
    contests: tuple[ContestRow, ...]
    timeline: tuple[TimelineEntry, ...]


@dataclass(frozen=True)
class StationRow:
    """A polling station with the units used there."""

    number: str
    station_number: str
    name: str
    place: str
    polled_on: date | None
    unit_sets: tuple[str, ...]


@dataclass(frozen=True)
class StationList:
    """The polling stations of a contest."""

    contest: str
    contest_number: str
    election: str
    election_number: str
    stations: tuple[StationRow, ...]


@dataclass(frozen=True)
class ShelfRow:
    """A shelf with how many boxes lie on it; None where the looker may not know."""

    number: str
    code: str
    capacity: int
    boxes: int | None


@dataclass(frozen=True)
class BayRow:
    """A bay with its shelves."""

    number: str
    code: str
    shelves: tuple[ShelfRow, ...]


@dataclass(frozen=True)
class RoomRow:
    """A strong room in a list."""

    number: str
    name: str
    site: str
    bays: int
    capacity: int
    boxes: int | None
    custodians: tuple[str, ...]


@dataclass(frozen=True)
class RoomFile:
    """Everything that a strong room's page shows."""

    number: str
    name: str
    site: str
    custodians: tuple[str, ...]
    bays: tuple[BayRow, ...]
    timeline: tuple[TimelineEntry, ...]
    # Added by the look, where the looker may know.
    door: RoomDoor | None = None


def election_rows(elections: QuerySet[Election]) -> tuple[ElectionRow, ...]:
    """Return elections as rows, in order of entry."""
    counted = elections.select_related("schedule").annotate(
        contest_count=Count("contests", distinct=True),
        declared_count=Count(
            "contests", filter=Q(contests__declared_on__isnull=False), distinct=True
        ),
        station_count=Count("contests__stations", distinct=True),
    )
    return tuple(
        ElectionRow(
            row.number, row.code, row.name, str(row.schedule),
            row.contest_count, row.declared_count, row.station_count,
        )
        for row in counted.order_by("id")
    )  # fmt: skip


def election_file(election: Election) -> ElectionFile:
    """Gather what an election's page shows."""
    return ElectionFile(
        number=election.number,
        code=election.code,
        name=election.name,
        legal_zone=election.legal_zone,
        schedule=(election.schedule.number, str(election.schedule)),
        calendar=(election.calendar.number, election.calendar.name),
        contests=contest_rows(election.contests.all()),
        timeline=tuple(timeline_of(election)),
    )


def contest_rows(contests: QuerySet[Contest]) -> tuple[ContestRow, ...]:
    """Return contests with how many envelopes of poll slips are in, of how many."""
    stations = _counts(PollingStation.objects.filter(contest__in=contests), "contest")
    expected = _counts(
        UnitSet.objects.filter(station__contest__in=contests), "station__contest"
    )
    received = _counts(
        Envelope.objects.filter(
            contest__in=contests, kind=ContentKind.POLL_SLIPS.value
        ).exclude(state=ContainerState.SUPERSEDED),
        "contest",
    )
    return tuple(
        ContestRow(
            row.number, str(row), row.returning_officer,
            row.polled_on, row.counted_on, row.declared_on,
            stations.get(row.pk, 0), expected.get(row.pk, 0), received.get(row.pk, 0),
        )
        for row in contests.order_by("id")
    )  # fmt: skip


def _counts(rows: QuerySet[Any], by: str) -> dict[int, int]:
    return dict(rows.order_by().values_list(by).annotate(n=Count("pk")))


def station_list(contest: Contest) -> StationList:
    """Gather the polling stations of a contest, with their units."""
    return StationList(
        contest=str(contest),
        contest_number=contest.number,
        election=contest.election.name,
        election_number=contest.election.number,
        stations=_station_rows(contest),
    )


def _station_rows(contest: Contest) -> tuple[StationRow, ...]:
    stations = contest.stations.prefetch_related("unit_sets").order_by("id")
    return tuple(
        StationRow(
            number=station.number,
            station_number=station.station_number,
            name=station.name,
            place=station.place,
            polled_on=station.polled_on,
            unit_sets=tuple(_unit_set(row) for row in station.unit_sets.all()),
        )
        for station in stations
    )


def _unit_set(row: UnitSet) -> str:
    note = f" ({row.replacement_note})" if row.replacement_note else ""
    return f"{row}{', replacement' if row.replaced else ''}{note}"


def room_rows(rooms: QuerySet[StrongRoom], *, with_boxes: bool) -> tuple[RoomRow, ...]:
    """Return strong rooms with what they take and hold."""
    held = _boxes_by(rooms, "bay__room") if with_boxes else {}
    custodians = _custodians(rooms)
    counted = rooms.annotate(
        bay_count=Count("bays", distinct=True), places=Sum("bays__shelves__capacity")
    )
    return tuple(
        RoomRow(
            number=row.number,
            name=row.name,
            site=row.site,
            bays=row.bay_count,
            capacity=row.places or 0,
            boxes=held.get(row.pk, 0) if with_boxes else None,
            custodians=custodians.get(row.pk, ()),
        )
        for row in counted.order_by("id")
    )


def room_file(room: StrongRoom, *, with_boxes: bool) -> RoomFile:
    """Gather what a strong room's page shows."""
    rooms = StrongRoom.objects.filter(pk=room.pk)
    held = _boxes_by(rooms, "pk") if with_boxes else {}
    bays = Bay.objects.filter(room=room).prefetch_related("shelves").order_by("id")
    return RoomFile(
        number=room.number,
        name=room.name,
        site=room.site,
        custodians=_custodians(rooms).get(room.pk, ()),
        bays=tuple(
            BayRow(
                bay.number,
                bay.code,
                tuple(
                    ShelfRow(
                        shelf.number,
                        shelf.code,
                        shelf.capacity,
                        held.get(shelf.pk, 0) if with_boxes else None,
                    )
                    for shelf in bay.shelves.all()
                ),
            )
            for bay in bays
        ),
        timeline=tuple(timeline_of(room)),
    )


def _boxes_by(rooms: QuerySet[StrongRoom], by: str) -> dict[int, int]:
    """Count the boxes on the shelves of these rooms."""
    on_shelves = Shelf.objects.filter(
        bay__room__in=rooms, boxes__whereabouts=Whereabouts.SHELVED
    )
    return dict(on_shelves.order_by().values_list(by).annotate(n=Count("boxes")))


def _custodians(rooms: Iterable[StrongRoom]) -> dict[int, tuple[str, ...]]:
    found: dict[int, tuple[str, ...]] = {}
    charges = RoomCharge.objects.filter(
        room__in=rooms, ended=False, person__is_active=True
    )
    for charge in charges.select_related("person").order_by("id"):
        found[charge.room_id] = (*found.get(charge.room_id, ()), charge.person.name)
    return found
