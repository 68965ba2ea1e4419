"""Openings of doors that an act is about, and who is entered as present."""

from dataclasses import dataclass
from datetime import datetime

from registry.models import DoorPresence, DoorSession
from registry.queries.doors import door_sessions_of
from registry.queries.find import the
from registry.rules.powers import Actor
from registry.usecases._door import Refused


@dataclass(frozen=True)
class Present:
    """Somebody who is in the room while its door is open."""

    name: str
    post: str = ""
    escort: str = ""


def enter_presence(session: DoorSession, one: Present, came_at: datetime) -> None:
    """Enter that somebody came in."""
    DoorPresence(
        session=session,
        name=one.name.strip(),
        post=one.post.strip(),
        escort=one.escort.strip(),
        came_at=came_at,
    ).save()


def session_of(actor: Actor, number: str) -> DoorSession:
    """Return an opening of a door that the actor may see, locked."""
    rows = door_sessions_of(actor).select_for_update(of=("self",))
    return the(rows, number, "opening of a door")


def open_session_of(actor: Actor, number: str) -> DoorSession:
    """Return an opening whose door is not closed yet; Refused for one that is."""
    of = session_of(actor, number)
    if of.closed_at:
        raise Refused(
            f"The door was closed on {of.closed_at:%-d %B %Y at %H:%M} already."
        )
    return of
