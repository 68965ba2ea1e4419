"""What a scan means here and now: looked up, and told before anything is done."""

from dataclasses import dataclass
from datetime import datetime

from registry.models import Box, Envelope, Shelf
from registry.queries.find import NotThere, the
from registry.queries.numbered import leads_to
from registry.queries.scope import boxes_of, envelopes_of, rooms_of
from registry.rules.numbers import NumberMistyped, read
from registry.rules.powers import Actor, Power
from registry.rules.scans import Meaning, Scanned, Step, meaning_of
from registry.usecases._door import Mistaken, note_access, usecase
from registry.usecases._seen import seen_of
from registry.usecases.boxes import place_of

__all__ = ["Hand", "ScanAnswer", "Step"]


@dataclass(frozen=True)
class Hand:
    """The thing in hand, in words.

    Attributes:
        next: what to scan next.
    """

    number: str
    noun: str
    text: str
    place: str
    next: str


@dataclass(frozen=True)
class ScanAnswer:
    """What a scan means, with what is needed to do it and to undo it.

    Attributes:
        leads_to: number of the record whose page is opened, where there is no step.
        undo: how a wrong step is put right.
        as_seen: number of the container's last movement, so that the act can tell
            whether somebody moved it meanwhile.
    """

    meaning: Meaning
    leads_to: str = ""
    undo: str = ""
    as_seen: str = ""


Thing = Box | Envelope | Shelf


@usecase("scan.look", power=Power.KEEP)
def look_at_hand(*, hand: str, actor: Actor, at: datetime) -> Hand | None:
    """Show what is in hand at the scanning page; None where nothing is."""
    if not hand:
        return None
    thing = _thing(hand, actor)
    note_access(thing.number)
    return Hand(
        number=thing.number,
        noun=_noun(thing),
        text=_text(thing),
        place=str(thing) if isinstance(thing, Shelf) else place_of(thing),
        next=_next(thing),
    )


@usecase("scan.read", power=Power.KEEP)
def read_scan(*, hand: str, code: str, actor: Actor, at: datetime) -> ScanAnswer:
    """Say what a scan means; the step itself is an act of its own.

    Args:
        hand: number of the thing in hand, empty for none.
        code: what was scanned or typed.

    Raises:
        Mistaken: it is no register number, mistyped, or there is nothing under it.
    """
    try:
        number = read(code)
    except NumberMistyped as error:
        raise Mistaken(code=str(error)) from error
    held = _thing(hand, actor) if hand else None
    if number[:2] not in ("BX", "EN", "SH"):
        page = leads_to(number, actor)
        if page is None:
            raise Mistaken(code=f"There is nothing under {number} that you may see.")
        note_access(page)
        return ScanAnswer(meaning_of(_scanned(held), Scanned(number)), leads_to=page)
    try:
        thing = _thing(number, actor)
    except NotThere as missing:
        raise Mistaken(code=str(missing)) from missing
    note_access(thing.number)
    now = _scanned(thing)
    assert now is not None
    meaning = meaning_of(_scanned(held), now)
    moved = next(
        (t for t in (held, thing) if t and t.number == meaning.container), None
    )
    if moved is None or isinstance(moved, Shelf):
        return ScanAnswer(meaning)
    return ScanAnswer(meaning, undo=_undo(moved, meaning.step), as_seen=seen_of(moved))


def _thing(number: str, actor: Actor) -> Thing:
    match number.strip().upper()[:2]:
        case "EN":
            return the(envelopes_of(actor), number, "envelope")
        case "SH":
            shelves = Shelf.objects.filter(bay__room__in=rooms_of(actor))
            return the(shelves.select_related("bay__room"), number, "shelf")
    return the(boxes_of(actor), number, "box")


def _scanned(thing: Thing | None) -> Scanned | None:
    if thing is None:
        return None
    is_open = isinstance(thing, Box) and thing.closed_on is None
    return Scanned(thing.number, is_open)


def _noun(thing: Thing) -> str:
    if isinstance(thing, Shelf):
        return "shelf"
    return "box" if isinstance(thing, Box) else "envelope"


def _text(thing: Thing) -> str:
    if isinstance(thing, Shelf):
        return str(thing)
    where = thing.contest or "contest not known"
    return f"{thing.get_kind_display()}, {where}: {thing.get_state_display()}"


def _next(thing: Thing) -> str:
    if isinstance(thing, Shelf):
        return "Scan the boxes that go on this shelf, one after the other."
    if isinstance(thing, Envelope):
        return "Scan the open box into which it goes."
    if thing.closed_on is None:
        return "Scan the envelopes that go into this box, or the shelf it goes on."
    return "Scan the shelf on which it goes."


def _undo(moved: Box | Envelope, step: Step) -> str:
    """Return how a wrong step is put right, told while it is still known."""
    if step is Step.PUT_IN:
        return (
            "If it was the wrong box: take nothing out in silence, report it on the "
            "envelope’s page."
        )
    if isinstance(moved, Box) and moved.shelf:
        return f"If it was wrong: scan the box again, then {moved.shelf.number}."
    return "If it was wrong: scan the box again, then the right shelf."
