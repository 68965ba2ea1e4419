"""A contest's stations and unit sets: which envelopes should exist, and which do.

A station whose unit was replaced has several unit sets, and each of them gives an
envelope of its own; a seat that was not contested has none, and nothing is short.
"""

from collections import Counter, defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from registry.models import (
    CONTENT_TITLES,
    ContainerState,
    Contest,
    Envelope,
    PollingStation,
    UnitSet,
    Whereabouts,
)
from registry.rules.schedules import ContentKind

# One envelope of each is expected from each unit set; of packets nobody can say
# beforehand how many there will be.
OF_EACH_UNIT_SET = (ContentKind.POLL_SLIPS, ContentKind.MOCK_POLL_SLIPS)


@dataclass(frozen=True)
class Arrived:
    """How one expected envelope stands."""

    content: str
    word: str
    tone: str
    is_short: bool


@dataclass(frozen=True)
class UnitRow:
    """A control unit and a paper-trail unit used together."""

    number: str
    control_unit: str
    paper_trail_unit: str
    replaced: bool
    note: str
    arrived: tuple[Arrived, ...]


@dataclass(frozen=True)
class StationRow:
    """A polling station with its unit sets, in the order in which they served."""

    number: str
    station_number: str
    name: str
    place: str
    polled_on: date | None
    unit_sets: tuple[UnitRow, ...]


@dataclass(frozen=True)
class Tally:
    """How many envelopes of one content are expected, and what became of them.

    Attributes:
        expected: None where nobody can say beforehand.
        registered: outside quarantine, disposed ones included.
        short: expected from a unit set, with no envelope outside quarantine.
    """

    content: str
    expected: int | None
    registered: int
    quarantined: int
    boxed: int
    disposed: int
    short: int | None


@dataclass(frozen=True)
class Shortage:
    """An envelope that should exist and is not registered outside quarantine."""

    content: str
    station: str
    unit_set: str
    in_quarantine: bool


@dataclass(frozen=True)
class Stations:
    """The stations of a contest, the tallies and the shortages."""

    rows: tuple[StationRow, ...]
    tallies: tuple[Tally, ...]
    shortages: tuple[Shortage, ...]


States = dict[tuple[int | None, str], Counter[str]]


def stations_of(contest: Contest, *, with_containers: bool) -> Stations:
    """Return a contest's stations; without containers, only what was set up."""
    rows = contest.stations.prefetch_related("unit_sets").order_by("id")
    stations = sorted(rows, key=lambda s: (len(s.station_number), s.station_number))
    if not with_containers:
        return Stations(tuple(_station(each, None) for each in stations), (), ())
    states, boxed = _states(contest)
    return Stations(
        rows=tuple(_station(station, states) for station in stations),
        tallies=tuple(_tally(kind, stations, states, boxed) for kind in ContentKind),
        shortages=tuple(_shortages(stations, states)),
    )


def _states(contest: Contest) -> tuple[States, Counter[str]]:
    """Count envelopes by unit set, content and state; and those that are boxed."""
    states: States = defaultdict(Counter)
    boxed: Counter[str] = Counter()
    rows = Envelope.objects.filter(contest=contest).values_list(
        "unit_set_id", "kind", "state", "whereabouts"
    )
    for unit_set, kind, state, whereabouts in rows.iterator():
        states[unit_set, kind][state] += 1
        boxed[kind] += whereabouts == Whereabouts.IN_BOX
    return states, boxed


def _units(station: PollingStation) -> list[UnitSet]:
    return sorted(station.unit_sets.all(), key=lambda units: units.sequence)


def _station(station: PollingStation, states: States | None) -> StationRow:
    return StationRow(
        number=station.number,
        station_number=station.station_number,
        name=station.name,
        place=station.place,
        polled_on=station.polled_on,
        unit_sets=tuple(
            UnitRow(
                number=units.number,
                control_unit=units.control_unit_serial,
                paper_trail_unit=units.paper_trail_serial,
                replaced=units.replaced,
                note=units.replacement_note,
                arrived=()
                if states is None
                else tuple(
                    _arrived(kind, states.get((units.pk, kind.value), Counter()))
                    for kind in OF_EACH_UNIT_SET
                ),
            )
            for units in _units(station)
        ),
    )


def _arrived(kind: ContentKind, found: Counter[str]) -> Arrived:
    title = CONTENT_TITLES[kind]
    if found[ContainerState.HELD]:
        return Arrived(title, "registered", "clear", is_short=False)
    if found[ContainerState.SUPERSEDED]:
        return Arrived(title, "opened", "wait", is_short=False)
    if found[ContainerState.DISPOSED]:
        return Arrived(title, "disposed of", "ended", is_short=False)
    if found[ContainerState.QUARANTINED]:
        return Arrived(title, "only in quarantine", "wait", is_short=True)
    return Arrived(title, "missing", "stop", is_short=True)


def _tally(
    kind: ContentKind,
    stations: Iterable[PollingStation],
    states: States,
    boxed: Counter[str],
) -> Tally:
    total: Counter[str] = Counter()
    for (_, found_kind), found in states.items():
        if found_kind == kind.value:
            total += found
    units = [units for station in stations for units in _units(station)]
    counted = kind in OF_EACH_UNIT_SET
    short = [
        each
        for each in units
        if _arrived(kind, states.get((each.pk, kind.value), Counter())).is_short
    ]
    return Tally(
        content=CONTENT_TITLES[kind],
        expected=len(units) if counted else None,
        registered=sum(total.values()) - total[ContainerState.QUARANTINED],
        quarantined=total[ContainerState.QUARANTINED],
        boxed=boxed[kind.value],
        disposed=total[ContainerState.DISPOSED],
        short=len(short) if counted else None,
    )


def _shortages(
    stations: Iterable[PollingStation], states: States
) -> Iterable[Shortage]:
    for station in stations:
        for units in _units(station):
            for kind in OF_EACH_UNIT_SET:
                found = states.get((units.pk, kind.value), Counter())
                if _arrived(kind, found).is_short:
                    yield Shortage(
                        content=CONTENT_TITLES[kind],
                        station=str(station),
                        unit_set=str(units),
                        in_quarantine=bool(found[ContainerState.QUARANTINED]),
                    )
