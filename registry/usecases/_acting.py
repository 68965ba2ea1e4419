"""Acts that somebody answers for by name."""

from registry.rules.powers import Actor
from registry.usecases._door import Refused


def person_of(actor: Actor) -> int:
    """Return the id of the person who acts.

    Raises:
        Refused: a terminal acts, which is no person.
    """
    if actor.person_id is None:
        raise Refused("Only a person can do this; log in.")
    return actor.person_id
