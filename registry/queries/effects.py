"""What another schedule or calendar would do to what is held, before it is done.

Containers that share a contest, a content and their covering cases share an answer,
so they are counted in groups: the cost grows with contests and cases.
"""

from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any, TypeAlias

from django.db.models import Count, Q, QuerySet

from registry.models import (
    Box,
    CaseScope,
    ContainerState,
    Contest,
    Election,
    Envelope,
    OrderScope,
)
from registry.queries.keeping import Keeper, schedule_of
from registry.queries.set_up import CONTENT
from registry.rules.calendars import Calendar
from registry.rules.retention import Hold, Reason, Retention
from registry.rules.schedule_changes import Effect, Moved
from registry.rules.schedules import ContentKind, Schedule

_ENDED = (ContainerState.DISPOSED, ContainerState.SUPERSEDED)
_ORDER = (Effect.EARLIER, Effect.LATER, Effect.UNCHANGED)

Containers: TypeAlias = QuerySet[Box] | QuerySet[Envelope]


@dataclass(frozen=True)
class MovedEnd:
    """A window or a term whose last day is another; None for no end.

    Attributes:
        stood, stands: whether it bears before, and after.
    """

    title: str
    before: date | None
    after: date | None
    stood: bool = True
    stands: bool = True


@dataclass(frozen=True)
class EffectRow:
    """What becomes of the containers of one contest and class that fare alike.

    Attributes:
        containers: how many are held; none where nothing came in yet.
        before, after: the first day of a possible disposal; None for no end.
        moved: every window, term, case and order whose last day is another.
    """

    contest: str
    contest_number: str
    content: str
    containers: int
    effect: Effect
    before: date | None
    after: date | None
    before_why: str
    after_why: str
    moved: tuple[MovedEnd, ...]

    @property
    def anything_moved(self) -> bool:
        """Whether a window or the end of keeping is another."""
        return bool(self.moved) or self.effect is not Effect.UNCHANGED


@dataclass(frozen=True)
class Effects:
    """What would become of everything held: first what ends earlier.

    Attributes:
        without_contest: of the unchanged, those in quarantine whose contest nobody
            knows; they are kept.
    """

    rows: tuple[EffectRow, ...]
    without_contest: int = 0

    def count(self, effect: Effect) -> int:
        """Count the containers on which it has this effect."""
        held = sum(row.containers for row in self.rows if row.effect is effect)
        return held + (self.without_contest if effect is Effect.UNCHANGED else 0)

    @property
    def earlier(self) -> int:
        """How many containers could be disposed of earlier than before."""
        return self.count(Effect.EARLIER)

    @property
    def later(self) -> int:
        """How many are kept longer."""
        return self.count(Effect.LATER)

    @property
    def unchanged(self) -> int:
        """How many are kept as before."""
        return self.count(Effect.UNCHANGED)

    @property
    def sooner(self) -> tuple[EffectRow, ...]:
        """What ends earlier, held or still to come in."""
        return tuple(row for row in self.rows if row.effect is Effect.EARLIER)

    @property
    def earlier_told(self) -> str:
        """Say that something ends earlier: what somebody must have meant."""
        contests = len({row.contest_number for row in self.sooner})
        return (
            "Something could be disposed of earlier than before (contests: "
            f"{contests}, containers held of it: {self.earlier})."
        )

    @property
    def moved(self) -> tuple[EffectRow, ...]:
        """The rows in which anything is another."""
        return tuple(row for row in self.rows if row.anything_moved)


@dataclass(frozen=True)
class Supposed:
    """What is supposed instead of what is recorded, by ids of elections.

    Attributes:
        facts: puts supposed cases, orders or dates in the place of those on record.
        parted: contests in which these name single stations.
    """

    schedules: Mapping[int, Schedule] | None = None
    calendars: Mapping[int, Calendar] | None = None
    facts: Callable[[Keeper], None] | None = None
    parted: frozenset[int] = frozenset()

    def keeper(self, elections: Sequence[Election], as_of: date | datetime) -> Keeper:
        """Return a keeper that answers as if this were so."""
        keeper = Keeper(as_of)
        for election in elections:
            keeper.suppose(
                election,
                (self.schedules or {}).get(election.pk),
                (self.calendars or {}).get(election.pk),
            )
        if self.facts:
            self.facts(keeper)
        return keeper


AS_RECORDED = Supposed()


def effects_on(
    elections: Sequence[Election],
    containers: Sequence[Containers],
    after: Supposed,
    as_of: date | datetime,
    before: Supposed = AS_RECORDED,
) -> Effects:
    """Return what a supposition does to what is held of these elections.

    Args:
        elections: with their schedule and calendar.
        containers: boxes and envelopes that count; others are left out.
        after, before: what is supposed, and what it is held against.
        as_of: the day asked about; a moment stands for each election's own day.
    """
    then, now = before.keeper(elections, as_of), after.keeper(elections, as_of)
    contests = {
        contest.pk: contest
        for contest in Contest.objects.filter(election__in=elections).select_related(
            "election__schedule", "election__calendar"
        )
    }
    counted: Counter[_Alike] = Counter()
    parted = before.parted | after.parted
    for group, held in _groups(contests, elections, containers, parted):
        contest, kind, stations = contests[group[0]], ContentKind(group[1]), group[2]
        moved = Moved(
            then.contest(contest, kind, stations), now.contest(contest, kind, stations)
        )
        counted[_alike(contest, kind, moved)] += held
    rows = sorted((_row(alike, n) for alike, n in counted.items()), key=_place)
    return Effects(tuple(rows), _without_contest(elections, containers))


_Group: TypeAlias = tuple[int, str, frozenset[int]]


def _groups(
    contests: Mapping[int, Contest],
    elections: Sequence[Election],
    containers: Sequence[Containers],
    parted: frozenset[int],
) -> Iterator[tuple[_Group, int]]:
    """Yield what shares its facts, with how many containers do."""
    # Every class of every contest, so that one without containers is shown as well.
    for contest in contests.values():
        for kind in schedule_of(contest.election.schedule).classes:
            yield (contest.pk, kind.value, frozenset()), 0
    named = _contests_with_named_stations(elections) | parted
    for rows in containers:
        held = (
            rows.filter(contest__in=contests)
            .exclude(state__in=_ENDED)
            .order_by()
        )  # fmt: skip
        whole = held.exclude(contest__in=named).values_list("contest_id", "kind")
        for contest_id, kind_text, n in whole.annotate(n=Count("id")):
            yield (contest_id, kind_text, frozenset()), n
        yield from _by_station(held.filter(contest__in=named))


def _contests_with_named_stations(elections: Sequence[Election]) -> set[int]:
    """Return the contests in which a case or an order names single stations."""
    of = Q(contest__election__in=elections, station__isnull=False)
    return {
        contest
        for scope in (CaseScope, OrderScope)
        for contest in scope.objects.filter(of).values_list("contest_id", flat=True)
    }


def _by_station(held: QuerySet[Any]) -> Iterator[tuple[_Group, int]]:
    if held.model is Envelope:
        rows = held.values_list("contest_id", "kind", "station_id")
        for contest, kind, station, n in rows.annotate(n=Count("id")):
            yield (contest, kind, frozenset({station} if station else ())), n
        return
    inside: dict[int, set[int | None]] = {}
    of_boxes = Envelope.objects.filter(box__in=held.values("id")).order_by()
    for box, station in of_boxes.values_list("box_id", "station_id").distinct():
        inside.setdefault(box, set()).add(station)
    for pk, contest, kind in held.values_list("id", "contest_id", "kind"):
        stations = inside.get(pk, set())
        # One envelope of an unknown station makes the box's stations unknown.
        known = frozenset() if None in stations else frozenset(filter(None, stations))
        yield (contest, kind, known), 1


def _without_contest(
    elections: Sequence[Election], containers: Sequence[Containers]
) -> int:
    return sum(
        rows.filter(election__in=elections, contest__isnull=True)
        .exclude(state__in=_ENDED)
        .count()
        for rows in containers
    )


@dataclass(frozen=True)
class _Alike:
    """All that two groups must share to stand in one row."""

    contest: str
    contest_number: str
    kind: ContentKind
    effect: Effect
    before: date | None
    after: date | None
    before_why: str
    after_why: str
    moved: tuple[MovedEnd, ...]


def _alike(contest: Contest, kind: ContentKind, moved: Moved) -> _Alike:
    return _Alike(
        contest=str(contest),
        contest_number=contest.number,
        kind=kind,
        effect=moved.effect,
        before=moved.before.may_be_disposed_from,
        after=moved.after.may_be_disposed_from,
        before_why=_why(moved.before.governing),
        after_why=_why(moved.after.governing),
        moved=_moved_ends(moved.before, moved.after),
    )


def _moved_ends(before: Retention, after: Retention) -> tuple[MovedEnd, ...]:
    then, now = _by_name(before), _by_name(after)
    ends = []
    for name in dict.fromkeys([*then, *now]):
        old, new = then.get(name), now.get(name)
        if old and new and old.through == new.through:
            continue
        one = new or old
        assert one is not None
        ends.append(
            MovedEnd(
                one.title,
                old.through if old else None,
                new.through if new else None,
                stood=old is not None,
                stands=new is not None,
            )
        )
    return tuple(ends)


def _by_name(retention: Retention) -> dict[str, Hold]:
    return {hold.governed_by: hold for hold in retention.holds}


def _row(alike: _Alike, containers: int) -> EffectRow:
    return EffectRow(
        contest=alike.contest,
        contest_number=alike.contest_number,
        content=CONTENT[alike.kind],
        containers=containers,
        effect=alike.effect,
        before=alike.before,
        after=alike.after,
        before_why=alike.before_why,
        after_why=alike.after_why,
        moved=alike.moved,
    )


def _place(row: EffectRow) -> tuple[int, str, str, str, date]:
    first = row.contest.partition(" ")[0]
    place = _ORDER.index(row.effect)
    return place, first.zfill(20), row.contest, row.content, row.after or date.max


def _why(hold: Hold) -> str:
    """Name what governs; of a case or an order its number, never the parties.

    Those who change schedules and calendars need not be those who may read cases.
    """
    named = hold.reason in (Reason.TERM, Reason.UNKNOWN_INPUT, Reason.PERIOD_OVER)
    return hold.title if named else hold.governed_by
