"""Numbers of seals: a serial parted into its prefix and its number, and ranges.

Leading zeros are kept: PS-0041 and PS-041 are two seals. (Common practice, no
published source.)
"""

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from registry.rules.numbers import plain_serial

# No office issues more in one lot; a longer one is a slip of the hand.
LONGEST = 100_000

_SHAPE = re.compile(r"(.*?)(\d+)")


class NoRange(ValueError):
    """Two serials between which nothing can be counted; the message says why."""


@dataclass(frozen=True)
class SealNumber:
    """A serial that ends in a number.

    Attributes:
        prefix: what stands before the number, as printed.
        value, width: the number, and how many digits it is printed with.
    """

    prefix: str
    value: int
    width: int

    def __str__(self) -> str:
        return f"{self.prefix}{self.value:0{self.width}d}"

    @property
    def plain(self) -> str:
        """The form in which two writings are compared."""
        return plain_serial(str(self))


@dataclass(frozen=True)
class SealRange:
    """Seals with consecutive numbers, both ends included."""

    first: SealNumber
    last: SealNumber

    def __len__(self) -> int:
        return self.last.value - self.first.value + 1

    def __iter__(self) -> Iterator[SealNumber]:
        for value in range(self.first.value, self.last.value + 1):
            yield SealNumber(self.first.prefix, value, self.first.width)

    def __str__(self) -> str:
        return str(self.first) if len(self) == 1 else f"{self.first} to {self.last}"

    def covers(self, other: "SealRange") -> bool:
        """Tell whether every seal of the other is one of these."""
        mine = {number.plain for number in (self.first, self.last)}
        if len(other) > len(self):
            return False
        if mine == {number.plain for number in (other.first, other.last)}:
            return True
        return {number.plain for number in other} <= {number.plain for number in self}


def seal_number(serial: str) -> SealNumber:
    """Part a serial into its prefix and its number.

    Raises:
        NoRange: it does not end in a number.
    """
    text = serial.strip()
    shape = _SHAPE.fullmatch(text)
    if not shape:
        raise NoRange(f"“{text}” does not end in a number; seals are numbered.")
    return SealNumber(shape[1], int(shape[2]), len(shape[2]))


def seal_range(first: str, last: str) -> SealRange:
    """Return the seals from one serial to another.

    Raises:
        NoRange: the two have no common prefix or number of digits, the last comes
            before the first, or there would be more than ``LONGEST``.
    """
    one, other = seal_number(first), seal_number(last)
    if plain_serial(one.prefix) != plain_serial(other.prefix):
        raise NoRange(
            f"{one} and {other} do not begin alike: enter each series as a lot of its "
            "own."
        )
    grown = other.width > one.width == len(str(one.value))
    if other.width != one.width and not (
        grown and other.width == len(str(other.value))
    ):
        raise NoRange(
            f"{one} and {other} have not the same number of digits: leading zeros are "
            "part of a seal’s number."
        )
    if other.value < one.value:
        raise NoRange(f"{other} comes before {one}: give the lower one first.")
    if other.value - one.value >= LONGEST:
        raise NoRange(
            f"From {one} to {other} would be more than {LONGEST:,} seals: look at the "
            "numbers again."
        )
    return SealRange(one, SealNumber(one.prefix, other.value, one.width))


def in_ranges(numbers: Iterable[SealNumber]) -> tuple[SealRange, ...]:
    """Return numbers in as few ranges as can be, in order."""
    ranges: list[SealRange] = []
    ordered = sorted(numbers, key=lambda n: (plain_serial(n.prefix), n.width, n.value))
    for number in ordered:
        last = ranges[-1].last if ranges else None
        follows = (
            last is not None
            and plain_serial(last.prefix) == plain_serial(number.prefix)
            and last.width == number.width
            and number.value - last.value in (0, 1)
        )
        if follows:
            ranges[-1] = SealRange(ranges[-1].first, number)
        else:
            ranges.append(SealRange(number, number))
    return tuple(ranges)
