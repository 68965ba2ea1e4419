"""Papers for the table: the receipt of an intake, the reasoning of a container.

Each printing is entered like a look, for whoever holds the paper has seen the record.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime

from registry.documents.reasoning import Reasoning, reasoning_pdf
from registry.documents.receipts import Receipt, ReceivedContainer, receipt_pdf
from registry.models import (
    Box,
    ContainerState,
    Envelope,
    Intake,
    SealAct,
    SealEvent,
)
from registry.queries.as_known import row_known
from registry.queries.intakes import containers_of
from registry.queries.keeping import Keeper, legal_zone
from registry.rules.pictures import retention_picture
from registry.rules.powers import Actor, Power
from registry.usecases._door import Refused, note_access, usecase
from registry.usecases._labelled import (
    content_of,
    noun_of,
    seal_in_words,
    station_of,
)
from registry.usecases.boxes import container_of
from registry.usecases.intake import intake_of
from registry.usecases.two_clocks import settle


@dataclass(frozen=True)
class Printed:
    """A paper as it goes to the printer."""

    file_name: str
    content: bytes
    media_type: str = "application/pdf"


@usecase("receipt.print", power=Power.KEEP, subject="intake")
def print_receipt(*, intake: str, actor: Actor, at: datetime) -> Printed:
    """Print the receipt of an intake, for both sides to sign.

    Raises:
        Refused: nothing was logged with it yet.
    """
    of = intake_of(actor, intake)
    containers = _all_of(of)
    if not containers:
        raise Refused(f"Nothing was logged with {of.number} yet: there is no receipt.")
    note_access(of.number, shown=[container.number for container in containers])
    zone = legal_zone(containers[0].election)
    receipt = Receipt(
        number=of.number,
        election=_named(c.election for c in containers),
        constituency=_named(c.contest for c in containers),
        room=str(of.room),
        delivered_by=of.delivered_by or "not stated",
        delivered_for=_named(_office(c) for c in containers),
        received_by=of.received_by.name
        if of.received_by
        else "the registry's terminal",
        received_at=_begun_at(of).astimezone(zone),
        containers=tuple(_received(c) for c in containers),
        made_at=at.astimezone(zone),
        made_by=actor.name,
        remarks=f"Taken in from the list {of.file_name}." if of.file_name else "",
    )
    return Printed(f"receipt-{of.number}.pdf", receipt_pdf(receipt))


@usecase("reasoning.print", power=Power.LOOK, subject="container")
def print_reasoning(
    *,
    container: str,
    as_of: date | None = None,
    known_at: datetime | None = None,
    actor: Actor,
    at: datetime,
) -> Printed:
    """Print how long a container is kept and why, as of a day.

    Args:
        known_at: reckon with what the register knew at that moment.

    Raises:
        Refused: its contest is not known, so that there is nothing to reckon with; or
            it was not yet in the register at that moment.
    """
    now = container_of(actor, container)
    note_access(now.number)
    day, known_at = settle(now.election, as_of, known_at, at)
    of = row_known(now, known_at)
    if of is None:
        raise Refused(f"{now.number} was not yet in the register at that moment.")
    keeper = Keeper(day, known_at)
    held = keeper.container(of)
    if held is None or of.election is None:
        raise Refused(
            "It is not known which contest this container stands for, so it is kept. "
            "There is no reasoning to print before that is found out."
        )
    schedule = keeper.schedule(of.election)
    zone = legal_zone(of.election)
    reasoning = Reasoning(
        number=of.number,
        noun=noun_of(of),
        content_title=of.get_kind_display(),
        election=str(of.election),
        constituency=str(of.contest),
        station=station_of(of),
        as_of=day,
        known_at=known_at.astimezone(zone) if known_at else None,
        summary=held.summary,
        retain_through=held.retain_through,
        may_be_disposed_from=held.may_be_disposed_from,
        steps=held.steps,
        picture=retention_picture(held),
        schedule_text=f"{schedule.title}, version {schedule.version}; {schedule.order}",
        calendar_text=of.election.calendar.name,
        made_at=at.astimezone(zone),
        made_by=actor.name,
    )
    return Printed(f"reasoning-{of.number}.pdf", reasoning_pdf(reasoning))


def _all_of(intake: Intake) -> list[Box | Envelope]:
    boxes, envelopes = containers_of(intake)
    common = ("election__schedule", "contest", "intake")
    return [
        *boxes.select_related(*common).prefetch_related("seals", "discrepancies"),
        *envelopes.select_related(*common, "station", "unit_set").prefetch_related(
            "seals", "discrepancies"
        ),
    ]


def _received(container: Box | Envelope) -> ReceivedContainer:
    """Return a container as it came in: with the seals it bore at the door."""
    open_points = tuple(
        d.detail or d.get_kind_display()
        for d in container.discrepancies.all()
        if d.resolved_at is None
    )
    seals = [seal for seal in container.seals.all() if seal.supersedes_id is None]
    broken = SealEvent.objects.filter(seal__in=seals, act=SealAct.FOUND_BROKEN).exists()
    return ReceivedContainer(
        number=container.number,
        noun=noun_of(container),
        content_title=content_of(container),
        station=station_of(container),
        seals=tuple(seal_in_words(seal) for seal in seals),
        condition="seal not intact" if broken else ("seals intact" if seals else ""),
        count=getattr(container, "slip_count", None),
        quarantined=container.state == ContainerState.QUARANTINED,
        open_points=open_points,
    )


def _named(things: Iterable[object]) -> str:
    """Return each name once, in the order in which it came."""
    return ", ".join(dict.fromkeys(str(thing) for thing in things if thing)) or (
        "not known"
    )


def _office(container: Box | Envelope) -> str:
    contest = container.contest
    return contest.returning_officer if contest else ""


def _begun_at(intake: Intake) -> datetime:
    begun: datetime = intake.history.earliest("history_id").history_date
    return begun
