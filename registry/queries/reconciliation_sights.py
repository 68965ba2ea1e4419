"""When and where containers were last seen, or looked for in vain."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db.models import Max, Q

from registry.models import CustodyMovement, Sighting
from registry.rules.reconciliation_facts import Seen


class Sights:
    """The last sighting and the last move of each container of some contests.

    Args:
        noun: ``box`` or ``envelope``.
        contests: ids of the contests.
        also: ids of containers of no contest.
    """

    def __init__(self, noun: str, contests: Iterable[int], also: Iterable[int]) -> None:
        of = Q(**{f"{noun}__contest__in": list(contests)})
        of |= Q(**{f"{noun}__in": list(also)})
        self._noun = noun
        self._sightings = dict(_newest_sightings(noun, of))
        self._moved: dict[int, datetime] = {}
        self.not_found_at: dict[int, datetime] = {}
        lost = Q(act=CustodyMovement.Act.NOT_FOUND)
        rows = (
            CustodyMovement.objects.filter(of)
            .order_by()
            .values_list(f"{noun}_id")
            .annotate(
                moved=Max("occurred_at", filter=~lost),
                lost=Max("occurred_at", filter=lost),
            )
        )
        for key, moved, not_found in rows.iterator():
            if moved:
                self._moved[key] = moved
            if not_found:
                self.not_found_at[key] = not_found

    def seen(self, key: int, room: int, shelf: int | None = None) -> Seen | None:
        """Return the last sight of a container that the register has in this place.

        What was moved after it was seen was in the hands of whoever moved it: the
        move is the later sight. So was what came in at an intake.
        """
        sighting, moved = self._sightings.get(key), self._moved.get(key)
        if sighting and (moved is None or sighting.at >= moved):
            return Seen(
                at=sighting.at,
                found=sighting.found,
                where=sighting.where,
                # Whoever saw it need not have said on which shelf.
                as_registered=sighting.room == room
                and (None in (shelf, sighting.shelf) or sighting.shelf == shelf),
            )
        return Seen(at=moved, on_round=False) if moved else None


@dataclass(frozen=True)
class _Sighted:
    at: datetime
    found: bool
    room: int
    shelf: int | None
    where: str


def _newest_sightings(noun: str, of: Q) -> Iterator[tuple[int, _Sighted]]:
    """Yield the sightings in the order in which they were made: the last one stays."""
    rows: Any = (
        Sighting.objects.filter(of)
        .order_by("seen_at", "id")
        .values_list(
            f"{noun}_id",
            "seen_at",
            "found",
            "room_id",
            "shelf_id",
            "room__name",
            "shelf__bay__code",
            "shelf__code",
        )
    )
    for key, at, found, room, shelf, name, bay, code in rows.iterator():
        where = f"{name}, bay {bay}, shelf {code}" if code else name
        yield key, _Sighted(at, found, room, shelf, where)
