"""Which station a scan at the sealing table means, and which question it answers."""

from dataclasses import dataclass

from django.db.models import Q, QuerySet

from registry.models import Contest, PollingStation, UnitSet
from registry.rules.keeping_parts import SealingFact
from registry.rules.markings import plain_station
from registry.rules.numbers import (
    NumberMistyped,
    kind_of,
    looks_like_number,
    plain_serial,
    read,
)
from registry.usecases._door import Mistaken


@dataclass(frozen=True)
class Scanned:
    """What was scanned: whose it is, and what it tells.

    Attributes:
        tells: the fact that was read with it: the tag, or the serial of a unit.
    """

    station: PollingStation
    unit_set: UnitSet | None
    tells: SealingFact
    text: str


def read_scan(
    scanned: str, contest: Contest | None, contests: QuerySet[Contest]
) -> Scanned:
    """Return the station that a tag, a serial or a number means, and lock it.

    Locked, so that two people who bring the same station begin it once.

    Raises:
        Mistaken: it leads nowhere, or to several stations.
    """
    text = " ".join(scanned.split())
    if not text:
        raise Mistaken(scanned="Scan the unit’s tag, or type the station’s number.")
    if looks_like_number(text):
        found = _by_number(text, contests)
    else:
        found = _by_serial(text, contest, contests) or _by_station(text, contest)
    rows = PollingStation.objects.select_related("contest__election__schedule")
    station = rows.select_for_update(of=("self",)).get(pk=found.station.pk)
    return Scanned(station, found.unit_set, found.tells, text)


def _by_number(text: str, contests: QuerySet[Contest]) -> Scanned:
    try:
        number = read(text)
    except NumberMistyped as mistyped:
        raise Mistaken(scanned=str(mistyped)) from mistyped
    tag = SealingFact.STATION_TAG
    if kind_of(number) == "US":
        sets = UnitSet.objects.filter(station__contest__in=contests)
        units = sets.select_related("station").filter(number=number).first()
        if units:
            return Scanned(units.station, units, tag, text)
    stations = PollingStation.objects.filter(contest__in=contests)
    station = stations.filter(number=number).first()
    if station is None:
        raise Mistaken(
            scanned=f"{number} is no polling station or unit set that you may see."
        )
    return Scanned(station, None, tag, text)


def _by_serial(
    text: str, contest: Contest | None, contests: QuerySet[Contest]
) -> Scanned | None:
    plain = plain_serial(text)
    rows = (
        UnitSet.objects.filter(station__contest__in=contests)
        .filter(Q(control_unit_plain=plain) | Q(paper_trail_plain=plain))
        .select_related("station__contest")
        .order_by("id")
    )
    found = list(rows)
    here = [u for u in found if contest is None or u.station.contest_id == contest.pk]
    if found and not here:
        other = found[0].station
        raise Mistaken(
            scanned=f"{text} is a unit of station {other}, {other.contest}. Choose "
            "that constituency, or look at the unit again."
        )
    if not here:
        return None
    if len({units.station_id for units in here}) > 1:
        raise Mistaken(
            scanned=f"{text} served at several stations: scan the tag, or choose the "
            "constituency first."
        )
    is_control = here[0].control_unit_plain == plain
    tells = SealingFact.CONTROL_UNIT if is_control else SealingFact.PAPER_TRAIL_UNIT
    # A unit that was kept stands in several sets: which of them, is asked.
    return Scanned(here[0].station, here[0] if len(here) == 1 else None, tells, text)


def _by_station(text: str, contest: Contest | None) -> Scanned:
    if contest is None:
        raise Mistaken(
            scanned=f"No unit with the serial “{text}” is on record. A station’s "
            "number needs its constituency: choose it first."
        )
    plain = plain_station(text)
    same = [
        station
        for station in contest.stations.all()
        if plain_station(station.station_number) == plain
    ]
    if not same:
        raise Mistaken(
            scanned=f"{contest} has no station “{text}”, and no unit with that serial "
            "is on record. Type the station’s number as it is in the list."
        )
    return Scanned(same[0], None, SealingFact.STATION_TAG, text)
