"""Who answers for what was found wrong, and by which day it is to be put right."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from registry.models import (
    Box,
    Contest,
    Election,
    Envelope,
    RoomCharge,
    StrongRoom,
    User,
    act_in_hand,
)
from registry.queries.keeping import legal_date, schedule_of
from registry.rules.powers import Role

# Where the schedule does not say (common practice, no published source).
DUE_DAYS = 7

About = Box | Envelope | Contest | StrongRoom


@dataclass(frozen=True)
class Answerable:
    """Who owns a finding, and the day by which it is to be settled."""

    owner_id: int | None
    due_on: date


def answerable(
    about: About, at: datetime, room: StrongRoom | None = None
) -> Answerable:
    """Return who answers for a finding about this, and by when.

    The owner is the custodian in whose act it was found; where somebody else found
    it, the first custodian in charge of the room. The schedule of the election says
    how many days there are, else the house does.

    Args:
        about: a container, a contest or a room.
        room: where it was found, where ``about`` does not say.
    """
    election = _election(about)
    days = DUE_DAYS
    if election is not None:
        rounds = schedule_of(election.schedule).keeping.rounds
        days = rounds.finding_due_days if rounds else DUE_DAYS
    due = legal_date(election, at) + timedelta(days=days)
    return Answerable(_owner(room or _room(about)), due)


def answerable_for_many(at: datetime) -> Callable[[About], Answerable]:
    """Return ``answerable`` for many findings of one act, asked once per room."""
    known: dict[tuple[int | None, int | None], Answerable] = {}

    def of(about: About) -> Answerable:
        room, election = _room(about), _election(about)
        key = (room.pk if room else None, election.pk if election else None)
        if key not in known:
            known[key] = answerable(about, at)
        return known[key]

    return of


def _election(about: About) -> Election | None:
    return None if isinstance(about, StrongRoom) else about.election


def _room(about: About) -> StrongRoom | None:
    if isinstance(about, StrongRoom):
        return about
    return None if isinstance(about, Contest) else about.room


def _owner(room: StrongRoom | None) -> int | None:
    act = act_in_hand.get()
    finder = act.person_id if act else None
    custodians = User.objects.filter(role=Role.CUSTODIAN.value)
    if finder is not None and custodians.filter(pk=finder).exists():
        return finder
    charges = RoomCharge.objects.filter(
        room=room, ended=False, person__is_active=True
    ).order_by("id")
    return charges.values_list("person_id", flat=True).first()
