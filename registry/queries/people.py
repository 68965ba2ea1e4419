"""People of the registry, and the actor each of them is."""

from collections.abc import Sequence
from dataclasses import dataclass

from django.db.models import QuerySet

from registry.models import RoomCharge, StrongRoom, User
from registry.queries.timeline import TimelineEntry, timeline_of
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


def may_answer_for_room(room: StrongRoom | None) -> QuerySet[User]:
    """Return the custodians in charge of a room, by name; of any where it is None."""
    charges = RoomCharge.objects.filter(ended=False)
    if room is not None:
        charges = charges.filter(room=room)
    people = User.objects.filter(is_active=True, role=Role.CUSTODIAN.value)
    return people.filter(pk__in=charges.values("person")).order_by("name", "id")


@dataclass(frozen=True)
class PersonRow:
    """A person of the registry, as lists and the person's page show it.

    Attributes:
        rooms, elections: (register number, name) of what is in the person's charge.
    """

    number: str
    username: str
    name: str
    post: str
    role: str
    role_title: str
    is_active: bool
    rooms: tuple[tuple[str, str], ...]
    elections: tuple[tuple[str, str], ...]
    timeline: tuple[TimelineEntry, ...] = ()


def person_rows(people: QuerySet[User]) -> tuple[PersonRow, ...]:
    """Return people as rows: those in office first, then by name."""
    rows = people.prefetch_related("room_charges__room", "election_desks__election")
    return tuple(person_row(row) for row in rows.order_by("-is_active", "name", "id"))


def person_row(user: User, timeline: Sequence[TimelineEntry] = ()) -> PersonRow:
    """Return one person, with what is in the person's charge today."""
    return PersonRow(
        number=user.number,
        username=user.username,
        name=user.name,
        post=user.post,
        role=user.role,
        role_title=user.get_role_display(),
        is_active=user.is_active,
        rooms=tuple(
            (c.room.number, c.room.name) for c in user.room_charges.all() if not c.ended
        ),
        elections=tuple(
            (d.election.number, d.election.name)
            for d in user.election_desks.all()
            if not d.ended
        ),
        timeline=tuple(timeline),
    )


def person_file(user: User) -> PersonRow:
    """Return one person with the history of the appointment and its charges."""
    beside = [*user.room_charges.all(), *user.election_desks.all()]
    return person_row(user, timeline_of(user, beside=beside))
