"""What transfers ask for today: on both rooms’ desks, and of the authority."""

from collections.abc import Iterator
from datetime import date, datetime, timedelta

from registry.models import Transfer, TransferItem
from registry.queries.desks import Waiting, count
from registry.queries.transfers import OPEN, transfers_of
from registry.rules.powers import Actor

# Longer than this is too long on the way. (Common practice, no published source.)
TOO_LONG = timedelta(days=2)


def transfers_waiting(actor: Actor, on: date, at: datetime) -> Iterator[Waiting]:
    """What is on the way from or to a keeper's rooms, the oldest first."""
    rows = transfers_of(actor).filter(items__outcome__in=OPEN).distinct()
    for row in rows.select_related("from_room", "to_room").order_by("handed_over_at"):
        yield _on_the_way(row, actor, at)
    yield from orders_for_transfers_waiting(actor, on, at)


def _on_the_way(row: Transfer, actor: Actor, at: datetime) -> Waiting:
    left = row.items.filter(outcome__in=OPEN)
    lost = left.filter(outcome=TransferItem.Outcome.NOT_ARRIVED).count()
    n = left.count()
    coming = row.to_room_id in actor.rooms and row.handed_over_by_id != actor.person_id
    text = (
        f"{count(n, 'container is', 'containers are')} on the way from "
        f"{row.from_room} to {row.to_room}"
    )
    if lost:
        return Waiting(
            text=f"{text}; {lost} did not arrive",
            number=row.number,
            word="Not arrived",
            tone="stop",
            note="A discrepancy is open. Report an incident if the carrier cannot "
            "say where it is.",
        )
    late = at - row.handed_over_at > TOO_LONG
    word = "Too long" if late else ("To take over" if coming else "On the way")
    return Waiting(
        text=text,
        number=row.number,
        word=word,
        tone="stop" if late else ("wait" if coming else "plain"),
        note=f"{row.carrier} answers for them since "
        f"{row.handed_over_at:%-d %B %Y, %H:%M}.",
    )


def orders_for_transfers_waiting(
    actor: Actor, on: date, at: datetime
) -> Iterator[Waiting]:
    """Moves that an emergency forced, and on which the authority has not yet spoken."""
    rows = transfers_of(actor).filter(emergency=True, confirmed_order="")
    for row in rows.select_related("from_room", "to_room").order_by("order_due_on"):
        over = row.order_due_on is not None and row.order_due_on < on
        yield Waiting(
            text=f"Moved in an emergency from {row.from_room} to {row.to_room}: the "
            "authority’s order is lacking",
            number=row.number,
            word="Overdue" if over else "Order lacking",
            tone="stop" if over else "wait",
            due=row.order_due_on,
            note=row.order,
        )
