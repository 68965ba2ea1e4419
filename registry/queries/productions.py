"""What is out under an order: with whom, since when, and when it is expected."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal

from django.db.models import Q, QuerySet

from registry.models import (
    Box,
    CustodyMovement,
    Envelope,
    Permission,
    PermissionItem,
    Production,
    Whereabouts,
)
from registry.queries.container_shapes import MovementRow
from registry.queries.containers import title_of
from registry.queries.scope import boxes_of, envelopes_of, of_containers_in_scope
from registry.rules.powers import Actor
from registry.rules.productions import OutStand, stand_of_production

LATELY = timedelta(days=60)
TONES = {
    OutStand.EXPECTED: "plain",
    OutStand.NO_DAY: "wait",
    OutStand.OVERDUE: "stop",
    OutStand.KEPT: "plain",
    OutStand.BACK: "clear",
}
_HERE = (Whereabouts.SHELVED, Whereabouts.INTAKE, Whereabouts.IN_BOX)
# What presses most stands first.
_ORDER = [OutStand.OVERDUE, OutStand.NO_DAY, OutStand.EXPECTED, OutStand.KEPT]
WITH_ALL = (
    "box__contest__election",
    "box__election",
    "envelope__contest__election",
    "envelope__election",
    "envelope__station",
    "permission",
    "taken_out__recorded_by",
    "returned",
)


@dataclass(frozen=True)
class ProductionRow:
    """One container that is out, or was.

    Attributes:
        number: of the production; empty for what went out before they were recorded.
    """

    number: str
    container: str
    noun: str
    title: str
    stand: str
    tone: str
    with_whom: str
    where: str
    since: datetime
    due: date | None
    order: str
    permission: str
    receipt: str = ""
    back_at: datetime | None = None
    missing: bool = False


@dataclass(frozen=True)
class ProductionFile:
    """Everything about one container's way out and back."""

    row: ProductionRow
    handed_out_by: str
    second_person: str
    confirmed_with: str
    confirmed_at: datetime | None
    weight_out_kg: Decimal | None
    weight_back_kg: Decimal | None
    kept_by: str
    kept_order: str
    kept_on: date | None
    content_kept: str
    is_out: bool
    is_kept: bool
    movements: tuple[MovementRow, ...]
    together: tuple[ProductionRow, ...]


def productions_of(actor: Actor) -> QuerySet[Production]:
    """The productions of containers that the actor may see."""
    return of_containers_in_scope(Production.objects.all(), actor)


def out_now(actor: Actor, on: date) -> list[ProductionRow]:
    """Return everything that is out, what is overdue first."""
    rows = productions_of(actor).filter(returned__isnull=True)
    found = [production_row(p, on) for p in rows.select_related(*WITH_ALL)]
    found += [*without_production(actor)]
    return sorted(
        found,
        key=lambda row: (
            _ORDER.index(OutStand(row.stand)),
            row.due or date.max,
            row.since,
            row.container,
        ),
    )


def returned_lately(actor: Actor, on: date, at: datetime) -> list[ProductionRow]:
    """Return what came back in the last two months, the latest first."""
    rows = productions_of(actor).filter(returned__occurred_at__gte=at - LATELY)
    rows = rows.select_related(*WITH_ALL).order_by("-returned__occurred_at", "-id")
    return [production_row(production, on) for production in rows]


def production_row(production: Production, on: date) -> ProductionRow:
    """Return a production as lists show it."""
    container = production.box or production.envelope
    assert container is not None
    kept = production.kept_on is not None
    stand = stand_of_production(
        production.expected_back_on,
        is_back=production.returned_id is not None,
        is_kept=kept,
        on=on,
    )
    return ProductionRow(
        number=production.number,
        container=container.number,
        noun="box" if production.box else "envelope",
        title=title_of(container),
        stand=stand.value,
        tone=TONES[stand],
        with_whom=production.kept_by if kept else production.received_by,
        where=production.received_at_place,
        since=production.taken_out.occurred_at,
        due=production.expected_back_on,
        order=str(production.permission),
        permission=production.permission.number,
        receipt=production.receipt,
        back_at=production.returned.occurred_at if production.returned else None,
        missing=container.whereabouts == Whereabouts.MISSING,
    )


def without_production(actor: Actor) -> Iterator[ProductionRow]:
    """Yield what went out before productions were recorded: from its last movement."""
    for rows in (boxes_of(actor), envelopes_of(actor)):
        outside = rows.filter(
            whereabouts__in=(Whereabouts.OUT, Whereabouts.KEPT)
        ).exclude(productions__returned__isnull=True, productions__isnull=False)
        for container in outside.select_related("contest__election").order_by("id"):
            yield from _from_movement(container)


def _from_movement(container: Box | Envelope) -> Iterator[ProductionRow]:
    went = (
        container.movements.filter(act=CustodyMovement.Act.TAKEN_OUT)
        .select_related("permission")
        .order_by("-id")
        .first()
    )
    if went is None:
        return
    yield ProductionRow(
        number="",
        container=container.number,
        noun="box" if isinstance(container, Box) else "envelope",
        title=title_of(container),
        stand=OutStand.NO_DAY.value,
        tone=TONES[OutStand.NO_DAY],
        with_whom=went.to_person,
        where=went.to_place,
        since=went.occurred_at,
        due=None,
        order=str(went.permission or ""),
        permission=went.permission.number if went.permission else "",
    )


def production_file(production: Production, on: date) -> ProductionFile:
    """Gather what the page of a production shows."""
    container = production.box or production.envelope
    assert container is not None
    moves = container.movements.filter(id__gte=production.taken_out_id)
    if production.returned_id:
        moves = moves.filter(id__lte=production.returned_id)
    by = production.taken_out.recorded_by
    return ProductionFile(
        row=production_row(production, on),
        handed_out_by=by.name if by else "",
        second_person=production.second_person,
        confirmed_with=production.confirmed_with,
        confirmed_at=production.confirmed_at,
        weight_out_kg=production.weight_out_kg,
        weight_back_kg=production.weight_back_kg,
        kept_by=production.kept_by,
        kept_order=production.kept_order,
        kept_on=production.kept_on,
        content_kept=production.content_kept,
        is_out=production.returned_id is None,
        is_kept=production.kept_on is not None and production.returned_id is None,
        movements=tuple(
            MovementRow(
                m.number, m.get_act_display(), m.occurred_at, m.recorded_at,
                m.from_place, m.to_place, m.from_person, m.to_person, m.note,
            )
            for m in moves.order_by("id")
        ),
        together=tuple(
            production_row(other, on)
            for other in handed_out_with(production)
            if other.pk != production.pk
        ),
    )  # fmt: skip


def handed_out_with(production: Production) -> list[Production]:
    """Return everything that was handed out in the same act, this one included."""
    went = production.taken_out
    return list(
        Production.objects.filter(
            permission=production.permission,
            taken_out__recorded_at=went.recorded_at,
            taken_out__recorded_by=went.recorded_by,
            taken_out__act=went.act,
        )
        .select_related(*WITH_ALL)
        .order_by("id")
    )


def named_here(permission: Permission, actor: Actor) -> list[Box | Envelope]:
    """Return what a permission names and the actor keeps, by bay and shelf.

    An envelope whose box is named goes with the box; what is out, missing or gone is
    left out.
    """
    items = PermissionItem.objects.filter(permission=permission)
    mine = items.filter(
        Q(box__in=boxes_of(actor)) | Q(envelope__in=envelopes_of(actor))
    )
    rows = mine.select_related(
        "box__shelf__bay__room",
        "box__contest__election",
        "envelope__box__shelf__bay__room",
        "envelope__contest__election",
        "envelope__station",
    )
    found: list[Box | Envelope] = [
        container for item in rows if (container := item.box or item.envelope)
    ]
    boxes = {of.pk for of in found if isinstance(of, Box)}
    here = [
        of
        for of in found
        if of.whereabouts in _HERE
        and not (isinstance(of, Envelope) and of.box_id in boxes)
    ]
    return sorted(here, key=_by_place)


def _by_place(container: Box | Envelope) -> tuple[str, str, str, int, str]:
    box = container if isinstance(container, Box) else container.box
    shelf = box.shelf if box else None
    inside = 0 if isinstance(container, Box) else 1
    if box is None or shelf is None:
        return ("", "", box.number if box else "", inside, container.number)
    return (shelf.bay.code, shelf.code, box.number, inside, container.number)
