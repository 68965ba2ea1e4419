"""How a container stands at this instant: the facts that the disposal rules ask for."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from zoneinfo import ZoneInfo

from registry.models import (
    Box,
    ContainerState,
    CustodyMovement,
    Discrepancy,
    Envelope,
    Opening,
    Permission,
    PermissionItem,
    Seal,
    SealAct,
    SealEvent,
    SealFinding,
    SealState,
    StrongRoom,
    Whereabouts,
)
from registry.queries.incidents import Touched, incidents_by_touched, once_each
from registry.queries.keeping import Keeper, legal_date
from registry.rules.disposal_facts import (
    Act,
    ContainerFact,
    IncidentFact,
    PermissionFact,
)
from registry.rules.schedules import ContentKind

_HERE = (Whereabouts.SHELVED, Whereabouts.INTAKE)


@dataclass
class _Gathered:
    """What is on record about many containers, each asked for once."""

    inside: dict[int, list[Envelope]] = field(default_factory=lambda: defaultdict(list))
    seals: dict[tuple[str, int], list[Seal]] = field(
        default_factory=lambda: defaultdict(list)
    )
    last_checks: dict[int, SealEvent] = field(default_factory=dict)
    came_back_at: dict[tuple[str, int], datetime] = field(default_factory=dict)
    discrepancies: dict[tuple[str, int], list[str]] = field(
        default_factory=lambda: defaultdict(list)
    )
    box_opened_on: dict[int, date] = field(default_factory=dict)
    incidents: dict[Touched, list[IncidentFact]] = field(default_factory=dict)


def container_facts(
    containers: Sequence[Box | Envelope], keeper: Keeper
) -> list[ContainerFact]:
    """Return how boxes and envelopes stand, in the order given.

    The number of queries does not grow with the number of containers.
    """
    gathered = _gather(containers)
    return [_fact(each, keeper, gathered) for each in containers]


def container_fact(container: Box | Envelope, keeper: Keeper) -> ContainerFact:
    """Return how a box or an envelope stands."""
    return container_facts([container], keeper)[0]


def _gather(containers: Sequence[Box | Envelope]) -> _Gathered:
    gathered = _Gathered()
    boxes = [c.pk for c in containers if isinstance(c, Box)]
    envelopes = [c.pk for c in containers if isinstance(c, Envelope)]
    live = Envelope.objects.filter(box__in=boxes).exclude(state=ContainerState.DISPOSED)
    for envelope in live.select_related("contest__election").order_by("id"):
        gathered.inside[envelope.box_id or 0].append(envelope)
        envelopes.append(envelope.pk)
    _gather_seals(gathered, boxes, envelopes)
    _gather_returns(gathered, boxes, envelopes)
    _gather_discrepancies(gathered, boxes, envelopes)
    _gather_openings(gathered, containers)
    around = {c.box_id for c in containers if isinstance(c, Envelope) and c.box_id}
    gathered.incidents = incidents_by_touched(
        [*boxes, *around], envelopes, {c.room_id for c in containers}
    )
    return gathered


def _gather_seals(
    gathered: _Gathered, boxes: Sequence[int], envelopes: Sequence[int]
) -> None:
    standing = Seal.objects.not_superseded()
    found = standing.filter(box__in=boxes) | standing.filter(envelope__in=envelopes)
    for seal in found:
        gathered.seals[_key(seal.box_id, seal.envelope_id)].append(seal)
    ids = [seal.pk for seals in gathered.seals.values() for seal in seals]
    for event in SealEvent.objects.filter(seal__in=ids, act=SealAct.CHECKED).order_by(
        "id"
    ):
        gathered.last_checks[event.seal_id] = event


def _gather_returns(
    gathered: _Gathered, boxes: Sequence[int], envelopes: Sequence[int]
) -> None:
    acts = (
        CustodyMovement.Act.RETURNED,
        CustodyMovement.Act.FOUND,
        CustodyMovement.Act.TAKEN_OVER,
    )
    back = CustodyMovement.objects.filter(act__in=acts)
    found = back.filter(box__in=boxes) | back.filter(envelope__in=envelopes)
    for each in found.order_by("id"):
        gathered.came_back_at[_key(each.box_id, each.envelope_id)] = each.recorded_at


def _gather_discrepancies(
    gathered: _Gathered, boxes: Sequence[int], envelopes: Sequence[int]
) -> None:
    unresolved = Discrepancy.objects.filter(resolved_at__isnull=True)
    found = unresolved.filter(box__in=boxes) | unresolved.filter(envelope__in=envelopes)
    for each in found.order_by("id"):
        gathered.discrepancies[_key(each.box_id, each.envelope_id)].append(each.number)


def _gather_openings(gathered: _Gathered, containers: Iterable[Box | Envelope]) -> None:
    around = [c.box_id for c in containers if isinstance(c, Envelope) and c.box_id]
    openings = Opening.objects.filter(box__in=around).select_related("box__election")
    for opening in openings.order_by("id"):
        box = opening.box
        if box:
            opened_on = legal_date(box.election, opening.occurred_at)
            gathered.box_opened_on[box.pk] = opened_on


def _key(box_id: int | None, envelope_id: int | None) -> tuple[str, int]:
    return ("box", box_id) if box_id else ("envelope", envelope_id or 0)


def _fact(
    container: Box | Envelope, keeper: Keeper, gathered: _Gathered
) -> ContainerFact:
    if isinstance(container, Box):
        return _box_fact(container, keeper, gathered)
    return _envelope_fact(container, keeper, gathered)


def _box_fact(box: Box, keeper: Keeper, gathered: _Gathered) -> ContainerFact:
    inside = gathered.inside[box.pk]
    key = ("box", box.pk)
    intact, checked_on = _seals(gathered, key)
    return ContainerFact(
        number=box.number,
        noun="box",
        kind=ContentKind(box.kind),
        state=box.state,
        whereabouts_present=box.whereabouts in _HERE,
        whereabouts=box.get_whereabouts_display(),
        seal_intact=intact,
        seal_checked_on=checked_on,
        open_discrepancies=tuple(gathered.discrepancies[key]),
        incidents=_incidents(gathered, key, ("room", box.room_id)),
        retention=keeper.box(box, [envelope.station_id for envelope in inside]),
        contents=tuple(_envelope_fact(e, keeper, gathered, box) for e in inside),
    )


def _envelope_fact(
    envelope: Envelope, keeper: Keeper, gathered: _Gathered, box: Box | None = None
) -> ContainerFact:
    """Return how an envelope stands; one in a box is where the box is."""
    around = box or envelope.box
    here = envelope.whereabouts in _HERE or (
        envelope.whereabouts == Whereabouts.IN_BOX
        and around is not None
        and around.whereabouts in _HERE
    )
    key = ("envelope", envelope.pk)
    intact, checked_on = _seals(gathered, key)
    return ContainerFact(
        number=envelope.number,
        noun="envelope",
        kind=ContentKind(envelope.kind),
        state=envelope.state,
        whereabouts_present=here,
        whereabouts=envelope.get_whereabouts_display(),
        seal_intact=intact,
        seal_checked_on=checked_on,
        open_discrepancies=tuple(gathered.discrepancies[key]),
        incidents=_incidents(gathered, key, *_outside(envelope, box)),
        retention=keeper.envelope(envelope),
        lies_in=around.number if around else "",
        box_opened_on=gathered.box_opened_on.get(around.pk) if around else None,
    )


def _outside(envelope: Envelope, box: Box | None) -> list[Touched]:
    """Return what else is asked about an envelope that is judged on its own.

    With its box it is judged as part of it: what touches the box is said of the box.
    """
    if box is not None:
        return []
    around: list[Touched] = [("room", envelope.room_id)]
    return [*around, ("box", envelope.box_id)] if envelope.box_id else around


def _incidents(gathered: _Gathered, *touched: Touched) -> tuple[IncidentFact, ...]:
    found = [fact for key in touched for fact in gathered.incidents.get(key, ())]
    return once_each(found)


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


def _seals(
    gathered: _Gathered, key: tuple[str, int]
) -> tuple[bool | None, date | None]:
    """Return whether all its seals were found intact, and since when all are checked.

    A seal that was found broken counts until another supersedes it. None where a seal
    was never checked, or none is on record; what was seen before a container was out
    or lost says nothing of the seal that it came back with.
    """
    live = gathered.seals[key]
    checks = [
        gathered.last_checks[seal.pk]
        for seal in live
        if seal.pk in gathered.last_checks
    ]
    broken = any(seal.state == SealState.BROKEN for seal in live)
    if broken or any(check.finding != SealFinding.MATCHES for check in checks):
        return False, max((check.occurred_on for check in checks), default=None)
    back = gathered.came_back_at.get(key)
    if back:
        checks = [check for check in checks if check.recorded_at >= back]
    if not live or len(checks) < len(live):
        return None, None
    return True, min(check.occurred_on for check in checks)


def conditions_of(permission: Permission) -> list[str]:
    """Return a permission's conditions, one to a line."""
    return [line.strip() for line in permission.conditions.splitlines() if line.strip()]


def covered_by(permission: Permission) -> frozenset[str]:
    """Return the register numbers that a permission names."""
    items = PermissionItem.objects.filter(permission=permission)
    return frozenset(
        number
        for row in items.values_list("box__number", "envelope__number", "room__number")
        for number in row
        if number
    )


def permission_fact(
    permission: Permission, conditions_met: Sequence[str] = ()
) -> PermissionFact:
    """Return a permission as the rules know it, its times in the legal zone."""
    zone = ZoneInfo(permission.election.legal_zone)
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
        covers=covered_by(permission),
        while_still_kept=permission.while_still_kept,
        instead_of_confirmation=permission.instead_of_confirmation,
        conditions_unmet=tuple(
            line for line in conditions_of(permission) if line not in conditions_met
        ),
    )
