"""People of an opening: the second holder confirms, others come and leave."""

from datetime import datetime, timedelta

from registry.models import AccessEntry, DoorPurpose, DoorSession, User
from registry.queries.find import NotThere
from registry.rules.powers import Actor, Power
from registry.usecases._acting import person_of
from registry.usecases._covers import need
from registry.usecases._door import Mistaken, Refused, note_access, usecase
from registry.usecases._door_sessions import (
    Present,
    enter_presence,
    open_session_of,
    session_of,
)

# So many wrong passwords of a second holder, and this way of confirming rests.
MOST_WRONG = 5
RESTS_FOR = timedelta(minutes=15)


@usecase("door.confirm", power=Power.SEE_ELECTIONS, subject="session")
def confirm_opening(*, session: str, actor: Actor, at: datetime) -> None:
    """Let the second key holder confirm, from the own log-in, that both opened."""
    of = session_of(actor, session)
    _confirm(of, _second_of(of, person_of(actor)), at)
    note_access(of.number)


@usecase("door.confirm_here", power=Power.KEEP, subject="session")
def confirm_on_this_screen(
    *, session: str, password: str, actor: Actor, at: datetime
) -> None:
    """Let the second key holder confirm by the own password on the opener's screen.

    Raises:
        Refused: the second holder has no log-in, or too many passwords were wrong.
        Mistaken: the password is not theirs.
    """
    of = session_of(actor, session)
    second = of.second_key.person if of.second_key else None
    if second is None or not second.is_active:
        raise Refused("The second key holder has no log-in with which to confirm.")
    note_access(of.number, holder=second.number)
    tried = AccessEntry.objects.filter(
        act="door.confirm_here",
        outcome=AccessEntry.Outcome.REFUSED,
        at__gt=at - RESTS_FOR,
        detail__holder=second.number,
    )
    if tried.count() >= MOST_WRONG:
        raise Refused(
            "Too many wrong passwords. Wait a quarter of an hour, or confirm from the "
            "second holder's own log-in."
        )
    if not User.objects.get(pk=second.pk).check_password(password):
        raise Mistaken(password=f"This is not the password of {second.name}.")
    _confirm(of, second, at)


@usecase("door.came", power=Power.KEEP, subject="session")
def add_presence(
    *,
    session: str,
    name: str,
    post: str = "",
    escort: str = "",
    came_at: datetime | None = None,
    actor: Actor,
    at: datetime,
) -> None:
    """Record that somebody came into the room while its door was open."""
    of = open_session_of(actor, session)
    need(name=name)
    _refuse_revoked(of)
    if of.purpose == DoorPurpose.REPAIR and not escort.strip():
        raise Mistaken(escort="Name who stays beside them while they work.")
    came = came_at or at
    _refuse_outside(of, "came_at", came, at)
    enter_presence(of, Present(name, post, escort), came)
    note_access(of.number)


@usecase("door.left", power=Power.KEEP, subject="session")
def leave(
    *,
    session: str,
    presence: int,
    left_at: datetime | None = None,
    actor: Actor,
    at: datetime,
) -> None:
    """Record that somebody left the room."""
    of = session_of(actor, session)
    row = of.presences.select_for_update().filter(pk=presence).first()
    if row is None:
        raise NotThere("Nobody of this entry was in the room.")
    if row.left_at:
        raise Refused(f"{row.name} left at {row.left_at:%H:%M} already.")
    left = left_at or at
    if of.closed_at and left > of.closed_at:
        left = of.closed_at
    _refuse_outside(of, "left_at", left, at)
    if left < row.came_at:
        raise Mistaken(left_at=f"{row.name} came later than that.")
    row.left_at = left
    row.save()
    note_access(of.number)


def _second_of(session: DoorSession, person_id: int) -> User:
    second = session.second_key
    if second is None or second.person is None or second.person_id != person_id:
        raise Refused("Only the second key holder of this opening confirms it.")
    return second.person


def _confirm(session: DoorSession, second: User, at: datetime) -> None:
    if session.second_confirmed_at:
        raise Refused("This opening is confirmed already.")
    session.second_confirmed_at = at
    session.second_confirmed_by = second
    session.save()


def _refuse_revoked(session: DoorSession) -> None:
    permission = session.permission
    if permission and permission.revoked_at:
        raise Refused(
            f"Permission {permission.number} was revoked on "
            f"{permission.revoked_at:%-d %B %Y at %H:%M}. Close the door."
        )


def _refuse_outside(
    session: DoorSession, field: str, moment_said: datetime, at: datetime
) -> None:
    if moment_said > at:
        raise Mistaken({field: ["This moment has not come yet."]})
    if moment_said < session.opened_at:
        raise Mistaken(
            {
                field: [
                    "The door was opened at "
                    f"{session.opened_at:%H:%M on %-d %B %Y}, after that."
                ]
            }
        )
