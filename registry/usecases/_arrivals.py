"""What an arrival becomes: recognised, compared, and made a record of the register."""

from collections.abc import Mapping, Sequence
from datetime import date

from django.db.models import Model

from registry.models import (
    Box,
    ContainerState,
    Contest,
    Election,
    Envelope,
    Seal,
    StrongRoom,
    Whereabouts,
    written_field,
)
from registry.queries.expected import (
    ExpectedContainers,
    Match,
    bearers_of_units,
    required_markings,
)
from registry.rules.arrivals import Arrival, Problem, problems_with
from registry.rules.markings import TITLES, Finding, Marking, compare
from registry.rules.numbers import plain_serial
from registry.rules.schedules import ContentKind
from registry.usecases._recording import TakenMarks


def assess(
    arrival: Arrival,
    recognised: ExpectedContainers,
    taken: TakenMarks,
    room: StrongRoom,
    hint: Contest | None = None,
    live_envelopes: Sequence[str] | None = None,
    further: Sequence[Problem] = (),
    known: Match | None = None,
) -> tuple[Envelope | Box, tuple[Problem, ...], Match]:
    """Return the record an arrival becomes, with all that is wrong with it.

    Args:
        known: what it stands for, where that is known and need not be recognised.
        live_envelopes: numbers of the envelopes that stand for the same units, where
            the caller has them already.
        further: what is wrong with it beside its markings and seals.
    """
    match = known or recognised.match(arrival, hint)
    findings = findings_of(arrival, recognised, match)
    if live_envelopes is None:
        live_envelopes = [
            e.number for e in bearers_of_units(recognised.election, arrival.kind, match)
        ]
    problems = (
        *problems_with(
            arrival,
            findings,
            is_expected=match.contest is not None,
            same_serial_on=live_envelopes,
            same_seal_on=taken.seals,
        ),
        *further,
    )
    return _record(arrival, recognised.election, match, room, problems), problems, match


def findings_of(
    arrival: Arrival, recognised: ExpectedContainers, match: Match
) -> tuple[Finding, ...]:
    """Compare the markings of an arrival with what they must be."""
    required = required_markings(
        recognised.election, arrival.kind, arrival.noun, is_closed=arrival.closed
    )
    expected = recognised.markings(match, arrival)
    return compare(arrival.written, expected, required, arrival.unreadable)


def _record(
    arrival: Arrival,
    election: Election,
    match: Match,
    room: StrongRoom,
    problems: Sequence[Problem],
) -> Envelope | Box:
    state = ContainerState.QUARANTINED if problems else ContainerState.HELD
    kind: type[Envelope] | type[Box] = Box if arrival.noun == "box" else Envelope
    record = kind(
        kind=arrival.kind.value,
        # The election is what is being taken in, not what is known of a container
        # that nobody expected.
        election=election if match.contest else None,
        contest=match.contest,
        room=room,
        state=state,
        whereabouts=Whereabouts.INTAKE,
        sealed_on=arrival.sealed_on,
        received_on=arrival.received_on,
        description=arrival.description,
        remarks=arrival.remarks,
        unreadable=",".join(sorted(arrival.unreadable)),
        **{written_field(m): text.strip() for m, text in arrival.written.items()},
    )
    if isinstance(record, Box):
        record.label = arrival.label
        record.gross_weight_kg = arrival.gross_weight_kg
        record.closed_on = _closing_day(arrival)
    else:
        record.slip_count = arrival.slip_count
        record.self_test_count = arrival.self_test_count
        record.uncut_count = arrival.uncut_count
        record.paper = arrival.paper
        attribute(record, match, written=arrival.written)
    return record


def _closing_day(arrival: Arrival) -> date | None:
    return (arrival.sealed_on or arrival.received_on) if arrival.closed else None


def too_long(arrival: Arrival) -> dict[str, str]:
    """Return what does not fit into its column, by the name of the form's field."""
    said = {
        **{
            m.value.replace("-", "_"): (text, written_field(m), TITLES[m])
            for m, text in arrival.written.items()
        },
        "description": (arrival.description, "description", "Description"),
        "remarks": (arrival.remarks, "remarks", "Remarks"),
    }
    found = {
        name: _excess(title, text, _limit(Envelope, column))
        for name, (text, column, title) in said.items()
    }
    found["label"] = _excess("Label", arrival.label, _limit(Box, "label"))
    for seal in arrival.seals:
        for text, column, title in (
            (seal.serial, "serial", "Seal number"),
            (seal.maker, "maker", "Maker or owner of the seal"),
        ):
            limit = _limit(Seal, column)
            found["seals"] = found.get("seals") or _excess(title, text, limit)
    return {name: message for name, message in found.items() if message}


def _limit(model: type[Model], column: str) -> int | None:
    return getattr(model._meta.get_field(column), "max_length", None)


def _excess(title: str, text: str, limit: int | None) -> str:
    if limit is None or len(text) <= limit:
        return ""
    return f"{title}: {len(text)} characters stand here; the register takes {limit}."


def attribute(
    envelope: Envelope, match: Match, written: Mapping[Marking, str] | None = None
) -> None:
    """Let an envelope stand for a station's unit set; what is written stays."""
    envelope.station = match.station
    envelope.unit_set = match.unit_set
    if envelope.kind == ContentKind.STATUTORY_PACKET.value:
        return
    if match.unit_set:
        envelope.control_unit = match.unit_set.control_unit_plain
        envelope.paper_trail_unit = match.unit_set.paper_trail_plain
        envelope.control_unit_kept = match.unit_set.control_unit_kept
        envelope.paper_trail_kept = match.unit_set.paper_trail_kept
        return
    as_written: Mapping[Marking, str] = written or {}
    envelope.control_unit = plain_serial(as_written.get(Marking.CONTROL_UNIT, ""))
    envelope.paper_trail_unit = plain_serial(
        as_written.get(Marking.PAPER_TRAIL_UNIT, "")
    )


def name_of(match: Match) -> str:
    """Return in words what an arrival was recognised as."""
    if match.unit_set:
        return f"{match.contest}, station {match.station}, units {match.unit_set}"
    if match.station:
        return f"{match.contest}, station {match.station}"
    return str(match.contest or "")
