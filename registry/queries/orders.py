"""Orders to preserve, as their pages show them."""

from dataclasses import dataclass
from datetime import date, datetime

from django.db.models import QuerySet

from registry.models import PreservationOrder
from registry.queries.coverage import (
    Counted,
    CoverRow,
    counted,
    cover_rows,
    covers_text,
)
from registry.queries.timeline import TimelineEntry, timeline_of
from registry.rules.powers import Actor


@dataclass(frozen=True)
class OrderRow:
    """An order to preserve in a list, or on its page."""

    number: str
    election: str
    election_number: str
    issued_by: str
    order_ref: str
    dated: date
    from_on: date
    until_on: date | None
    lifted_on: date | None
    lifted_by_order: str
    case: str
    covers: str
    rows: tuple[CoverRow, ...]
    word: str
    tone: str
    holds: bool
    recorded_at: datetime
    note: str
    document: str


@dataclass(frozen=True)
class OrderFile:
    """Everything an order's page shows."""

    row: OrderRow
    holds: Counted
    timeline: tuple[TimelineEntry, ...]


def orders_with_scopes(
    orders: "QuerySet[PreservationOrder]",
) -> "QuerySet[PreservationOrder]":
    """Fetch orders with all that their rows show."""
    return (
        orders.select_related("election", "case", "document")
        .prefetch_related("scopes__contest", "scopes__station")
        .order_by("id")
    )


def order_row(order: PreservationOrder, as_of: date) -> OrderRow:
    """Return an order to preserve, as pages show it."""
    scopes = list(order.scopes.all())
    word, tone, holds = _order_state(order, as_of)
    return OrderRow(
        number=order.number,
        election=str(order.election),
        election_number=order.election.number,
        issued_by=order.issued_by,
        order_ref=order.order_ref,
        dated=order.dated,
        from_on=order.from_on,
        until_on=order.until_on,
        lifted_on=order.lifted_on,
        lifted_by_order=order.lifted_by_order,
        case=order.case.number if order.case else "",
        covers=covers_text(whole=order.whole_election, scopes=scopes),
        rows=cover_rows(scopes),
        word=word,
        tone=tone,
        holds=holds,
        recorded_at=order.recorded_at,
        note=order.note,
        document=order.document.number if order.document else "",
    )


def _order_state(order: PreservationOrder, as_of: date) -> tuple[str, str, bool]:
    """Return the word, its tone, and whether the order holds on the day.

    The day on which it is lifted, or ends, is still kept (registry.rules.retention).
    """
    if order.lifted_on and order.lifted_on < as_of:
        return "lifted", "ended", False
    if order.until_on and order.until_on < as_of:
        return "ended", "ended", False
    if min(order.from_on, order.dated) > as_of:
        return "not yet in force", "plain", False
    if order.lifted_on:
        return "lifted, still kept", "wait", True
    return "in force", "stop", True


def order_file(order: PreservationOrder, actor: Actor, as_of: date) -> OrderFile:
    """Gather everything that an order's page shows."""
    scopes = list(order.scopes.all())
    return OrderFile(
        row=order_row(order, as_of),
        holds=counted(order, scopes, order.whole_election, actor),
        timeline=tuple(timeline_of(order, beside=scopes)),
    )
