"""Papers for the table: labels, the receipt of an intake, the reasoning of a container.

Each printing is entered like a look, for whoever holds the paper has seen the record.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from zoneinfo import ZoneInfo

from registry.documents.labels import Label, LabelTooLong, Layout, label_pdf
from registry.documents.reasoning import Reasoning, reasoning_pdf
from registry.documents.receipts import Receipt, ReceivedContainer, receipt_pdf
from registry.models import (
    Box,
    ContainerState,
    Election,
    Envelope,
    Intake,
    Seal,
    SealAct,
    SealEvent,
    SealState,
)
from registry.queries.as_known import row_known
from registry.queries.intakes import containers_of
from registry.queries.keeping import Keeper, schedule_of
from registry.rules.pictures import retention_picture
from registry.rules.powers import Actor, Power
from registry.rules.retention import TRIGGER_TITLES
from registry.rules.schedules import ContentKind, Term
from registry.rules.wording import UNIT_NAMES
from registry.usecases._door import Refused, note_access, usecase
from registry.usecases.boxes import container_of
from registry.usecases.intake import intake_of
from registry.usecases.two_clocks import settle


@dataclass(frozen=True)
class Printed:
    """A paper as it goes to the printer."""

    file_name: str
    content: bytes
    media_type: str = "application/pdf"


@usecase("label.print", power=Power.KEEP, subject="container")
def print_label(
    *,
    container: str,
    with_contents: bool = False,
    single: bool = False,
    first_place: int = 1,
    actor: Actor,
    at: datetime,
) -> Printed:
    """Print the label of a container, or of a box and all its envelopes.

    Args:
        with_contents: a box's envelopes as well.
        single: one label to a page, for a label printer; else sheets of eight.
        first_place: where to begin on a part-used sheet, 1 to 8.

    Raises:
        Refused: a name is too long for a label, or the place is none of the sheet's.
    """
    of = container_of(actor, container)
    containers: list[Box | Envelope] = [of]
    if with_contents and isinstance(of, Box):
        containers += of.envelopes.order_by("id")
    shown = [container.number for container in containers]
    note_access(of.number, shown=shown, labels=len(containers))
    content = _labels(containers, single, first_place, actor, at)
    return Printed(f"label-{of.number}.pdf", content)


@usecase("label.print", power=Power.KEEP, subject="intake")
def print_intake_labels(
    *, intake: str, first_place: int = 1, actor: Actor, at: datetime
) -> Printed:
    """Print the labels of everything that came in with an intake."""
    of = intake_of(actor, intake)
    containers = _all_of(of)
    if not containers:
        raise Refused(f"Nothing was logged with {of.number} yet: there is no label.")
    note_access(
        of.number,
        shown=[container.number for container in containers],
        labels=len(containers),
    )
    content = _labels(containers, False, first_place, actor, at)
    return Printed(f"labels-{of.number}.pdf", content)


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
    zone = _zone(containers[0].election)
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
    zone = _zone(of.election)
    reasoning = Reasoning(
        number=of.number,
        noun=_noun(of),
        content_title=of.get_kind_display(),
        election=str(of.election),
        constituency=str(of.contest),
        station=_station(of),
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


def _labels(
    containers: Sequence[Box | Envelope],
    single: bool,
    first_place: int,
    actor: Actor,
    at: datetime,
) -> bytes:
    try:
        return label_pdf(
            [label_of(container) for container in containers],
            at.astimezone(_zone(containers[0].election)),
            actor.name,
            layout=Layout.SINGLE if single else Layout.SHEET,
            first_place=first_place,
        )
    except (LabelTooLong, ValueError) as error:
        raise Refused(str(error)) from error


def label_of(container: Box | Envelope) -> Label:
    """Return what stands on a container's label.

    What it stands for is printed where it is known, else what is written on it; the
    code holds the register number alone.
    """
    contest, units = container.contest, getattr(container, "unit_set", None)
    packet = container.kind == ContentKind.STATUTORY_PACKET.value
    bears_units = isinstance(container, Envelope) and not packet
    written_constituency = (
        f"{container.written_constituency_number} {container.written_constituency_name}"
    )
    return Label(
        number=container.number,
        noun=_noun(container),
        content_title=_content(container),
        election=str(container.election or container.written_election),
        constituency=str(contest or written_constituency.strip()),
        station=_station(container),
        control_unit=(units.control_unit_serial if units else
                      container.written_control_unit) if bears_units else None,
        paper_trail_unit=(units.paper_trail_serial if units else
                          container.written_paper_trail_unit) if bears_units else None,
        polled_on=_polled_on(container),
        counted_on=contest.counted_on if contest else None,
        sealed_on=container.sealed_on,
        seal_text=_seal_text(container),
        keep_rule_text=keep_rule(container),
    )  # fmt: skip


def keep_rule(container: Box | Envelope) -> str:
    """Return the rule of keeping in words, without a date, which a case may move."""
    if container.election is None:
        return "Keep until it is known what this is."
    schedule = schedule_of(container.election.schedule)
    rules = schedule.classes.get(ContentKind(container.kind))
    terms = rules.terms if rules else ()
    said = "; ".join(_term(term) for term in terms) or "no term is on file: keep"
    return f"{said}; longer while a case or an order holds it. Ask the register."


def _term(term: Term) -> str:
    one, many = UNIT_NAMES[term.period.unit.value]
    length = term.period.length
    events = " or ".join(TRIGGER_TITLES[trigger] for trigger in term.triggers)
    return f"{length} {one if length == 1 else many} after {events} ({term.clause})"


def _noun(container: Box | Envelope) -> str:
    return "Box" if isinstance(container, Box) else "Envelope"


def _content(container: Box | Envelope) -> str:
    more = container.label if isinstance(container, Box) else container.description
    title = container.get_kind_display()
    return f"{title}, {more}" if more else title


def _station(container: Box | Envelope) -> str:
    if isinstance(container, Envelope) and container.station:
        return str(container.station)
    number, name = container.written_station_number, container.written_station_name
    return f"{number} {name}".strip()


def _seal_text(container: Box | Envelope) -> str:
    live = [s for s in container.seals.all() if s.state == SealState.APPLIED]
    return ", ".join(_seal(seal) for seal in live)


def _seal(seal: Seal) -> str:
    signed = {True: ", signed", False: ", not signed", None: ""}[seal.signed]
    name = " ".join(filter(None, [seal.get_kind_display(), seal.serial]))
    return f"{name}{f' ({seal.maker})' if seal.maker else ''}{signed}"


def _polled_on(container: Box | Envelope) -> date | None:
    station = container.station if isinstance(container, Envelope) else None
    if station and station.polled_on:
        return station.polled_on
    return container.contest.polled_on if container.contest else None


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
        noun=_noun(container),
        content_title=_content(container),
        station=_station(container),
        seals=tuple(_seal(seal) for seal in seals),
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


def _zone(election: Election | None) -> ZoneInfo:
    return ZoneInfo(election.legal_zone if election else "UTC")
