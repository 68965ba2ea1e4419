"""Looking at what is out, and before going out or coming back."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from registry.models import Box, Envelope, Permission, Production
from registry.queries.containers import title_of
from registry.queries.desk_day import day_at_desk
from registry.queries.disposals import ObstacleShown
from registry.queries.find import the
from registry.queries.openings import opening_ahead
from registry.queries.permissions import PermissionRow
from registry.queries.productions import (
    ProductionFile,
    ProductionRow,
    named_here,
    out_now,
    production_file,
    productions_of,
    returned_lately,
)
from registry.queries.scope import of_elections_in_scope
from registry.rules.disposal_facts import Act
from registry.rules.powers import Actor, Power
from registry.usecases._door import Refused, note_access, usecase
from registry.usecases._outside import OUTSIDE
from registry.usecases._seal_checks import seals_in_force
from registry.usecases._seen import seen_of
from registry.usecases.boxes import container_of, place_of

__all__ = ["OutPage", "ProductionFile", "ProductionRow", "TakingOutAhead"]


@dataclass(frozen=True)
class OutPage:
    """What is out and what came back lately."""

    out: tuple[ProductionRow, ...]
    back: tuple[ProductionRow, ...]


@usecase("production.list", power=Power.LOOK)
def list_productions(*, actor: Actor, at: datetime) -> OutPage:
    """List what is out, with whom and until when, and what came back lately."""
    on = day_at_desk(actor, at)
    page = OutPage(tuple(out_now(actor, on)), tuple(returned_lately(actor, on, at)))
    note_access(shown=[row.container for row in (*page.out, *page.back)])
    return page


@usecase("production.look", power=Power.LOOK, subject="production")
def look_at_production(
    *, production: str, actor: Actor, at: datetime
) -> ProductionFile:
    """Show one container's way out and back."""
    of = production_of(production, actor)
    file = production_file(of, day_at_desk(actor, at))
    note_access(of.number, shown=[file.row.container])
    return file


def production_of(number: str, actor: Actor) -> Production:
    """Return a production within the actor's scope."""
    rows = productions_of(actor).select_related(
        "box__contest__election",
        "envelope__contest__election",
        "envelope__station",
        "permission__election",
        "taken_out__recorded_by",
        "returned",
    )
    return the(rows, number, "production")


@dataclass(frozen=True)
class ThingAhead:
    """A container before it is handed out; its seals are not told, they are read.

    Attributes:
        seals: what each live seal is made of, in the order in which it is asked for.
        seen: number of its last movement, which the form carries back.
    """

    number: str
    noun: str
    title: str
    place: str
    weight_kg: Decimal | None
    seals: tuple[str, ...]
    seen: str
    obstacles: tuple[ObstacleShown, ...]


@dataclass(frozen=True)
class TakingOutAhead:
    """Containers before they are handed out under one permission."""

    permission: PermissionRow | None
    others: tuple[PermissionRow, ...]
    things: tuple[ThingAhead, ...]
    obstacles: tuple[ObstacleShown, ...]


# The seals are read in the act itself, and what is asked of them with it.
_READ_IN_THE_ACT = frozenset({"seal-not-checked", "seal-check-too-old"})


@usecase("container.prepare_taking_out", power=Power.OPEN)
def prepare_taking_out(
    *, container: str = "", permission: str = "", actor: Actor, at: datetime
) -> TakingOutAhead:
    """Say what stands against handing out, before anything is touched.

    Args:
        container: the one that is to go; without it, all that the permission names
            and that is here, in the order of bay and shelf.
        permission: the one to rely on; without it, the one that would be.
    """
    rows = of_elections_in_scope(Permission.objects.all(), actor)
    if container:
        found: Sequence[Box | Envelope] = [container_of(actor, container)]
    else:
        found = named_here(the(rows, permission, "permission"), actor)
    aheads = [opening_ahead(of, Act.TAKE_OUT, rows, permission, at) for of in found]
    things = tuple(
        ThingAhead(
            number=of.number,
            noun=ahead.noun,
            title=ahead.title,
            place=place_of(of),
            weight_kg=ahead.gross_weight_kg,
            seals=tuple(s.get_kind_display() for s in seals_in_force(of)),
            seen=seen_of(of),
            obstacles=tuple(
                o for o in ahead.obstacles if o.code not in _READ_IN_THE_ACT
            ),
        )
        for of, ahead in zip(found, aheads, strict=True)
    )
    against = {o.text: o for thing in things for o in thing.obstacles}
    note_access(shown=[thing.number for thing in things])
    return TakingOutAhead(
        permission=aheads[0].permission if aheads else None,
        others=aheads[0].others if aheads else (),
        things=things,
        obstacles=tuple(against.values()),
    )


@dataclass(frozen=True)
class ReturnAhead:
    """A container that is said to be back, before its seals are compared."""

    number: str
    noun: str
    title: str
    with_whom: str
    since: datetime | None
    weight_out_kg: Decimal | None
    seals: tuple[str, ...]
    envelopes: tuple[tuple[str, str], ...]
    seen: str


@usecase("container.prepare_return", power=Power.KEEP, subject="container")
def prepare_return(*, container: str, actor: Actor, at: datetime) -> ReturnAhead:
    """Show a container that came back to the person who reads its seals."""
    of = container_of(actor, container)
    if of.whereabouts not in OUTSIDE:
        raise Refused(f"{of.number} is not out: it is {place_of(of)}.")
    production = of.productions.filter(returned__isnull=True).first()
    inside = of.envelopes.order_by("id") if isinstance(of, Box) else ()
    note_access(of.number)
    weight = production.weight_out_kg if production else None
    return ReturnAhead(
        number=of.number,
        noun="box" if isinstance(of, Box) else "envelope",
        title=title_of(of),
        with_whom=(production.kept_by or production.received_by) if production else "",
        since=production.taken_out.occurred_at if production else None,
        weight_out_kg=weight or getattr(of, "gross_weight_kg", None),
        seals=tuple(s.get_kind_display() for s in seals_in_force(of)),
        envelopes=tuple((e.number, title_of(e)) for e in inside),
        seen=seen_of(of),
    )
