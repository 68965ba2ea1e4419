"""The paper of a disposal: what is gone, printed once and kept."""

from collections.abc import Sequence
from datetime import date, datetime
from zoneinfo import ZoneInfo

from registry.documents.certificates import Certificate as CertificatePaper
from registry.documents.certificates import (
    DisposedContainer,
    PermissionGiven,
    certificate_pdf,
)
from registry.models import Box, Certificate, Contest, DisposalBatch, Envelope
from registry.queries.covers import old_covers
from registry.queries.keeping import confirmation_for, legal_date, schedule_of
from registry.rules.disposal_facts import ContainerFact
from registry.rules.powers import Actor
from registry.rules.retention import Retention
from registry.rules.schedules import ContentKind, DestructionLevel
from registry.usecases._records import next_numbers
from registry.usecases.documents import keep_bytes


def certify(
    batch: DisposalBatch,
    disposed: Sequence[DisposedContainer],
    kinds: set[str],
    actor: Actor,
    at: datetime,
) -> Certificate:
    """Print the certificate of a disposal and keep it.

    Args:
        kinds: the classes of content disposed of; the finest level asked for any of
            them is the level ordered.
    """
    certificate = Certificate(batch=batch, issued_at=at)
    certificate.number = next_numbers("CF", 1)[0]
    paper = _paper(certificate, batch, disposed, _level_ordered(batch, kinds), actor)
    certificate.document = keep_bytes(
        f"Certificate {certificate.number} of disposal {batch.number}",
        certificate_pdf(paper),
        "application/pdf",
        "pdf",
    )
    certificate.save(force_insert=True)
    return certificate


def _level_ordered(batch: DisposalBatch, kinds: set[str]) -> str:
    classes = schedule_of(batch.election.schedule).classes
    fineness = list(DestructionLevel)
    asked = [classes[ContentKind(kind)].destruction_level for kind in kinds]
    return max(asked, key=fineness.index).value


def _paper(
    certificate: Certificate,
    batch: DisposalBatch,
    disposed: Sequence[DisposedContainer],
    level_ordered: str,
    actor: Actor,
) -> CertificatePaper:
    permission = batch.permission
    # Paper travels: the time is that of the place whose law holds.
    zone = ZoneInfo(batch.election.legal_zone)
    return CertificatePaper(
        number=certificate.number,
        batch=batch.number,
        election=batch.election.name,
        permission=PermissionGiven(
            number=permission.number,
            authority=permission.authority,
            order_ref=permission.order_ref,
            dated=permission.dated,
            valid_until=permission.valid_until,
            recorded_by=permission.recorded_by.name,
            countersigned_by=permission.countersigned_by.name,  # type: ignore[union-attr]
        ),
        confirmations=_confirmations(batch),
        method=batch.method,
        level_ordered=level_ordered,
        level_achieved=batch.particle_level,
        place=batch.place,
        disposed_at=batch.occurred_at.astimezone(zone),
        disposed_by=actor.name,
        witnesses=(batch.first_witness, batch.second_witness),
        containers=tuple(disposed),
        made_at=certificate.issued_at.astimezone(zone),
        made_by=actor.name,
        remarks=batch.remarks,
    )


def _confirmations(batch: DisposalBatch) -> tuple[str, ...]:
    contests = Contest.objects.filter(
        box_set__disposal_item__batch=batch
    ) | Contest.objects.filter(envelope_set__disposal_item__batch=batch)
    on = legal_date(batch.election, batch.occurred_at)
    lines = []
    for contest in contests.select_related("election").distinct().order_by("id"):
        confirmation = confirmation_for(contest, on)
        if confirmation:
            lines.append(
                f"{contest}: {confirmation.number}, dated "
                f"{confirmation.dated:%-d %B %Y}, through "
                f"{confirmation.covers_through:%-d %B %Y}"
            )
    return tuple(lines)


def certified(container: Box | Envelope, fact: ContainerFact) -> DisposedContainer:
    """Return a container as the certificate lists it."""
    assert fact.retention is not None
    assert fact.retention.retain_through is not None
    station = ""
    if isinstance(container, Envelope) and container.station:
        station = str(container.station)
    return DisposedContainer(
        number=container.number,
        noun=fact.noun,
        content_title=container.get_kind_display(),
        station=station,
        retain_through=fact.retention.retain_through,
        governed_by=fact.retention.governed_by,
        why=fact.retention.summary,
        old_covers=", ".join(old_covers(container)),
    )


def reasoning_as_data(retention: Retention | None) -> dict[str, object]:
    """Return a retention with its steps as plain data, to be kept with a record."""
    if retention is None:
        return {}
    return {
        "as_of": retention.as_of.isoformat(),
        "retain_through": _iso(retention.retain_through),
        "may_be_disposed_from": _iso(retention.may_be_disposed_from),
        "reason": retention.reason.value,
        "governed_by": retention.governed_by,
        "summary": retention.summary,
        "steps": [
            {"date": _iso(s.date), "text": s.text, "decides": s.decides}
            for s in retention.steps
        ],
    }


def _iso(day: date | None) -> str | None:
    return day.isoformat() if day else None
