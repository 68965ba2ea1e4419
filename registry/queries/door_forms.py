"""What the form of opening a door offers: keys held, permissions in force."""

from dataclasses import dataclass

from django.db.models import Q, QuerySet

from registry.models import KeyHolding, Permission, StrongRoom
from registry.queries.keys import held_of
from registry.rules.disposal_facts import Act
from registry.rules.powers import Actor


@dataclass(frozen=True)
class Offered:
    """What the form of an opening offers.

    Attributes:
        holders: number of the holding and how it reads, for each key held.
        own: the number of the actor's own holding; empty where there is none.
        permissions: number and title of each permission in force for the room.
    """

    room: str
    room_number: str
    holders: tuple[tuple[str, str], ...]
    own: str
    permissions: tuple[tuple[str, str], ...]
    open_session: str


def holding_title(row: KeyHolding) -> str:
    """Return how a holding reads in a list to choose from."""
    return f"{row.holder}, {row.appointment}: {row.key.lock.name}, key {row.key.mark}"


def touching(
    permissions: QuerySet[Permission], room: StrongRoom
) -> QuerySet[Permission]:
    """Narrow permissions to those for which this room's door is opened."""
    return permissions.filter(
        Q(items__room=room, act=Act.ENTER_ROOM.value)
        | Q(items__box__room=room)
        | Q(items__envelope__room=room)
    ).distinct()


def offered(
    room: StrongRoom, permissions: QuerySet[Permission], actor: Actor
) -> Offered:
    """Return what the form of an opening offers for a room.

    Args:
        permissions: those in force that the actor may see.
    """
    held = held_of(room)
    named = touching(permissions, room)
    is_open = room.door_sessions.filter(closed_at=None).first()
    return Offered(
        room=room.name,
        room_number=room.number,
        holders=tuple((row.number, holding_title(row)) for row in held),
        own=next((r.number for r in held if is_held_by(r, actor.person_id)), ""),
        permissions=tuple((p.number, f"{p.get_act_display()}: {p}") for p in named),
        open_session=is_open.number if is_open else "",
    )


def is_held_by(row: KeyHolding, person_id: int | None) -> bool:
    """Tell whether a holding is this person's, by account."""
    return row.person_id is not None and row.person_id == person_id
