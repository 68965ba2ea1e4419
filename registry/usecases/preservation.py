"""Orders to preserve: what a court or an authority has ordered to be kept."""

from datetime import date, datetime

from registry.models import Case, Election, OrderScope, PreservationOrder
from registry.queries.find import NotThere, the
from registry.queries.keeping import legal_date
from registry.queries.orders import (
    OrderFile,
    OrderRow,
    order_file,
    order_row,
    orders_with_scopes,
)
from registry.queries.scope import cases_of, elections_of, of_elections_in_scope
from registry.rules.powers import Actor, Power
from registry.usecases._covers import Covers, covered_by, lock_contests, need
from registry.usecases._door import Mistaken, Refused, note_access, usecase
from registry.usecases._records import enter, enter_many
from registry.usecases.documents import Upload, keep_document


@usecase("order.enter", power=Power.ENTER_CASES, subject="election")
def enter_preservation_order(
    *,
    election: str,
    issued_by: str,
    order_ref: str,
    dated: date,
    from_on: date,
    until_on: date | None,
    covers: Covers,
    case: str = "",
    note: str = "",
    document: Upload | None = None,
    actor: Actor,
    at: datetime,
) -> str:
    """Enter an order to preserve, with or without an end; returns its number.

    Args:
        until_on: the last day it names; None where it holds until it is lifted.
        covers: what the order's own text names; it needs no further authority.
        case: register number of the case in which it was made, if any.

    Raises:
        Mistaken: its dates cannot be, it names nothing, or it is entered already.
    """
    of = the(elections_of(actor), election, "election")
    need(issued_by=issued_by, order_ref=order_ref)
    if dated > legal_date(of, at):
        raise Mistaken(dated="The order's date has not come yet.")
    if until_on and until_on < from_on:
        raise Mistaken(until_on="The order would end before it begins.")
    made_in = _case(of, case, actor)
    covered = covered_by(of, covers, actor)
    lock_contests(covered.touched())
    if PreservationOrder.objects.filter(
        issued_by=issued_by.strip(), order_ref=order_ref.strip()
    ).exists():
        raise Mistaken(order_ref="This order is entered already.")
    order = enter(
        PreservationOrder(
            election=of,
            case=made_in,
            issued_by=issued_by.strip(),
            order_ref=order_ref.strip(),
            dated=dated,
            from_on=from_on,
            until_on=until_on,
            whole_election=covers.names_everything,
            recorded_at=at,
            note=note.strip(),
            document=keep_document(document) if document else None,
        )
    )
    enter_many([OrderScope(order=order, contest=each) for each in covered.contests])
    enter_many(
        [
            OrderScope(order=order, contest=station.contest, station=station)
            for station in covered.stations
        ]
    )
    note_access(order.number)
    return order.number


def _case(election: Election, number: str, actor: Actor) -> Case | None:
    if not number.strip():
        return None
    try:
        return the(cases_of(actor).filter(election=election), number, "case")
    except NotThere as error:
        raise Mistaken(case=str(error)) from error


@usecase("order.lift", power=Power.ENTER_CASES, subject="order")
def lift_preservation_order(
    *, order: str, lifted_on: date, lifted_by_order: str, actor: Actor, at: datetime
) -> None:
    """Record that an order to preserve was lifted, and by which order."""
    rows = of_elections_in_scope(PreservationOrder.objects.all(), actor)
    of = the(rows.select_for_update(), order, "preservation order")
    if of.lifted_on:
        raise Refused(f"{of.number} was lifted on {of.lifted_on:%-d %B %Y}.")
    need(lifted_by_order=lifted_by_order)
    if lifted_on > legal_date(of.election, at):
        raise Mistaken(lifted_on="This day has not come yet.")
    if lifted_on < of.dated:
        raise Mistaken(lifted_on="The order was not yet made on that day.")
    of.lifted_on = lifted_on
    of.lifted_by_order = lifted_by_order.strip()
    of.save()


@usecase("order.list", power=Power.LOOK_AT_CASES)
def list_orders(
    *, in_force: bool = False, actor: Actor, at: datetime
) -> tuple[OrderRow, ...]:
    """List the orders to preserve within the actor's scope, the newest first."""
    rows = of_elections_in_scope(PreservationOrder.objects.all(), actor)
    found = tuple(
        order_row(order, legal_date(order.election, at))
        for order in orders_with_scopes(rows).order_by("-id")
    )
    if in_force:
        found = tuple(row for row in found if row.holds)
    note_access(shown=[row.number for row in found], in_force=in_force)
    return found


@usecase("order.look", power=Power.LOOK_AT_CASES, subject="order")
def look_at_order(*, order: str, actor: Actor, at: datetime) -> OrderFile:
    """Open an order's page."""
    rows = of_elections_in_scope(PreservationOrder.objects.all(), actor)
    of = the(orders_with_scopes(rows), order, "preservation order")
    note_access(of.number)
    return order_file(of, actor, legal_date(of.election, at))


@usecase("order.prepare", power=Power.ENTER_CASES, subject="order")
def look_before_lifting(*, order: str, actor: Actor, at: datetime) -> OrderFile:
    """Open an order in order to enter something about it."""
    rows = of_elections_in_scope(PreservationOrder.objects.all(), actor)
    of = the(orders_with_scopes(rows), order, "preservation order")
    return order_file(of, actor, legal_date(of.election, at))
