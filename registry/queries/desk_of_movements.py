"""What is out under an order, as the desks of custodians and lawyers show it."""

from collections.abc import Iterator
from dataclasses import replace
from datetime import date, datetime

from django.db.models import Q

from registry.queries.desks import Waiting, named_or_counted
from registry.queries.productions import (
    WITH_ALL,
    ProductionRow,
    production_row,
    productions_of,
    without_production,
)
from registry.rules.powers import Actor
from registry.rules.productions import OutStand


def movements_desk(actor: Actor, on: date, at: datetime) -> Iterator[Waiting]:
    """What is out: overdue, expected, or kept by a court."""
    yield from overdue(actor, on)
    yield from out_in_time(actor, on)


def overdue(actor: Actor, on: date) -> Iterator[Waiting]:
    """What did not come back on its day, and what has no day."""
    rows = productions_of(actor).filter(
        Q(expected_back_on__lt=on) | Q(expected_back_on__isnull=True),
        returned__isnull=True,
        kept_on__isnull=True,
    )
    yield from named_or_counted(
        rows.select_related(*WITH_ALL).order_by("expected_back_on", "id"),
        lambda row: _waiting(production_row(row, on)),
        lambda n: Waiting(
            text=f"{n} containers are out past their day, or without one",
            page="movements",
            word="Overdue",
            tone="stop",
            note="Call who has them, and have a day named.",
        ),
    )
    for row in without_production(actor):
        yield replace(_waiting(row), number=row.container)


def _waiting(row: ProductionRow) -> Waiting:
    late = row.stand == OutStand.OVERDUE.value
    noun = row.noun.capitalize()
    return Waiting(
        text=f"{noun} {row.container} is out with {row.with_whom}"
        + ("" if late else ", and no day is named for its return"),
        number=row.number,
        word="Overdue" if late else "No day",
        tone="stop" if late else "wait",
        due=row.due,
        note="Call them; enter the day they name.",
    )


def out_in_time(actor: Actor, on: date) -> Iterator[Waiting]:
    """What is out and expected, and what a court keeps."""
    rows = productions_of(actor).filter(returned__isnull=True)
    expected = rows.filter(expected_back_on__gte=on, kept_on__isnull=True)
    yield from named_or_counted(
        expected.select_related(*WITH_ALL).order_by("expected_back_on", "id"),
        lambda row: _expected(production_row(row, on)),
        lambda n: Waiting(
            text=f"{n} containers are out under orders",
            page="movements",
            word="Out",
            tone="plain",
        ),
    )
    kept = rows.filter(kept_on__isnull=False).count()
    if kept:
        what = "container is" if kept == 1 else "containers are"
        yield Waiting(
            text=f"{kept} {what} in the custody of a court",
            page="movements",
            word="Kept",
            tone="plain",
        )


def _expected(row: ProductionRow) -> Waiting:
    return Waiting(
        text=f"{row.noun.capitalize()} {row.container} is out under an order",
        number=row.number,
        word="Out",
        tone="plain",
        due=row.due,
        note="When it comes back, compare seals, weight and count.",
    )
