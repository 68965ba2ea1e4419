"""How a container stands at this instant: the facts that the disposal rules ask for."""

from collections.abc import Sequence
from datetime import date
from zoneinfo import ZoneInfo

from registry.models import (
    Box,
    Envelope,
    Permission,
    PermissionItem,
    SealAct,
    SealEvent,
    SealFinding,
    SealState,
    StrongRoom,
    Whereabouts,
)
from registry.queries.keeping import Keeper
from registry.rules.disposal_facts import Act, ContainerFact, PermissionFact

_HERE = (Whereabouts.SHELVED, Whereabouts.INTAKE)


def box_fact(box: Box, keeper: Keeper) -> ContainerFact:
    """Return how a box stands, with the live envelopes in it."""
    inside = [
        envelope_fact(envelope, keeper, box)
        for envelope in box.envelopes.select_related(
            "contest__election", "room"
        ).order_by("id")
    ]
    intact, checked_on = _seals(box)
    return ContainerFact(
        number=box.number,
        noun="box",
        state=box.state,
        whereabouts_present=box.whereabouts in _HERE,
        whereabouts=box.get_whereabouts_display(),
        seal_intact=intact,
        seal_checked_on=checked_on,
        open_discrepancies=_open_discrepancies(box),
        retention=keeper.box(box),
        contents=tuple(inside),
    )


def envelope_fact(
    envelope: Envelope, keeper: Keeper, box: Box | None = None
) -> ContainerFact:
    """Return how an envelope stands; one in a box is where the box is."""
    around = box or envelope.box
    here = envelope.whereabouts in _HERE or (
        envelope.whereabouts == Whereabouts.IN_BOX
        and around is not None
        and around.whereabouts in _HERE
    )
    intact, checked_on = _seals(envelope)
    return ContainerFact(
        number=envelope.number,
        noun="envelope",
        state=envelope.state,
        whereabouts_present=here,
        whereabouts=envelope.get_whereabouts_display(),
        seal_intact=intact,
        seal_checked_on=checked_on,
        open_discrepancies=_open_discrepancies(envelope),
        retention=keeper.envelope(envelope),
    )


def container_fact(container: Box | Envelope, keeper: Keeper) -> ContainerFact:
    """Return how a box or an envelope stands."""
    if isinstance(container, Box):
        return box_fact(container, keeper)
    return envelope_fact(container, keeper)


def room_fact(room: StrongRoom) -> ContainerFact:
    """Return a strong room as something that may be entered."""
    return ContainerFact(
        number=room.number,
        noun="strong room",
        state="held",
        whereabouts_present=True,
        whereabouts="here",
        seal_intact=None,
        seal_checked_on=None,
        open_discrepancies=(),
        retention=None,
    )


def _open_discrepancies(container: Box | Envelope) -> tuple[str, ...]:
    return tuple(
        container.discrepancies.filter(resolved_at__isnull=True)
        .order_by("id")
        .values_list("number", flat=True)
    )


def _seals(container: Box | Envelope) -> tuple[bool | None, date | None]:
    """Return whether all live seals were found intact, and since when all are checked.

    None where a live seal was never checked, or none is on record.
    """
    live = container.seals.filter(state=SealState.APPLIED).values_list("id", flat=True)
    last: dict[int, SealEvent] = {}
    for event in SealEvent.objects.filter(
        seal_id__in=list(live), act=SealAct.CHECKED
    ).order_by("id"):
        last[event.seal_id] = event
    if any(event.finding != SealFinding.MATCHES for event in last.values()):
        return False, max(event.occurred_on for event in last.values())
    if not live or len(last) < len(live):
        return None, None
    return True, min(event.occurred_on for event in last.values())


def conditions_of(permission: Permission) -> list[str]:
    """Return a permission's conditions, one to a line."""
    return [line.strip() for line in permission.conditions.splitlines() if line.strip()]


def permission_fact(
    permission: Permission, conditions_met: Sequence[str] = ()
) -> PermissionFact:
    """Return a permission as the rules know it, its times in the legal zone."""
    zone = ZoneInfo(permission.election.legal_zone)
    items = PermissionItem.objects.filter(permission=permission)
    covers = frozenset(
        number
        for row in items.values_list("box__number", "envelope__number", "room__number")
        for number in row
        if number
    )
    signed, revoked = permission.countersigned_at, permission.revoked_at
    return PermissionFact(
        number=permission.number,
        act=Act(permission.act),
        authority=permission.authority,
        order_ref=permission.order_ref,
        dated=permission.dated,
        valid_from=permission.valid_from,
        valid_until=permission.valid_until,
        countersigned_at=signed.astimezone(zone) if signed else None,
        revoked_at=revoked.astimezone(zone) if revoked else None,
        covers=covers,
        while_still_kept=permission.while_still_kept,
        conditions_unmet=tuple(
            line for line in conditions_of(permission) if line not in conditions_met
        ),
    )
