"""What the paper forms of a custodian's rooms ask for today."""

from collections.abc import Iterator
from datetime import date, datetime, timedelta

from django.db.models import QuerySet

from registry.models import FallbackForm
from registry.queries.desks import Waiting, count
from registry.queries.paper_forms import accounts_of, forms_of
from registry.rules.powers import Actor

# A form that lies about longer than this was forgotten, or is not there any more.
TOO_LONG = timedelta(days=14)


def forms_waiting(actor: Actor, on: date, at: datetime) -> Iterator[Waiting]:
    """What the paper forms of an actor's rooms ask for."""
    rows = forms_of(actor)
    lost = rows.filter(state=FallbackForm.State.LOST).count()
    if lost:
        yield Waiting(
            text=f"{count(lost, 'paper form is', 'paper forms are')} not accounted for",
            page="paper-forms",
            narrowed={"state": "lost"},
            word="Missing",
            tone="stop",
            note="Whoever holds one could fill it in. Look for each, and say so if it "
            "turns up.",
        )
    yield from _skipped(rows)
    old = rows.filter(printed_at__lt=at - TOO_LONG)
    half = old.filter(state=FallbackForm.State.IN_ENTRY).count()
    if half:
        yield Waiting(
            text=f"{count(half, 'paper form was', 'paper forms were')} entered in part",
            page="paper-forms",
            narrowed={"state": "in-entry"},
            word="To enter",
            note="Printed more than 14 days ago: enter the rest, or close each.",
        )
    blank = old.filter(state=FallbackForm.State.BLANK).count()
    if blank:
        yield Waiting(
            text=f"{count(blank, 'paper form', 'paper forms')} printed more than "
            "14 days ago and still blank",
            page="paper-forms",
            narrowed={"state": "blank"},
            word="To count",
            tone="plain",
            note="Count the pad: keep what is wanted, return the rest struck through.",
        )


def _skipped(rows: QuerySet[FallbackForm]) -> Iterator[Waiting]:
    numbers = [n for part in accounts_of(rows) for n in part.account.skipped]
    if numbers:
        passed = count(len(numbers), "paper form was", "paper forms were")
        yield Waiting(
            text=f"{passed} passed over: a later number is used already",
            page="paper-forms",
            narrowed={"state": "blank"},
            word="Look",
            note=f"Look whether {', '.join(numbers[:4])} is in the pad.",
        )
