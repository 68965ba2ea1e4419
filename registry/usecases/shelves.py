"""Shelves: which have space, which suits a box, boxes put away many at a time."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from django.db.models import Count, F, Q

from registry.models import Shelf, Whereabouts
from registry.queries.find import NotThere, the
from registry.queries.scope import boxes_of, rooms_of
from registry.queries.space import box_to_shelve, shelf_facts_for
from registry.rules.numbers import read
from registry.rules.powers import Actor, Power
from registry.rules.space import Suggestion, in_runs, suggest
from registry.usecases._door import Mistaken, Refused, note_access, usecase
from registry.usecases._happened import Happened
from registry.usecases.boxes import put_on_shelf, shelf_of

__all__ = [
    "FreeShelf",
    "PutAway",
    "Suggestion",
    "free_shelves",
    "look_before_putting_away",
    "put_away",
    "suggest_shelves",
]


@dataclass(frozen=True)
class FreeShelf:
    """A shelf with space; ``free`` is counted in boxes."""

    number: str
    name: str
    free: int


@usecase("room.free_shelves", power=Power.KEEP, subject="room")
def free_shelves(*, room: str, actor: Actor, at: datetime) -> tuple[FreeShelf, ...]:
    """Name the shelves of a room that can take a box, in the order of the bays."""
    of = the(rooms_of(actor), room, "strong room")
    shelves = (
        Shelf.objects.filter(bay__room=of)
        .annotate(taken=Count("boxes", Q(boxes__whereabouts=Whereabouts.SHELVED)))
        .filter(taken__lt=F("capacity"))
        .select_related("bay__room")
        .order_by("bay__code", "code")
    )
    return tuple(
        FreeShelf(shelf.number, str(shelf), shelf.capacity - shelf.taken)
        for shelf in shelves
    )


@dataclass(frozen=True)
class Suggested:
    """The shelves that suit a box best, and whether two people lift it."""

    box: str
    shelves: tuple[Suggestion, ...]
    needs_two: bool
    weight_kg: str


@usecase("box.suggest_shelves", power=Power.KEEP, subject="box")
def suggest_shelves(*, box: str, actor: Actor, at: datetime) -> Suggested:
    """Suggest the three shelves that suit a box best; any other may be taken."""
    of = the(boxes_of(actor).select_related("room"), box, "box")
    note_access(of.number)
    asking = box_to_shelve(of, at)
    return Suggested(
        box=of.number,
        shelves=suggest(asking, shelf_facts_for(of, at)),
        needs_two=asking.needs_two,
        weight_kg=str(asking.weight_kg or ""),
    )


@dataclass(frozen=True)
class PutAway:
    """What became of one box that was to be put away.

    Attributes:
        place: the shelf in words; empty where it was refused.
        refused: why it was not put there; empty where it was.
    """

    box: str
    shelf: str
    place: str = ""
    refused: str = ""


@usecase("box.put_away_many", power=Power.KEEP)
def put_away(
    *,
    scanned: Sequence[str],
    happened: Happened | None = None,
    actor: Actor,
    at: datetime,
) -> tuple[PutAway, ...]:
    """Put many boxes on shelves: boxes as scanned, each followed by its shelf.

    Each box is put away or refused by itself, and what became of it is told, in the
    order of scanning.

    Raises:
        Mistaken: boxes without a shelf after them, a shelf without boxes before it.
        Refused: not one of them could be put away; with every reason.
    """
    runs, left = in_runs(scanned)
    _need_whole_runs(runs, left)
    note_access(meant=[number for boxes, _ in runs for number in map(_plain, boxes)])
    lines = [
        _put_one(box, shelf, happened, actor, at)
        for boxes, shelf in runs
        for box in boxes
    ]
    if all(line.refused for line in lines):
        raise Refused(*(f"{line.box}: {line.refused}" for line in lines))
    note_access(put_away=sum(not line.refused for line in lines))
    return tuple(lines)


def _need_whole_runs(
    runs: Sequence[tuple[Sequence[str], str]], left: Sequence[str]
) -> None:
    if left:
        raise Mistaken(
            scanned=f"Scan the shelf on which {', '.join(left)} "
            f"{'stands' if len(left) == 1 else 'stand'}."
        )
    if not runs:
        raise Mistaken(scanned="Scan the boxes, then the shelf on which they stand.")
    bare = [shelf for boxes, shelf in runs if not boxes]
    if bare:
        raise Mistaken(scanned=f"No box was scanned before shelf {', '.join(bare)}.")


def _plain(number: str) -> str:
    try:
        return read(number)
    except ValueError:
        return number[:16]


def _put_one(
    box: str, shelf: str, happened: Happened | None, actor: Actor, at: datetime
) -> PutAway:
    """Put one box away; what is refused is refused before anything is written."""
    try:
        of = the(boxes_of(actor).select_for_update(of=("self",)), box, "box")
        place = put_on_shelf(of, shelf_of(actor, shelf), happened, actor, at)
    except (NotThere, Refused) as refused:
        return PutAway(box, shelf, refused=str(refused))
    return PutAway(of.number, shelf, place)


@usecase("box.prepare_put_away", power=Power.KEEP)
def look_before_putting_away(*, actor: Actor, at: datetime) -> tuple[str, ...]:
    """Open the page on which boxes are put away; names the closed ones that wait."""
    waiting = boxes_of(actor).filter(
        whereabouts=Whereabouts.INTAKE, closed_on__isnull=False
    )
    numbers = tuple(waiting.order_by("id").values_list("number", flat=True))
    note_access(shown=numbers)
    return numbers
