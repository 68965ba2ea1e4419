"""The plan of a room, and when its places come free, as an actor may see them."""

from collections import defaultdict
from dataclasses import dataclass
from datetime import datetime

from registry.models import StrongRoom
from registry.queries.keeping import legal_date
from registry.queries.scope import boxes_of
from registry.queries.shelves import sees_whole_rooms
from registry.queries.space import KeptBox, boxes_in, kept_boxes, shelves_in_order
from registry.rules.acts import KeepingState
from registry.rules.coming_free import (
    ComingFree,
    FreePicture,
    Stay,
    coming_free,
    free_picture,
)
from registry.rules.powers import Actor
from registry.rules.room_plans import (
    PlanBay,
    PlanBox,
    PlanShelf,
    RoomPlan,
    Standing,
    room_plan,
)


@dataclass(frozen=True)
class RoomPlanFile:
    """Everything that the page of a room's plan shows.

    Attributes:
        all_shown: whether every box of the room lies within the looker's scope.
        shown: the boxes that can be told apart on it.
    """

    number: str
    name: str
    plan: RoomPlan
    free: ComingFree
    free_picture: FreePicture | None
    all_shown: bool
    shown: tuple[str, ...]


def room_plan_file(
    room: StrongRoom, actor: Actor, at: datetime, within_days: int
) -> RoomPlanFile:
    """Gather the plan of a room for this actor.

    Raises:
        ValueError: the days until a permission are none, or too many.
    """
    whole = sees_whole_rooms(actor)
    boxes = kept_boxes(boxes_in(room, boxes_of(actor)), at)
    plan = room_plan(_bays(room, boxes), all_shown=whole)
    free = coming_free(
        [Stay(box.retention, box.lot.quarantined) for box in boxes],
        plan.empty if whole else 0,
        legal_date(None, at),
        within_days,
    )
    return RoomPlanFile(
        number=room.number,
        name=room.name,
        plan=plan,
        free=free,
        free_picture=free_picture(free),
        all_shown=whole,
        shown=() if plan.in_bars else tuple(box.number for box in boxes),
    )


def _bays(room: StrongRoom, boxes: list[KeptBox]) -> list[PlanBay]:
    on: dict[int, list[PlanBox]] = defaultdict(list)
    for box in boxes:
        on[box.shelf or 0].append(_box(box))
    shelves: dict[int, list[PlanShelf]] = defaultdict(list)
    bays = {}
    for row in shelves_in_order(room):
        bays[row.bay_id] = row.bay
        shelves[row.bay_id].append(
            PlanShelf(row.number, row.code, row.level, row.capacity, tuple(on[row.pk]))
        )
    return [
        PlanBay(bay.number, bay.code, tuple(shelves[pk])) for pk, bay in bays.items()
    ]


def _box(box: KeptBox) -> PlanBox:
    return PlanBox(box.number, box.constituency, box.lot.title, _standing(box))


def _standing(box: KeptBox) -> Standing:
    if box.lot.quarantined:
        return Standing.QUARANTINE
    if box.retention is None:
        return Standing.KEPT
    state = box.retention.state
    if state in (KeepingState.CASE_PENDING, KeepingState.UNDER_ORDER):
        return Standing.HELD
    return Standing.FREE if state is KeepingState.FREE else Standing.KEPT
