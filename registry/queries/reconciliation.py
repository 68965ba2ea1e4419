"""What a reconciliation is made from, read at once for one contest or a whole election.

However many stations there are, it takes the same number of queries.
"""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any

from django.db.models import Q

from registry.models import (
    Box,
    ContainerState,
    Contest,
    Discrepancy,
    DisposalItem,
    Election,
    Envelope,
    PollingStation,
    Production,
    StrongRoom,
    UnitSet,
)
from registry.queries.keeping import schedule_of
from registry.queries.reconciliation_sights import Sights
from registry.queries.scope import discrepancies_of, rooms_of
from registry.rules import reconciliation_facts as facts
from registry.rules.arrivals import DiscrepancyKind
from registry.rules.contents import ContentKind
from registry.rules.markings import Marking, plain_name, plain_station
from registry.rules.powers import Actor

_WRITTEN = {
    Marking.STATION_NUMBER: "written_station_number",
    Marking.CONTROL_UNIT: "written_control_unit",
    Marking.PAPER_TRAIL_UNIT: "written_paper_trail_unit",
    Marking.POLL_DATE: "written_poll_date",
    Marking.COUNTING_DATE: "written_counting_date",
}


def contest_facts(
    election: Election, contests: Sequence[Contest], actor: Actor
) -> dict[str, facts.ContestFacts]:
    """Return what there is to reconcile in some contests of an election, by number.

    All strong rooms are counted, whoever asks; a container in a room of which the
    asker has no charge is named by its room alone.

    Args:
        contests: contests of this one election.
    """
    return _Reader(election, contests, actor).read()


def of_no_contest(election: Election) -> int:
    """Count the envelopes of this election in quarantine that no contest expects."""
    contests = list(election.contests.all())
    return sum(
        _contest_written(row, contests) is None
        for row in _without_contest()
        if plain_name(row.written_election) == plain_name(election.name)
    )


def _without_contest() -> list[Envelope]:
    rows = Envelope.objects.filter(
        contest__isnull=True, state=ContainerState.QUARANTINED
    )
    return list(rows.order_by("id"))


def _contest_written(row: Envelope, contests: Iterable[Contest]) -> Contest | None:
    """Return the contest that is written on an envelope that nobody expected."""
    number = plain_station(row.written_constituency_number)
    name = plain_name(row.written_constituency_name)
    for contest in contests:
        if number and number == plain_station(contest.constituency_number):
            return contest
        if not number and name and name == plain_name(contest.constituency_name):
            return contest
    return None


class _Reader:
    """Reads everything once, and hands it out by contest."""

    def __init__(
        self, election: Election, contests: Sequence[Contest], actor: Actor
    ) -> None:
        self._election = election
        self._contests = {contest.pk: contest for contest in contests}
        self._actor = actor
        self._rooms = dict(StrongRoom.objects.values_list("id", "name"))
        self._visible = set(rooms_of(actor).values_list("id", flat=True))
        self._strays = {
            row.pk: contest.pk
            for row in _without_contest()
            if plain_name(row.written_election) == plain_name(election.name)
            and (contest := _contest_written(row, contests))
        }

    def read(self) -> dict[str, facts.ContestFacts]:
        stations = self._stations()
        boxes = self._boxes()
        envelopes = self._envelopes()
        discrepancies = self._discrepancies()
        strange = tuple(self._strange())
        packets = self._packets_per_station()
        return {
            contest.number: facts.ContestFacts(
                number=contest.number,
                stations=tuple(stations[key]),
                envelopes=tuple(envelopes[key]),
                boxes=_boxes_of(contest.number, boxes, envelopes[key]),
                discrepancies=tuple(discrepancies[key]),
                polled_on=contest.polled_on,
                counted_on=contest.counted_on,
                packets_per_station=packets,
                found_strange=strange,
            )
            for key, contest in self._contests.items()
        }

    def _packets_per_station(self) -> int | None:
        classes = schedule_of(self._election.schedule).classes
        rules = classes.get(ContentKind.STATUTORY_PACKET)
        return rules.per_station if rules else None

    def _stations(self) -> dict[int, list[facts.Station]]:
        of = {"station__contest__in": list(self._contests)}
        units: dict[int, list[facts.Units]] = defaultdict(list)
        rows: Any = (
            UnitSet.objects.filter(**of)
            .order_by("station_id", "sequence")
            .values_list(
                "station_id",
                "number",
                "control_unit_serial",
                "paper_trail_serial",
                "votes_recorded",
                "control_unit_kept",
            )
        )
        for key, *rest in rows.iterator():
            units[key].append(facts.Units(*rest))
        found: dict[int, list[facts.Station]] = defaultdict(list)
        for key, contest, number, station_number, name, polled_on in (
            PollingStation.objects.filter(contest__in=list(self._contests))
            .order_by("id")
            .values_list(
                "id", "contest_id", "number", "station_number", "name", "polled_on"
            )
            .iterator()
        ):
            station = facts.Station(
                number, station_number, name, tuple(units[key]), polled_on
            )
            found[contest].append(station)
        return found

    def _boxes(self) -> tuple[facts.Box, ...]:
        holding = Envelope.objects.filter(
            contest__in=list(self._contests), box__isnull=False
        )
        rows = list(
            Box.objects.filter(
                Q(contest__in=list(self._contests))
                | Q(pk__in=holding.order_by().values("box_id"))
            )
            .select_related("contest", "shelf__bay")
            .order_by("id")
        )
        sights = Sights("box", self._contests, ())
        elsewhere = self._elsewhere("box")
        return tuple(self._box(row, sights, elsewhere) for row in rows)

    def _box(self, row: Box, sights: Sights, elsewhere: Mapping[int, str]) -> facts.Box:
        return facts.Box(
            number=row.number,
            kind=ContentKind(row.kind),
            standing=facts.Standing(row.state),
            place=facts.Place(row.whereabouts),
            called=self._called(row.number, row.room_id, "a box"),
            where=elsewhere.get(row.pk, ""),
            seen=sights.seen(row.pk, row.room_id, row.shelf_id),
            not_found_at=sights.not_found_at.get(row.pk),
            contest=row.contest.number if row.contest else "",
            contest_title=str(row.contest or "no contest"),
            is_closed=row.closed_on is not None,
            shelf=str(row.shelf.bay.code + row.shelf.code) if row.shelf else "",
        )

    def _envelopes(self) -> dict[int, list[facts.Envelope]]:
        sights = Sights("envelope", self._contests, self._strays)
        elsewhere = self._elsewhere("envelope")
        found: dict[int, list[facts.Envelope]] = defaultdict(list)
        rows: Any = (
            Envelope.objects.filter(
                Q(contest__in=list(self._contests)) | Q(pk__in=list(self._strays))
            )
            .order_by("id")
            .values(
                *("id", "number", "kind", "state", "whereabouts", "room_id"),
                *("contest_id", "unit_set__number", "station__number", "box__number"),
                *("superseded_by__number", "unreadable", "slip_count", "uncut_count"),
                *_WRITTEN.values(),
            )
        )
        for row in rows.iterator():
            contest = row["contest_id"] or self._strays[row["id"]]
            found[contest].append(self._envelope(row, sights, elsewhere))
        return found

    def _envelope(
        self, row: Mapping[str, Any], sights: Sights, elsewhere: Mapping[int, str]
    ) -> facts.Envelope:
        key = row["id"]
        return facts.Envelope(
            number=row["number"],
            kind=ContentKind(row["kind"]),
            standing=facts.Standing(row["state"]),
            place=facts.Place(row["whereabouts"]),
            called=self._called(row["number"], row["room_id"], "an envelope"),
            where=elsewhere.get(key, ""),
            seen=sights.seen(key, row["room_id"]),
            not_found_at=sights.not_found_at.get(key),
            unit_set=row["unit_set__number"] or "",
            station=row["station__number"] or "",
            box=row["box__number"] or "",
            superseded_by=row["superseded_by__number"] or "",
            written={m: row[name] for m, name in _WRITTEN.items() if row[name]},
            unreadable=frozenset(Marking(m) for m in row["unreadable"].split(",") if m),
            slips=row["slip_count"],
            uncut=row["uncut_count"],
        )

    def _called(self, number: str, room: int, noun: str) -> str:
        return "" if room in self._visible else f"{noun} in {self._rooms[room]}"

    def _elsewhere(self, noun: str) -> dict[int, str]:
        """Return in words where what is out or gone is, by id."""
        of = {f"{noun}__contest__in": list(self._contests)}
        words = {
            key: f"certificate {number}"
            for key, number in DisposalItem.objects.filter(**of).values_list(
                f"{noun}_id", "batch__certificate__number"
            )
            if number
        }
        rows = Production.objects.filter(returned__isnull=True, **of)
        for key, kept_by, received_by, place, permission in rows.values_list(
            f"{noun}_id",
            "kept_by",
            "received_by",
            "received_at_place",
            "permission__number",
        ):
            holder = kept_by or f"{received_by}, {place}"
            words[key] = f"{holder}, under {permission}"
        return words

    def _discrepancies(self) -> dict[int, list[facts.DiscrepancyFacts]]:
        ids = list(self._contests)
        found: dict[int, list[facts.DiscrepancyFacts]] = defaultdict(list)
        rows = Discrepancy.objects.filter(
            Q(contest__in=ids)
            | Q(box__contest__in=ids)
            | Q(envelope__contest__in=ids)
            | Q(envelope__in=list(self._strays))
        ).select_related("box", "envelope", "contest", "unit_set", "station", "owner")
        for row in rows.order_by("id"):
            container = row.box or row.envelope
            contest = container.contest_id if container else row.contest_id
            if contest is None and row.envelope_id:
                contest = self._strays[row.envelope_id]
            if contest is not None:
                found[contest].append(_discrepancy(row))
        return found

    def _strange(self) -> Iterator[tuple[str, str]]:
        rows = discrepancies_of(self._actor).filter(
            kind=DiscrepancyKind.STRANGE.value, resolved_at__isnull=True
        )
        for number, written, detail in rows.order_by("id").values_list(
            "number", "written", "detail"
        ):
            yield number, f"{written} {detail}"


def _boxes_of(
    contest: str, boxes: Iterable[facts.Box], envelopes: Iterable[facts.Envelope]
) -> tuple[facts.Box, ...]:
    """Return the boxes of a contest, and those of others that hold its envelopes."""
    holding = {envelope.box for envelope in envelopes}
    return tuple(
        box for box in boxes if box.contest == contest or box.number in holding
    )


def _discrepancy(row: Discrepancy) -> facts.DiscrepancyFacts:
    return facts.DiscrepancyFacts(
        number=row.number,
        kind=DiscrepancyKind(row.kind),
        about=_about(row),
        opened_at=row.opened_at,
        marking=row.marking,
        written=row.written,
        expected=row.expected,
        resolved_at=row.resolved_at,
        resolution=row.resolution,
        owner=row.owner.name if row.owner else "",
        due_on=row.due_on,
    )


def _about(row: Discrepancy) -> str:
    container = row.box or row.envelope
    if container:
        return container.number
    expected_of = row.unit_set or row.station
    if expected_of is None or not row.content:
        return row.contest.number if row.contest else ""
    return facts.expected(expected_of.number, ContentKind(row.content))
