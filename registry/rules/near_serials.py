"""A serial that is nearly right: how far it is from others, and which one was meant.

The distance is that of Damerau and Levenshtein: the fewest slips (a character wrong,
missing, too many, or two neighbours changed over) that lead from one writing to the
other; unrestricted, after Lowrance and Wagner (Journal of the ACM 22(2), 1975, from
memory). Characters that look alike, O and 0, I and 1, B and 8, S and 5, count half:
they are mistaken more often than others (C.2 of the trade's data dictionary).
"""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field

# A slip costs two, a look-alike one, so that all sums are whole numbers.
SLIP = 2
LOOK_ALIKE = 1
# Beyond two slips two serials of one maker are as near to each other by chance.
FARTHEST = 2 * SLIP
# In shorter serials one slip leads to too many others.
SHORTEST = 4

_FOLDED = str.maketrans("OIBS", "0185")


def looks_like(one: str, other: str) -> bool:
    """Tell whether two different characters are easily mistaken for one another."""
    return one != other and one.translate(_FOLDED) == other.translate(_FOLDED)


def distance(written: str, serial: str, look_alike: int = LOOK_ALIKE) -> int:
    """Return how far two plain serials are from each other, in half slips.

    Args:
        look_alike: what a look-alike costs; ``SLIP`` gives twice the plain distance.
    """
    far = SLIP * (len(written) + len(serial))
    last_row: dict[str, int] = {}
    table = [[far] * (len(serial) + 2) for _ in range(len(written) + 2)]
    for row in range(len(written) + 1):
        table[row + 1][1] = SLIP * row
    for column in range(len(serial) + 1):
        table[1][column + 1] = SLIP * column
    for row, one in enumerate(written, start=1):
        last_column = 0
        for column, other in enumerate(serial, start=1):
            before = last_row.get(other, 0)
            between = (row - before - 1) + (column - last_column - 1)
            swapped = table[before][last_column] + SLIP * (between + 1)
            if one == other:
                cost, at = 0, column
            else:
                cost, at = (look_alike if looks_like(one, other) else SLIP), 0
            table[row + 1][column + 1] = min(
                table[row][column] + cost,
                table[row + 1][column] + SLIP,
                table[row][column + 1] + SLIP,
                swapped,
            )
            last_column = at or last_column
        last_row[one] = row
    return table[-1][-1]


@dataclass
class NearSerials:
    """Serials among which the one that was meant is sought.

    They are kept by what remains of them when a character is struck: two writings
    that differ by one slip, and by any number of look-alikes, have such a rest in
    common. So each look costs as much as a serial is long, not as there are serials.
    """

    _by_rest: dict[str, set[str]] = field(default_factory=lambda: defaultdict(set))

    @classmethod
    def of(cls, serials: Iterable[str]) -> "NearSerials":
        """Return these plain serials, ready to be searched."""
        kept = cls()
        for serial in serials:
            for rest in _rests(serial):
                kept._by_rest[rest].add(serial)
        return kept

    def nearest(self, written: str) -> str | None:
        """Return the one serial that was meant; None where it is not plain which.

        Args:
            written: a plain serial, as ``numbers.plain_serial`` gives it.
        """
        if len(written) < SHORTEST:
            return None
        near = {
            serial for rest in _rests(written) for serial in self._by_rest.get(rest, ())
        }
        ranked = sorted((distance(written, serial), serial) for serial in near)
        ranked = [(far, serial) for far, serial in ranked if far <= FARTHEST]
        if not ranked or (len(ranked) > 1 and ranked[0][0] == ranked[1][0]):
            return None
        return ranked[0][1]


def _rests(serial: str) -> set[str]:
    folded = serial.translate(_FOLDED)
    return {folded} | {folded[:i] + folded[i + 1 :] for i in range(len(folded))}
