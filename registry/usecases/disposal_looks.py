"""Looking at disposals: what stands against one, those done, and what comes next."""

from dataclasses import dataclass
from datetime import datetime

from registry.models import DisposalBatch, Permission
from registry.queries.containers import ContainerRow
from registry.queries.disposals import (
    DisposalRow,
    Standing,
    disposal_rows,
    levels_asked,
    outermost,
    over_and_still_here,
    standings,
)
from registry.queries.find import the
from registry.queries.permissions import (
    PermissionRow,
    foremost,
    naming,
    permission_rows,
)
from registry.queries.scope import boxes_of, envelopes_of, of_elections_in_scope
from registry.queries.timeline import TimelineEntry, timeline_of
from registry.rules.disposal_facts import Act
from registry.rules.powers import Actor, Power
from registry.usecases._door import note_access, usecase
from registry.usecases.boxes import container_of


@dataclass(frozen=True)
class Preview:
    """One container, and how it stands with the permission it would rely on."""

    standing: Standing
    permission: PermissionRow | None
    others: tuple[PermissionRow, ...]


@usecase("disposal.preview", power=Power.LOOK, subject="container")
def preview_disposal(
    *, container: str, permission: str = "", actor: Actor, at: datetime
) -> Preview:
    """Say what stands against disposing of a container, before anybody is called in.

    Args:
        permission: the one to ask about; without it, the one that would be relied on.
    """
    of = container_of(actor, container)
    rows = of_elections_in_scope(Permission.objects.all(), actor)
    naming_it = permission_rows(naming(rows, Act.DESTROY, of.number), at)
    chosen = foremost(naming_it)
    relied_on = None
    if permission:
        relied_on = the(rows, permission, "permission")
    elif chosen:
        relied_on = rows.get(number=chosen.number)
    standing = standings([of], relied_on, actor.name, at)[0]
    note_access(of.number, obstacles=len(standing.obstacles))
    row = permission_rows(rows.filter(pk=relied_on.pk), at)[0] if relied_on else None
    return Preview(
        standing, row, tuple(p for p in naming_it if not row or p.number != row.number)
    )


@dataclass(frozen=True)
class DisposalsShown:
    """The disposals that were carried out, and what could be looked at next."""

    disposals: tuple[DisposalRow, ...]
    over: tuple[ContainerRow, ...]


@usecase("disposal.list", power=Power.LOOK_AT_PERMISSIONS)
def list_disposals(*, actor: Actor, at: datetime) -> DisposalsShown:
    """List the disposals, and the containers whose time of keeping is over."""
    batches = of_elections_in_scope(DisposalBatch.objects.all(), actor)
    over = over_and_still_here(boxes_of(actor), envelopes_of(actor), at)
    found = disposal_rows(batches)
    note_access(
        shown=[*(row.number for row in over), *(row.number for row in found)],
        disposals=len(found),
        over=len(over),
    )
    return DisposalsShown(tuple(found), tuple(over))


@dataclass(frozen=True)
class DisposalFile:
    """Everything that a disposal's page shows."""

    row: DisposalRow
    method: str
    level: str
    witnesses: tuple[str, str]
    recorded_at: datetime
    remarks: str
    items: tuple[tuple[str, str, str], ...]
    digest: str
    entries: tuple[TimelineEntry, ...]


@usecase("disposal.look", power=Power.LOOK_AT_PERMISSIONS, subject="disposal")
def look_at_disposal(*, disposal: str, actor: Actor, at: datetime) -> DisposalFile:
    """Open a disposal's page: by its own number, or by its certificate's."""
    rows = of_elections_in_scope(DisposalBatch.objects.all(), actor)
    by_certificate = rows.filter(certificate__number=disposal.strip().upper()).first()
    of = by_certificate or the(rows, disposal, "disposal")
    items = of.items.select_related("box", "envelope").order_by("id")
    shown_items = tuple(
        (
            str(item.box or item.envelope),
            "box" if item.box_id else "envelope",
            str(item.reasoning.get("summary", "")),
        )
        for item in items
    )
    note_access(of.number, shown=[number for number, _, _ in shown_items])
    return DisposalFile(
        row=disposal_rows(rows.filter(pk=of.pk))[0],
        method=of.method,
        level=of.particle_level,
        witnesses=(of.first_witness, of.second_witness),
        recorded_at=of.recorded_at,
        remarks=of.remarks,
        items=shown_items,
        digest=of.certificate.document.digest,
        entries=tuple(timeline_of(of)),
    )


@dataclass(frozen=True)
class DisposalAhead:
    """What may be disposed of under a permission, and how each thing stands."""

    permission: PermissionRow | None
    choices: tuple[PermissionRow, ...]
    standings: tuple[Standing, ...]
    levels_asked: tuple[tuple[str, str], ...]


@usecase("disposal.prepare", power=Power.DISPOSE, subject="permission")
def prepare_disposal(
    *, permission: str = "", actor: Actor, at: datetime
) -> DisposalAhead:
    """Say what can be disposed of under a permission; without one, which there are."""
    rows = of_elections_in_scope(Permission.objects.all(), actor)
    if not permission:
        to_destroy = permission_rows(rows.filter(act=Act.DESTROY), at)
        choices = tuple(row for row in to_destroy if row.state == "in force")
        note_access(shown=[row.number for row in choices])
        return DisposalAhead(None, choices, (), ())
    of = the(rows, permission, "permission")
    seen = outermost(of, boxes_of(actor), envelopes_of(actor))
    found = standings(seen, of, actor.name, at)
    note_access(of.number, shown=[standing.number for standing in found])
    return DisposalAhead(
        permission_rows(rows.filter(pk=of.pk), at)[0],
        (),
        tuple(found),
        levels_asked(of.election, {container.kind for container in seen}),
    )
