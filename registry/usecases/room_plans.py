"""Looking at the plan of a strong room, and at when its places come free."""

from datetime import datetime

from registry.queries.find import the
from registry.queries.room_plans import RoomPlanFile, room_plan_file
from registry.queries.scope import rooms_of
from registry.rules.coming_free import DAYS_TO_PERMISSION, LONGEST_DAYS
from registry.rules.powers import Actor, Power
from registry.usecases._door import Mistaken, note_access, usecase

__all__ = ["RoomPlanFile", "look_at_plan"]


@usecase("room.look_at_plan", power=Power.LOOK, subject="room")
def look_at_plan(
    *,
    room: str,
    within_days: int | None = None,
    actor: Actor,
    at: datetime,
) -> RoomPlanFile:
    """Open the plan of a room, with what the actor may see on it.

    Args:
        within_days: from the end of keeping until the permission to destroy is given
            and used; 30 where nothing is said.
    """
    of = the(rooms_of(actor), room, "strong room")
    days = DAYS_TO_PERMISSION if within_days is None else within_days
    if not 0 <= days <= LONGEST_DAYS:
        raise Mistaken(within=f"Give a number of days from 0 to {LONGEST_DAYS}.")
    file = room_plan_file(of, actor, at, days)
    note_access(of.number, shown=file.shown, within_days=days)
    return file
