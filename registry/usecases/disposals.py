"""Disposal: refused unless everything holds at that instant, in that transaction."""

from collections.abc import Sequence
from datetime import datetime

from registry.documents.certificates import DisposedContainer
from registry.models import (
    Box,
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
from registry.queries.disposals import DisposalPlan, Judged, judge_disposal
from registry.queries.find import the
from registry.queries.keeping import legal_date
from registry.queries.permissions import list_digest, things_of
from registry.queries.scope import of_elections_in_scope
from registry.rules.disposal_facts import ContainerFact
from registry.rules.powers import Actor, Power
from registry.usecases._certificates import certified, certify, reasoning_as_data
from registry.usecases._door import Mistaken, Refused, note_access, usecase
from registry.usecases._records import enter, enter_many
from registry.usecases.boxes import container_of, place_of
from registry.usecases.cases import lock_contests

__all__ = ["DisposalPlan", "dispose_of", "review_disposal"]


@usecase("disposal.carry_out", power=Power.DISPOSE, subject="permission")
def dispose_of(
    *, plan: DisposalPlan, permission: str, actor: Actor, at: datetime
) -> str:
    """Dispose of containers under a permission; returns the certificate's number.

    Everything is asked again here, under lock: a petition or a revocation entered a
    moment before is seen, one entered a moment later waits and finds them gone.

    Raises:
        Mistaken: nothing is named, or the place is missing, or a text is too long.
        Refused: with every obstacle of every container; nothing was changed.
    """
    _check_plan(plan)
    found = [container_of(actor, number) for number in plan.containers]
    note_access(meant=[of.number for of in found])
    _lock_contests_of(found)
    relied_on = _locked_permission(permission, actor)
    judged = judge_disposal(_lock(found), relied_on, plan, actor.name, at)
    _refuse_obstacles(relied_on, judged)
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
            disposed_by_id=actor.person_id,  # type: ignore[misc] # a person: the door saw to it
            remarks=plan.remarks.strip(),
        )
    )
    disposed = [paper for one in judged for paper in _end(one, batch, actor, at)]
    kinds = {one.container.kind for one in judged}
    certificate = certify(batch, disposed, kinds, actor, at)
    note_access(
        relied_on.number,
        shown=[paper.number for paper in disposed],
        certificate=certificate.number,
        disposal=batch.number,
    )
    return certificate.number


@usecase("disposal.review", power=Power.DISPOSE, subject="permission")
def review_disposal(
    *, plan: DisposalPlan, permission: str, actor: Actor, at: datetime
) -> None:
    """Ask everything that a disposal asks, without doing it.

    Raises:
        Refused: with every obstacle of every container.
    """
    _check_plan(plan)
    relied_on = _locked_permission(permission, actor)
    containers = [container_of(actor, number) for number in plan.containers]
    note_access(meant=[of.number for of in containers])
    judged = judge_disposal(containers, relied_on, plan, actor.name, at)
    _refuse_obstacles(relied_on, judged)


_LONGEST = {"method": 160, "place": 200, "remarks": 400}


def _check_plan(plan: DisposalPlan) -> None:
    problems: dict[str, list[str]] = {}
    if not plan.containers:
        problems["containers"] = ["Name what is to be disposed of."]
    if not plan.place.strip():
        problems["place"] = ["Say where it is done."]
    for name, longest in _LONGEST.items():
        if len(getattr(plan, name)) > longest:
            problems[name] = [f"Shorten this to {longest} characters."]
    if any(len(witness) > 160 for witness in plan.witnesses):
        problems["witnesses"] = ["Shorten names and posts to 160 characters."]
    if len(plan.witnesses) > 2:
        problems["witnesses"] = ["Name two witnesses; others go into the remarks."]
    if problems:
        raise Mistaken(problems)


def _locked_permission(number: str, actor: Actor) -> Permission:
    rows = of_elections_in_scope(Permission.objects.select_for_update(), actor)
    return the(rows, number, "permission")


def _lock_contests_of(containers: Sequence[Box | Envelope]) -> None:
    ids = {of.contest_id for of in containers if of.contest_id}
    lock_contests(list(Contest.objects.filter(pk__in=ids)))


def _lock(containers: Sequence[Box | Envelope]) -> list[Box | Envelope]:
    """Lock containers in one order; what is named with its box is named once."""
    found = {of.number: of for of in containers}
    boxes = {of.pk for of in found.values() if isinstance(of, Box)}
    locked: list[Box | Envelope] = []
    for number in sorted(found):
        of = found[number]
        if isinstance(of, Envelope) and of.box_id in boxes:
            continue
        rows = type(of).objects.select_for_update(of=("self",))
        locked.append(
            rows.select_related("election", "contest__election", "room").get(pk=of.pk)
        )
        if isinstance(of, Box):
            list(Envelope.objects.select_for_update().filter(box=of).order_by("pk"))
    return locked


def _refuse_obstacles(permission: Permission, judged: Sequence[Judged]) -> None:
    reasons = [o for one in judged for o in one.obstacles]
    found = list({o.text: o for o in reasons}.values())
    if permission.countersigned_at:
        numbers = [item.thing.number for item in things_of(permission)]
        if list_digest(permission, numbers) != permission.list_digest:
            raise Refused(
                f"The list of {permission.number} is not the one that was "
                "countersigned. Tell the auditor.",
                *found,
            )
    if found:
        raise Refused(*found)


def _end(
    judged: Judged, batch: DisposalBatch, actor: Actor, at: datetime
) -> list[DisposedContainer]:
    """Record the end of a container and of what lies in it, from the inside out."""
    by_number = {fact.number: fact for fact in judged.facts.contents}
    gone: list[tuple[Box | Envelope, ContainerFact]] = []
    if isinstance(judged.container, Box):
        inside = Envelope.objects.filter(box=judged.container, number__in=by_number)
        gone = [
            (envelope, by_number[envelope.number])
            for envelope in inside.select_related("station", "box", "room").order_by(
                "id"
            )
        ]
    everything = [(judged.container, judged.facts), *gone]
    for container, fact in everything:
        _enter_item(container, fact, batch)
    for container, _ in [*gone, (judged.container, judged.facts)]:
        _end_one(container, batch, actor, at)
    return [certified(container, fact) for container, fact in everything]


def _enter_item(
    container: Box | Envelope, fact: ContainerFact, batch: DisposalBatch
) -> None:
    item = DisposalItem(
        batch=batch,
        box=container if isinstance(container, Box) else None,
        envelope=container if isinstance(container, Envelope) else None,
        reasoning=reasoning_as_data(fact.retention),
    )
    item.save()


def _end_one(
    container: Box | Envelope, batch: DisposalBatch, actor: Actor, at: datetime
) -> None:
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
            box=container if isinstance(container, Box) else None,
            envelope=container if isinstance(container, Envelope) else None,
            from_place=from_place,
            to_place=f"disposed of, {batch.number}",
            from_person=actor.name,
            permission=batch.permission,
            occurred_at=at,
            recorded_at=at,
            recorded_by_id=actor.person_id,
        )
    )


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
