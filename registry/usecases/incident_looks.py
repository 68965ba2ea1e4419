"""Looking at incidents, and drafting the report to the authority."""

from dataclasses import dataclass
from datetime import datetime

from registry.documents.incident_reports import (
    IncidentReport,
    TouchedContainer,
    incident_report_pdf,
)
from registry.models import Election, Incident, IncidentKind
from registry.queries.desk_day import day_at_desk
from registry.queries.find import the
from registry.queries.incident_files import (
    IncidentFile,
    IncidentRow,
    incident_file,
    incident_rows,
)
from registry.queries.incidents import incidents_of
from registry.queries.keeping import legal_zone
from registry.queries.people import may_answer_for_room
from registry.queries.scope import (
    boxes_of,
    elections_of,
    envelopes_of,
    rooms_of,
)
from registry.rules.powers import Actor, Power
from registry.usecases._answerable import answerable
from registry.usecases._door import note_access, usecase
from registry.usecases.boxes import container_of
from registry.usecases.papers import Printed

__all__ = [
    "KINDS",
    "IncidentFile",
    "list_incidents",
    "look_at_incident",
    "look_before_reporting_incident",
    "print_incident_report",
]

KINDS = tuple(IncidentKind.choices)


@usecase("incident.list", power=Power.LOOK)
def list_incidents(
    *, show: str = "open", actor: Actor, at: datetime
) -> tuple[IncidentRow, ...]:
    """List incidents within the actor's scope, the earliest due first.

    Args:
        show: ``open``, ``closed`` or ``all``.
    """
    rows = incidents_of(actor)
    if show != "all":
        rows = rows.filter(closed_at__isnull=show != "closed")
    note_access(show=show)
    on = day_at_desk(actor, at)
    return tuple(incident_rows(rows.order_by("closed_at", "due_on", "id"), on))


@usecase("incident.look", power=Power.LOOK, subject="incident")
def look_at_incident(*, incident: str, actor: Actor, at: datetime) -> IncidentFile:
    """Open an incident's page."""
    file = _file(incident, actor, at)
    note_access(file.row.number, shown=[row.number for row in file.touched])
    return file


def _file(incident: str, actor: Actor, at: datetime) -> IncidentFile:
    of = _the(incident, actor)
    on = day_at_desk(actor, at)
    return incident_file(of, boxes_of(actor), envelopes_of(actor), on)


def _the(incident: str, actor: Actor) -> Incident:
    rows = incidents_of(actor).select_related(
        "room", "owner", "recorded_by", "closed_by"
    )
    return the(rows, incident, "incident")


@dataclass(frozen=True)
class IncidentAhead:
    """What the form of a new incident offers.

    Attributes:
        rooms: (number, name) of those in the actor's charge.
        owners: (number, name) of the custodians of the room that was asked for.
        container: the container from whose page it is reported.
        due_on: the day by which it is followed up, unless another is given.
    """

    rooms: tuple[tuple[str, str], ...]
    room: str
    container: str
    owners: tuple[tuple[str, str], ...]
    reporter: str
    due_on: str


@usecase("incident.prepare", power=Power.KEEP, subject="container")
def look_before_reporting_incident(
    *, container: str = "", room: str = "", actor: Actor, at: datetime
) -> IncidentAhead:
    """Open the form of a new incident, for a container or a room."""
    rooms = rooms_of(actor).order_by("id")
    of = container_of(actor, container) if container else None
    where = of.room if of else rooms.filter(number=room).first() or rooms.first()
    note_access(of.number if of else "")
    due = answerable(where, at).due_on if where else day_at_desk(actor, at)
    return IncidentAhead(
        rooms=tuple(rooms.values_list("number", "name")),
        room=where.number if where else "",
        container=of.number if of else "",
        owners=tuple(may_answer_for_room(None).values_list("number", "name")),
        reporter=actor.name,
        due_on=due.isoformat(),
    )


@usecase("incident.print", power=Power.LOOK, subject="incident")
def print_incident_report(*, incident: str, actor: Actor, at: datetime) -> Printed:
    """Draft the report of an incident to the authority, as a PDF to be signed."""
    file = _file(incident, actor, at)
    election = elections_of(actor).order_by("id").first()
    zone = legal_zone(election)
    row = file.row
    note_access(row.number, shown=[touched.number for touched in file.touched])
    report = IncidentReport(
        number=row.number,
        to=_authority(election),
        kind=row.kind,
        what=file.what,
        room=row.room,
        whole_room=row.whole_room,
        occurred_at=file.occurred_at.astimezone(zone) if file.occurred_at else None,
        noticed_at=row.noticed_at.astimezone(zone),
        noticed_by=file.noticed_by,
        recorded_at=file.recorded_at.astimezone(zone),
        recorded_by=file.recorded_by,
        owner=row.owner,
        due_on=row.due_on,
        containers=tuple(
            TouchedContainer(
                t.number, t.title, t.whereabouts, t.seals, t.condition, t.kept
            )
            for t in file.touched
        ),
        hidden=file.hidden,
        steps=tuple(
            (s.occurred_on, s.act, " ".join(filter(None, [s.text, s.reference])))
            for s in file.steps
        ),
        made_at=at.astimezone(zone),
        made_by=actor.name,
    )
    content = incident_report_pdf(report)
    return Printed(f"incident-{row.number}.pdf", content)


def _authority(election: Election | None) -> str:
    return election.schedule.ordained_by if election else "The authority"
