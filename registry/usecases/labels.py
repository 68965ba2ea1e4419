"""Labels: for containers, places and sets of units; each print is counted."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from django.utils.timezone import localtime

from registry.documents.label_stocks import STOCKS, USUAL
from registry.documents.labels import LabelTooLong, label_pdf
from registry.models import AccessEntry, AccessShown
from registry.rules.powers import Actor, Power
from registry.usecases._door import Mistaken, Refused, note_access, usecase
from registry.usecases._labelled import Thing, chosen_things, label_for
from registry.usecases.papers import Printed

__all__ = ["STOCK_CHOICES", "USUAL"]

STOCK_CHOICES = tuple((stock.code, stock.title) for stock in STOCKS.values())
# More than this is printed box by box: one wrong setting would spoil every sheet.
MOST = 300
COPIES = 5


@dataclass(frozen=True)
class LabelRow:
    """What would be printed, and how often it was before.

    Attributes:
        printed: how many labels of this number were printed; ``last_at`` and
            ``last_by`` tell of the newest.
    """

    number: str
    noun: str
    text: str
    printed: int
    last_at: datetime | None
    last_by: str


@dataclass(frozen=True)
class _Earlier:
    """Labels of a number that were printed before."""

    copies: int = 0
    last_at: datetime | None = None
    last_by: str = ""


@usecase("label.prepare", power=Power.KEEP)
def may_print_labels(*, actor: Actor, at: datetime) -> None:
    """Open the form in which labels are chosen."""


@usecase("label.prepare", power=Power.KEEP)
def look_at_labels(
    *, things: Sequence[str], with_contents: bool = False, actor: Actor, at: datetime
) -> tuple[LabelRow, ...]:
    """Show which labels would be printed, and which were printed before.

    Args:
        things: register numbers of boxes, envelopes, intakes, contests, rooms, bays,
            shelves, stations or unit sets. An intake and a contest stand for every
            container of theirs, a station for its unit sets.
        with_contents: what lies in each as well: a box's envelopes, a bay's shelves.

    Raises:
        NotThere: one of them is not within the actor's scope.
        Mistaken: nothing is named, or too much at a time.
    """
    chosen = _chosen(things, with_contents, actor)
    before = _printed_before([one.number for one in chosen])
    note_access(chosen[0].number, shown=[one.number for one in chosen])
    rows = []
    for one in chosen:
        label, earlier = label_for(one), before.get(one.number, _Earlier())
        rows.append(
            LabelRow(
                one.number, label.noun, label.told,
                earlier.copies, earlier.last_at, earlier.last_by,
            )
        )  # fmt: skip
    return tuple(rows)


@usecase("label.print", power=Power.KEEP)
def print_labels(
    *,
    things: Sequence[str],
    with_contents: bool = False,
    stock: str = USUAL,
    first_place: int = 1,
    copies: int = 1,
    actor: Actor,
    at: datetime,
) -> Printed:
    """Print labels; whoever prints a second one of a number gets "copy 2" on it.

    Args:
        things, with_contents: as ``look_at_labels``.
        stock: code of the sheet or roll in the printer.
        first_place: where to begin on a part-used sheet, from 1.
        copies: how many of each, 1 to ``COPIES``.

    Raises:
        Mistaken: the stock is not known or has no such place.
        Refused: a name is too long for a label of this size.
    """
    if stock not in STOCKS:
        raise Mistaken(stock="Choose the labels that lie in the printer.")
    if not 1 <= copies <= COPIES:
        raise Mistaken(copies=f"Print 1 to {COPIES} of each.")
    places = STOCKS[stock].places
    if not 1 <= first_place <= places:
        raise Mistaken(first_place=f"This stock has {places} places to a page.")
    chosen = _chosen(things, with_contents, actor)
    numbers = [one.number for one in chosen]
    before = _printed_before(numbers)
    note_access(
        numbers[0], shown=numbers, labels=len(numbers), copies=copies, stock=stock
    )
    labels = [
        replace(label_for(one), copy=before.get(one.number, _Earlier()).copies + copy)
        for one in chosen
        for copy in range(1, copies + 1)
    ]
    try:
        content = label_pdf(
            labels,
            localtime(at),
            actor.name,
            stock=STOCKS[stock],
            first_place=first_place,
        )
    except LabelTooLong as error:
        raise Refused(str(error)) from error
    name = f"label-{numbers[0]}" if len(labels) == 1 else f"labels-{numbers[0]}"
    return Printed(f"{name}.pdf", content)


def _chosen(things: Sequence[str], with_contents: bool, actor: Actor) -> list[Thing]:
    if not things:
        raise Mistaken(things="Scan or type at least one number.")
    chosen = chosen_things(things, with_contents, actor)
    if not chosen:
        raise Refused(
            "Nothing is logged there yet, so there is no label to print. Log what "
            "came in first."
        )
    if len(chosen) > MOST:
        raise Mistaken(
            things=f"These are {len(chosen)} labels: print at most {MOST} at a time, "
            "box by box or intake by intake."
        )
    return chosen


def _printed_before(numbers: Sequence[str]) -> dict[str, _Earlier]:
    """Return which labels were printed before, how often, and by whom last."""
    shown = AccessShown.objects.filter(
        number__in=numbers,
        entry__act="label.print",
        entry__outcome=AccessEntry.Outcome.DONE,
    )
    found: dict[str, _Earlier] = {}
    for number, detail, at, name in shown.order_by("entry_id").values_list(
        "number", "entry__detail", "entry__at", "entry__name"
    ):
        copies = found.get(number, _Earlier()).copies + int(detail.get("copies", 1))
        found[number] = _Earlier(copies, at, name)
    return found
