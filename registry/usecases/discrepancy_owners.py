"""Giving a discrepancy to somebody: an owner, and a day by which it is settled."""

from dataclasses import dataclass
from datetime import date, datetime

from django.db.models import Q, QuerySet

from registry.models import Discrepancy, User
from registry.queries.containers import (
    DISCREPANCY_RELATED,
    DiscrepancyRow,
    discrepancy_row,
)
from registry.queries.desk_day import day_at_desk
from registry.queries.find import the
from registry.queries.scope import discrepancies_of
from registry.rules.powers import Actor, Power, Role
from registry.usecases._door import Mistaken, Refused, note_access, usecase


@dataclass(frozen=True)
class OwnersOffered:
    """A discrepancy, and the people to whom it may be given: (number, name)."""

    row: DiscrepancyRow
    owner: str
    owners: tuple[tuple[str, str], ...]


@usecase("discrepancy.prepare_giving", power=Power.RESOLVE, subject="discrepancy")
def look_before_giving(
    *, discrepancy: str, actor: Actor, at: datetime
) -> OwnersOffered:
    """Show to whom a discrepancy may be given."""
    rows = discrepancies_of(actor).select_related(
        "owner", "resolved_by", *DISCREPANCY_RELATED
    )
    of = the(rows, discrepancy, "discrepancy")
    note_access(of.number)
    people = tuple((row.number, _named(row)) for row in _may_own(of))
    owner = of.owner.number if of.owner else ""
    return OwnersOffered(discrepancy_row(of, of.about.number), owner, people)


@usecase("discrepancy.give", power=Power.RESOLVE, subject="discrepancy")
def give_discrepancy(
    *, discrepancy: str, owner: str, due_on: date, actor: Actor, at: datetime
) -> None:
    """Give an open discrepancy to somebody, with the day by which it is settled.

    Raises:
        Refused: it is resolved.
        Mistaken: the person has nothing to do with where it is, or the day is over.
    """
    rows = discrepancies_of(actor).select_for_update(of=("self",))
    of = the(rows, discrepancy, "discrepancy")
    if of.resolved_at:
        raise Refused(f"{of.number} was resolved on {of.resolved_at:%-d %B %Y}.")
    person = _may_own(of).filter(number=owner.strip().upper()).first()
    if person is None:
        raise Mistaken(owner="Choose a custodian of its room or an officer of its law.")
    if due_on < day_at_desk(actor, at):
        raise Mistaken(due_on="This day is over: choose one that is still to come.")
    of.owner, of.due_on = person, due_on
    of.save()
    note_access(of.number, owner=person.number, due_on=due_on.isoformat())


def _may_own(of: Discrepancy) -> QuerySet[User]:
    """The custodians in charge of its room, and the legal officers of its election."""
    container = of.box or of.envelope
    room = of.room or (container.room if container else None)
    election = of.contest.election if of.contest else None
    if container is not None:
        election = container.election
    in_charge = Q(role=Role.CUSTODIAN.value, room_charges__ended=False)
    if room is not None:
        in_charge &= Q(room_charges__room=room)
    for_the_law = Q(
        role=Role.LEGAL.value,
        election_desks__election=election,
        election_desks__ended=False,
    )
    people = User.objects.filter(in_charge | for_the_law, is_active=True)
    return people.distinct().order_by("role", "name", "id")


def _named(person: User) -> str:
    return f"{person.name}, {person.get_role_display().lower()}"
