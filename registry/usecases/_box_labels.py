"""The stations that are written on a closed box, against what lies in it."""

from registry.models import Box
from registry.queries.expected import (
    expected_stations_text,
    required_markings,
    stations_in,
)
from registry.rules.arrivals import DiscrepancyKind, Problem
from registry.rules.markings import Marking, station_set
from registry.rules.schedules import ContentKind


def station_list_problems(box: Box) -> list[Problem]:
    """Compare the stations on the label with those whose envelopes lie in the box."""
    held = stations_in(box)
    written = box.written_station_number
    required = required_markings(box.election, ContentKind(box.kind), "box")
    if not written:
        missed = Marking.STATION_NUMBER in required
        return [_stations(DiscrepancyKind.MARKING_MISSING, box, held)] if missed else []
    if not held or station_set(written) == held:
        return []
    return [_stations(DiscrepancyKind.MARKING_DIFFERS, box, held)]


def _stations(kind: DiscrepancyKind, box: Box, held: frozenset[str]) -> Problem:
    said = {
        DiscrepancyKind.MARKING_MISSING: "No station is written on the box.",
        DiscrepancyKind.MARKING_DIFFERS: "The stations written on the box are not "
        "those whose envelopes lie in it.",
    }
    return Problem(
        kind,
        marking=Marking.STATION_NUMBER.value,
        written=box.written_station_number,
        expected=expected_stations_text(box.written_station_number, held),
        detail=said[kind],
    )
