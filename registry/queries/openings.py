"""What stands against opening, entering and taking out."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from django.db.models import QuerySet

from registry.models import Box, Envelope, Permission, SealState, StrongRoom
from registry.queries.containers import title_of
from registry.queries.disposals import OF_THE_DAY, ObstacleShown, obstacle_shown
from registry.queries.keeping import Keeper, confirmation_for, legal_date, schedule_of
from registry.queries.permissions import (
    PermissionRow,
    foremost,
    naming,
    permission_rows,
)
from registry.queries.standing import container_fact, permission_fact, room_fact
from registry.rules.disposal_facts import Act, Obstacle
from registry.rules.disposals import obstacles_to_opening


def judge_opening(
    of: Box | Envelope,
    act: Act,
    permission: Permission | None,
    conditions_met: Sequence[str],
    at: datetime,
) -> tuple[Obstacle, ...]:
    """Return everything that stands against opening or taking out a container now."""
    if of.election is None:
        called = f"{'Box' if isinstance(of, Box) else 'Envelope'} {of.number}"
        return (Obstacle("quarantined", {"container": called}),)
    on = legal_date(of.election, at)
    return obstacles_to_opening(
        act=act,
        container=container_fact(of, Keeper(on)),
        permission=permission_fact(permission, conditions_met) if permission else None,
        confirmation=confirmation_for(of.contest, on) if of.contest else None,
        schedule=schedule_of(of.election.schedule),
        on=on,
    )


def judge_entering(
    room: StrongRoom,
    permission: Permission,
    conditions_met: Sequence[str],
    at: datetime,
) -> tuple[Obstacle, ...]:
    """Return everything that stands against entering a strong room now."""
    return obstacles_to_opening(
        act=Act.ENTER_ROOM,
        container=room_fact(room),
        permission=permission_fact(permission, conditions_met),
        confirmation=None,
        schedule=schedule_of(permission.election.schedule),
        on=legal_date(permission.election, at),
    )


@dataclass(frozen=True)
class SealShown:
    """A live seal, as it is to be read aloud before it is broken."""

    number: str
    kind: str
    maker: str
    serial: str


@dataclass(frozen=True)
class OpeningAhead:
    """A container or room before it is opened, entered or taken out.

    Attributes:
        kind: what it holds; empty for a room.
        written: its markings as written, by their names.
        seen: number of its last movement, which the form carries back.
    """

    number: str
    noun: str
    title: str
    whereabouts: str
    gross_weight_kg: Decimal | None
    seals: tuple[SealShown, ...]
    permission: PermissionRow | None
    others: tuple[PermissionRow, ...]
    obstacles: tuple[ObstacleShown, ...]
    kind: str = ""
    written: tuple[tuple[str, str], ...] = ()
    seen: str = ""


def opening_ahead(
    of: Box | Envelope,
    act: Act,
    permissions: QuerySet[Permission],
    wanted: str,
    at: datetime,
) -> OpeningAhead:
    """Return how an opening or taking out stands with the permission relied on.

    Args:
        permissions: those the actor may see.
        wanted: the number of one that names the container; empty for the foremost.
    """
    rows, chosen = _choose(permissions, act, of.number, wanted, at)
    relied_on = permissions.get(number=chosen.number) if chosen else None
    found = judge_opening(of, act, relied_on, (), at)
    is_box = isinstance(of, Box)
    return OpeningAhead(
        number=of.number,
        noun="box" if is_box else "envelope",
        title=title_of(of),
        whereabouts=of.get_whereabouts_display(),
        gross_weight_kg=getattr(of, "gross_weight_kg", None),
        seals=tuple(
            SealShown(s.number, s.get_kind_display(), s.maker, s.serial)
            for s in of.seals.filter(state=SealState.APPLIED).order_by("id")
        ),
        permission=chosen,
        others=tuple(row for row in rows if row is not chosen),
        obstacles=tuple(obstacle_shown(o) for o in found if o.code not in OF_THE_DAY),
        kind=of.kind,
        written=tuple((m.value, text) for m, text in of.written.items()),
    )


def entering_ahead(
    room: StrongRoom, permissions: QuerySet[Permission], wanted: str, at: datetime
) -> OpeningAhead:
    """Return how entering a room stands with the permission relied on."""
    rows, chosen = _choose(permissions, Act.ENTER_ROOM, room.number, wanted, at)
    found: tuple[Obstacle, ...] = (Obstacle("no-permission", {}),)
    if chosen:
        found = judge_entering(room, permissions.get(number=chosen.number), (), at)
    return OpeningAhead(
        number=room.number,
        noun="strong room",
        title=str(room),
        whereabouts="",
        gross_weight_kg=None,
        seals=(),
        permission=chosen,
        others=tuple(row for row in rows if row is not chosen),
        obstacles=tuple(obstacle_shown(o) for o in found if o.code not in OF_THE_DAY),
    )


def _choose(
    permissions: QuerySet[Permission], act: Act, number: str, wanted: str, at: datetime
) -> tuple[list[PermissionRow], PermissionRow | None]:
    rows = permission_rows(naming(permissions, act, number), at)
    named = next((row for row in rows if row.number == wanted), None)
    return rows, named or foremost(rows)
