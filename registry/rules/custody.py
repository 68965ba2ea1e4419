"""Custody without gaps: in whose charge a container was at every moment.

From a container's own movements and those of the boxes it lay in, in the order in
which they happened, follows one line from its sealing until now or its end: each
moment is in one person's charge or in one named gap, never in two and never in none.
Beside the line stand the faults: handed over by somebody who did not hold it, entered
late, out past its day, still held by somebody whose charge of the room had ended.

(That each change of hands is signed for by giver and taker, and what breaks the chain:
common practice in the custody of evidence, no published source.)
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime

from registry.rules import custody_faults as faults
from registry.rules.custody_facts import (
    Chain,
    ChargeEnded,
    CustodyFault,
    Finding,
    Move,
    MoveFact,
    Stretch,
    same_name,
)

# Acts after which the charge is with the person to whom it was given.
_GIVEN = frozenset(
    {
        Move.HANDED_OVER,
        Move.TAKEN_OUT,
        Move.RETURNED,
        Move.KEPT,
        Move.DESPATCHED,
        Move.TAKEN_OVER,
    }
)
# Acts of an envelope by which it no longer lies in its box, so that what is done with
# the box says nothing about it: a missing envelope passes to nobody with its box.
_LEAVES_ITS_BOX = frozenset(
    {
        Move.BOXED,
        Move.TAKEN_OUT,
        Move.RETURNED,
        Move.KEPT,
        Move.DESPATCHED,
        Move.TAKEN_OVER,
        Move.REPLACED,
        Move.NOT_FOUND,
        Move.DISPOSED,
    }
)


@dataclass(frozen=True)
class _State:
    holder: str = ""
    gap: CustodyFault | None = CustodyFault.NOT_RECEIVED
    place: str = ""
    box: str = ""


@dataclass(frozen=True)
class _Mark:
    """A moment at which something changed, and the movement that changed it."""

    at: datetime
    state: _State
    by: MoveFact | None = None


@dataclass
class _Line:
    """The line as it grows: each moment at which something changed, and faults."""

    state: _State = field(default_factory=_State)
    marks: list[_Mark] = field(default_factory=list)
    faults: list[Finding] = field(default_factory=list)

    def fault(self, fault: CustodyFault, move: MoveFact, text: str) -> None:
        self.faults.append(Finding(fault, move.at, move.at, text, move.number))


def chain_of(
    own: Iterable[MoveFact],
    *,
    now: datetime,
    sealed_at: datetime | None = None,
    boxes: Mapping[str, Sequence[MoveFact]] | None = None,
    charges_ended: Iterable[ChargeEnded] = (),
) -> Chain:
    """Return a container's chain of custody.

    Args:
        own: its own movements, in any order.
        now: until when, unless it was disposed of before.
        sealed_at: the beginning of the day of sealing, where that is before the day
            of receipt; a container sealed on the day it came in begins with its
            receipt.
        boxes: the movements of each box it may have lain in, by the box's number.
        charges_ended: who had no charge of its room from when to when.
    """
    moves = sorted(own, key=lambda m: m.key)
    line = _walk(moves, boxes or {})
    marks = _with_sealing(line.marks, sealed_at)
    last = marks[-1] if marks else None
    ended = last is not None and last.by is not None and last.by.act is Move.DISPOSED
    stretches = tuple(_stretches(marks, now, ended=ended))
    findings = [
        *faults.gaps(stretches),
        *line.faults,
        *faults.late(_all_moves(moves, boxes or {})),
        *faults.overdue(_all_moves(moves, boxes or {}), now),
        *faults.charges_ended(stretches, list(charges_ended)),
    ]
    findings.sort(key=lambda f: (f.start, f.by))
    return Chain(stretches, tuple(findings), ended)


def stays(own: Sequence[MoveFact]) -> Iterator[tuple[MoveFact, MoveFact | None]]:
    """Yield each stay in a box: the movement into it, and the one out of it.

    An envelope found in its box lies there again from then on.
    """
    for index, move in enumerate(own):
        if move.act in (Move.BOXED, Move.FOUND) and move.into:
            rest = own[index + 1 :]
            yield move, next((m for m in rest if m.act in _LEAVES_ITS_BOX), None)


def _all_moves(
    own: Sequence[MoveFact], boxes: Mapping[str, Sequence[MoveFact]]
) -> list[MoveFact]:
    """Return its own movements and those of its boxes while it lay in them."""
    found = list(own)
    for into, out in stays(own):
        found += [
            m
            for m in boxes.get(into.into, ())
            if m.key > into.key and (out is None or m.key < out.key)
        ]
    return sorted(found, key=lambda m: m.key)


def _walk(own: Sequence[MoveFact], boxes: Mapping[str, Sequence[MoveFact]]) -> _Line:
    line = _Line()
    for move in _all_moves(own, boxes):
        if move.act is Move.BOXED:
            _into_a_box(line, move, boxes.get(move.into, ()))
        else:
            _moved(line, move, is_own=bool(own) and move.of == own[0].of)
        line.marks.append(_Mark(move.at, line.state, move))
        if move.act is Move.DISPOSED:
            break
    return line


def _into_a_box(line: _Line, move: MoveFact, of_box: Sequence[MoveFact]) -> None:
    """From now on it is in the charge of whoever has the box."""
    earlier = [m for m in of_box if m.key < move.key]
    there = _walk(sorted(earlier, key=lambda m: m.key), {}).state
    was = line.state
    line.state = replace(was, place=move.to_place, box=move.into)
    if there.gap is not None or not there.holder:
        return
    if was.holder and not same_name(was.holder, there.holder):
        line.fault(
            CustodyFault.OVERLAP,
            move,
            f"Held by {was.holder}, it was put into box {move.into}, which was in the "
            f"charge of {there.holder}; no hand-over between them is recorded.",
        )
    line.state = replace(line.state, holder=there.holder, gap=None)


def _moved(line: _Line, move: MoveFact, *, is_own: bool) -> None:
    """Take one movement, of the container itself or of the box it lies in."""
    state = line.state
    if is_own and move.act in _LEAVES_ITS_BOX:
        state = replace(state, box="")
    if is_own and move.act is Move.FOUND:
        state = replace(state, box=move.into)
    state = replace(state, place=move.to_place or state.place)
    if move.act in _GIVEN:
        _check_giver(line, move, line.state)
        if is_own and state.box:
            _apart_from_its_box(line, move, state)
    line.state = _after(state, move)


def _after(state: _State, move: MoveFact) -> _State:
    if move.act in _GIVEN:
        on_way = move.act is Move.DESPATCHED
        gap = CustodyFault.ON_WAY if on_way else CustodyFault.NO_RECEIVER
        return _held_by(state, move.to_person, gap)
    match move.act:
        case Move.RECEIVED:
            named = move.to_person if move.recorder else ""
            return _held_by(state, named, CustodyFault.NO_NAME)
        case Move.FOUND:
            named = move.to_person or move.recorder
            return _held_by(state, named, CustodyFault.NO_NAME)
        case Move.NOT_FOUND:
            return replace(state, holder="", gap=CustodyFault.MISSING, place="")
        case Move.DISPOSED:
            return _State(gap=None)
        case Move.REPLACED if move.to_person:
            return replace(state, holder=move.to_person.strip(), gap=None)
    return state


def _held_by(state: _State, person: str, otherwise: CustodyFault) -> _State:
    """Return the state in a person's charge, or in a gap where nobody is named."""
    name = person.strip()
    return replace(state, holder=name, gap=None if name else otherwise)


def _apart_from_its_box(line: _Line, move: MoveFact, state: _State) -> None:
    line.fault(
        CustodyFault.OVERLAP,
        move,
        f"It was given to {move.to_person or 'somebody not named'} while it lay in "
        f"box {state.box}, which was in the charge of {state.holder or 'nobody'}.",
    )


def _check_giver(line: _Line, move: MoveFact, state: _State) -> None:
    giver = move.from_person.strip()
    if not giver or (state.holder and same_name(giver, state.holder)):
        return
    held = f"{state.holder} was" if state.holder else "nobody was"
    line.fault(
        CustodyFault.NOT_HOLDER,
        move,
        f"{giver} gave it to {move.to_person or 'somebody not named'} while {held} "
        "recorded as its holder.",
    )


def _with_sealing(marks: list[_Mark], sealed_at: datetime | None) -> list[_Mark]:
    if sealed_at and (not marks or sealed_at < marks[0].at):
        return [_Mark(sealed_at, _State()), *marks]
    return marks


def _stretches(
    marks: Sequence[_Mark], now: datetime, *, ended: bool
) -> Iterator[Stretch]:
    """Yield the spans between the marks; what lasted no time is left out.

    The last one stays although it began this very moment: it says who has it now.
    """
    ends = [mark.at for mark in marks[1:]]
    if marks and not ended:
        ends.append(max(now, marks[-1].at))
    for mark, end in zip(marks, ends, strict=False):
        if mark.at < end or (mark is marks[-1] and not ended):
            yield Stretch(
                start=mark.at,
                end=end,
                holder=mark.state.holder,
                gap=mark.state.gap,
                place=mark.state.place,
                by=mark.by.number if mark.by else "",
                act=mark.by.act if mark.by else None,
                box=mark.state.box,
            )
