"""Boxes and envelopes as their pages show them: no page runs a query of its own."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, datetime
from typing import Any

from registry.models import (
    Box,
    ContainerState,
    Discrepancy,
    Envelope,
    Seal,
    SealAct,
    SealState,
    Whereabouts,
)
from registry.queries.as_known import row_known
from registry.queries.container_shapes import (
    TONES,
    ContainerFile,
    ContainerRow,
    DiscrepancyRow,
    MovementRow,
    RetentionShown,
    SealRow,
    StepShown,
    not_yet_known,
    shown,
)
from registry.queries.covers import chain_of, cover_rows
from registry.queries.expected import (
    ExpectedContainers,
    Match,
    expected_stations_text,
    required_markings,
    stations_in,
)
from registry.queries.keeping import Keeper
from registry.queries.timeline import timeline_of
from registry.rules.arrivals import Arrival
from registry.rules.markings import Finding, Marking, compare
from registry.rules.pictures import retention_picture
from registry.rules.retention import Retention
from registry.rules.schedules import ContentKind

# What the words about a discrepancy are taken from.
DISCREPANCY_RELATED = (
    "box__contest", "envelope__contest", "envelope__station", "contest", "station",
    "unit_set", "room",
)  # fmt: skip

__all__ = [
    "DISCREPANCY_RELATED",
    "TONES",
    "ContainerFile",
    "ContainerRow",
    "DiscrepancyRow",
    "MovementRow",
    "RetentionShown",
    "SealRow",
    "StepShown",
    "about_in_words",
    "container_rows",
    "discrepancy_row",
    "file_of",
    "findings_of_record",
    "not_yet_known",
    "shown",
    "title_of",
]


def file_of(
    container: Box | Envelope, as_of: date, known_at: datetime | None = None
) -> ContainerFile:
    """Gather everything that a container's page shows.

    Args:
        as_of: the day for which its keeping is reckoned.
        known_at: the moment whose knowledge counts for that; all else on the page is
            as it is known now.
    """
    is_box = isinstance(container, Box)
    contest, election = container.contest, container.election
    chain = chain_of(container)
    others = [each for each in chain if each.pk != container.pk]
    seals = list(container.seals.order_by("id").select_related("supersedes"))
    station = None if isinstance(container, Box) else container.station
    return ContainerFile(
        number=container.number,
        noun="box" if is_box else "envelope",
        title=title_of(container),
        kind=container.kind,
        content=container.get_kind_display(),
        state=container.state,
        state_title=container.get_state_display(),
        tone=TONES[ContainerState(container.state)],
        election=str(election or ""),
        election_number=election.number if election else "",
        contest=str(contest or ""),
        contest_number=contest.number if contest else "",
        station=str(station or ""),
        unit_set=str(getattr(container, "unit_set", None) or ""),
        box=container.box.number
        if isinstance(container, Envelope) and container.box
        else "",
        room=str(container.room),
        room_number=container.room.number,
        shelf=str(container.shelf or "") if isinstance(container, Box) else "",
        whereabouts=container.get_whereabouts_display(),
        is_closed=isinstance(container, Envelope) or container.closed_on is not None,
        is_present=_is_present(container),
        closed_on=getattr(container, "closed_on", None),
        sealed_on=container.sealed_on,
        received_on=container.received_on,
        declared_on=contest.declared_on if contest else None,
        polled_on=(station and station.polled_on)
        or (contest.polled_on if contest else None),
        counted_on=contest.counted_on if contest else None,
        slip_count=getattr(container, "slip_count", None),
        self_test_count=getattr(container, "self_test_count", None),
        gross_weight_kg=getattr(container, "gross_weight_kg", None),
        label=getattr(container, "label", ""),
        description=container.description,
        remarks=container.remarks,
        intake=container.intake.number if container.intake else "",
        findings=findings_of_record(container),
        seals=tuple(_seal_row(seal) for seal in seals),
        discrepancies=tuple(
            discrepancy_row(d, container.number)
            for d in container.discrepancies.select_related(
                "resolved_by", "owner", *DISCREPANCY_RELATED
            ).order_by("id")
        ),
        movements=tuple(
            MovementRow(
                m.number, m.get_act_display(), m.occurred_at, m.recorded_at,
                m.from_place, m.to_place, m.from_person, m.to_person, m.note,
            )
            for m in container.movements.order_by("occurred_at", "id")
        ),
        contents=_contents(container, Keeper(as_of)),
        retention=_reckoned(container, as_of, known_at),
        permissions=_permissions(container),
        timeline=tuple(
            timeline_of(
                container, beside=[*seals, *others], wider=_wider(container)
            )
        ),
        covers=cover_rows(chain, container),
    )  # fmt: skip


_HERE = (Whereabouts.INTAKE, Whereabouts.SHELVED, Whereabouts.IN_BOX)


def _is_present(container: Box | Envelope) -> bool:
    """Tell whether it is in the room; what lies in a box is where the box is."""
    if isinstance(container, Envelope) and container.box:
        return container.whereabouts in _HERE and container.box.whereabouts in _HERE
    return container.whereabouts in _HERE


def _reckoned(
    container: Box | Envelope, as_of: date, known_at: datetime | None
) -> RetentionShown:
    then = row_known(container, known_at)
    if then is None:
        assert known_at is not None
        return not_yet_known(as_of, known_at)
    retention = Keeper(as_of, known_at).container(then)
    told = replace(shown(retention, as_of), known_at=known_at)
    return replace(told, picture=retention_picture(retention))


def title_of(container: Box | Envelope) -> str:
    """Return what a container is called in a heading."""
    where = container.contest or "contest not known"
    if isinstance(container, Box):
        return f"{container.get_kind_display()}, {where}"
    station = container.station or "station not known"
    return f"{container.get_kind_display()}, {where}, station {station}"


def _wider(container: Box | Envelope) -> list[str]:
    return [
        row.number
        for row in (container.election, container.contest, container.room)
        if row
    ]


def _contents(container: Box | Envelope, keeper: Keeper) -> tuple[ContainerRow, ...]:
    if isinstance(container, Envelope):
        return ()
    rows = container.envelopes.order_by("id")
    return tuple(container_rows(rows, keeper))


def container_rows(rows: Any, keeper: Keeper) -> list[ContainerRow]:
    """Return boxes or envelopes as rows of a list, with a fixed number of queries."""
    containers = list(rows.select_related(*_related(rows.model)))
    pending = _open_counts(containers)
    stations = _stations_of(containers)
    result = []
    for container in containers:
        if isinstance(container, Box):
            retention = keeper.box(container, stations.get(container.pk, ()))
        else:
            retention = keeper.envelope(container)
        result.append(_row(container, retention, keeper, pending))
    return result


def _related(model: type) -> list[str]:
    common = [
        "room", "election__schedule", "election__calendar", "contest__election",
        "contest__election__schedule", "contest__election__calendar",
    ]  # fmt: skip
    if model is Box:
        return [*common, "shelf__bay__room"]
    return [*common, "station", "box"]


def _open_counts(containers: Sequence[Box | Envelope]) -> dict[int, int]:
    if not containers:
        return {}
    name = "box_id" if isinstance(containers[0], Box) else "envelope_id"
    counts: dict[int, int] = {}
    for key in Discrepancy.objects.filter(
        resolved_at__isnull=True, **{f"{name}__in": [c.pk for c in containers]}
    ).values_list(name, flat=True):
        counts[key] = counts.get(key, 0) + 1
    return counts


def _stations_of(
    containers: Sequence[Box | Envelope],
) -> dict[int, list[int | None]]:
    boxes = [c.pk for c in containers if isinstance(c, Box)]
    stations: dict[int, list[int | None]] = {}
    for box, station in Envelope.objects.filter(box_id__in=boxes).values_list(
        "box_id", "station_id"
    ):
        stations.setdefault(box, []).append(station)
    return stations


def _row(
    container: Box | Envelope,
    retention: Retention | None,
    keeper: Keeper,
    pending: dict[int, int],
) -> ContainerRow:
    is_box = isinstance(container, Box)
    station = "" if isinstance(container, Box) else str(container.station or "")
    told = shown(retention, keeper.as_of)
    return ContainerRow(
        number=container.number,
        noun="box" if is_box else "envelope",
        content=container.get_kind_display(),
        label=getattr(container, "label", "") or container.description,
        constituency=str(container.contest or ""),
        station=station or container.written_station_number,
        state=container.state,
        state_title=container.get_state_display(),
        tone=TONES[ContainerState(container.state)],
        whereabouts=container.get_whereabouts_display(),
        box=""
        if isinstance(container, Box)
        else (container.box.number if container.box else ""),
        shelf=str(container.shelf or "") if isinstance(container, Box) else "",
        held_until=told.held_until,
        kept_because=told.why,
        open_discrepancies=pending.get(container.pk, 0),
    )


def findings_of_record(container: Box | Envelope) -> tuple[Finding, ...]:
    """Compare a container's markings, as written, with today's master data."""
    is_box = isinstance(container, Box)
    kind, noun = ContentKind(container.kind), "box" if is_box else "envelope"
    is_closed = not isinstance(container, Box) or container.closed_on is not None
    required = required_markings(container.election, kind, noun, is_closed=is_closed)
    expected: dict[Marking, str] = {}
    if container.election:
        match = Match(container.contest)
        if isinstance(container, Envelope):
            match = Match(container.contest, container.station, container.unit_set)
        arrival = Arrival(noun=noun, kind=kind, received_on=container.received_on)
        expected = ExpectedContainers(container.election, []).markings(match, arrival)
    held = stations_in(container) if isinstance(container, Box) else frozenset()
    if held and is_closed:
        expected[Marking.STATION_NUMBER] = expected_stations_text(
            container.written_station_number, held
        )
    return compare(container.written, expected, required, container.unreadable_markings)


def _seal_row(seal: Seal) -> SealRow:
    tones = {
        SealState.APPLIED: "clear",
        SealState.BROKEN: "stop",
        SealState.SUPERSEDED: "ended",
    }
    last = seal.events.order_by("-id").first()
    text = ""
    if last:
        finding = f", {last.get_finding_display()}" if last.finding else ""
        act = SealAct(last.act).label
        text = f"{act}{finding}, {last.occurred_on:%-d %B %Y}"
    return SealRow(
        number=seal.number,
        kind=seal.get_kind_display(),
        maker=seal.maker,
        serial=seal.serial,
        signed=seal.signed,
        state=seal.get_state_display(),
        tone=tones[SealState(seal.state)],
        last=text,
        supersedes=seal.supersedes.number if seal.supersedes else "",
    )


def discrepancy_row(
    row: Discrepancy, container: str, on: date | None = None
) -> DiscrepancyRow:
    """Return a discrepancy as pages show it; on a day, it may be overdue."""
    late = bool(on and row.due_on and row.due_on < on and row.resolved_at is None)
    return DiscrepancyRow(
        number=row.number,
        kind=row.get_kind_display(),
        container=container,
        marking=row.marking,
        written=row.written,
        expected=row.expected,
        detail=row.detail,
        opened_at=row.opened_at,
        resolved_at=row.resolved_at,
        resolution=row.resolution,
        resolved_by=row.resolved_by.name if row.resolved_by else "",
        about=about_in_words(row),
        owner=row.owner.name if row.owner else "",
        due_on=row.due_on,
        is_overdue=late,
    )


def about_in_words(row: Discrepancy) -> str:
    """Say what a discrepancy is about, also where no container is on record."""
    container = row.box or row.envelope
    if container is not None:
        return title_of(container)
    if row.contest is None:
        return f"Seen in {row.room}; it is no container of the register"
    content = row.get_content_display() if row.content else "A container"
    station = f", station {row.station}" if row.station else ""
    units = f", units {row.unit_set}" if row.unit_set else ""
    return f"{content}, {row.contest}{station}{units}; no container is on record"


def _permissions(container: Box | Envelope) -> tuple[tuple[str, str], ...]:
    """Return the permissions in force or not that name a container, newest first."""
    items = container.permission_items.select_related("permission").order_by("-id")
    return tuple(
        (item.permission.number, f"{item.permission.get_act_display()}: "
         f"{item.permission}")
        for item in items
    )  # fmt: skip
