"""Hand-over of charge: the stock stated, looked at, differences listed, both sign.

Until the incoming custodian signs, the outgoing one answers for everything: nothing
changes hands before, and then all of it at once.
"""

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime

from registry.documents.hand_overs import (
    HandOverPaper,
    hand_over_pdf,
    statement_csv,
    statement_lines,
)
from registry.models import (
    Box,
    ChargeHandOver,
    CustodyMovement,
    Document,
    Election,
    Envelope,
    RoomCharge,
    Shelf,
    StrongRoom,
    User,
)
from registry.queries.find import NotThere, the
from registry.queries.hand_overs import (
    StockLine,
    changes_between,
    differences_in,
    hand_over_file,
    hand_overs_of,
    handed_containers,
    handed_lines,
    looks_of,
    missed_in,
    never_found_in,
    stock_of,
    with_people,
)
from registry.queries.keeping import legal_date
from registry.queries.scope import rooms_of
from registry.rules.numbers import NumberMistyped, kind_of, read
from registry.rules.powers import Actor, Power, Role
from registry.usecases._door import Mistaken, Refused, note_access, usecase
from registry.usecases._looked_at import Look, Seen, enter_look
from registry.usecases._records import enter, enter_many
from registry.usecases.boxes import place_of
from registry.usecases.documents import keep_bytes

__all__ = [
    "HandOverPlan",
    "Look",
    "Seen",
    "give_up_hand_over",
    "look_at_handed_over",
    "restate_stock",
    "sign_in",
    "sign_out",
    "state_stock",
]

State = ChargeHandOver.State


@dataclass(frozen=True)
class HandOverPlan:
    """Who hands which room over to whom.

    Attributes:
        room, outgoing, incoming: register numbers.
        order: the order of transfer of the officer.
        outgoing_absent: why the outgoing officer cannot be there, by whose order a
            commissioner states the stock instead; empty where the officer does it.
        charge_ends: the outgoing officer's charge of the room ends with it.
    """

    room: str
    outgoing: str
    incoming: str
    order: str
    outgoing_absent: str = ""
    charge_ends: bool = True


@usecase("hand_over.state", power=Power.KEEP)
def state_stock(*, plan: HandOverPlan, actor: Actor, at: datetime) -> str:
    """State the whole stock of a room that is handed over; returns the number.

    The outgoing custodian states it. Where that officer is dead, suspended or away, a
    commissioner does: another custodian with charge of the room, who signs instead.

    Raises:
        Mistaken: the people do not fit, or the order is not named.
        Refused: a hand-over of this room by this officer is open.
    """
    room = the(rooms_of(actor).select_for_update(), plan.room, "strong room")
    outgoing, incoming = _people(plan, room, actor)
    if ChargeHandOver.objects.filter(
        room=room, state__in=(State.STATED, State.SIGNED_OUT)
    ).exists():
        raise Refused(f"A hand-over of {room} is open. Sign it, or give it up first.")
    lines = stock_of(room, outgoing, _today(at), actor)
    document = _kept_statement(room, lines)
    of = enter(
        ChargeHandOver(
            room=room,
            outgoing=outgoing,
            incoming=incoming,
            order=plan.order.strip(),
            outgoing_absent=plan.outgoing_absent.strip(),
            charge_ends=plan.charge_ends,
            stated_at=at,
            stated_by_id=actor.person_id,  # type: ignore[misc] # a person states it
            containers=len(handed_lines(lines)),
            list_document=document,
            list_digest=document.digest,
        )
    )
    note_access(of.number, shown=list(handed_lines(lines)), room=room.number)
    return of.number


def _people(plan: HandOverPlan, room: StrongRoom, actor: Actor) -> tuple[User, User]:
    outgoing = _custodian("outgoing", plan.outgoing)
    incoming = _custodian("incoming", plan.incoming)
    absent = plan.outgoing_absent.strip()
    problems = _texts_missing(plan)
    if outgoing == incoming:
        problems["incoming"] = ["A hand-over is between two people."]
    elif not incoming.is_active:
        problems["incoming"] = ["This person's appointment has ended."]
    elif incoming.pk == actor.person_id:
        problems["incoming"] = [
            "Who takes over does not state the stock: the outgoing custodian does, or "
            "a commissioner."
        ]
    if not RoomCharge.objects.filter(room=room, person=outgoing).exists():
        problems["outgoing"] = [f"{outgoing} has no charge of {room}."]
    if outgoing.pk != actor.person_id and not absent:
        problems["outgoing_absent"] = [
            "Say why the outgoing officer cannot be there, and by whose order you "
            "state the stock instead."
        ]
    if outgoing.pk == actor.person_id and absent:
        problems["outgoing_absent"] = ["You are the outgoing officer, and here."]
    if problems:
        raise Mistaken(problems)
    return outgoing, incoming


def _texts_missing(plan: HandOverPlan) -> dict[str, list[str]]:
    problems = {}
    if not plan.order.strip():
        problems["order"] = ["Name the order of transfer."]
    for name, longest in (("order", 200), ("outgoing_absent", 400)):
        if len(getattr(plan, name).strip()) > longest:
            problems[name] = [f"Shorten this to {longest} characters."]
    return problems


def _custodian(field: str, number: str) -> User:
    custodians = User.objects.filter(role=Role.CUSTODIAN.value)
    try:
        return the(custodians, number, "custodian")
    except NotThere as missing:
        raise Mistaken({field: [str(missing)]}) from missing


def _today(at: datetime) -> date:
    return legal_date(Election.objects.order_by("id").first(), at)


def _kept_statement(room: StrongRoom, lines: Sequence[StockLine]) -> Document:
    return keep_bytes(f"Stock of {room}", statement_csv(lines), "text/csv", "csv")


def stated_lines(of: ChargeHandOver) -> tuple[StockLine, ...]:
    """Return the lines of the statement, from the paper that was kept.

    Raises:
        Refused: the file is missing or no longer what was kept.
    """
    try:
        with of.list_document.file.open("rb") as file:
            content = file.read()
    except OSError as error:
        raise Refused(
            f"The statement of {of.number} cannot be read. Tell the administrator."
        ) from error
    if hashlib.sha256(content).hexdigest() != of.list_digest:
        raise Refused(
            f"The statement of {of.number} is not the one that was kept: its digest "
            "differs. Tell the administrator and the auditor."
        )
    return statement_lines(content)


def _locked(number: str, actor: Actor, *states: State) -> ChargeHandOver:
    rows = hand_overs_of(actor).select_for_update(of=("self",))
    of = the(with_people(rows), number, "hand-over")
    if of.state not in states:
        raise Refused(f"{of.number} is {of.get_state_display()}.")
    return of


def _giver(of: ChargeHandOver) -> int:
    """Return who signs on the side that hands over."""
    return of.stated_by_id if of.outgoing_absent else of.outgoing_id


@usecase("hand_over.restate", power=Power.KEEP, subject="hand_over")
def restate_stock(*, hand_over: str, actor: Actor, at: datetime) -> None:
    """State the stock anew, because something changed; a signature given is void.

    What was looked at already stays looked at.

    Raises:
        Refused: another person states it, or it has ended.
    """
    of = _locked(hand_over, actor, State.STATED, State.SIGNED_OUT)
    if actor.person_id != _giver(of):
        raise Refused("The stock is stated by the one who hands it over.")
    lines = stock_of(of.room, of.outgoing, _today(at), actor)
    document = _kept_statement(of.room, lines)
    of.list_document, of.list_digest = document, document.digest
    of.containers = len(handed_lines(lines))
    of.stated_at = at
    of.state = State.STATED
    of.signed_out_at = None
    of.signed_out_by = None
    of.differences = ""
    of.save()
    note_access(of.number, shown=list(handed_lines(lines)))


@usecase("hand_over.look_at_one", power=Power.KEEP, subject="hand_over")
def look_at_handed_over(
    *, hand_over: str, look: Look, shelf: str = "", actor: Actor, at: datetime
) -> Seen:
    """Enter what the incoming custodian saw of one container that was stated.

    Raises:
        Mistaken: it does not stand on the statement, or the seal was not read.
        Refused: somebody else takes over, or it was looked at already.
    """
    of = _locked(hand_over, actor, State.STATED)
    if actor.person_id != of.incoming_id:
        raise Refused(f"{of.incoming} takes over, and looks at what is handed over.")
    container = _stated_container(of, look.scanned)
    last = of.sightings.filter(
        box=container if isinstance(container, Box) else None,
        envelope=container if isinstance(container, Envelope) else None,
    )
    newest = last.order_by("-id").first()
    if newest and (newest.found or not look.found):
        raise Refused(f"{container.number} was looked at already.")
    stands_on = None
    if shelf.strip():
        shelves = Shelf.objects.filter(bay__room_id=of.room_id)
        stands_on = the(
            shelves.select_related("bay__room"), shelf, "shelf of this room"
        )
    seen = enter_look(
        container,
        Look(**{**vars(look), "shelf": stands_on}),
        at,
        actor,
        at,
        hand_over=of,
    )
    note_access(of.number, meant=[container.number])
    return seen


def _stated_container(of: ChargeHandOver, scanned: str) -> Box | Envelope:
    try:
        number = read(scanned)
    except NumberMistyped as error:
        raise Mistaken(scanned=str(error)) from error
    if number not in handed_lines(stated_lines(of)):
        raise Mistaken(
            scanned=f"{number} does not stand on the statement. If it is in the room, "
            "have the stock stated anew; what lies in a sealed box is answered for "
            "by its box."
        )
    model: type[Box] | type[Envelope] = Box if kind_of(number) == "BX" else Envelope
    rows = model.objects.select_for_update(of=("self",))
    return rows.select_related("room", "election").get(number=number)


def _refuse_changed(of: ChargeHandOver, at: datetime) -> tuple[StockLine, ...]:
    """Return the statement; raise Refused where the stock is no longer as stated."""
    stated = stated_lines(of)
    now = stock_of(of.room, of.outgoing, _today(at))
    changed = changes_between(stated, now, missed_in(of))
    if changed:
        raise Refused(
            "The stock changed since it was stated. Have it stated anew.", *changed
        )
    return stated


@usecase("hand_over.sign_out", power=Power.KEEP, subject="hand_over")
def sign_out(*, hand_over: str, actor: Actor, at: datetime) -> None:
    """Sign as the one who hands over, with the differences that were found.

    Raises:
        Refused: it is another's to sign, or the stock changed since it was stated.
    """
    of = _locked(hand_over, actor, State.STATED)
    if actor.person_id != _giver(of):
        raise Refused("The one who hands over signs here: " + _giver_named(of) + ".")
    stated = _refuse_changed(of, at)
    of.differences = "\n".join(differences_in(looks_of(of, stated)))
    of.state = State.SIGNED_OUT
    of.signed_out_at = at
    of.signed_out_by_id = actor.person_id
    of.save()
    note_access(of.number)


def _giver_named(of: ChargeHandOver) -> str:
    return of.stated_by.name if of.outgoing_absent else of.outgoing.name


@usecase("hand_over.sign_in", power=Power.KEEP, subject="hand_over")
def sign_in(*, hand_over: str, actor: Actor, at: datetime) -> str:
    """Sign as the one who takes over: from now on this person answers for the stock.

    Everything in the room changes hands in one moment, and the paper is kept. For what
    was looked for in vain the one who stated it goes on answering.

    Returns:
        The number of the paper.

    Raises:
        Refused: it is another's to sign, the other side has not signed, or the stock
            changed since it was stated.
    """
    of = _locked(hand_over, actor, State.STATED, State.SIGNED_OUT)
    if actor.person_id != of.incoming_id:
        raise Refused(f"The one who takes over signs here: {of.incoming}.")
    if of.state != State.SIGNED_OUT:
        raise Refused(f"{_giver_named(of)} signs first.")
    _lock_containers(of.room)
    stated = _refuse_changed(of, at)
    lacking = never_found_in(of, stated)
    containers = [c for c in handed_containers(of.room) if c.number not in lacking]
    enter_many([_handed(each, of, at) for each in containers])
    _charge(of)
    of.state = State.DONE
    of.signed_in_at = of.ended_at = at
    file = hand_over_file(of, stated, _today(at))
    content = hand_over_pdf(
        HandOverPaper(file, at, f"{actor.name} ({actor.role_title})")
    )
    of.document = keep_bytes(
        f"Hand-over of charge {of.number}", content, "application/pdf", "pdf"
    )
    of.save()
    note_access(
        of.number,
        shown=[each.number for each in containers],
        document=of.document.number,
    )
    return of.document.number


def _lock_containers(room: StrongRoom) -> None:
    """Let nobody move anything of the room between the last look and the signature."""
    models: tuple[type[Box] | type[Envelope], ...] = (Box, Envelope)
    for model in models:
        rows = model.objects.select_for_update().filter(room=room).order_by("pk")
        list(rows.values_list("pk", flat=True))


def _handed(
    container: Box | Envelope, of: ChargeHandOver, at: datetime
) -> CustodyMovement:
    giver = of.outgoing.name
    if of.outgoing_absent:
        giver = f"{of.stated_by.name} for {giver}"[:160]
    place = place_of(container)
    return CustodyMovement(
        act=CustodyMovement.Act.HANDED_OVER,
        box=container if isinstance(container, Box) else None,
        envelope=container if isinstance(container, Envelope) else None,
        from_place=place,
        to_place=place,
        from_person=giver,
        to_person=of.incoming.name,
        note=f"Hand-over of charge {of.number}",
        occurred_at=at,
        recorded_at=at,
        recorded_by_id=of.incoming_id,
    )


def _charge(of: ChargeHandOver) -> None:
    """Let the charge of the room begin for the one, and end for the other if asked."""
    begins = RoomCharge.objects.filter(room=of.room, person=of.incoming).first()
    if begins is None:
        RoomCharge(room=of.room, person=of.incoming).save()
    elif begins.ended:
        begins.ended = False
        begins.save()
    ends = RoomCharge.objects.filter(room=of.room, person=of.outgoing, ended=False)
    old = ends.first() if of.charge_ends else None
    if old is not None:
        old.ended = True
        old.save()


@usecase("hand_over.give_up", power=Power.KEEP, subject="hand_over")
def give_up_hand_over(
    *, hand_over: str, reason: str, actor: Actor, at: datetime
) -> None:
    """Give a hand-over up; the outgoing custodian answers for the stock as before.

    Raises:
        Mistaken: no reason is given.
        Refused: it has ended.
    """
    of = _locked(hand_over, actor, State.STATED, State.SIGNED_OUT)
    if not reason.strip():
        raise Mistaken(reason="Say why it is given up.")
    if len(reason.strip()) > 400:
        raise Mistaken(reason="Shorten this to 400 characters.")
    of.state = State.GIVEN_UP
    of.ended_at = at
    of.ended_because = reason.strip()
    of.save()
    note_access(of.number)
