"""The retention of containers: facts gathered once per contest, not per container.

Containers of one contest, content and set of covering cases share one answer, so
the cost grows with contests and cases and not with containers.
"""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from functools import lru_cache
from typing import Generic, TypeVar
from zoneinfo import ZoneInfo

from django.db.models import Model, Prefetch, Q, QuerySet

from registry.models import (
    Box,
    Case,
    CaseEvent,
    CaseScope,
    ClosedDays,
    Contest,
    CourtCalendar,
    Election,
    Envelope,
    NoPetitionConfirmation,
    OrderScope,
    PreservationOrder,
    RetentionSchedule,
)
from registry.queries.as_known import row_known, rows_known
from registry.rules.calendars import Calendar, Closure
from registry.rules.cases import CaseEventFact, CaseEventKind, CaseFact, CourtLevel
from registry.rules.disposals import ConfirmationFact
from registry.rules.retention import (
    ContestDates,
    OrderFact,
    Retention,
    RetentionFacts,
    retention_of,
)
from registry.rules.schedules import ContentKind, Schedule, Trigger, read_schedule


@lru_cache(maxsize=64)
def _schedule_of_text(digest: str, text: str, file: str) -> Schedule:
    return read_schedule(text, file)


def schedule_of(record: RetentionSchedule) -> Schedule:
    """Return the rules of a schedule's version."""
    return _schedule_of_text(record.digest, record.text, record.file_name)


def calendar_of(record: CourtCalendar, known_at: datetime | None = None) -> Calendar:
    """Return the closed days of a court's registry, as they were known."""
    closures = rows_known(ClosedDays, known_at, calendar_id=record.pk)
    return Calendar(
        weekdays=frozenset(int(d) for d in record.closed_weekdays.split(",") if d),
        closures=tuple(
            Closure(c.first_day, c.last_day, c.reason, c.notification)
            for c in sorted(closures, key=lambda c: (c.first_day, c.pk))
        ),
    )


_TRIGGER_FIELDS = {
    Trigger.RESULT_DECLARED: "declared_on",
    Trigger.RETURN_MADE: "return_made_on",
    Trigger.RETURN_RECEIVED: "return_received_on",
    Trigger.GAZETTED: "gazetted_on",
    Trigger.POLLED: "polled_on",
    Trigger.COUNTED: "counted_on",
}


def contest_dates(contest: Contest) -> ContestDates:
    """Return the dated events of a contest, as far as they are known."""
    return ContestDates(
        number=contest.number,
        title=str(contest),
        events={
            trigger: getattr(contest, name)
            for trigger, name in _TRIGGER_FIELDS.items()
            if getattr(contest, name)
        },
    )


Fact = TypeVar("Fact", CaseFact, OrderFact)
Row = TypeVar("Row", bound=Model)


@dataclass
class _Covering(Generic[Fact]):
    """Cases or orders of an election, by what they cover."""

    whole_election: list[Fact] = field(default_factory=list)
    by_contest: dict[int, list[Fact]] = field(default_factory=lambda: defaultdict(list))
    by_station: dict[int, list[Fact]] = field(default_factory=lambda: defaultdict(list))
    stations_of_contest: dict[int, set[int]] = field(
        default_factory=lambda: defaultdict(set)
    )


class Keeper:
    """Answers "held until when, and why" for many containers of few elections.

    Args:
        as_of: the day asked about; what happens later has not happened yet. A moment
            stands for the day that it then is where each election's law is in force.
        known_at: the moment whose knowledge counts; None for what is known now. What
            was recorded later, or corrected later, is not yet known.
    """

    def __init__(
        self, as_of: date | datetime, known_at: datetime | None = None
    ) -> None:
        self._asked = as_of
        self.as_of = legal_date(None, as_of) if isinstance(as_of, datetime) else as_of
        self.known_at = known_at
        self._schedules: dict[int, Schedule] = {}
        self._calendars: dict[int, Calendar] = {}
        self._cases: dict[int, _Covering[CaseFact]] = {}
        self._orders: dict[int, _Covering[OrderFact]] = {}
        self._answers: dict[tuple[object, ...], Retention] = {}

    def day(self, election: Election) -> date:
        """Return the day asked about, as the election's own law dates it."""
        if isinstance(self._asked, datetime):
            return legal_date(election, self._asked)
        return self._asked

    def schedule(self, election: Election) -> Schedule:
        """Return the schedule to which the election is pinned."""
        if election.pk not in self._schedules:
            pinned = row_known(election, self.known_at) or election
            self._schedules[election.pk] = schedule_of(pinned.schedule)
        return self._schedules[election.pk]

    def box(
        self, box: Box, station_ids: Iterable[int | None] | None = None
    ) -> Retention | None:
        """Return how long a box is kept; None where its contest is not known.

        Args:
            station_ids: the stations of its envelopes, where the caller has them.
        """
        if station_ids is None:
            inside = rows_known(Envelope, self.known_at, box_id=box.pk)
            station_ids = [envelope.station_id for envelope in inside]
        known = list(station_ids)
        # One envelope of an unknown station makes the box's stations unknown.
        stations = frozenset(s for s in known if s is not None)
        if len(stations) < len(set(known)):
            stations = frozenset()
        return self._answer(box.contest, box.kind, stations)

    def envelope(self, envelope: Envelope) -> Retention | None:
        """Return how long an envelope is kept; None where its contest is not known."""
        stations = frozenset({envelope.station_id} if envelope.station_id else ())
        return self._answer(envelope.contest, envelope.kind, stations)

    def contest(self, contest: Contest, kind: ContentKind) -> Retention:
        """Return how long this content of a whole contest is kept."""
        answer = self._answer(contest, kind, frozenset())
        assert answer is not None
        return answer

    def _answer(
        self, contest: Contest | None, kind: str, stations: frozenset[int]
    ) -> Retention | None:
        if contest is None:
            return None
        election = contest.election
        cases = self._covering_cases(election)
        orders = self._covering_orders(election)
        bearing = _bearing(cases, contest.pk, stations)
        ordered = _bearing(orders, contest.pk, stations)
        key = (
            contest.pk,
            kind,
            tuple(sorted(c.number for c in bearing)),
            tuple(sorted(o.number for o in ordered)),
        )
        if key not in self._answers:
            facts = RetentionFacts(
                kind=ContentKind(kind),
                contest=contest_dates(row_known(contest, self.known_at) or contest),
                cases=tuple(bearing),
                orders=tuple(ordered),
            )
            self._answers[key] = retention_of(
                facts,
                self.schedule(election),
                self._calendar(election),
                self.day(election),
            )
        return self._answers[key]

    def _calendar(self, election: Election) -> Calendar:
        if election.pk not in self._calendars:
            calendar = row_known(election.calendar, self.known_at)
            self._calendars[election.pk] = calendar_of(
                calendar or election.calendar, self.known_at
            )
        return self._calendars[election.pk]

    def _covering_cases(self, election: Election) -> _Covering[CaseFact]:
        if election.pk not in self._cases:
            covering: _Covering[CaseFact] = _Covering()
            cases = rows_known(Case, self.known_at, election_id=election.pk)
            ids = [case.pk for case in cases]
            events = _by(CaseEvent, "case_id", ids, self.known_at)
            scopes = _by(CaseScope, "case_id", ids, self.known_at)
            zone = ZoneInfo(election.legal_zone)
            for case in cases:
                fact = _case_fact(case, events[case.pk], zone)
                live = [scope for scope in scopes[case.pk] if not scope.ended]
                _file(covering, fact, live, whole=case.whole_election)
            self._cases[election.pk] = covering
        return self._cases[election.pk]

    def _covering_orders(self, election: Election) -> _Covering[OrderFact]:
        if election.pk not in self._orders:
            covering: _Covering[OrderFact] = _Covering()
            orders = rows_known(
                PreservationOrder, self.known_at, election_id=election.pk
            )
            ids = [order.pk for order in orders]
            scopes = _by(OrderScope, "order_id", ids, self.known_at)
            for order in orders:
                fact = order_fact(order)
                _file(covering, fact, scopes[order.pk], whole=order.whole_election)
            self._orders[election.pk] = covering
        return self._orders[election.pk]


def _by(
    model: type[Row], column: str, ids: list[int], known_at: datetime | None
) -> dict[int, list[Row]]:
    """Return rows by what they belong to."""
    found: dict[int, list[Row]] = defaultdict(list)
    for row in rows_known(model, known_at, **{f"{column}__in": ids}):
        found[getattr(row, column)].append(row)
    return found


def _file(
    covering: _Covering[Fact],
    fact: Fact,
    scopes: Sequence[CaseScope | OrderScope],
    *,
    whole: bool,
) -> None:
    # A case or order that names nothing is held to cover everything: unknown means
    # keep.
    if whole or not scopes:
        covering.whole_election.append(fact)
        return
    for scope in scopes:
        if scope.station_id is None:
            covering.by_contest[scope.contest_id].append(fact)
        else:
            covering.by_station[scope.station_id].append(fact)
            covering.stations_of_contest[scope.contest_id].add(scope.station_id)


def _bearing(
    covering: _Covering[Fact], contest_id: int, stations: frozenset[int]
) -> list[Fact]:
    """Return what covers these stations of a contest; no stations known means all."""
    named = covering.stations_of_contest.get(contest_id, set())
    # The contents of a box without envelopes on record are not known: all bears.
    touched: set[int] = named & stations if stations else named
    facts = [
        *covering.whole_election,
        *covering.by_contest.get(contest_id, ()),
        *(fact for s in touched for fact in covering.by_station[s]),
    ]
    return list({fact.number: fact for fact in facts}.values())


def cases_with_facts(cases: QuerySet[Case]) -> QuerySet[Case]:
    """Fetch cases with the scopes and events that their retention needs."""
    events = CaseEvent.objects.select_related("struck_by").order_by("id")
    return (
        cases.select_related("election")
        .order_by("id")
        .prefetch_related(Prefetch("events", queryset=events), "scopes")
    )


def case_fact(case: Case) -> CaseFact:
    """Return a case as the rules know it; struck events stay, marked as struck."""
    zone = ZoneInfo(case.election.legal_zone)
    return _case_fact(case, list(case.events.all()), zone)


def _case_fact(case: Case, events: Sequence[CaseEvent], zone: ZoneInfo) -> CaseFact:
    struck = {event.strikes_id for event in events if event.strikes_id}
    return CaseFact(
        number=case.number,
        title=f"{case} ({case.parties})",
        events=tuple(
            event_fact(event, zone, struck=event.pk in struck)
            for event in events
            if not event.strikes_id
        ),
    )


def event_fact(
    event: CaseEvent, zone: ZoneInfo, *, struck: bool = False
) -> CaseEventFact:
    """Return an event as the rules know it, with its days in the legal zone."""
    return CaseEventFact(
        kind=CaseEventKind(event.kind),
        on=event.occurred_on,
        level=CourtLevel(event.level),
        number=event.number,
        recorded_at=event.recorded_at.astimezone(zone),
        struck=struck,
    )


def order_fact(order: PreservationOrder) -> OrderFact:
    """Return a preservation order as the rules know it."""
    return OrderFact(
        number=order.number,
        title=f"{order}",
        from_on=order.from_on,
        until_on=order.until_on,
        lifted_on=order.lifted_on,
        made_on=order.dated,
    )


def confirmation_for(contest: Contest, on: date) -> ConfirmationFact | None:
    """Return the no-petition confirmation of a contest that reaches furthest."""
    found = (
        NoPetitionConfirmation.objects.filter(contest=contest, dated__lte=on)
        .filter(Q(withdrawn_on__isnull=True) | Q(withdrawn_on__gt=on))
        .order_by("-covers_through", "-dated", "-id")
        .first()
    )
    if found is None:
        return None
    return ConfirmationFact(
        number=found.number,
        dated=found.dated,
        contest=contest.number,
        covers_through=found.covers_through,
    )


def legal_date(election: Election | None, at: datetime) -> date:
    """Return the day it is, at this moment, where the election's law is in force."""
    return at.astimezone(ZoneInfo(election.legal_zone if election else "UTC")).date()
