"""What becomes of containers outside: receipts, courts that keep them, sent on."""

from datetime import date, datetime

from registry.models import CustodyMovement, Whereabouts
from registry.rules.powers import Actor, Power
from registry.usecases._door import Mistaken, Refused, note_access, usecase
from registry.usecases._outside import (
    check_texts,
    day_moment,
    open_production,
    outside_only,
)
from registry.usecases._seen import refuse_if_moved
from registry.usecases._under_permission import locked_container
from registry.usecases.boxes import enter_movement


@usecase("production.note", power=Power.KEEP, subject="container")
def note_production(
    *,
    container: str,
    receipt: str = "",
    expected_back_on: date | None = None,
    actor: Actor,
    at: datetime,
) -> None:
    """Note the receipt that came later, or the day now named for the return."""
    of = locked_container(actor, container)
    production = open_production(of)
    if not receipt.strip() and expected_back_on is None:
        raise Mistaken(receipt="Enter the number of the receipt, or a day.")
    if expected_back_on and expected_back_on < at.date():
        raise Mistaken(expected_back_on="This day is over.")
    if len(receipt.strip()) > 200:
        raise Mistaken(receipt="Shorten this to 200 characters.")
    production.receipt = receipt.strip() or production.receipt
    production.expected_back_on = expected_back_on or production.expected_back_on
    production.save()
    note_access(of.number, shown=[production.number])


@usecase("container.kept_by_court", power=Power.KEEP, subject="container")
def record_kept_by_court(
    *,
    container: str,
    court: str,
    order: str,
    on: date,
    as_seen: str = "",
    actor: Actor,
    at: datetime,
) -> None:
    """Record that a court keeps what was handed out; it stays on the register.

    Asked again with another court, it records that the thing was sent on.

    Args:
        order: of the court, by its number and day.
        on: the day from which it keeps it.
    """
    of = locked_container(actor, container)
    refuse_if_moved(of, as_seen)
    production = open_production(of)
    outside_only(of)
    problems = check_texts(
        {"court": court, "order": order},
        {
            "court": "Name the court that keeps it.",
            "order": "Name the court's order, by its number and day.",
        },
    )
    if problems:
        raise Mistaken(problems)
    moment = day_moment(of, on, at)
    if of.whereabouts == Whereabouts.KEPT and production.kept_by == court.strip():
        raise Refused(
            f"{of.number} is kept by {court.strip()} already, since "
            f"{production.kept_on:%-d %B %Y}."
        )
    from_person = production.kept_by or production.received_by
    production.kept_by, production.kept_order = court.strip(), order.strip()
    production.kept_on = on
    production.save()
    of.whereabouts = Whereabouts.KEPT
    of.save()
    enter_movement(
        of,
        CustodyMovement.Act.KEPT,
        actor,
        at,
        from_person=from_person,
        to_person=court.strip(),
        to_place=court.strip(),
        note=f"Under {order.strip()}"[:400],
        occurred_at=moment,
    )
    note_access(of.number, shown=[production.number])


@usecase("container.sent_on", power=Power.KEEP, subject="container")
def record_sent_on(
    *,
    container: str,
    to_person: str,
    to_place: str,
    order: str,
    on: date,
    expected_back_on: date | None = None,
    as_seen: str = "",
    actor: Actor,
    at: datetime,
) -> None:
    """Record that who had it out sent it on: the same production, a new movement.

    Args:
        order: by whose order, by its number and day.
        on: the day on which it was sent.
    """
    of = locked_container(actor, container)
    refuse_if_moved(of, as_seen)
    production = open_production(of)
    outside_only(of)
    problems = check_texts(
        {"to_person": to_person, "to_place": to_place, "order": order},
        {
            "to_person": "Name the person who has it now, with the post.",
            "to_place": "Say where it is now.",
            "order": "Name the order by which it was sent on.",
        },
    )
    if problems:
        raise Mistaken(problems)
    moment = day_moment(of, on, at)
    from_person = production.kept_by or production.received_by
    from_place = production.received_at_place
    production.received_by = to_person.strip()
    production.received_at_place = to_place.strip()
    production.expected_back_on = expected_back_on
    if of.whereabouts == Whereabouts.KEPT:
        production.kept_by, production.kept_order = to_place.strip(), order.strip()
        production.kept_on = on
    production.save()
    enter_movement(
        of,
        CustodyMovement.Act.HANDED_OVER,
        actor,
        at,
        from_person=from_person,
        to_person=to_person.strip(),
        from_place=from_place,
        to_place=to_place.strip(),
        note=f"Sent on under {order.strip()}"[:400],
        occurred_at=moment,
    )
    note_access(of.number, shown=[production.number])
