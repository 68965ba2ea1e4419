"""Disposal: refused unless everything holds at that instant, in that transaction."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime

from registry.documents.certificates import Certificate as CertificatePaper
from registry.documents.certificates import (
    DisposedContainer,
    PermissionGiven,
    certificate_pdf,
)
from registry.models import (
    Box,
    Certificate,
    ContainerState,
    Contest,
    CustodyMovement,
    DisposalBatch,
    DisposalItem,
    Envelope,
    Permission,
    Seal,
    SealAct,
    SealEvent,
    SealState,
    Whereabouts,
)
from registry.queries.find import the
from registry.queries.keeping import Keeper, confirmation_for, legal_date
from registry.queries.scope import of_elections_in_scope
from registry.queries.standing import container_fact, permission_fact
from registry.rules.disposal_facts import (
    ConfirmationFact,
    ContainerFact,
    Obstacle,
    PermissionFact,
)
from registry.rules.disposals import obstacles_to_disposal
from registry.rules.powers import Actor, Power
from registry.rules.retention import Retention
from registry.rules.schedules import ContentKind, Schedule
from registry.usecases._door import Mistaken, Refused, note_access, usecase
from registry.usecases._records import enter, enter_many, next_numbers
from registry.usecases.boxes import container_of, place_of
from registry.usecases.cases import lock_contests
from registry.usecases.documents import keep_bytes
from registry.usecases.permissions import list_digest

# What a preview cannot know yet: who will see it, and how it is done.
_OF_THE_DAY = frozenset(
    {"too-few-witnesses", "witness-is-custodian", "no-custodian", "no-method",
     "no-level", "condition-unmet"}
)  # fmt: skip


@dataclass(frozen=True)
class DisposalPlan:
    """How containers are to be disposed of.

    Attributes:
        containers: register numbers of boxes, or of envelopes outside boxes.
        method: in words, such as cross-cut shredding.
        level: particle level of ISO/IEC 21964, ``P-1`` to ``P-7``.
        witnesses: two names with posts; neither is the one who disposes.
        conditions_met: the permission's conditions, ticked off one by one.
    """

    containers: tuple[str, ...]
    permission: str
    method: str = ""
    level: str = ""
    place: str = ""
    witnesses: tuple[str, ...] = ()
    conditions_met: tuple[str, ...] = ()
    remarks: str = ""


@dataclass(frozen=True)
class Standing:
    """What stands against the disposal of one container."""

    number: str
    noun: str
    obstacles: tuple[str, ...]
    summary: str


@usecase("disposal.preview", power=Power.LOOK)
def preview_disposal(
    *, containers: Sequence[str], permission: str = "", actor: Actor, at: datetime
) -> tuple[Standing, ...]:
    """Say what stands against disposing of containers, before anybody is called in."""
    plan = DisposalPlan(containers=tuple(containers), permission=permission)
    relied_on = _permission(permission, actor) if permission else None
    found = []
    for number in containers:
        of = container_of(actor, number)
        facts, obstacles = _judge(of, relied_on, plan, actor, at)
        found.append(
            Standing(
                number=of.number,
                noun=facts.noun,
                obstacles=tuple(o.text for o in obstacles if o.code not in _OF_THE_DAY),
                summary=facts.retention.summary if facts.retention else "",
            )
        )
    subject = found[0].number if len(found) == 1 else ""
    note_access(subject, shown=[standing.number for standing in found])
    return tuple(found)


@usecase("disposal.carry_out", power=Power.DISPOSE, subject="permission")
def dispose_of(
    *, plan: DisposalPlan, permission: str, actor: Actor, at: datetime
) -> str:
    """Dispose of containers under a permission; returns the certificate's number.

    Everything is asked again here, under lock: a petition or a revocation entered a
    moment before is seen, one entered a moment later waits and finds them gone.

    Raises:
        Refused: with every obstacle of every container; nothing was changed.
    """
    if not plan.containers:
        raise Mistaken(containers="Name what is to be disposed of.")
    if not plan.place.strip():
        raise Mistaken(place="Say where it is done.")
    relied_on = _permission(permission, actor, locked=True)
    _refuse_a_changed_list(relied_on)
    containers = _lock(plan.containers, actor)
    judged = [(of, *_judge(of, relied_on, plan, actor, at)) for of in containers]
    obstacles = [o for _, _, found in judged for o in found]
    if obstacles:
        raise Refused(*dict.fromkeys(o.text for o in obstacles))
    batch = enter(
        DisposalBatch(
            election=relied_on.election,
            permission=relied_on,
            method=plan.method.strip(),
            particle_level=plan.level.strip(),
            place=plan.place.strip(),
            first_witness=plan.witnesses[0].strip(),
            second_witness=plan.witnesses[1].strip(),
            occurred_at=at,
            recorded_at=at,
            disposed_by_id=actor.person_id,
            remarks=plan.remarks.strip(),
        )
    )
    disposed = []
    for of, facts, _ in judged:
        disposed += _end(of, facts, batch, actor, at)
    certificate = _certify(batch, disposed, actor, at)
    note_access(
        relied_on.number,
        shown=[paper.number for paper in disposed],
        certificate=certificate.number,
    )
    return certificate.number


def _permission(number: str, actor: Actor, *, locked: bool = False) -> Permission:
    rows = of_elections_in_scope(Permission.objects.all(), actor)
    if locked:
        rows = rows.select_for_update()
    return the(rows, number, "permission")


def _refuse_a_changed_list(permission: Permission) -> None:
    if not permission.countersigned_at:
        return
    items = permission.items.select_related("box", "envelope", "room")
    if list_digest(permission, [i.thing.number for i in items]) != (
        permission.list_digest
    ):
        raise Refused(
            f"The list of {permission.number} is not the one that was countersigned. "
            "Tell the auditor."
        )


def _lock(numbers: Sequence[str], actor: Actor) -> list[Box | Envelope]:
    """Lock the contests first, in one order, then the containers."""
    found = [container_of(actor, number) for number in dict.fromkeys(numbers)]
    ids = {of.contest_id for of in found if of.contest_id}
    lock_contests(list(Contest.objects.filter(pk__in=ids)))
    locked: list[Box | Envelope] = []
    for of in sorted(found, key=lambda each: each.number):
        rows = type(of).objects.select_for_update(of=("self",))
        locked.append(rows.get(pk=of.pk))
        if isinstance(of, Box):
            list(Envelope.objects.select_for_update().filter(box=of).order_by("pk"))
    return locked


def _judge(
    of: Box | Envelope,
    permission: Permission | None,
    plan: DisposalPlan,
    actor: Actor,
    at: datetime,
) -> tuple[ContainerFact, tuple[Obstacle, ...]]:
    on = legal_date(of.election, at)
    keeper = Keeper(on)
    facts = container_fact(of, keeper)
    if of.election is None:
        return facts, (Obstacle("quarantined", {"container": facts.called}),)
    schedule: Schedule = keeper.schedule(of.election)
    relied_on: PermissionFact | None = None
    if permission:
        relied_on = permission_fact(permission, plan.conditions_met)
    confirmation: ConfirmationFact | None = None
    if of.contest:
        confirmation = confirmation_for(of.contest, on)
    return facts, obstacles_to_disposal(
        container=facts,
        permission=relied_on,
        confirmation=confirmation,
        schedule=schedule,
        kind=ContentKind(of.kind),
        witnesses=plan.witnesses,
        custodian=actor.name,
        method=plan.method,
        level=plan.level,
        on=on,
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


def _end(
    of: Box | Envelope,
    facts: ContainerFact,
    batch: DisposalBatch,
    actor: Actor,
    at: datetime,
) -> list[DisposedContainer]:
    """Record the end of a container and of what lies in it."""
    inside = list(of.envelopes.order_by("id")) if isinstance(of, Box) else []
    by_number = {fact.number: fact for fact in facts.contents}
    gone: list[tuple[Box | Envelope, ContainerFact]] = [
        (of, facts),
        *((envelope, by_number[envelope.number]) for envelope in inside),
    ]
    papers = []
    for container, fact in gone:
        item = DisposalItem(
            batch=batch,
            box=container if isinstance(container, Box) else None,
            envelope=container if isinstance(container, Envelope) else None,
            reasoning=reasoning_as_data(fact.retention),
        )
        item.save()
        from_place = place_of(container)
        container.state = ContainerState.DISPOSED
        container.whereabouts = Whereabouts.GONE
        if isinstance(container, Box):
            container.shelf = None
        container.save()
        _end_seals(container, actor, at, batch)
        enter(
            CustodyMovement(
                act=CustodyMovement.Act.DISPOSED,
                box=item.box,
                envelope=item.envelope,
                from_place=from_place,
                to_place=f"disposed of, {batch.number}",
                from_person=actor.name,
                permission=batch.permission,
                occurred_at=at,
                recorded_at=at,
                recorded_by_id=actor.person_id,
            )
        )
        papers.append(_paper(container, fact))
    return papers


def _end_seals(
    container: Box | Envelope, actor: Actor, at: datetime, batch: DisposalBatch
) -> None:
    seals = list(container.seals.filter(state=SealState.APPLIED))
    for seal in seals:
        seal.state = SealState.BROKEN
        seal.save()
    enter_many([seal_broken(seal, actor, at, batch.number) for seal in seals])


def seal_broken(seal: Seal, actor: Actor, at: datetime, under: str) -> SealEvent:
    """Return the event of a seal that was broken under a permission."""
    container = seal.box or seal.envelope
    return SealEvent(
        seal=seal,
        act=SealAct.BROKEN,
        occurred_on=legal_date(container.election if container else None, at),
        recorded_at=at,
        recorded_by_id=actor.person_id,
        note=f"Under {under}",
    )


def _paper(container: Box | Envelope, fact: ContainerFact) -> DisposedContainer:
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
    )


def _certify(
    batch: DisposalBatch,
    disposed: Sequence[DisposedContainer],
    actor: Actor,
    at: datetime,
) -> Certificate:
    certificate = Certificate(batch=batch, issued_at=at)
    certificate.number = next_numbers("CF", 1)[0]
    content = certificate_pdf(_certificate_paper(certificate, batch, disposed, actor))
    certificate.document = keep_bytes(
        f"Certificate {certificate.number} of disposal {batch.number}",
        content,
        "application/pdf",
        "pdf",
    )
    certificate.save(force_insert=True)
    return certificate


def _certificate_paper(
    certificate: Certificate,
    batch: DisposalBatch,
    disposed: Sequence[DisposedContainer],
    actor: Actor,
) -> CertificatePaper:
    permission = batch.permission
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
        level_ordered=batch.particle_level,
        level_achieved="",
        place=batch.place,
        disposed_at=batch.occurred_at,
        disposed_by=actor.name,
        witnesses=(batch.first_witness, batch.second_witness),
        containers=tuple(disposed),
        made_at=certificate.issued_at,
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
