"""How many containers share an answer, counted by the database and not one by one.

What a container is kept for hangs on its contest, its content and the cases and orders
that cover it; those that name single stations part the containers of a contest. So the
containers are counted in groups that share all this: the cost grows with contests and
cases, and only with those containers that a case of single stations touches.
"""

from collections import Counter
from collections.abc import Iterator
from typing import TypeAlias

from django.db.models import Case as When_
from django.db.models import (
    Count,
    Exists,
    F,
    IntegerField,
    OuterRef,
    Q,
    QuerySet,
    Value,
    When,
)

from registry.models import Box, CaseScope, Contest, Envelope, OrderScope
from registry.queries.keeping import Keeper
from registry.rules.markings import names_more, plain_station
from registry.rules.retention import Reason, Retention
from registry.rules.schedules import ContentKind

# No station has this id: it stands for all those that nothing names.
UNNAMED = 0

Group: TypeAlias = tuple[int | None, str, frozenset[int]]
Answered: TypeAlias = tuple[int, Retention | None]


def groups(
    boxes: QuerySet[Box], envelopes: QuerySet[Envelope]
) -> Iterator[tuple[Group, int]]:
    """Yield what shares an answer (contest, content, stations), and how many do.

    No stations means that they are not known, so that every case bears.
    """
    yield from _of_envelopes(envelopes)
    yield from _of_boxes(boxes)


def totals(
    keeper: Keeper, boxes: QuerySet[Box], envelopes: QuerySet[Envelope]
) -> Counter[str]:
    """Return how many containers are kept for each reason, by the reason's code."""
    contests = _contests()
    counted: Counter[str] = Counter()
    for (contest, kind, stations), n in groups(boxes, envelopes):
        told = _answer(keeper, contests, contest, kind, stations)
        counted[(told.reason if told else Reason.UNKNOWN_INPUT).value] += n
    return counted


def answers(keeper: Keeper, envelopes: QuerySet[Envelope]) -> Iterator[Answered]:
    """Stream the id of each envelope with its answer, holding none of them.

    An answer is looked up once for each group; for every further row of it the cost is
    that of reading three columns.
    """
    contests = _contests()
    known: dict[tuple[int | None, str, int | None], Retention | None] = {}
    rows = envelopes.order_by().annotate(named=_named_station("station_id"))
    for pk, *key in rows.values_list("id", "contest_id", "kind", "named").iterator(
        chunk_size=5000
    ):
        group = (key[0], key[1], key[2])
        if group not in known:
            stations = frozenset() if key[2] is None else frozenset({key[2]})
            known[group] = _answer(keeper, contests, key[0], key[1], stations)
        yield pk, known[group]


def _contests() -> dict[int, Contest]:
    rows = Contest.objects.select_related("election__schedule", "election__calendar")
    return {contest.pk: contest for contest in rows}


def _answer(
    keeper: Keeper,
    contests: dict[int, Contest],
    contest: int | None,
    kind: str,
    stations: frozenset[int],
) -> Retention | None:
    if contest is None:
        return None
    return keeper.contest(contests[contest], ContentKind(kind), stations)


def _is_named(column: str) -> Q:
    """Return whether a case or an order names this station."""
    of_cases = CaseScope.objects.filter(ended=False, station__isnull=False)
    of_orders = OrderScope.objects.filter(station__isnull=False)
    return Q(**{f"{column}__in": of_cases.values("station_id")}) | Q(
        **{f"{column}__in": of_orders.values("station_id")}
    )


def _named_station(column: str) -> When_:
    """Return a station that something names, else ``UNNAMED``; None where not known."""
    return When_(
        When(_is_named(column), then=F(column)),
        When(**{f"{column}__isnull": True}, then=Value(None)),
        default=Value(UNNAMED),
        output_field=IntegerField(null=True),
    )


def _of_envelopes(envelopes: QuerySet[Envelope]) -> Iterator[tuple[Group, int]]:
    rows = envelopes.order_by().annotate(named=_named_station("station_id"))
    counted = rows.values_list("contest_id", "kind", "named").annotate(n=Count("id"))
    for contest, kind, named, n in counted:
        stations = frozenset() if named is None else frozenset({named})
        yield (contest, kind, stations), n


def _of_boxes(boxes: QuerySet[Box]) -> Iterator[tuple[Group, int]]:
    """Count boxes by the named stations in them; one lost envelope hides them all."""
    lost = _with_something_lost(boxes)
    whole = _counted(boxes)
    hidden = _counted(boxes.filter(lost))
    touched = _by_named_stations(boxes.exclude(lost))
    for (contest, kind), n in whole.items():
        unseen = hidden[contest, kind]
        parted = touched.get((contest, kind), Counter())
        if unseen:
            yield (contest, kind, frozenset()), unseen
        yield from (((contest, kind, named), m) for named, m in parted.items())
        rest = n - unseen - parted.total()
        if rest:
            yield (contest, kind, frozenset({UNNAMED})), rest


def grouped_boxes(boxes: QuerySet[Box]) -> dict[int, Group]:
    """Return the group of each of these boxes, by the box's id."""
    lost = _with_something_lost(boxes)
    hidden = set(boxes.filter(lost).values_list("pk", flat=True))
    named = _named_stations_in(boxes.exclude(lost))
    unnamed = frozenset({UNNAMED})
    return {
        pk: (contest, kind, frozenset() if pk in hidden else named.get(pk, unnamed))
        for pk, contest, kind in boxes.order_by().values_list(
            "pk", "contest_id", "kind"
        )
    }


def _with_something_lost(boxes: QuerySet[Box]) -> Q:
    """Return which boxes hold what is not known, so that every case bears on them."""
    inside = Envelope.objects.filter(box=OuterRef("pk"))
    return (
        ~Exists(inside)
        | Exists(inside.filter(station__isnull=True))
        | Q(pk__in=_naming_more(boxes))
    )


def _named_stations_in(boxes: QuerySet[Box]) -> dict[int, frozenset[int]]:
    rows = Envelope.objects.filter(_is_named("station_id"), box__in=boxes.values("pk"))
    found: dict[int, set[int]] = {}
    for box, station in rows.order_by().values_list("box_id", "station_id"):
        found.setdefault(box, set()).add(station)
    return {box: frozenset(stations) for box, stations in found.items()}


def _naming_more(boxes: QuerySet[Box]) -> list[int]:
    """Return boxes whose label names stations of which no envelope is on record.

    Only those of contests of which something names single stations are looked at.
    """
    of_cases = CaseScope.objects.filter(ended=False, station__isnull=False)
    of_orders = OrderScope.objects.filter(station__isnull=False)
    parted = boxes.filter(
        Q(contest__in=of_cases.values("contest"))
        | Q(contest__in=of_orders.values("contest"))
    ).exclude(written_station_number="")
    held: dict[int, set[str]] = {}
    inside = Envelope.objects.filter(box__in=parted.values("pk"), station__isnull=False)
    for box, number in inside.values_list("box_id", "station__station_number"):
        held.setdefault(box, set()).add(plain_station(number))
    return [
        pk
        for pk, written in parted.values_list("pk", "written_station_number")
        if names_more(written, held.get(pk, set()))
    ]


_Kind: TypeAlias = tuple[int | None, str]


def _counted(boxes: QuerySet[Box]) -> Counter[_Kind]:
    rows = boxes.order_by().values_list("contest_id", "kind").annotate(n=Count("id"))
    return Counter({(contest, kind): n for contest, kind, n in rows})


def _by_named_stations(
    boxes: QuerySet[Box],
) -> dict[_Kind, Counter[frozenset[int]]]:
    rows = Envelope.objects.filter(_is_named("station_id"), box__in=boxes.values("pk"))
    found: dict[tuple[int, int | None, str], set[int]] = {}
    columns = ("box_id", "box__contest_id", "box__kind", "station_id")
    for box, contest, kind, station in rows.order_by().values_list(*columns):
        found.setdefault((box, contest, kind), set()).add(station)
    parted: dict[_Kind, Counter[frozenset[int]]] = {}
    for (_, contest, kind), stations in found.items():
        counter = parted.setdefault((contest, kind), Counter())
        counter[frozenset(stations)] += 1
    return parted
