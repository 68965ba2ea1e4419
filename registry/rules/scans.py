"""What a scan means: the step in hand, or the record itself.

A thing in hand is what was scanned before: a box and then a shelf is a box put on
that shelf. Nothing is guessed: two things between which there is no step leave the
second one in hand, and the person is told so.
"""

from dataclasses import dataclass
from enum import StrEnum


class Step(StrEnum):
    """What the next scan does."""

    TAKE_UP = "take-up"  # it is in hand from now on
    SHELVE = "shelve"  # the box goes on the shelf
    PUT_IN = "put-in"  # the envelope goes into the box
    OPEN = "open"  # it has a page of its own, and no step
    NOTHING = "nothing"  # the same thing twice, or two that do not go together


@dataclass(frozen=True)
class Scanned:
    """A thing that was scanned, as far as the next step depends on it.

    Attributes:
        is_open: a box that is still being filled.
    """

    number: str
    is_open: bool = False

    @property
    def kind(self) -> str:
        """The prefix of its number."""
        return self.number[:2]


@dataclass(frozen=True)
class Meaning:
    """What a scan means.

    Attributes:
        container, place: what goes where, for a step.
        in_hand: number of the thing that is in hand afterwards; empty for none.
        told: what the person has to know; empty where the step says it.
    """

    step: Step
    container: str = ""
    place: str = ""
    in_hand: str = ""
    told: str = ""


_CAN_BE_IN_HAND = ("BX", "EN", "SH")


def meaning_of(hand: Scanned | None, scanned: Scanned) -> Meaning:
    """Return what a scan means, given what is in hand.

    What takes several things stays in hand (a shelf, an open box); what was put away
    does not.
    """
    if scanned.kind not in _CAN_BE_IN_HAND:
        return Meaning(Step.OPEN, in_hand=hand.number if hand else "")
    if hand is None:
        return Meaning(Step.TAKE_UP, in_hand=scanned.number)
    if hand.number == scanned.number:
        return Meaning(
            Step.NOTHING, in_hand=hand.number, told=f"{hand.number} is in hand already."
        )
    pair = {hand.kind: hand, scanned.kind: scanned}
    if pair.keys() == {"BX", "SH"}:
        return _shelved(hand, pair["BX"], pair["SH"])
    if pair.keys() == {"BX", "EN"}:
        return _put_in(hand, scanned, pair["EN"], pair["BX"])
    if pair.keys() == {"EN", "SH"}:
        return Meaning(
            Step.NOTHING,
            in_hand=hand.number,
            told="An envelope goes into a box, not on a shelf. Scan its box.",
        )
    return Meaning(
        Step.TAKE_UP,
        in_hand=scanned.number,
        told=f"{scanned.number} is in hand now; nothing was done with {hand.number}.",
    )


def _shelved(hand: Scanned, box: Scanned, shelf: Scanned) -> Meaning:
    kept = hand.number if hand.kind == "SH" else ""
    return Meaning(Step.SHELVE, box.number, shelf.number, kept)


def _put_in(
    hand: Scanned, scanned: Scanned, envelope: Scanned, box: Scanned
) -> Meaning:
    if not box.is_open:
        return Meaning(
            Step.TAKE_UP,
            in_hand=scanned.number,
            told=f"{box.number} is closed and sealed: nothing goes into it. "
            f"{scanned.number} is in hand now.",
        )
    kept = hand.number if hand.kind == "BX" else ""
    return Meaning(Step.PUT_IN, envelope.number, box.number, kept)
