"""Transfers between strong rooms: handed over, taken over item by item, come back.

At every moment somebody answers for each container: the keeper who hands it over,
the carrier on the way, the keeper who takes it over. What does not arrive stays on
the way, with a discrepancy, until it is found.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime

from registry.models import (
    Box,
    CustodyMovement,
    Envelope,
    SealEvent,
    SealFinding,
    StrongRoom,
    Transfer,
    TransferItem,
    Whereabouts,
)
from registry.queries.desk_day import day_at_desk
from registry.queries.find import the
from registry.queries.keeping import legal_date
from registry.queries.space import places_left
from registry.queries.transfers import OPEN, transfers_of
from registry.rules.arrivals import DiscrepancyKind, Problem
from registry.rules.numbers import NumberMistyped, read
from registry.rules.powers import Actor, Power
from registry.usecases._door import Mistaken, Refused, note_access, usecase
from registry.usecases._happened import (
    Happened,
    moment,
    moment_of,
    note_use,
    refuse_overtaken,
)
from registry.usecases._recording import discrepancy
from registry.usecases._records import enter, enter_many
from registry.usecases._seal_checks import Reading, record_reading, seals_in_force
from registry.usecases.boxes import container_of, enter_movement, place_of

LONGEST = 400
_MOST = {"order": 200, "carrier": 160, "vehicle_seal": 120, "note": 400}
# In what a scanner sends, a container may be followed by what was read on its seals.
PLAIN_WAX, BROKEN = "wax", "broken"


@dataclass(frozen=True)
class Sent:
    """One container that is handed over, with what was read on its seals."""

    number: str
    seals: tuple[str, ...] = ()


@dataclass(frozen=True)
class Journey:
    """Where containers go, by whose order, and who answers for them on the way.

    Attributes:
        order: by whose order; in an emergency, what forced it.
        due_on: in an emergency, by when the authority's word must be there.
        carrier: by name and post.
    """

    to_room: str
    order: str
    carrier: str
    emergency: bool = False
    due_on: date | None = None
    vehicle_seal: str = ""
    note: str = ""


@dataclass(frozen=True)
class HandedOver:
    """A transfer that has begun, with what the giver should know."""

    number: str
    warnings: tuple[str, ...]


@usecase("transfer.hand_over", power=Power.KEEP)
def hand_over_for_transfer(
    *,
    journey: Journey,
    containers: Sequence[Sent],
    happened: Happened | None = None,
    actor: Actor,
    at: datetime,
) -> HandedOver:
    """Hand boxes and loose envelopes over to a carrier, for another strong room.

    Each seal is read before its recorded number is shown. In an emergency that may
    wait: the move comes first, the reading and the order afterwards.

    Raises:
        Mistaken: something is not named; a seal was neither read now nor today.
        Refused: a container is not there, or they are of two rooms, or of the room to
            which they would go; with every reason.
    """
    note_access(meant=[one.number[:16] for one in containers])
    _check(journey, containers, actor, at)
    things = _locked(containers, actor)
    _refuse_what_cannot_go(things, happened)
    from_room = things[0].room
    to_room = the(StrongRoom.objects.all(), journey.to_room, "strong room")
    if to_room == from_room:
        raise Refused(f"They are in {from_room} already: put them on another shelf.")
    given_at = moment(happened, from_room, actor=actor, at=at)
    said = {thing.number: sent for thing, sent in zip(things, containers, strict=True)}
    if not journey.emergency:
        _need_readings(things, said, given_at)
    transfer = _begin(journey, from_room, to_room, given_at, actor, at)
    conditions = [
        _read_at_departure(thing, said[thing.number], given_at, actor, at)
        for thing in things
    ]
    enter_many(
        [
            TransferItem(transfer=transfer, condition_sent=seen, **_one(thing))
            for thing, seen in zip(things, conditions, strict=True)
        ]
    )
    for thing in things:
        _send(thing, transfer, given_at, actor, at)
    note_use(happened, "transfer.hand_over", transfer.number, actor=actor, at=at)
    note_access(transfer.number, shown=[thing.number for thing in things])
    return HandedOver(transfer.number, _warnings(things, to_room))


def _check(
    journey: Journey, containers: Sequence[Sent], actor: Actor, at: datetime
) -> None:
    problems: dict[str, str] = {}
    if not containers:
        problems["containers"] = "Scan what is handed over."
    if not journey.order.strip():
        problems["order"] = (
            "Say what forces the move."
            if journey.emergency
            else "Name the order by which they go."
        )
    if not journey.carrier.strip():
        problems["carrier"] = "Name who carries them, with the post."
    elif _is(journey.carrier, actor):
        problems["carrier"] = "A hand-over is between two people."
    if journey.emergency and journey.due_on is None:
        problems["due_on"] = "Say by when the authority gives its word."
    if journey.due_on and journey.due_on < day_at_desk(actor, at):
        problems["due_on"] = "This day is over: choose one that is still to come."
    numbers = [one.number for one in containers]
    twice = sorted({number for number in numbers if numbers.count(number) > 1})
    if twice:
        problems["containers"] = f"{', '.join(twice)} stands here twice."
    if problems:
        raise Mistaken({name: [text] for name, text in problems.items()})


def _is(named: str, actor: Actor) -> bool:
    """Tell whether a person who was named with a post is the actor."""
    name = named.split(",")[0].strip().casefold()
    return name == actor.name.strip().casefold()


def _locked(containers: Sequence[Sent], actor: Actor) -> list[Box | Envelope]:
    """Return them as they are now, in the order given, boxes locked first."""
    found = [container_of(actor, one.number) for one in containers]
    boxes = Box.objects.select_for_update(of=("self",)).filter(
        pk__in=[one.pk for one in found if isinstance(one, Box)]
    )
    envelopes = Envelope.objects.select_for_update(of=("self",)).filter(
        pk__in=[one.pk for one in found if isinstance(one, Envelope)]
    )
    fresh: dict[str, Box | Envelope] = {}
    for rows in (boxes, envelopes):
        for row in rows.select_related("room", "election").order_by("pk"):
            fresh[row.number] = row
    things = [fresh[one.number] for one in found]
    if len(fresh) < len(things):
        raise Mistaken(containers="A container stands here twice.")
    return things


_HERE = (Whereabouts.INTAKE, Whereabouts.SHELVED)


def _refuse_what_cannot_go(
    things: Sequence[Box | Envelope], happened: Happened | None
) -> None:
    reasons = []
    for thing in things:
        if thing.whereabouts == Whereabouts.IN_BOX and isinstance(thing, Envelope):
            around = thing.box.number if thing.box else "a box"
            reasons.append(f"{thing.number} lies in {around}: the whole box goes.")
        elif thing.whereabouts not in _HERE:
            reasons.append(
                f"{thing.number} is {thing.get_whereabouts_display()}, so it cannot be "
                "handed over here."
            )
        elif isinstance(thing, Box) and thing.closed_on is None:
            reasons.append(f"Box {thing.number} is still open: close and seal it.")
    rooms = sorted({str(thing.room) for thing in things})
    if len(rooms) > 1:
        reasons.append(
            f"They are in {' and in '.join(rooms)}: hand over one room at a time."
        )
    if reasons:
        raise Refused(*reasons)
    for thing in things:
        refuse_overtaken(thing, happened)


def _need_readings(
    things: Sequence[Box | Envelope], said: dict[str, Sent], given_at: datetime
) -> None:
    lacking = [
        thing.number
        for thing in things
        if not said[thing.number].seals
        and seals_in_force(thing)
        and not _was_read_on(thing, legal_date(thing.election, given_at))
    ]
    if lacking:
        raise Mistaken(
            containers=f"Read the seal of {', '.join(lacking)}: scan it after the "
            f"container, or write {PLAIN_WAX} for a plain wax seal that is whole, "
            f"{BROKEN} for one that is not."
        )


def _was_read_on(thing: Box | Envelope, day: date) -> bool:
    seals = [seal.pk for seal in seals_in_force(thing)]
    return SealEvent.objects.filter(
        seal__in=seals, act="checked", occurred_on=day
    ).exists()


def _begin(
    journey: Journey,
    from_room: StrongRoom,
    to_room: StrongRoom,
    given_at: datetime,
    actor: Actor,
    at: datetime,
) -> Transfer:
    for name, most in _MOST.items():
        if len(getattr(journey, name).strip()) > most:
            raise Mistaken({name: [f"Shorten this to {most} characters."]})
    return enter(
        Transfer(
            from_room=from_room,
            to_room=to_room,
            order=journey.order.strip(),
            emergency=journey.emergency,
            order_due_on=journey.due_on if journey.emergency else None,
            carrier=journey.carrier.strip(),
            vehicle_seal=journey.vehicle_seal.strip(),
            handed_over_at=given_at,
            handed_over_by_id=actor.person_id,  # type: ignore[misc] # the door saw to it
            recorded_at=at,
            note=journey.note.strip(),
        )
    )


def _one(thing: Box | Envelope) -> dict[str, Box | Envelope]:
    return {"box" if isinstance(thing, Box) else "envelope": thing}


def _read_at_departure(
    thing: Box | Envelope, sent: Sent, given_at: datetime, actor: Actor, at: datetime
) -> str:
    """Record what was read on the seals; returns the condition in words."""
    if not seals_in_force(thing):
        return "no seal on record"
    told = []
    for text in sent.seals:
        finding = SealFinding.OPEN if text == BROKEN else SealFinding.MATCHES
        number = "" if text in (PLAIN_WAX, BROKEN) else text
        seen = record_reading(thing, Reading(number, finding), given_at, actor, at)
        told.append(f"{number} {seen.get_finding_display()}".strip())
    if not told:
        return "seals not read at departure"
    return "; ".join(told)[:LONGEST]


def _send(
    thing: Box | Envelope,
    transfer: Transfer,
    given_at: datetime,
    actor: Actor,
    at: datetime,
) -> None:
    from_place = place_of(thing)
    thing.whereabouts = Whereabouts.ON_WAY
    if isinstance(thing, Box):
        thing.shelf = None
    thing.save()
    enter_movement(
        thing,
        CustodyMovement.Act.DESPATCHED,
        actor,
        at,
        occurred_at=given_at,
        from_place=from_place,
        to_place=f"on the way to {transfer.to_room}",
        from_person=actor.name,
        to_person=transfer.carrier,
        note=f"{transfer.number}: {transfer.order}"[:LONGEST],
    )


def _warnings(things: Sequence[Box | Envelope], to_room: StrongRoom) -> tuple[str, ...]:
    boxes = sum(isinstance(thing, Box) for thing in things)
    left = places_left(to_room)
    if boxes <= left:
        return ()
    return (
        f"{to_room} has {left} empty places on its shelves for {boxes} boxes: see to "
        "room before they arrive.",
    )


@dataclass(frozen=True)
class Arrived:
    """How one container was found when it arrived, its seal read first."""

    container: str
    number_read: str
    finding: str
    condition: str = ""
    witness: str = ""


@usecase("transfer.take_over", power=Power.KEEP, subject="transfer")
def take_over(
    *,
    transfer: str,
    arrived: Arrived,
    happened: Happened | None = None,
    actor: Actor,
    at: datetime,
) -> str:
    """Take one container over into the room to which it was sent.

    Whatever its seal looks like, it is taken over: what is wrong becomes a
    discrepancy. Returns how the seal is recorded, in words.

    Raises:
        Refused: the actor handed it over or carried it, or has no charge of that
            room; it is not on the way by this transfer.
    """
    of = _locked_transfer(transfer, actor)
    if of.to_room_id not in actor.rooms:
        raise Refused(f"It is taken over by a keeper of {of.to_room}.")
    if of.handed_over_by_id == actor.person_id or _is(of.carrier, actor):
        raise Refused(
            f"{actor.name} handed it over or carried it: somebody else takes it over."
        )
    if arrived.finding and arrived.finding not in SealFinding.values:
        raise Mistaken(finding="Say in which state the seal was found.")
    item, thing = _locked_item(of, arrived.container)
    taken_at = _after_departure(of, moment(happened, of.to_room, actor=actor, at=at))
    refuse_overtaken(thing, happened)
    told = _read_on_arrival(thing, arrived, taken_at, actor, at)
    item.outcome = TransferItem.Outcome.TAKEN_OVER
    item.taken_over_at = taken_at
    item.taken_over_by_id = actor.person_id
    item.condition = "; ".join(filter(None, [told, arrived.condition.strip()]))[
        :LONGEST
    ]
    thing.whereabouts = Whereabouts.INTAKE
    thing.room = of.to_room
    thing.save()
    _move_contents(thing, of.to_room)
    item.save()
    enter_movement(
        thing,
        CustodyMovement.Act.TAKEN_OVER,
        actor,
        at,
        occurred_at=taken_at,
        from_place=f"on the way from {of.from_room}",
        to_place=place_of(thing),
        from_person=of.carrier,
        to_person=actor.name,
        note=of.number,
    )
    _end_if_nothing_is_left(of, taken_at)
    note_use(happened, "transfer.take_over", thing.number, actor=actor, at=at)
    note_access(of.number, shown=[thing.number], finding=told)
    return told


def _locked_transfer(number: str, actor: Actor) -> Transfer:
    """Return a transfer that two keepers may want to end at once; one waits."""
    rows = Transfer.objects.select_for_update(of=("self",))
    within = rows.filter(pk__in=transfers_of(actor).values("pk"))
    return the(within.select_related("from_room", "to_room"), number, "transfer")


def _locked_item(of: Transfer, number: str) -> tuple[TransferItem, Box | Envelope]:
    """Return one container of a transfer that has not ended for it, locked."""
    items = {
        (row.box or row.envelope).number: row  # type: ignore[union-attr] # one of them
        for row in of.items.select_related("box", "envelope", "taken_over_by")
    }
    try:
        item = items.get(read(number))
    except NumberMistyped as error:
        raise Mistaken(container=str(error)) from error
    if item is None:
        raise Mistaken(container=f"{number} is no container of {of.number}.")
    thing = _fresh(item)
    if item.outcome not in OPEN:
        who = item.taken_over_by.name if item.taken_over_by else "somebody"
        raise Refused(f"{thing.number} is {item.get_outcome_display()}, by {who}.")
    if thing.whereabouts != Whereabouts.ON_WAY:
        raise Refused(
            f"{thing.number} is {thing.get_whereabouts_display()}, not on the way."
        )
    return item, thing


def _fresh(item: TransferItem) -> Box | Envelope:
    """Return the container of an item as it is now, kept from others."""
    if item.box_id:
        boxes = Box.objects.select_for_update(of=("self",))
        return boxes.select_related("election", "room").get(pk=item.box_id)
    envelopes = Envelope.objects.select_for_update(of=("self",))
    envelope = item.envelope_id or 0  # one of the two is there
    return envelopes.select_related("election", "room").get(pk=envelope)


def _after_departure(of: Transfer, when: datetime) -> datetime:
    if when < of.handed_over_at:
        raise Mistaken(happened_at="This moment is before they were handed over.")
    return when


def _read_on_arrival(
    thing: Box | Envelope,
    arrived: Arrived,
    taken_at: datetime,
    actor: Actor,
    at: datetime,
) -> str:
    if not seals_in_force(thing):
        return "no seal on record"
    if not arrived.finding:
        raise Mistaken(finding="Say in which state the seal was found.")
    reading = Reading(
        arrived.number_read,
        SealFinding(arrived.finding),
        arrived.witness,
        arrived.condition,
    )
    return record_reading(thing, reading, taken_at, actor, at).get_finding_display()


def _move_contents(thing: Box | Envelope, room: StrongRoom) -> None:
    """Let what lies in a box be in the box's room."""
    if isinstance(thing, Box):
        inside = thing.envelopes.select_for_update(of=("self",)).order_by("pk")
        for envelope in inside:
            envelope.room = room
            envelope.save()


def _end_if_nothing_is_left(of: Transfer, when: datetime) -> None:
    if not of.items.filter(outcome__in=OPEN).exists():
        of.ended_at = when
        of.save()


@usecase("transfer.not_arrived", power=Power.KEEP, subject="transfer")
def report_not_arrived(
    *, transfer: str, container: str, note: str, actor: Actor, at: datetime
) -> None:
    """Record that a container did not arrive: it stays on the way, with a discrepancy.

    Who was to take it over says so; the carrier goes on answering for it.
    """
    of = _locked_transfer(transfer, actor)
    if of.to_room_id not in actor.rooms:
        raise Refused(f"A keeper of {of.to_room} says what did not arrive.")
    if not note.strip():
        raise Mistaken(note="Say what the carrier answers to it.")
    item, thing = _locked_item(of, container)
    if item.outcome == TransferItem.Outcome.NOT_ARRIVED:
        raise Refused(f"That {thing.number} did not arrive is recorded already.")
    item.outcome = TransferItem.Outcome.NOT_ARRIVED
    item.condition = note.strip()[:LONGEST]
    item.save()
    detail = f"Did not arrive with {of.number}, carried by {of.carrier}. {note.strip()}"
    problem = Problem(DiscrepancyKind.NOT_FOUND, detail=detail)
    enter(discrepancy(thing, problem, at))
    note_access(of.number, shown=[thing.number])


@usecase("transfer.come_back", power=Power.KEEP, subject="transfer")
def came_back(
    *,
    transfer: str,
    container: str,
    note: str,
    happened: Happened | None = None,
    actor: Actor,
    at: datetime,
) -> None:
    """Record that the carrier brought a container back to the room it left.

    Its seal is to be read at once: what was read before it left says nothing of it.
    """
    of = _locked_transfer(transfer, actor)
    if of.from_room_id not in actor.rooms:
        raise Refused(f"A keeper of {of.from_room} takes it back.")
    if _is(of.carrier, actor):
        raise Refused("The carrier gives it back to somebody else.")
    if not note.strip():
        raise Mistaken(note="Say why it came back.")
    item, thing = _locked_item(of, container)
    back_at = _after_departure(of, moment_of(thing, happened, actor=actor, at=at))
    refuse_overtaken(thing, happened)
    item.outcome = TransferItem.Outcome.CAME_BACK
    item.taken_over_at = back_at
    item.taken_over_by_id = actor.person_id
    item.condition = note.strip()[:LONGEST]
    thing.whereabouts = Whereabouts.INTAKE
    thing.save()
    item.save()
    enter_movement(
        thing,
        CustodyMovement.Act.RETURNED,
        actor,
        at,
        occurred_at=back_at,
        from_place=f"on the way to {of.to_room}",
        to_place=place_of(thing),
        from_person=of.carrier,
        to_person=actor.name,
        note=f"{of.number}: {note.strip()}"[:LONGEST],
    )
    _end_if_nothing_is_left(of, back_at)
    note_use(happened, "transfer.come_back", thing.number, actor=actor, at=at)
    note_access(of.number, shown=[thing.number])


@usecase("transfer.confirm_order", power=Power.RECORD_PERMISSION, subject="transfer")
def confirm_emergency_order(
    *, transfer: str, order: str, dated: date, actor: Actor, at: datetime
) -> None:
    """Record the authority's word on a move that an emergency forced.

    Raises:
        Refused: it was no emergency, or the word is recorded already.
    """
    of = _locked_transfer(transfer, actor)
    if not of.emergency:
        raise Refused(f"{of.number} went by an order: {of.order}.")
    if of.confirmed_order:
        raise Refused(f"The authority's word stands already: {of.confirmed_order}.")
    if not order.strip() or len(order.strip()) > 200:
        raise Mistaken(order="Name the authority's paper, in at most 200 characters.")
    if dated > day_at_desk(actor, at):
        raise Mistaken(dated="This day has not come yet.")
    of.confirmed_order, of.confirmed_on = order.strip(), dated
    of.confirmed_by_id = actor.person_id
    of.save()
    note_access(of.number)
