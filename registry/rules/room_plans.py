"""The plan of a strong room as numbers: bays side by side, shelves by height.

Each bay is a drawing of its own, so that a page sets as many side by side as it has
width for: one room looks right on a telephone, on a wide screen and on paper.
"""

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum

# In units of the drawing, one of which is one pixel on a screen.
BAY_WIDTH = 156
TOP = 22  # the line with the bay's name
SHELF_NAME = 22
CELL_WIDTH = 20
CELL_HEIGHT = 17
IN_A_ROW = 6
GAP = 2
PLANK = 9  # the plank under the boxes and the air below it
BAR_WIDTH = IN_A_ROW * (CELL_WIDTH + GAP)
LONGEST_MARK = 4

# Beyond this no single box could be made out: a shelf becomes one bar.
MOST_BAYS = 12
MOST_PLACES = 480
MOST_ON_A_SHELF = 24


class Standing(StrEnum):
    """How a box on the plan stands; each has its own pattern, not only its colour."""

    HELD = "held"
    KEPT = "kept"
    FREE = "free"
    QUARANTINE = "quarantine"


STANDING_TITLES = {
    Standing.HELD: "held by a case or an order",
    Standing.KEPT: "kept, its time runs",
    Standing.FREE: "free for release: its time is over",
    Standing.QUARANTINE: "in quarantine",
}


@dataclass(frozen=True)
class PlanBox:
    """A box on the plan.

    Attributes:
        mark: the constituency's number; empty where it is not known.
        title: the contest in words.
    """

    number: str
    mark: str
    title: str
    standing: Standing


@dataclass(frozen=True)
class PlanShelf:
    """A shelf with its boxes; ``level`` counts from the floor, None: not recorded."""

    number: str
    code: str
    level: int | None
    capacity: int
    boxes: tuple[PlanBox, ...] = ()


@dataclass(frozen=True)
class PlanBay:
    """A bay with its shelves, in order of entry."""

    number: str
    code: str
    shelves: tuple[PlanShelf, ...]


@dataclass(frozen=True)
class Cell:
    """A box, an empty place, or (on a bar) several boxes that stand alike."""

    x: int
    y: int
    width: int
    height: int
    mark: str
    standing: Standing | None
    title: str

    @property
    def middle(self) -> int:
        """Where its mark stands."""
        return self.x + self.width // 2

    @property
    def text_y(self) -> int:
        """The line on which its mark stands."""
        return self.y + 12

    @property
    def bottom(self) -> int:
        """Its lower edge."""
        return self.y + self.height

    @property
    def right(self) -> int:
        """Its right edge."""
        return self.x + self.width


@dataclass(frozen=True)
class ShelfPicture:
    """A shelf as it is drawn, with the same in words."""

    number: str
    code: str
    y: int
    height: int
    cells: tuple[Cell, ...]
    words: str

    @property
    def plank_y(self) -> int:
        """Where the plank is drawn."""
        return self.y + self.height - PLANK + 3

    @property
    def text_y(self) -> int:
        """The line on which its code stands."""
        return self.plank_y - 5


@dataclass(frozen=True)
class BayPicture:
    """A bay as it is drawn: a picture of its own."""

    number: str
    code: str
    width: int
    height: int
    shelves: tuple[ShelfPicture, ...]


@dataclass(frozen=True)
class ShelfLine:
    """A shelf as a line of the table that says the same as the picture."""

    number: str
    bay: str
    code: str
    level: int | None
    capacity: int
    taken: int
    contests: tuple[tuple[str, int], ...]
    counts: dict[Standing, int]

    @property
    def empty(self) -> int:
        """Places that are empty."""
        return max(self.capacity - self.taken, 0)


@dataclass(frozen=True)
class RoomPlan:
    """A room as a picture and as a table.

    Attributes:
        in_bars: single boxes are not drawn; each shelf is a bar.
        contests: each mark with its contest, for the legend.
    """

    bays: tuple[BayPicture, ...]
    lines: tuple[ShelfLine, ...]
    in_bars: bool
    contests: tuple[tuple[str, str, int], ...]
    counts: dict[Standing, int]
    capacity: int

    @property
    def taken(self) -> int:
        """Places that are taken."""
        return sum(line.taken for line in self.lines)

    @property
    def empty(self) -> int:
        """Places that are empty."""
        return sum(line.empty for line in self.lines)


def room_plan(bays: Sequence[PlanBay], *, all_shown: bool = True) -> RoomPlan:
    """Return the plan of a room.

    Args:
        all_shown: whether every box stands on it; where the looker may see only some
            of them, no place is shown as empty.
    """
    places = sum(shelf.capacity for bay in bays for shelf in bay.shelves)
    in_bars = len(bays) > MOST_BAYS or places > MOST_PLACES
    shelves = [(bay, shelf) for bay in bays for shelf in from_the_top(bay.shelves)]
    boxes = [box for _, shelf in shelves for box in shelf.boxes]
    contests = Counter((box.mark, box.title) for box in boxes)
    return RoomPlan(
        bays=tuple(_bay(bay, in_bars, all_shown) for bay in bays),
        lines=tuple(_line(bay, shelf) for bay, shelf in shelves),
        in_bars=in_bars,
        contests=tuple(
            (mark, title, n) for (mark, title), n in sorted(contests.items())
        ),
        counts=_counts(boxes),
        capacity=places,
    )


def from_the_top(shelves: Iterable[PlanShelf]) -> list[PlanShelf]:
    """Return shelves from the top down; those of no known height as entered, below."""
    return sorted(shelves, key=lambda shelf: -(shelf.level or 0))


def _counts(boxes: Iterable[PlanBox]) -> dict[Standing, int]:
    counted = Counter(box.standing for box in boxes)
    return {standing: counted[standing] for standing in Standing}


def _line(bay: PlanBay, shelf: PlanShelf) -> ShelfLine:
    titles = Counter(box.title or "contest not known" for box in shelf.boxes)
    return ShelfLine(
        shelf.number,
        bay.code,
        shelf.code,
        shelf.level,
        shelf.capacity,
        len(shelf.boxes),
        tuple(sorted(titles.items())),
        _counts(shelf.boxes),
    )


def _bay(bay: PlanBay, in_bars: bool, all_shown: bool) -> BayPicture:
    y, drawn = TOP, []
    for shelf in from_the_top(bay.shelves):
        bar = in_bars or max(shelf.capacity, len(shelf.boxes)) > MOST_ON_A_SHELF
        cells = _bar(shelf, y, all_shown) if bar else _cells(shelf, y, all_shown)
        height = max((cell.bottom for cell in cells), default=y + CELL_HEIGHT) - y
        drawn.append(
            ShelfPicture(
                shelf.number,
                shelf.code,
                y,
                height + PLANK,
                cells,
                _words(shelf, all_shown),
            )
        )
        y += height + PLANK
    return BayPicture(bay.number, bay.code, BAY_WIDTH, y + 2, tuple(drawn))


def _cells(shelf: PlanShelf, y: int, all_shown: bool) -> tuple[Cell, ...]:
    places = max(shelf.capacity, len(shelf.boxes)) if all_shown else len(shelf.boxes)
    rows = max(-(-places // IN_A_ROW), 1)
    cells = []
    for place in range(places):
        # From the plank upwards, as boxes are stacked.
        row, column = rows - 1 - place // IN_A_ROW, place % IN_A_ROW
        box = shelf.boxes[place] if place < len(shelf.boxes) else None
        cells.append(
            Cell(
                x=SHELF_NAME + column * (CELL_WIDTH + GAP),
                y=y + row * (CELL_HEIGHT + GAP),
                width=CELL_WIDTH,
                height=CELL_HEIGHT,
                mark=(box.mark or "?")[:LONGEST_MARK] if box else "",
                standing=box.standing if box else None,
                title=_title(box),
            )
        )
    return tuple(cells)


def _title(box: PlanBox | None) -> str:
    if box is None:
        return "empty"
    title = box.title or "contest not known"
    return f"{box.number}, {title}: {STANDING_TITLES[box.standing]}"


def _bar(shelf: PlanShelf, y: int, all_shown: bool) -> tuple[Cell, ...]:
    """Return a shelf as one bar, parted by how its boxes stand."""
    counts = _counts(shelf.boxes)
    whole = max(shelf.capacity, len(shelf.boxes), 1)
    parts: list[tuple[Standing | None, int]] = [(s, n) for s, n in counts.items() if n]
    if all_shown and whole > len(shelf.boxes):
        parts.append((None, whole - len(shelf.boxes)))
    cells, done = [], 0
    for standing, n in parts:
        left = BAR_WIDTH * done // whole
        right = BAR_WIDTH * (done + n) // whole
        title = STANDING_TITLES[standing] if standing else "empty"
        width = max(right - left, 2)
        cells.append(
            Cell(
                x=SHELF_NAME + left,
                y=y,
                width=width,
                height=CELL_HEIGHT,
                mark=str(n) if width >= 6 * len(str(n)) + 4 else "",
                standing=standing,
                title=f"{n}: {title}",
            )
        )
        done += n
    return tuple(cells)


def _words(shelf: PlanShelf, all_shown: bool) -> str:
    taken = f"{len(shelf.boxes)} of {shelf.capacity} places taken"
    if not all_shown:
        taken = f"{len(shelf.boxes)} boxes that you may see"
    stand = [f"{n} {STANDING_TITLES[s]}" for s, n in _counts(shelf.boxes).items() if n]
    return "; ".join([f"Shelf {shelf.code}: {taken}", *stand])
