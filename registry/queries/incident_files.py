"""Incidents as their pages and their report to the authority show them."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime

from django.db.models import Count, QuerySet

from registry.models import Box, Envelope, Incident, IncidentItem, IncidentStep
from registry.queries.containers import container_rows
from registry.queries.keeping import Keeper
from registry.queries.timeline import TimelineEntry, timeline_of


@dataclass(frozen=True)
class IncidentRow:
    """An incident in a list.

    Attributes:
        containers: how many it touches.
        is_overdue: open past its day.
    """

    number: str
    kind: str
    what: str
    room: str
    room_number: str
    noticed_at: datetime
    owner: str
    due_on: date
    whole_room: bool
    containers: int
    closed_at: datetime | None
    is_overdue: bool


@dataclass(frozen=True)
class TouchedRow:
    """A container that an incident touches, with how long it is kept and why."""

    number: str
    noun: str
    title: str
    whereabouts: str
    condition: str
    kept: str
    seals: str


@dataclass(frozen=True)
class StepRow:
    """One step of the follow-up."""

    act: str
    text: str
    reference: str
    document: str
    occurred_on: date
    recorded_at: datetime
    recorded_by: str


@dataclass(frozen=True)
class IncidentFile:
    """Everything that an incident's page shows."""

    row: IncidentRow
    kind: str
    what: str
    occurred_at: datetime | None
    noticed_by: str
    recorded_at: datetime
    recorded_by: str
    closed_by: str
    closed_because: str
    is_directed: bool
    may_be_closed: bool
    touched: tuple[TouchedRow, ...]
    hidden: int
    steps: tuple[StepRow, ...]
    timeline: tuple[TimelineEntry, ...]


def incident_rows(rows: QuerySet[Incident], on: date) -> list[IncidentRow]:
    """Return incidents as rows, in the order given."""
    counted = rows.select_related("room", "owner").annotate(things=Count("items"))
    return [_row(row, row.things, on) for row in counted]


def _row(row: Incident, things: int, on: date) -> IncidentRow:
    return IncidentRow(
        number=row.number,
        kind=row.get_kind_display(),
        what=row.what,
        room=str(row.room),
        room_number=row.room.number,
        noticed_at=row.noticed_at,
        owner=row.owner.name,
        due_on=row.due_on,
        whole_room=row.whole_room,
        containers=things,
        closed_at=row.closed_at,
        is_overdue=row.closed_at is None and row.due_on < on,
    )


def incident_file(
    incident: Incident,
    boxes: QuerySet[Box],
    envelopes: QuerySet[Envelope],
    on: date,
) -> IncidentFile:
    """Gather what an incident's page shows.

    Args:
        boxes, envelopes: those the asker may see; of others only the count is told.
    """
    items = list(incident.items.order_by("id"))
    touched = _touched(items, boxes, envelopes, on)
    steps = list(
        incident.steps.select_related("document", "recorded_by").order_by("id")
    )
    acts = {step.act for step in steps}
    known = {IncidentStep.Act.REPORTED, IncidentStep.Act.DIRECTED}
    return IncidentFile(
        row=_row(incident, len(items), on),
        kind=incident.kind,
        what=incident.what,
        occurred_at=incident.occurred_at,
        noticed_by=incident.noticed_by,
        recorded_at=incident.recorded_at,
        recorded_by=incident.recorded_by.name,
        closed_by=incident.closed_by.name if incident.closed_by else "",
        closed_because=incident.closed_because,
        is_directed=IncidentStep.Act.DIRECTED in acts,
        may_be_closed=incident.closed_at is None and bool(acts & known),
        touched=touched,
        hidden=len(items) - len(touched),
        steps=tuple(_step(step) for step in steps),
        timeline=tuple(timeline_of(incident)),
    )


def _touched(
    items: Sequence[IncidentItem],
    boxes: QuerySet[Box],
    envelopes: QuerySet[Envelope],
    on: date,
) -> tuple[TouchedRow, ...]:
    conditions = {(i.box_id, i.envelope_id): i.condition for i in items}
    keeper = Keeper(on)
    found: list[TouchedRow] = []
    for rows, key in (
        (boxes.filter(pk__in=[i.box_id for i in items if i.box_id]), "box"),
        (envelopes.filter(pk__in=[i.envelope_id for i in items if i.envelope_id]),
         "envelope"),
    ):  # fmt: skip
        ordered = rows.order_by("id")
        ids = dict(ordered.values_list("number", "id"))
        seals = _seals(ordered)
        for row in container_rows(ordered, keeper):
            pk = ids[row.number]
            found.append(
                TouchedRow(
                    number=row.number,
                    noun=row.noun,
                    title=" ".join(
                        filter(None, [row.content + ",", row.constituency, row.label])
                    ),
                    whereabouts=row.shelf or row.box or row.whereabouts,
                    condition=conditions[(pk, None) if key == "box" else (None, pk)],
                    kept=row.kept_because,
                    seals=seals.get(row.number, ""),
                )
            )
    return tuple(found)


def _seals(rows: QuerySet[Box] | QuerySet[Envelope]) -> dict[str, str]:
    found = {}
    for container in rows.prefetch_related("seals"):
        live = [s for s in container.seals.all() if s.state != "superseded"]
        found[container.number] = ", ".join(
            f"{s.get_kind_display()} {s.serial}".strip() for s in live
        )
    return found


def _step(step: IncidentStep) -> StepRow:
    return StepRow(
        act=step.get_act_display(),
        text=step.text,
        reference=step.reference,
        document=step.document.number if step.document else "",
        occurred_on=step.occurred_on,
        recorded_at=step.recorded_at,
        recorded_by=step.recorded_by.name,
    )
