"""What stands on the shelves of a strong room, and how long it stays there.

Keeping is asked once for each group of boxes that share an answer, not for each box.
"""

from collections import Counter, defaultdict
from dataclasses import dataclass
from datetime import datetime

from django.db.models import QuerySet, Sum

from registry.models import (
    Box,
    ContainerState,
    Contest,
    Shelf,
    StrongRoom,
    Whereabouts,
)
from registry.queries.keeping import Keeper
from registry.queries.kept_totals import Group, grouped_boxes
from registry.rules.retention import Retention
from registry.rules.schedules import ContentKind
from registry.rules.space import BoxToShelve, Lot, ShelfFact


@dataclass(frozen=True)
class KeptBox:
    """A box where it stands, and how it is kept.

    Attributes:
        shelf: the shelf's id; None where it stands on none.
        constituency: the number on its label; empty where its contest is not known.
        retention: None where its contest is not known.
    """

    number: str
    label: str
    shelf: int | None
    constituency: str
    lot: Lot
    retention: Retention | None


def boxes_in(room: StrongRoom, seen: QuerySet[Box]) -> QuerySet[Box]:
    """Return those of these boxes that stand on a shelf of the room."""
    return seen.filter(whereabouts=Whereabouts.SHELVED, shelf__bay__room=room).order_by(
        "shelf_id", "id"
    )


def kept_boxes(boxes: QuerySet[Box], at: datetime) -> list[KeptBox]:
    """Return boxes with how they are kept, in their order."""
    groups = grouped_boxes(boxes)
    contests = Contest.objects.select_related(
        "election__schedule", "election__calendar"
    ).in_bulk([contest for contest, _, _ in set(groups.values()) if contest])
    keeper = Keeper(at)
    answers: dict[Group, Retention | None] = {
        group: keeper.contest(contests[group[0]], ContentKind(group[1]), group[2])
        for group in set(groups.values())
        if group[0]
    }
    titles = {pk: str(contest) for pk, contest in contests.items()}
    columns = ("pk", "number", "label", "shelf_id", "contest_id", "kind", "state")
    kept = []
    for pk, number, label, shelf, contest_id, kind, state in boxes.values_list(
        *columns
    ):
        contest = contests.get(contest_id or 0)
        told = answers.get(groups[pk])
        lot = Lot(
            contest=contest.number if contest else "",
            title=titles.get(contest_id or 0, ""),
            kind=ContentKind(kind),
            quarantined=state == ContainerState.QUARANTINED,
            free_from=told.may_be_disposed_from if told else None,
        )
        mark = contest.constituency_number if contest else ""
        kept.append(KeptBox(number, label, shelf, mark, lot, told))
    return kept


def shelves_in_order(room: StrongRoom) -> list[Shelf]:
    """Return the shelves of a room as one walks along them: bay by bay, from below."""
    rows = Shelf.objects.filter(bay__room=room).select_related("bay__room")
    return sorted(rows, key=lambda s: (s.bay_id, s.level or 0, s.pk))


def shelf_facts_for(box: Box, at: datetime) -> tuple[ShelfFact, ...]:
    """Return the shelves onto which a box may go, with what stands on them, in lots.

    The shelf on which it stands already is none of them.
    """
    room, lots = box.room, defaultdict[int, Counter[Lot]](Counter)
    others = Box.objects.exclude(pk=box.pk)
    for kept in kept_boxes(boxes_in(room, others), at):
        lots[kept.shelf or 0][kept.lot] += 1
    return tuple(
        ShelfFact(
            number=shelf.number,
            name=str(shelf),
            room=room.number,
            bay=shelf.bay.number,
            place=place,
            level=shelf.level,
            capacity=shelf.capacity,
            lots=tuple(
                Lot(one.contest, one.title, one.kind, one.quarantined, one.free_from, n)
                for one, n in lots[shelf.pk].items()
            ),
        )
        for place, shelf in enumerate(shelves_in_order(room))
        if box.whereabouts != Whereabouts.SHELVED or shelf.pk != box.shelf_id
    )


def box_to_shelve(box: Box, at: datetime) -> BoxToShelve:
    """Return a box as one that looks for a shelf."""
    kept = kept_boxes(Box.objects.filter(pk=box.pk), at)[0]
    waiting = Box.objects.filter(
        contest=box.contest_id, room=box.room_id, whereabouts=Whereabouts.INTAKE
    ).exclude(pk=box.pk)
    return BoxToShelve(
        room=box.room.number,
        lot=kept.lot,
        weight_kg=box.gross_weight_kg,
        waiting=waiting.count() + 1 if box.contest_id else 1,
    )


def places_left(room: StrongRoom) -> int:
    """Return how many places on the shelves of a room are empty."""
    places = Shelf.objects.filter(bay__room=room).aggregate(n=Sum("capacity"))["n"]
    return max((places or 0) - boxes_in(room, Box.objects.all()).count(), 0)
