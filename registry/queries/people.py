"""People of the registry, and the actor each of them is."""

from registry.models import User
from registry.rules.powers import Actor, Role


def actor_of(user: User, *, address: str, channel: str) -> Actor:
    """Return a person as an actor with the scope of the day."""
    return Actor(
        person_id=user.pk,
        username=user.username,
        name=user.name,
        role=Role(user.role),
        rooms=frozenset(
            user.room_charges.filter(ended=False).values_list("room_id", flat=True)
        ),
        elections=frozenset(
            user.election_desks.filter(ended=False).values_list(
                "election_id", flat=True
            )
        ),
        address=address,
        channel=channel,
    )
