"""Which shelves of a room have space."""

from dataclasses import dataclass
from datetime import datetime

from django.db.models import Count, F, Q

from registry.models import Shelf, Whereabouts
from registry.queries.find import the
from registry.queries.scope import rooms_of
from registry.rules.powers import Actor, Power
from registry.usecases._door import usecase


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
