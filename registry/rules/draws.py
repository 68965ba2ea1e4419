"""A draw that anybody can repeat from public numbers: RFC 3797, sections 4 and 6.

The numbers come from sources named before they were known, such as a lottery, and
are written in one agreed form, the key. For the first item, the key is hashed by MD5
between two bytes 00 00, for the second between 00 01, and so on; the hash, taken as
a number of 128 bits, is divided by how many are left, and the remainder counts off
the next item in what is left of the list. MD5 protects nothing here: what makes the
draw fair is that nobody knew the numbers when the list was fixed.
"""

import hashlib
import re
from decimal import Decimal

# The counter has two bytes (RFC 3797, section 4).
LARGEST_POPULATION = 65_535

_PART = re.compile(r"[/\n]+")
_BETWEEN = re.compile(r"[\s,;]+")
_NUMBER = re.compile(r"[0-9]+(\.[0-9]*)?")
_SEVERAL = re.compile(r"([0-9]+\.){2,}")
_WORD = re.compile(r"[^A-Z0-9]")


class SeedUnclear(ValueError):
    """The numbers cannot be read in one way only; the message says what to write."""


def key_of(text: str) -> str:
    """Return the key: what the sources published, in the one form that is hashed.

    Each source's numbers are set in order from the smallest, without leading zeros,
    each ended by a dot; each source ends in a slash; words are reduced to capital
    letters and figures (RFC 3797, section 4). A key comes back as it is.

    Args:
        text: sources parted by slashes or lines, the numbers of one by blanks or
            commas: ``9319 / 2 5 12 8 10 / 9 18 26 34 41 45``.

    Raises:
        SeedUnclear: there is no number in it, or one that could be read in two ways.
    """
    sources = [part.strip() for part in _PART.split(text.strip()) if part.strip()]
    if not any(character.isdigit() for character in text):
        raise SeedUnclear("Enter the public numbers, such as 9319 / 2 5 12 8 10.")
    return "".join(_source(source) + "/" for source in sources)


def _source(text: str) -> str:
    if _SEVERAL.fullmatch(text):  # a key, or part of one
        text = text.replace(".", " ").strip()
    parts = [part for part in _BETWEEN.split(text) if part]
    if not all(_NUMBER.fullmatch(part) for part in parts):
        return _a_word(text)
    numbers = sorted(Decimal(part) for part in parts)
    if len(numbers) > 1 and any(n != n.to_integral_value() for n in numbers):
        raise SeedUnclear(
            f"“{text}”: give a number with a decimal point as a source of its own."
        )
    return "".join(map(_a_number, numbers))


def _a_number(number: Decimal) -> str:
    whole, _, rest = f"{number:f}".partition(".")
    return f"{whole}.{rest.rstrip('0')}"


def _a_word(text: str) -> str:
    plain = _WORD.sub("", text.upper())
    if not text.isascii() or not plain or "." in text:
        raise SeedUnclear(
            f"“{text}” can be read in several ways: write whole numbers with blanks "
            "between them, or plain letters and figures."
        )
    return plain


def draw(key: str, population: int, size: int) -> tuple[int, ...]:
    """Return the lines that are drawn, from 1, in the order of the draw.

    Args:
        key: as ``key_of`` returns it.
        population: how many lines the list has.
        size: how many are drawn; none is drawn twice.

    Raises:
        ValueError: more are to be drawn than there are, or the list is too long.
    """
    if not 0 <= size <= population <= LARGEST_POPULATION:
        raise ValueError(
            f"Draw up to {LARGEST_POPULATION:,} of a list that long at most, and no "
            "more than there are."
        )
    left = list(range(1, population + 1))
    return tuple(left.pop(_number(key, place) % len(left)) for place in range(size))


def _number(key: str, place: int) -> int:
    counter = place.to_bytes(2, "big")
    hashed = counter + key.encode("ascii") + counter
    return int.from_bytes(hashlib.md5(hashed, usedforsecurity=False).digest(), "big")
