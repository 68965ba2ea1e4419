"""What a chain of custody lacks, in sentences."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from datetime import datetime, timedelta

from registry.rules.custody_facts import (
    ChargeEnded,
    CustodyFault,
    Finding,
    Move,
    MoveFact,
    Stretch,
    same_name,
)

LATE = timedelta(hours=24)
_BACK = frozenset({Move.RETURNED, Move.KEPT, Move.DISPOSED, Move.TAKEN_OVER})

_GAP_SAID = {
    CustodyFault.NOT_RECEIVED: "It was sealed, and nobody is recorded as its holder "
    "until it was received.",
    CustodyFault.NO_NAME: "It was taken in from a list at a terminal: nobody's name "
    "stands for it.",
    CustodyFault.MISSING: "It was not found.",
    CustodyFault.ON_WAY: "It was on the way and no carrier is named.",
    CustodyFault.NO_RECEIVER: "It was given away and nobody is named who took it.",
}


def gaps(stretches: Iterable[Stretch]) -> list[Finding]:
    """Return each gap once, however many movements fell into it."""
    found: list[Finding] = []
    for stretch in stretches:
        if stretch.gap is None:
            continue
        last = found[-1] if found else None
        if last and last.fault is stretch.gap and last.end == stretch.start:
            found[-1] = replace(last, end=stretch.end)
            continue
        found.append(
            Finding(
                stretch.gap,
                stretch.start,
                stretch.end,
                _GAP_SAID[stretch.gap],
                stretch.by,
            )
        )
    return found


def late(moves: Iterable[MoveFact]) -> Iterator[Finding]:
    """Yield what was entered more than 24 hours after it happened."""
    for move in moves:
        behind = move.recorded_at - move.at
        if behind > LATE:
            yield Finding(
                CustodyFault.RECORDED_LATE,
                move.at,
                move.recorded_at,
                f"Movement {move.number} was entered {_span(behind)} after it "
                "happened.",
                move.number,
            )


def overdue(moves: Sequence[MoveFact], now: datetime) -> Iterator[Finding]:
    """Yield each time it was out past the day on which it was to be back."""
    for index, move in enumerate(moves):
        if move.act is not Move.TAKEN_OUT or move.expected_back is None:
            continue
        back = next((m.at for m in moves[index + 1 :] if m.act in _BACK), now)
        if back > move.expected_back:
            yield Finding(
                CustodyFault.OVERDUE,
                move.expected_back,
                back,
                f"{move.to_person or 'Whoever had it'} was to bring it back "
                f"{_span(back - move.expected_back)} before.",
                move.number,
            )


def charges_ended(
    stretches: Iterable[Stretch], ended: Sequence[ChargeEnded]
) -> Iterator[Finding]:
    """Yield each time it was held by somebody whose charge of the room had ended."""
    for stretch in stretches:
        for charge in ended if stretch.holder else ():
            start = max(stretch.start, charge.since)
            end = min(stretch.end, charge.until or stretch.end)
            if start < end and same_name(stretch.holder, charge.name):
                yield Finding(
                    CustodyFault.CHARGE_ENDED,
                    start,
                    end,
                    f"{stretch.holder} held it although their charge of the room had "
                    "ended.",
                    stretch.by,
                )


def _span(length: timedelta) -> str:
    if length.days:
        return f"{length.days} day{'s' if length.days > 1 else ''}"
    hours = int(length.total_seconds() // 3600)
    return f"{hours} hour{'s' if hours != 1 else ''}"
