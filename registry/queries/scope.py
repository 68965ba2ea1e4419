"""Which rows an actor may see at all: rooms for custodians, elections for lawyers."""

from typing import TypeVar

from django.db.models import Model, Q, QuerySet

from registry.models import (
    Box,
    Case,
    Contest,
    Discrepancy,
    Election,
    Envelope,
    StationSealing,
    StrongRoom,
)
from registry.queries.on_the_way import attached_to_what_comes, coming_to
from registry.rules.powers import Actor, Power, Role

Row = TypeVar("Row", bound=Model)


def containers_in_scope(rows: QuerySet[Row], actor: Actor) -> QuerySet[Row]:
    """Narrow boxes or envelopes to those within the actor's scope."""
    if not actor.may(Power.LOOK):
        return rows.none()
    if actor.role is Role.CUSTODIAN:
        # What is on the way belongs to the rooms at both ends until it is taken over.
        return rows.filter(
            Q(room_id__in=actor.rooms) | coming_to(rows.model, actor.rooms)
        )
    if actor.role is Role.LEGAL:
        return rows.filter(election_id__in=actor.elections)
    return rows


def of_containers_in_scope(rows: QuerySet[Row], actor: Actor) -> QuerySet[Row]:
    """Narrow rows that belong to a box or an envelope, such as discrepancies."""
    if not actor.may(Power.LOOK):
        return rows.none()
    if actor.role is Role.CUSTODIAN:
        return rows.filter(
            Q(box__room_id__in=actor.rooms)
            | Q(envelope__room_id__in=actor.rooms)
            | attached_to_what_comes(actor.rooms)
        )
    if actor.role is Role.LEGAL:
        return rows.filter(
            Q(box__election_id__in=actor.elections)
            | Q(envelope__election_id__in=actor.elections)
        )
    return rows


def discrepancies_of(actor: Actor) -> QuerySet[Discrepancy]:
    """The discrepancies the actor may see, those of a contest or a room included."""
    rows = Discrepancy.objects.all()
    if not actor.may(Power.LOOK):
        return rows.none()
    if actor.role is Role.CUSTODIAN:
        return rows.filter(
            Q(box__room_id__in=actor.rooms)
            | Q(envelope__room_id__in=actor.rooms)
            | Q(room_id__in=actor.rooms)
            | attached_to_what_comes(actor.rooms)
        )
    if actor.role is Role.LEGAL:
        return rows.filter(
            Q(box__election_id__in=actor.elections)
            | Q(envelope__election_id__in=actor.elections)
            | Q(contest__election_id__in=actor.elections)
        )
    return rows


def of_elections_in_scope(rows: QuerySet[Row], actor: Actor) -> QuerySet[Row]:
    """Narrow rows that carry an ``election``: cases, orders, permissions, batches."""
    if actor.role is Role.LEGAL:
        return rows.filter(election_id__in=actor.elections)
    return rows


def boxes_of(actor: Actor) -> QuerySet[Box]:
    """The boxes the actor may see."""
    return containers_in_scope(Box.objects.all(), actor)


def envelopes_of(actor: Actor) -> QuerySet[Envelope]:
    """The envelopes the actor may see."""
    return containers_in_scope(Envelope.objects.all(), actor)


def sealings_of(actor: Actor) -> QuerySet[StationSealing]:
    """The sealings of stations the actor may see."""
    rows = StationSealing.objects.select_related("station__contest__election", "room")
    if not actor.may(Power.LOOK):
        return rows.none()
    if actor.role is Role.CUSTODIAN:
        return rows.filter(room_id__in=actor.rooms)
    if actor.role is Role.LEGAL:
        return rows.filter(station__contest__election_id__in=actor.elections)
    return rows


def cases_of(actor: Actor) -> QuerySet[Case]:
    """The cases the actor may see."""
    return of_elections_in_scope(Case.objects.all(), actor)


def elections_of(actor: Actor) -> QuerySet[Election]:
    """The elections the actor may see."""
    if actor.role is Role.LEGAL:
        return Election.objects.filter(pk__in=actor.elections)
    return Election.objects.all()


def contests_of(actor: Actor) -> QuerySet[Contest]:
    """The contests the actor may see."""
    return of_elections_in_scope(Contest.objects.select_related("election"), actor)


def rooms_of(actor: Actor) -> QuerySet[StrongRoom]:
    """The strong rooms the actor may see."""
    if actor.role is Role.CUSTODIAN:
        return StrongRoom.objects.filter(pk__in=actor.rooms)
    return StrongRoom.objects.all()
