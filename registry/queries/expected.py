"""What should exist: the unit sets and stations against which arrivals are matched."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from difflib import SequenceMatcher

from django.db.models import Q

from registry.models import (
    Box,
    ContainerState,
    Contest,
    Election,
    Envelope,
    PollingStation,
    Seal,
    SealState,
    UnitSet,
)
from registry.queries.keeping import schedule_of
from registry.rules.arrivals import Arrival
from registry.rules.markings import Marking, plain_name, plain_station, station_set
from registry.rules.numbers import plain_serial
from registry.rules.schedules import ContentKind

# A file of more arrivals than this is matched against the whole election at once.
FEW = 50


@dataclass(frozen=True)
class Match:
    """What an arrival was recognised as; ``contest`` None: nobody expected it."""

    contest: Contest | None = None
    station: PollingStation | None = None
    unit_set: UnitSet | None = None


class ExpectedContainers:
    """The master data of an election, indexed by what stands on containers.

    Args:
        election: the election whose containers arrive.
        arrivals: what has arrived; a few are matched with a few rows.
    """

    def __init__(self, election: Election, arrivals: Iterable[Arrival]) -> None:
        self.election = election
        self.contests = list(election.contests.select_related("election"))
        for contest in self.contests:
            contest.election = election
        self._contest_by_number = {
            plain_station(c.constituency_number): c for c in self.contests
        }
        self._contest_by_name = {
            plain_name(c.constituency_name): c for c in self.contests
        }
        self._by_id = {contest.pk: contest for contest in self.contests}
        self._stations: dict[int, dict[str, PollingStation]] = defaultdict(dict)
        self._sets_of: dict[int, list[UnitSet]] = defaultdict(list)
        self._by_control: dict[str, list[UnitSet]] = defaultdict(list)
        self._by_paper: dict[str, list[UnitSet]] = defaultdict(list)
        self._load(list(arrivals))

    def _load(self, arrivals: list[Arrival]) -> None:
        stations = PollingStation.objects.filter(contest__election=self.election)
        if len(arrivals) <= FEW:
            stations = stations.filter(_mentioned(arrivals))
        for station in stations:
            station.contest = self._by_id[station.contest_id]
            number = plain_station(station.station_number)
            self._stations[station.contest_id][number] = station
        by_id = {s.pk: s for of in self._stations.values() for s in of.values()}
        for units in UnitSet.objects.filter(station__in=stations).order_by("sequence"):
            units.station = by_id[units.station_id]
            self._sets_of[units.station_id].append(units)
            self._by_control[units.control_unit_plain].append(units)
            self._by_paper[units.paper_trail_plain].append(units)

    def match(self, arrival: Arrival, hint: Contest | None = None) -> Match:
        """Recognise an arrival by its serials first, then by its station's number.

        The paper-trail unit goes before the control unit, since the slips come out
        of it. A container whose serial belongs to one station and whose other
        writing to another is recognised by the serial; the rest is named as differing.

        Args:
            hint: the contest being taken in, where the custodian named one.
        """
        if arrival.noun == "box":
            return Match(self._contest(arrival, hint))
        units = self._unit_set(arrival, hint)
        if units:
            return Match(units.station.contest, units.station, units)
        contest = self._contest(arrival, hint)
        if contest is None:
            return Match()
        written = arrival.written.get(Marking.STATION_NUMBER, "")
        station = self._stations[contest.pk].get(plain_station(written))
        if station is None:
            return Match()
        sets = self._sets_of[station.pk]
        only = sets[0] if len(sets) == 1 else None
        if arrival.kind is ContentKind.STATUTORY_PACKET:
            return Match(contest, station, None)
        return Match(contest, station, only) if only else Match()

    def _unit_set(self, arrival: Arrival, hint: Contest | None) -> UnitSet | None:
        paper = plain_serial(arrival.written.get(Marking.PAPER_TRAIL_UNIT, ""))
        control = plain_serial(arrival.written.get(Marking.CONTROL_UNIT, ""))
        by_paper = self._by_paper.get(paper, []) if paper else []
        by_control = self._by_control.get(control, []) if control else []
        both = [units for units in by_paper if units in by_control]
        for found in (both, by_paper, by_control):
            near = [u for u in found if hint is None or u.station.contest == hint]
            if near or found:
                return (near or found)[0]
        return None

    def _contest(self, arrival: Arrival, hint: Contest | None) -> Contest | None:
        number = arrival.written.get(Marking.CONSTITUENCY_NUMBER, "")
        name = arrival.written.get(Marking.CONSTITUENCY_NAME, "")
        return (
            self._contest_by_number.get(plain_station(number))
            or self._contest_by_name.get(plain_name(name))
            or (hint if not number and not name else None)
        )

    def markings(self, match: Match, arrival: Arrival) -> dict[Marking, str]:
        """Return what must stand on a container that was recognised."""
        expected = {Marking.ELECTION: self.election.name}
        if match.contest:
            expected |= _contest_markings(match.contest)
        if match.station:
            expected[Marking.STATION_NUMBER] = match.station.station_number
            expected[Marking.STATION_NAME] = match.station.name
            if match.station.polled_on:
                expected[Marking.POLL_DATE] = match.station.polled_on.isoformat()
        if match.unit_set and arrival.kind is not ContentKind.STATUTORY_PACKET:
            expected[Marking.CONTROL_UNIT] = match.unit_set.control_unit_serial
            expected[Marking.PAPER_TRAIL_UNIT] = match.unit_set.paper_trail_serial
        return expected


def _mentioned(arrivals: list[Arrival]) -> Q:
    """Return the stations that a few arrivals may belong to."""
    serials = {
        plain_serial(arrival.written.get(marking, ""))
        for arrival in arrivals
        for marking in (Marking.CONTROL_UNIT, Marking.PAPER_TRAIL_UNIT)
    } - {""}
    numbers = set()
    for arrival in arrivals:
        written = arrival.written.get(Marking.STATION_NUMBER, "").strip()
        numbers |= {written, written.upper(), plain_station(written)}
        numbers |= {plain_station(written).zfill(width) for width in (2, 3, 4)}
    return (
        Q(unit_sets__control_unit_plain__in=serials)
        | Q(unit_sets__paper_trail_plain__in=serials)
        | Q(station_number__in=numbers - {""})
    )


def _contest_markings(contest: Contest) -> dict[Marking, str]:
    days: dict[Marking, date | None] = {
        Marking.POLL_DATE: contest.polled_on,
        Marking.COUNTING_DATE: contest.counted_on,
    }
    return {
        Marking.CONSTITUENCY_NUMBER: contest.constituency_number,
        Marking.CONSTITUENCY_NAME: contest.constituency_name,
    } | {marking: day.isoformat() for marking, day in days.items() if day}


def bearers_of_units(
    election: Election | None,
    kind: ContentKind,
    match: Match,
    states: Iterable[str] = (ContainerState.HELD, ContainerState.QUARANTINED),
) -> list[Envelope]:
    """Return the envelopes of a kind that stand for the same units.

    At intake one in quarantine counts as well: nobody can tell from the numbers
    which of the two is right.
    """
    if election is None or match.unit_set is None:
        return []
    units = match.unit_set
    if kind is ContentKind.STATUTORY_PACKET:
        return []
    same = Q(unit_set=units)
    if not units.control_unit_kept:
        same |= Q(control_unit=units.control_unit_plain, control_unit_kept=False)
    if not units.paper_trail_kept:
        same |= Q(paper_trail_unit=units.paper_trail_plain, paper_trail_kept=False)
    return list(
        Envelope.objects.filter(
            same, election=election, kind=kind, state__in=list(states)
        ).order_by("id")
    )


def required_markings(
    election: Election | None, kind: ContentKind, noun: str, *, is_closed: bool = True
) -> tuple[Marking, ...]:
    """Return the markings that the election's schedule asks for on a container.

    The stations of a box are written on it when it is closed; an open box need not
    name them yet. Without a schedule every marking is asked for.
    """
    rules = schedule_of(election.schedule).classes.get(kind) if election else None
    if rules is None:
        required: tuple[Marking, ...] = tuple(Marking)
    else:
        required = rules.box_markings if noun == "box" else rules.envelope_markings
    if noun == "box" and not is_closed:
        return tuple(m for m in required if m is not Marking.STATION_NUMBER)
    return required


def live_seals(
    identities: Iterable[tuple[str, str, str]],
) -> dict[tuple[str, str, str], Seal]:
    """Return the live seals, outside quarantine or in it, of these numbers."""
    wanted = set(identities)
    found: dict[tuple[str, str, str], Seal] = {}
    plain = sorted({serial for _, _, serial in wanted})
    for start in range(0, len(plain), 500):
        rows = (
            Seal.objects.filter(
                serial_plain__in=plain[start : start + 500], state=SealState.APPLIED
            )
            .select_related("box", "envelope")
            .order_by("-quarantined", "-id")
        )
        for seal in rows:
            identity = (seal.maker_plain, seal.kind, seal.serial_plain)
            if identity in wanted:
                found[identity] = seal
    return found


def near_unit_sets(
    envelope: Envelope, contest: Contest | None, most: int = 8
) -> list[UnitSet]:
    """Return the unit sets whose serials come nearest to those written, nearest first.

    Args:
        contest: where to look; None looks in every constituency of the written number.
        most: how many are wanted.
    """
    rows = UnitSet.objects.select_related("station__contest__election")
    if contest:
        rows = rows.filter(station__contest=contest)
    else:
        number = envelope.written_constituency_number.strip()
        rows = rows.filter(station__contest__constituency_number=number)
    station = plain_station(envelope.written_station_number)
    control = plain_serial(envelope.written_control_unit)
    paper = plain_serial(envelope.written_paper_trail_unit)

    def nearness(units: UnitSet) -> float:
        at_station = plain_station(units.station.station_number) == station != ""
        return (
            _likeness(paper, units.paper_trail_plain)
            + _likeness(control, units.control_unit_plain)
            + (0.5 if at_station else 0.0)
        )

    near = sorted(rows.order_by("id"), key=nearness, reverse=True)
    return [units for units in near[:most] if nearness(units) > 0.5]


def _likeness(written: str, serial: str) -> float:
    return SequenceMatcher(None, written, serial).ratio() if written else 0.0


def stations_in(box: Box) -> frozenset[str]:
    """Return the numbers of the stations whose envelopes lie in a box."""
    numbers = box.envelopes.filter(station__isnull=False).values_list(
        "station__station_number", flat=True
    )
    return frozenset(plain_station(number) for number in numbers)


def expected_stations_text(written: str, held: frozenset[str]) -> str:
    """Return the stations a box must name, as written if it names just these."""
    if written and station_set(written) == held:
        return written
    return ", ".join(sorted(held, key=lambda n: (len(n), n)))
