"""People: appointed, given charge of rooms and elections, ended; logged in and out."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from django.contrib.auth.hashers import make_password
from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError

from registry.models import (
    Election,
    ElectionDesk,
    RoomCharge,
    StrongRoom,
    User,
)
from registry.queries.find import the
from registry.queries.people import (
    PersonRow,
    actor_of,
    person_file,
    person_rows,
)
from registry.rules.powers import Actor, Power, Role
from registry.usecases._door import Mistaken, Refused, note_access, usecase
from registry.usecases._records import enter

# A charge can only be of what belongs to the post.
_ROOMS_FOR = {Role.CUSTODIAN}
_ELECTIONS_FOR = {Role.LEGAL}


@dataclass(frozen=True)
class Appointment:
    """A person's post, as it is entered.

    Attributes:
        rooms: register numbers of the strong rooms a custodian has charge of.
        elections: register numbers of the elections a legal officer works for.
    """

    username: str
    name: str
    role: str
    post: str = ""
    rooms: tuple[str, ...] = ()
    elections: tuple[str, ...] = ()


def person_as_actor(person_id: int, *, address: str, channel: str) -> Actor | None:
    """Return a person with a live appointment as an actor, or None."""
    user = User.objects.filter(pk=person_id, is_active=True).first()
    return actor_of(user, address=address, channel=channel) if user else None


def person_by_username(username: str, *, address: str, channel: str) -> Actor | None:
    """Return the person of this log-in name as an actor, or None."""
    user = User.objects.filter(username=username, is_active=True).first()
    return actor_of(user, address=address, channel=channel) if user else None


def anybody_appointed() -> bool:
    """Tell whether the registry has people yet."""
    return User.objects.exists()


def terminal(role: Role, *, account: str) -> Actor:
    """Return whoever sits at the server's own terminal as an actor.

    A command that names nobody acts as this: it may take in lists and make reports,
    everywhere, and its entries say that a terminal did it. It is no person, so it
    can neither permit, open nor dispose.
    """
    return Actor(
        person_id=None,
        username="",
        name=f"terminal of {account}",
        role=role,
        rooms=frozenset(StrongRoom.objects.values_list("pk", flat=True)),
        elections=frozenset(Election.objects.values_list("pk", flat=True)),
        address=account,
        channel="command",
    )


@usecase("session.log_in", power=None)
def record_log_in(*, actor: Actor, at: datetime) -> None:
    """Enter that somebody logged in."""
    note_access(user=actor.username)


@usecase("session.log_out", power=None)
def record_log_out(*, actor: Actor, at: datetime) -> None:
    """Enter that somebody logged out."""
    note_access(user=actor.username)


@usecase("session.log_in", power=None)
def refuse_log_in(*, username: str, locked: bool, actor: Actor, at: datetime) -> None:
    """Enter that a log-in was refused."""
    note_access(user=username[:60])
    raise Refused(
        "Too many wrong passwords; locked for a while."
        if locked
        else "Name and password do not fit."
    )


@usecase("person.list", power=Power.LOOK_AT_PEOPLE)
def list_people(*, actor: Actor, at: datetime) -> tuple[PersonRow, ...]:
    """List everybody who has or had a post in the registry."""
    return person_rows(User.objects.all())


@usecase("person.look", power=Power.LOOK_AT_PEOPLE, subject="person")
def look_at_person(*, person: str, actor: Actor, at: datetime) -> PersonRow:
    """Open a person's page."""
    of = _person(person)
    note_access(of.number)
    return person_file(of)


@usecase("person.appoint", power=Power.APPOINT)
def appoint_person(
    *, appointment: Appointment, password: str, actor: Actor, at: datetime
) -> str:
    """Enter a person with a post and a first password; returns the number.

    Raises:
        Mistaken: a name that is taken, a weak password, or a charge that does not
            belong to the post.
    """
    return _appoint(appointment, password)


@usecase("person.appoint_first", power=None)
def appoint_first_administrator(
    *, appointment: Appointment, password: str, actor: Actor, at: datetime
) -> str:
    """Enter the first administrator of an empty registry, from its own terminal.

    Raises:
        Refused: there are people already; an administrator appoints the others.
    """
    if User.objects.exists():
        raise Refused(
            "There are people in the registry already. An administrator appoints "
            "the others, on screen."
        )
    if appointment.role != Role.ADMINISTRATOR:
        raise Mistaken(role="The first person is an administrator.")
    return _appoint(appointment, password)


def _appoint(appointment: Appointment, password: str) -> str:
    user = User(
        username=appointment.username.strip().lower(),
        name=appointment.name.strip(),
        post=appointment.post.strip(),
        role=appointment.role,
    )
    _check_person(user)
    if User.objects.filter(username=user.username).exists():
        raise Mistaken(username="Somebody logs in under this name already.")
    _put_password(user, password)
    enter(user)
    _put_charges(user, appointment.rooms, appointment.elections)
    note_access(user.number)
    return user.number


def _check_person(user: User) -> None:
    problems: dict[str, list[str]] = {}
    if not user.username.replace(".", "").replace("-", "").isalnum():
        problems["username"] = ["Use letters, digits, dots and hyphens."]
    if not user.name:
        problems["name"] = ["Give the person's name."]
    if user.role not in set(Role):
        problems["role"] = ["Choose the post's role."]
    if problems:
        raise Mistaken(problems)


def _put_password(user: User, password: str) -> None:
    try:
        validate_password(password, user)
    except ValidationError as error:
        raise Mistaken({"password": list(error.messages)}) from error
    user.password = make_password(password)


def _put_charges(user: User, rooms: Sequence[str], elections: Sequence[str]) -> None:
    if rooms and Role(user.role) not in _ROOMS_FOR:
        raise Mistaken(rooms="Only a custodian has charge of strong rooms.")
    if elections and Role(user.role) not in _ELECTIONS_FOR:
        raise Mistaken(elections="Only a legal officer is given elections.")
    wanted_rooms = {the(StrongRoom.objects.all(), n, "strong room").pk for n in rooms}
    wanted = {the(Election.objects.all(), n, "election").pk for n in elections}
    _bring_into_line(RoomCharge, user, "room_id", wanted_rooms)
    _bring_into_line(ElectionDesk, user, "election_id", wanted)


def _bring_into_line(
    kind: type[RoomCharge] | type[ElectionDesk],
    user: User,
    field: str,
    wanted: set[int],
) -> None:
    known = {getattr(row, field): row for row in kind.objects.filter(person=user)}
    for key in wanted - known.keys():
        kind(person=user, **{field: key}).save()
    for key, row in known.items():
        if row.ended == (key in wanted):
            row.ended = key not in wanted
            row.save()


@usecase("person.change_post", power=Power.APPOINT, subject="person")
def change_post(
    *,
    person: str,
    post: str,
    rooms: Sequence[str],
    elections: Sequence[str],
    actor: Actor,
    at: datetime,
) -> None:
    """Change what a person has charge of; the role stays (end it and appoint anew)."""
    user = _person(person)
    user.post = post.strip()
    user.save()
    _put_charges(user, rooms, elections)


@usecase("person.end", power=Power.APPOINT, subject="person")
def end_appointment(*, person: str, actor: Actor, at: datetime) -> None:
    """End a person's appointment; sessions end with it."""
    user = _person(person)
    if user.pk == actor.person_id:
        raise Refused("Nobody ends his own appointment; another administrator does.")
    if not user.is_active:
        raise Refused(f"The appointment of {user.name} has ended already.")
    user.is_active = False
    user.save()


@usecase("person.set_password", power=Power.APPOINT, subject="person")
def set_password_of(*, person: str, password: str, actor: Actor, at: datetime) -> None:
    """Give a person a new password; sessions under the old one end."""
    user = _person(person)
    _put_password(user, password)
    user.save()


@usecase("person.change_own_password", power=None)
def change_own_password(*, old: str, new: str, actor: Actor, at: datetime) -> None:
    """Let a person change the own password."""
    if actor.person_id is None:
        raise Refused("Only a person has a password.")
    user = User.objects.get(pk=actor.person_id)
    note_access(user.number)
    if not user.check_password(old):
        raise Mistaken(old="This is not your present password.")
    _put_password(user, new)
    user.save()


def _person(number: str) -> User:
    return the(User.objects.all(), number, "person")
