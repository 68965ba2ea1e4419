"""The rows of a retention report: every container of a scope, as of a day.

What happened after the day does not count. The facts are what is known now, or what the
register knew at a moment: then a container that it did not yet know is left out, and
one counts to the contest that it was then known to stand for. A container is listed
where it was in keeping on that day: received by then, and neither disposed of nor
superseded by then. Its state and place are those of that day.
"""

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from itertools import islice
from typing import Any, TypeAlias, TypeVar
from zoneinfo import ZoneInfo

from django.db.models import F, Q, QuerySet, prefetch_related_objects

from registry.models import (
    CONTENT_TITLES,
    Box,
    ContainerState,
    Contest,
    Election,
    Envelope,
    Shelf,
    StrongRoom,
    Whereabouts,
)
from registry.queries.as_known import rows_known
from registry.queries.containers import RetentionShown, shown
from registry.queries.keeping import Keeper
from registry.queries.kept_totals import totals
from registry.rules.retention import Retention
from registry.rules.schedules import ContentKind

CHUNK = 500
_ENDED = (ContainerState.DISPOSED, ContainerState.SUPERSEDED)

Container: TypeAlias = Box | Envelope
Item = TypeVar("Item")


@dataclass(frozen=True)
class KeptContainer:
    """One container of a report; the columns are those of the printed report."""

    number: str
    noun: str
    content_title: str
    constituency: str
    station: str
    room: str
    shelf: str
    state: str
    whereabouts: str
    retain_through: date | None
    may_be_disposed_from: date | None
    reason: str
    governed_by: str
    why: str


@dataclass(frozen=True)
class _Version:
    """How a container stood on the day."""

    state: str
    whereabouts: str
    shelf_id: int | None
    box_id: int | None


@dataclass(frozen=True)
class Knowledge:
    """The two clocks of a report.

    Attributes:
        as_of: the day asked about.
        today: the day on which the report is made; earlier days ask the history.
        zone: in which the days begin and end.
        known_at: the moment whose knowledge counts; None for what is known now.
    """

    as_of: date
    today: date
    zone: ZoneInfo
    known_at: datetime | None = None

    @property
    def day_ends(self) -> datetime:
        """The first moment after the day asked about."""
        day = self.as_of
        after = day + timedelta(days=1) if day < date.max else day
        return datetime(after.year, after.month, after.day, tzinfo=self.zone)

    @property
    def asks_the_history(self) -> bool:
        """Whether the state of the rows as they are now will not do."""
        return self.as_of < self.today or self.known_at is not None


class KeptContainers:
    """Lists containers with their retention, again and again, without keeping them.

    Args:
        boxes, envelopes: those within the report's scope.
        clocks: the day asked about, and whose knowledge counts.
    """

    def __init__(
        self,
        boxes: QuerySet[Box],
        envelopes: QuerySet[Envelope],
        clocks: Knowledge,
    ) -> None:
        self._boxes, self._envelopes = boxes, envelopes
        self._clocks = clocks
        self._keeper = Keeper(clocks.as_of, clocks.known_at)
        # The answer is kept beside its words, so that its id stays its own.
        self._worded: dict[int, tuple[Retention | None, RetentionShown]] = {}
        self._contests = {
            contest.pk: contest
            for contest in Contest.objects.select_related(
                "election__schedule", "election__calendar"
            )
        }
        self._rooms = {room.pk: str(room) for room in StrongRoom.objects.all()}
        self._shelves = {
            shelf.pk: f"bay {shelf.bay.code}, shelf {shelf.code}"
            for shelf in Shelf.objects.select_related("bay")
        }

    def rows(self) -> Iterator[KeptContainer]:
        """Yield boxes, then envelopes, each by contest and in order of entry."""
        yield from self._of(self._boxes)
        yield from self._of(self._envelopes.select_related("station", "box"))

    def totals(self) -> Counter[str]:
        """Count what ``rows`` would list, by reason; set by set, where that will do."""
        if self._clocks.asks_the_history:
            return Counter(row.reason for row in self.rows())
        return totals(
            self._keeper,
            self._in_keeping(self._boxes),
            self._in_keeping(self._envelopes),
        )

    def _of(self, containers: QuerySet[Any]) -> Iterator[KeptContainer]:
        rows = self._in_keeping(containers).order_by(
            F("contest_id").asc(nulls_last=True), "id"
        )
        for chunk in in_chunks(rows.iterator(chunk_size=CHUNK)):
            chunk = self._as_known(chunk)
            stations = self._stations_of(chunk)
            then = self._versions(chunk) if self._clocks.asks_the_history else {}
            for container in chunk:
                version = then.get(container.pk) or _Version(
                    container.state,
                    container.whereabouts,
                    getattr(container, "shelf_id", None),
                    getattr(container, "box_id", None),
                )
                if version.state not in _ENDED:
                    yield self._row(container, version, stations)

    def _in_keeping(self, containers: QuerySet[Any]) -> QuerySet[Any]:
        clocks = self._clocks
        received = containers.filter(received_on__lte=clocks.as_of)
        if not clocks.asks_the_history:
            return received.exclude(state__in=_ENDED)
        batch = "disposal_item__batch__"
        gone = Q(**{f"{batch}occurred_at__lt": clocks.day_ends})
        if clocks.known_at:
            gone &= Q(**{f"{batch}recorded_at__lte": clocks.known_at})
        return received.exclude(gone, state=ContainerState.DISPOSED)

    def _as_known(self, chunk: list[Container]) -> list[Container]:
        """Return the containers as the register knew them; those it did not, not."""
        if self._clocks.known_at is None or not chunk:
            return chunk
        ids = [container.pk for container in chunk]
        then = rows_known(type(chunk[0]), self._clocks.known_at, id__in=ids)
        if then and isinstance(then[0], Envelope):
            prefetch_related_objects(then, "station", "box")
        return then

    def _stations_of(self, chunk: Sequence[Container]) -> dict[int, list[int | None]]:
        stations: dict[int, list[int | None]] = {}
        if not chunk or not isinstance(chunk[0], Box):
            return stations
        ids = [box.pk for box in chunk]
        if self._clocks.known_at:
            known = rows_known(Envelope, self._clocks.known_at, box_id__in=ids)
            inside = [(each.box_id or 0, each.station_id) for each in known]
        else:
            rows = Envelope.objects.filter(box_id__in=ids)
            inside = list(rows.values_list("box_id", "station_id"))
        for box, station in inside:
            stations.setdefault(box, []).append(station)
        return stations

    def _versions(self, chunk: Sequence[Container]) -> dict[int, _Version]:
        """Return the last version of each by the end of the day, else its first.

        What was entered late was there before the register knew of it; what was
        disposed of after the day was not yet disposed of, whenever that was entered.
        """
        found: dict[int, _Version] = {}
        if not chunk:
            return found
        kind = type(chunk[0])
        place = "shelf_id" if kind is Box else "box_id"
        known_at = self._clocks.known_at
        known = Q(history_date__lte=known_at) if known_at else Q()
        for key, state, whereabouts, lies, at in (
            kind.history.filter(known, id__in=[c.pk for c in chunk])
            .exclude(state=ContainerState.DISPOSED)
            .order_by("history_id")
            .values_list("id", "state", "whereabouts", place, "history_date")
        ):
            if key not in found or at < self._clocks.day_ends:
                on = (lies, None) if kind is Box else (None, lies)
                found[key] = _Version(state, whereabouts, *on)
        return found

    def _row(
        self,
        container: Container,
        version: _Version,
        stations: dict[int, list[int | None]],
    ) -> KeptContainer:
        contest = self._contests.get(container.contest_id or 0)
        if contest:
            container.contest = contest
        retention = self._retention(container, stations)
        told = self._told(retention)
        return KeptContainer(
            number=container.number,
            noun="box" if isinstance(container, Box) else "envelope",
            content_title=CONTENT_TITLES[ContentKind(container.kind)],
            constituency=str(contest or ""),
            station=_station(container),
            room=self._rooms[container.room_id],
            shelf=self._shelf(container, version),
            state=ContainerState(version.state).label,
            whereabouts=Whereabouts(version.whereabouts).label,
            retain_through=told.held_until,
            may_be_disposed_from=told.free_from,
            reason=told.reason,
            governed_by=retention.governed_by if retention else "",
            why=told.why,
        )

    def _told(self, retention: Retention | None) -> RetentionShown:
        """Word an answer once; the keeper gives many containers the same one."""
        key = id(retention)
        if key not in self._worded:
            self._worded[key] = (retention, shown(retention, self._clocks.as_of))
        return self._worded[key][1]

    def _retention(
        self, container: Container, stations: dict[int, list[int | None]]
    ) -> Retention | None:
        if isinstance(container, Box):
            return self._keeper.box(container, stations.get(container.pk, ()))
        return self._keeper.envelope(container)

    def _shelf(self, container: Container, version: _Version) -> str:
        if isinstance(container, Box):
            return self._shelves.get(version.shelf_id or 0, "")
        if version.box_id is None or container.box is None:
            return ""
        return f"in {container.box.number}"


def in_chunks(items: Iterator[Item]) -> Iterator[list[Item]]:
    """Yield the items in lists of at most ``CHUNK``."""
    while chunk := list(islice(items, CHUNK)):
        yield chunk


def _station(container: Container) -> str:
    if isinstance(container, Envelope) and container.station:
        return str(container.station)
    return container.written_station_number


def elections_in(boxes: QuerySet[Box], envelopes: QuerySet[Envelope]) -> list[Election]:
    """Return the elections whose containers these are, in order of entry."""
    of_boxes = boxes.order_by().values("election_id").distinct()
    of_envelopes = envelopes.order_by().values("election_id").distinct()
    return list(
        Election.objects.filter(Q(pk__in=of_boxes) | Q(pk__in=of_envelopes))
        .select_related("schedule", "calendar")
        .order_by("id")
    )


def without_an_election(boxes: QuerySet[Box], envelopes: QuerySet[Envelope]) -> int:
    """Count the containers in quarantine of which not even the election is known."""
    lost = Q(election__isnull=True) & ~Q(state__in=_ENDED)
    return boxes.filter(lost).count() + envelopes.filter(lost).count()
