"""Things that changed places: two that were swapped, or more that went round."""

from collections.abc import Hashable, Iterable
from dataclasses import dataclass
from typing import Generic, TypeVar

Place = TypeVar("Place", bound=Hashable)
Thing = TypeVar("Thing", bound=Hashable)


@dataclass(frozen=True)
class Misplaced(Generic[Place, Thing]):
    """A thing that belongs to one place and bears what belongs to another."""

    thing: Thing
    belongs: Place
    bears: Place


def cycles(
    misplaced: Iterable[Misplaced[Place, Thing]],
) -> tuple[tuple[Misplaced[Place, Thing], ...], ...]:
    """Return each ring of things that changed places among themselves.

    Two that were swapped make a ring of two. A place that two things claim is in no
    ring: it is not plain then which of them was swapped. Each ring begins with the
    thing that was given first, and follows what each bears.
    """
    given = list(misplaced)
    by_place: dict[Place, list[Misplaced[Place, Thing]]] = {}
    borne: dict[Place, int] = {}
    for one in given:
        by_place.setdefault(one.belongs, []).append(one)
        borne[one.bears] = borne.get(one.bears, 0) + 1
    sole = {
        place: found[0]
        for place, found in by_place.items()
        if len(found) == 1 and borne.get(place) == 1
    }
    rings: list[tuple[Misplaced[Place, Thing], ...]] = []
    seen: set[Place] = set()
    for start in sole:
        ring = _ring(start, sole, seen)
        if ring:
            rings.append(ring)
    return tuple(rings)


def _ring(
    start: Place, sole: dict[Place, Misplaced[Place, Thing]], seen: set[Place]
) -> tuple[Misplaced[Place, Thing], ...]:
    """Follow what each bears until the start is reached again, or nothing is."""
    path: list[Misplaced[Place, Thing]] = []
    place = start
    while place in sole and place not in seen:
        seen.add(place)
        path.append(sole[place])
        place = sole[place].bears
    return tuple(path) if path and place == start else ()
