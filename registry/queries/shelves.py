"""A shelf as its page shows it."""

from dataclasses import dataclass
from datetime import datetime

from registry.models import Shelf, Whereabouts
from registry.queries.containers import ContainerRow, container_rows
from registry.queries.keeping import Keeper
from registry.queries.scope import boxes_of
from registry.queries.timeline import TimelineEntry, timeline_of
from registry.rules.powers import Actor, Power, Role


@dataclass(frozen=True)
class ShelfFile:
    """Everything that a shelf's page shows.

    Attributes:
        shows_boxes: whether the looker may see boxes at all.
        all_shown: whether every box on it lies within the looker's scope; what is
            left free is told only then.
    """

    number: str
    name: str
    room: str
    room_number: str
    bay: str
    code: str
    level: int | None
    capacity: int
    rows: tuple[ContainerRow, ...]
    shows_boxes: bool
    all_shown: bool
    timeline: tuple[TimelineEntry, ...]

    @property
    def free(self) -> int:
        """How many more boxes it takes."""
        return max(self.capacity - len(self.rows), 0)


def sees_whole_rooms(actor: Actor) -> bool:
    """Tell whether all boxes of a room lie within the actor's scope."""
    return actor.may(Power.LOOK) and actor.role is not Role.LEGAL


def shelf_file(shelf: Shelf, actor: Actor, at: datetime) -> ShelfFile:
    """Gather what a shelf's page shows to this actor."""
    boxes = boxes_of(actor).filter(shelf=shelf, whereabouts=Whereabouts.SHELVED)
    return ShelfFile(
        number=shelf.number,
        name=str(shelf),
        room=shelf.bay.room.name,
        room_number=shelf.bay.room.number,
        bay=shelf.bay.code,
        code=shelf.code,
        level=shelf.level,
        capacity=shelf.capacity,
        rows=tuple(container_rows(boxes.order_by("id"), Keeper(at))),
        shows_boxes=actor.may(Power.LOOK),
        all_shown=sees_whole_rooms(actor),
        timeline=tuple(timeline_of(shelf)),
    )
