"""Transfers between strong rooms: who may see which, and what their pages show."""

from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from django.db.models import Count, Q, QuerySet

from registry.models import Box, StrongRoom, Transfer, TransferItem
from registry.queries.containers import title_of
from registry.queries.on_the_way import OPEN
from registry.queries.timeline import TimelineEntry, timeline_of
from registry.rules.powers import Actor, Power, Role

__all__ = ["OPEN", "transfers_of"]

TONES = {"on-the-way": "wait", "taken-over": "clear", "not-arrived": "stop",
         "came-back": "ended"}  # fmt: skip


def transfers_of(actor: Actor) -> QuerySet[Transfer]:
    """The transfers the actor may see: both rooms' keepers see a transfer for good."""
    rows = Transfer.objects.all()
    if not actor.may(Power.LOOK):
        return rows.none()
    if actor.role is Role.CUSTODIAN:
        return rows.filter(
            Q(from_room_id__in=actor.rooms) | Q(to_room_id__in=actor.rooms)
        )
    if actor.role is Role.LEGAL:
        return rows.filter(pk__in=_items_of(actor).values("transfer"))
    return rows


def _items_of(actor: Actor) -> QuerySet[TransferItem]:
    """The items the actor may see: the legal cell those of its elections."""
    rows = TransferItem.objects.all()
    if actor.role is Role.LEGAL:
        return rows.filter(
            Q(box__election_id__in=actor.elections)
            | Q(envelope__election_id__in=actor.elections)
        )
    return rows


@dataclass(frozen=True)
class TransferRow:
    """A transfer in a list."""

    number: str
    from_room: str
    to_room: str
    carrier: str
    handed_over_at: datetime
    items: int
    open_items: int
    emergency: bool
    order_lacking: bool


@dataclass(frozen=True)
class ItemRow:
    """One container of a transfer, with how it left and how it arrived.

    Attributes:
        may_open: whether its own page lies within the looker's scope.
    """

    number: str
    noun: str
    title: str
    weight_kg: str
    sent: str
    outcome: str
    outcome_title: str
    tone: str
    taken_over_at: datetime | None
    taken_over_by: str
    condition: str
    may_open: bool

    @property
    def is_open(self) -> bool:
        """Whether the carrier still answers for it."""
        return self.outcome in OPEN


@dataclass(frozen=True)
class TransferFile:
    """Everything that a transfer's page and its note show."""

    number: str
    from_room: str
    to_room: str
    order: str
    emergency: bool
    order_due_on: date | None
    confirmed_order: str
    confirmed_on: date | None
    confirmed_by: str
    carrier: str
    vehicle_seal: str
    handed_over_at: datetime
    handed_over_by: str
    ended_at: datetime | None
    note: str
    items: tuple[ItemRow, ...]
    may_take_over: bool
    may_take_back: bool
    timeline: tuple[TimelineEntry, ...]

    @property
    def left(self) -> tuple[ItemRow, ...]:
        """What the carrier still answers for."""
        return tuple(item for item in self.items if item.is_open)


def transfer_rows(transfers: QuerySet[Transfer]) -> tuple[TransferRow, ...]:
    """Return transfers as rows, the newest first."""
    counted = transfers.select_related("from_room", "to_room").annotate(
        all_items=Count("items", distinct=True),
        open_items=Count("items", Q(items__outcome__in=OPEN), distinct=True),
    )
    return tuple(
        TransferRow(
            row.number, row.from_room.name, row.to_room.name, row.carrier,
            row.handed_over_at, row.all_items, row.open_items, row.emergency,
            row.emergency and not row.confirmed_order,
        )
        for row in counted.order_by("-id")
    )  # fmt: skip


def transfer_file(transfer: Transfer, actor: Actor) -> TransferFile:
    """Gather what a transfer's page shows to this actor."""
    items = (
        _items_of(actor)
        .filter(transfer=transfer)
        .select_related(
            "taken_over_by", *_of("box"), *_of("envelope"), "envelope__station"
        )
    )
    is_custodian = actor.role is Role.CUSTODIAN
    given_by_actor = transfer.handed_over_by_id == actor.person_id
    return TransferFile(
        number=transfer.number,
        from_room=transfer.from_room.name,
        to_room=transfer.to_room.name,
        order=transfer.order,
        emergency=transfer.emergency,
        order_due_on=transfer.order_due_on,
        confirmed_order=transfer.confirmed_order,
        confirmed_on=transfer.confirmed_on,
        confirmed_by=transfer.confirmed_by.name if transfer.confirmed_by else "",
        carrier=transfer.carrier,
        vehicle_seal=transfer.vehicle_seal,
        handed_over_at=transfer.handed_over_at,
        handed_over_by=transfer.handed_over_by.name,
        ended_at=transfer.ended_at,
        note=transfer.note,
        items=tuple(_item(item, actor, transfer) for item in items.order_by("id")),
        may_take_over=is_custodian
        and transfer.to_room_id in actor.rooms
        and not given_by_actor,
        may_take_back=is_custodian and transfer.from_room_id in actor.rooms,
        timeline=tuple(timeline_of(transfer)),
    )


def _of(name: str) -> tuple[str, ...]:
    return (name, f"{name}__contest", f"{name}__room")


def _item(item: TransferItem, actor: Actor, transfer: Transfer) -> ItemRow:
    thing: Any = item.box or item.envelope
    weight = thing.gross_weight_kg if isinstance(thing, Box) else None
    in_charge = thing.room_id in actor.rooms or (
        item.outcome in OPEN and transfer.to_room_id in actor.rooms
    )
    return ItemRow(
        number=thing.number,
        noun="box" if isinstance(thing, Box) else "envelope",
        title=title_of(thing),
        weight_kg=str(weight or ""),
        sent=item.condition_sent,
        outcome=item.outcome,
        outcome_title=item.get_outcome_display(),
        tone=TONES[item.outcome],
        taken_over_at=item.taken_over_at,
        taken_over_by=item.taken_over_by.name if item.taken_over_by else "",
        condition=item.condition,
        may_open=actor.role is not Role.CUSTODIAN or in_charge,
    )


def rooms_to_send_to() -> tuple[tuple[str, str], ...]:
    """Return every strong room, by number and name: one sends to rooms of others."""
    return tuple(StrongRoom.objects.order_by("name").values_list("number", "name"))
