"""Intakes as the intake table shows them: what came in, and what became of the last."""

from dataclasses import dataclass
from datetime import date

from django.db.models import QuerySet

from registry.models import Box, ContainerState, Contest, Election, Envelope, Intake
from registry.models import StrongRoom as Room
from registry.queries.containers import ContainerRow, container_rows
from registry.queries.keeping import Keeper

# The running list of an intake shows so many; the receipt names all.
NEWEST = 30


@dataclass(frozen=True)
class LastLogged:
    """The container logged last, and what of it may be carried over to the next.

    Attributes:
        written: its markings as written, by the marking's value.
        recognised_as: what it was recognised as; empty where nobody expected it.
    """

    number: str
    noun: str
    kind: str
    written: dict[str, str]
    recognised_as: str
    problems: tuple[str, ...]
    quarantined: bool
    box: str
    sealed_on: date | None
    seal_kind: str
    seal_maker: str
    paper: str


@dataclass(frozen=True)
class IntakeFile:
    """One intake: who brought what, and the newest of it."""

    number: str
    room: str
    room_number: str
    received_on: date
    delivered_by: str
    received_by: str
    file_name: str
    boxes: int
    envelopes: int
    quarantined: int
    rows: tuple[ContainerRow, ...]
    last: LastLogged | None


@dataclass(frozen=True)
class IntakeRow:
    """An intake in a list."""

    number: str
    room: str
    received_on: date
    delivered_by: str
    file_name: str
    containers: int


@dataclass(frozen=True)
class IntakeTable:
    """What may be chosen at the intake table, and the newest intakes."""

    elections: tuple[tuple[str, str], ...]
    contests: tuple[tuple[str, str], ...]
    rooms: tuple[tuple[str, str], ...]
    recent: tuple[IntakeRow, ...]


def containers_of(intake: Intake) -> tuple[QuerySet[Box], QuerySet[Envelope]]:
    """Return the boxes and the envelopes that came in with an intake, oldest first."""
    return (
        Box.objects.filter(intake=intake).order_by("id"),
        Envelope.objects.filter(intake=intake).order_by("id"),
    )


def intake_file(intake: Intake, as_of: date) -> IntakeFile:
    """Gather what the page of an intake shows."""
    boxes, envelopes = containers_of(intake)
    keeper = Keeper(as_of)
    rows = [
        *container_rows(_newest(boxes), keeper),
        *container_rows(_newest(envelopes), keeper),
    ]
    aside = {"state": ContainerState.QUARANTINED}
    return IntakeFile(
        number=intake.number,
        room=str(intake.room),
        room_number=intake.room.number,
        received_on=intake.received_on,
        delivered_by=intake.delivered_by,
        received_by=intake.received_by.name if intake.received_by else "a terminal",
        file_name=intake.file_name,
        boxes=boxes.count(),
        envelopes=envelopes.count(),
        quarantined=boxes.filter(**aside).count() + envelopes.filter(**aside).count(),
        rows=tuple(reversed(rows)),
        last=_last(boxes, envelopes),
    )


def _newest(
    rows: QuerySet[Box] | QuerySet[Envelope],
) -> QuerySet[Box] | QuerySet[Envelope]:
    ids = list(rows.order_by("-id").values_list("id", flat=True)[:NEWEST])
    return rows.model.objects.filter(id__in=ids).order_by("id")


def _last(boxes: QuerySet[Box], envelopes: QuerySet[Envelope]) -> LastLogged | None:
    found = [row for row in (boxes.last(), envelopes.last()) if row]
    if not found:
        return None
    # The history tells which of the two was entered later.
    return last_logged(max(found, key=_entered_at))


def _entered_at(container: Box | Envelope) -> tuple[object, int]:
    first = container.history.earliest("history_id")
    return first.history_date, isinstance(container, Envelope)


def last_logged(container: Box | Envelope) -> LastLogged:
    """Return what became of a container that was logged."""
    seal = container.seals.order_by("id").first()
    envelope = container if isinstance(container, Envelope) else None
    return LastLogged(
        number=container.number,
        noun="envelope" if envelope else "box",
        kind=container.kind,
        written={m.value: text for m, text in container.written.items()},
        recognised_as=_recognised_as(container),
        problems=tuple(
            d.detail or d.get_kind_display()
            for d in container.discrepancies.filter(resolved_at__isnull=True).order_by(
                "id"
            )
        ),
        quarantined=container.state == ContainerState.QUARANTINED,
        box=envelope.box.number if envelope and envelope.box else "",
        sealed_on=container.sealed_on,
        seal_kind=seal.kind if seal else "",
        seal_maker=seal.maker if seal else "",
        paper=envelope.paper if envelope else "",
    )


def _recognised_as(container: Box | Envelope) -> str:
    if container.contest is None:
        return ""
    parts = [str(container.contest)]
    if isinstance(container, Envelope):
        if container.station:
            parts.append(f"station {container.station}")
        if container.unit_set:
            parts.append(f"units {container.unit_set}")
    return ", ".join(parts)


def intake_table(
    elections: QuerySet[Election],
    contests: QuerySet[Contest],
    rooms: QuerySet[Room],
) -> IntakeTable:
    """Gather what may be chosen at the intake table."""
    recent = (
        Intake.objects.filter(room__in=rooms).select_related("room").order_by("-id")
    )
    return IntakeTable(
        elections=tuple((e.number, e.name) for e in elections.order_by("-id")),
        contests=tuple(
            (c.number, f"{c} ({c.election.code})")
            for c in contests.order_by("election_id", "id")
        ),
        rooms=tuple((r.number, r.name) for r in rooms.order_by("id")),
        recent=tuple(_intake_row(intake) for intake in recent[:10]),
    )


def _intake_row(intake: Intake) -> IntakeRow:
    boxes, envelopes = containers_of(intake)
    return IntakeRow(
        number=intake.number,
        room=str(intake.room),
        received_on=intake.received_on,
        delivered_by=intake.delivered_by,
        file_name=intake.file_name,
        containers=boxes.count() + envelopes.count(),
    )
