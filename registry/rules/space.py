"""Where a box is best put: what belongs together together, side by side what leaves
together.

A contest stays together, since a court asks for all of it; what is released in the
same month stands side by side, so that whole shelves come free. Mock-poll slips
stand apart from poll slips, and what is in quarantine apart from all else. (Common
practice, no published source.)
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from enum import IntEnum

from registry.rules.schedules import ContentKind

# HSE L23 and INDG143 have a risk filter of about 25 kg for men and 16 kg for women,
# close to the body at waist height, and much less at shoulder height or at arm's
# length. The sources are confirmed, the values are from memory; local rules go first.
# The lower value is taken, since anybody may be sent to the shelf.
TWO_PERSONS_ABOVE_KG = Decimal(16)
# Shelves that are reached without lifting above the elbow, counted from the floor.
# (Common practice, no published source.)
LOW_LEVELS = 2

_KEPT_APART = frozenset({ContentKind.POLL_SLIPS, ContentKind.MOCK_POLL_SLIPS})


@dataclass(frozen=True)
class Lot:
    """Boxes that are alike in all that matters for where they stand.

    Attributes:
        contest: its register number; empty where it is not known.
        title: the contest in words.
        free_from: the first day on which they may be disposed of; None for no end.
        boxes: how many.
    """

    contest: str
    title: str
    kind: ContentKind
    quarantined: bool
    free_from: date | None
    boxes: int = 1

    @property
    def month(self) -> tuple[int, int] | None:
        """The month in which they may leave."""
        return (self.free_from.year, self.free_from.month) if self.free_from else None


@dataclass(frozen=True)
class ShelfFact:
    """A shelf with what stands on it.

    Attributes:
        place: where it stands in the walk through the room, from 0.
        level: from the floor, 1 is the lowest; None where it is not recorded.
    """

    number: str
    name: str
    room: str
    bay: str
    place: int
    level: int | None
    capacity: int
    lots: tuple[Lot, ...] = ()

    @property
    def taken(self) -> int:
        """How many boxes stand on it."""
        return sum(lot.boxes for lot in self.lots)

    @property
    def free(self) -> int:
        """How many more it takes."""
        return max(self.capacity - self.taken, 0)


@dataclass(frozen=True)
class BoxToShelve:
    """A box that is to be put on a shelf.

    Attributes:
        room: the strong room it is in; it is never put into another.
        waiting: how many boxes of its contest stand off the shelves, itself included.
    """

    room: str
    lot: Lot
    weight_kg: Decimal | None = None
    waiting: int = 1

    @property
    def needs_two(self) -> bool:
        """Whether two people lift it."""
        return self.weight_kg is not None and self.weight_kg > TWO_PERSONS_ABOVE_KG


@dataclass(frozen=True)
class Suggestion:
    """A shelf on which a box may well be put, and why."""

    shelf: str
    name: str
    free: int
    reasons: tuple[str, ...]


class _Fit(IntEnum):
    """How well a shelf suits, the best first."""

    SAME_CONTEST_SAME_MONTH = 0
    SAME_CONTEST = 1
    SAME_BAY = 2
    SAME_MONTH = 3
    EMPTY = 4
    OTHERS = 5


def suggest(
    box: BoxToShelve, shelves: Iterable[ShelfFact], best: int = 3
) -> tuple[Suggestion, ...]:
    """Return the shelves of the box's room that suit it best, the best first.

    The same facts give the same answer, in whatever order they come. A full shelf, a
    shelf of another room, and one on which things stand from which the box must be
    kept apart are not suggested at all.
    """
    room = [shelf for shelf in shelves if shelf.room == box.room]
    able = [shelf for shelf in room if may_stand_on(box.lot, shelf)]
    bays = {shelf.bay for shelf in room if _of_contest(box.lot, shelf)}
    places = sorted(s.place for s in room if _of_contest(box.lot, s))
    able.sort(key=lambda shelf: _rank(box, shelf, bays, places))
    return tuple(
        Suggestion(
            shelf.number, shelf.name, shelf.free, tuple(_reasons(box, shelf, bays))
        )
        for shelf in able[:best]
    )


def may_stand_on(lot: Lot, shelf: ShelfFact) -> bool:
    """Tell whether a box may be suggested this shelf at all."""
    if not shelf.free:
        return False
    for other in shelf.lots:
        if other.quarantined != lot.quarantined:
            return False
        if other.kind != lot.kind and {other.kind, lot.kind} == _KEPT_APART:
            return False
    return True


def _rank(
    box: BoxToShelve, shelf: ShelfFact, bays: set[str], places: Sequence[int]
) -> tuple[int | str, ...]:
    apart = min((abs(shelf.place - place) for place in places), default=0)
    return (
        _too_high(box, shelf),
        _fit(box.lot, shelf, bays),
        # Where the whole contest finds room it stays together.
        int(shelf.free < box.waiting),
        -_of_contest(box.lot, shelf),
        -_of_month(box.lot, shelf),
        apart,
        shelf.place,
        shelf.number,
    )


def _too_high(box: BoxToShelve, shelf: ShelfFact) -> int:
    if not box.needs_two:
        return 0
    if shelf.level is None:
        return 1
    return 0 if shelf.level <= LOW_LEVELS else shelf.level


def _fit(lot: Lot, shelf: ShelfFact, bays: set[str]) -> _Fit:
    if _of_contest(lot, shelf):
        leaving = any(_leave_together(lot, other) for other in _same(lot, shelf))
        return _Fit.SAME_CONTEST_SAME_MONTH if leaving else _Fit.SAME_CONTEST
    if shelf.bay in bays:
        return _Fit.SAME_BAY
    if _of_month(lot, shelf):
        return _Fit.SAME_MONTH
    return _Fit.OTHERS if shelf.taken else _Fit.EMPTY


def _same(lot: Lot, shelf: ShelfFact) -> list[Lot]:
    return [
        other for other in shelf.lots if lot.contest and other.contest == lot.contest
    ]


def _of_contest(lot: Lot, shelf: ShelfFact) -> int:
    return sum(other.boxes for other in _same(lot, shelf))


def _leave_together(lot: Lot, other: Lot) -> bool:
    return lot.kind == other.kind and lot.month == other.month


def _of_month(lot: Lot, shelf: ShelfFact) -> int:
    if lot.month is None:
        return 0
    return sum(other.boxes for other in shelf.lots if other.month == lot.month)


def _reasons(box: BoxToShelve, shelf: ShelfFact, bays: set[str]) -> Iterable[str]:
    lot, together = box.lot, 0
    fit = _fit(lot, shelf, bays)
    title = lot.title or "a contest that is not known"
    if fit <= _Fit.SAME_CONTEST:
        together = sum(o.boxes for o in _same(lot, shelf) if _leave_together(lot, o))
        n = together or _of_contest(lot, shelf)
        tail = _together(lot) if together else "which are released at another time"
        yield f"Next to {_boxes(n)} of {title}, {tail}."
    elif fit is _Fit.SAME_BAY:
        yield f"In the bay in which {title} stands already."
    elif fit is _Fit.SAME_MONTH:
        n = _of_month(lot, shelf)
        yield f"Next to {_boxes(n)} of other contests, {_together(lot)}."
    elif fit is _Fit.EMPTY:
        yield "Nothing stands on it yet."
    else:
        yield "Other contests stand on it, released at another time."
    if box.waiting > 1 and shelf.free >= box.waiting:
        yield f"Takes all {box.waiting} boxes of this contest that wait for a shelf."
    if lot.quarantined:
        yield "Nothing stands on it but what is in quarantine."
    if box.needs_two:
        yield _height(shelf, box.weight_kg or Decimal(0))


def _height(shelf: ShelfFact, weight: Decimal) -> str:
    if shelf.level is None:
        return f"How high it is, is not recorded: look, {weight} kg belongs low."
    if shelf.level <= LOW_LEVELS:
        return f"Low, as {weight} kg asks for."
    return f"Too high for {weight} kg, but no low shelf has a place: two people lift."


def _together(lot: Lot) -> str:
    if lot.free_from is None:
        return "kept like this one without an end date"
    return f"free together from {lot.free_from:%B %Y}"


def _boxes(n: int) -> str:
    return f"{n} box" if n == 1 else f"{n} boxes"


def in_runs(scanned: Iterable[str]) -> tuple[list[tuple[list[str], str]], list[str]]:
    """Part what was scanned into boxes with the shelf that was scanned after them.

    Returns:
        Each shelf with its boxes, in order; and what was scanned after the last shelf.
    """
    runs: list[tuple[list[str], str]] = []
    boxes: list[str] = []
    for text in (line.strip() for line in scanned):
        if not text:
            continue
        if text[:2].upper() == "SH":
            runs.append((boxes, text))
            boxes = []
        elif text not in boxes:
            boxes.append(text)
    return runs, boxes
