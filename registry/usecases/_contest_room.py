"""The room with which something that a contest lacks is shown."""

from registry.models import Box, Contest, StrongRoom
from registry.queries.scope import rooms_of
from registry.rules.powers import Actor


def room_of_contest(of: Contest, actor: Actor) -> StrongRoom | None:
    """Return the actor's room in which most boxes of a contest are kept.

    A custodian sees discrepancies by room: without one, what is missing would be
    seen by nobody who could look for it.
    """
    rooms = list(rooms_of(actor).order_by("id"))
    boxes = Box.objects.filter(contest=of, room__in=rooms)
    kept = list(boxes.order_by().values_list("room_id", flat=True))
    return max(rooms, key=lambda room: kept.count(room.pk), default=None)
