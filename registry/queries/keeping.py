"""The retention of containers: facts gathered once per contest, not per container.

Containers of one contest, content and set of covering cases share one answer, so
the cost grows with contests and cases and not with containers.
"""

from collections.abc import Iterable
from datetime import date, datetime
from functools import lru_cache
from zoneinfo import ZoneInfo

from django.db.models import Q

from registry.models import (
    Box,
    ClosedDays,
    Contest,
    CourtCalendar,
    Election,
    Envelope,
    LimitExtension,
    NoPetitionConfirmation,
    RetentionSchedule,
)
from registry.queries.as_known import row_known, rows_known
from registry.queries.case_facts import cases_covering, orders_covering
from registry.queries.covering import Covering
from registry.rules.calendars import (
    Calendar,
    Closure,
    ClosureKind,
    Effect,
    Extension,
)
from registry.rules.cases import CaseFact
from registry.rules.disposals import ConfirmationFact
from registry.rules.markings import names_more, plain_station
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
    extensions = rows_known(LimitExtension, known_at, calendar_id=record.pk)
    return Calendar(
        weekdays=frozenset(int(d) for d in record.closed_weekdays.split(",") if d),
        closures=tuple(
            closure_fact(c)
            for c in sorted(closures, key=lambda c: (c.first_day, c.pk))
            if c.struck_at is None
        ),
        extensions=tuple(
            extension_fact(e)
            for e in sorted(extensions, key=lambda e: (e.from_on, e.pk))
            if e.struck_at is None
        ),
    )


def closure_fact(record: ClosedDays) -> Closure:
    """Return an entry of days as the rules know it."""
    return Closure(
        record.first_day,
        record.last_day,
        record.reason,
        record.notification,
        ClosureKind(record.kind),
        Effect(record.effect),
    )


def extension_fact(record: LimitExtension) -> Extension:
    """Return a general order that extends limits as the rules know it."""
    return Extension(
        record.from_on,
        record.until_on,
        record.notification,
        record.then_days,
        record.excludes,
        record.made_on,
    )


_TRIGGER_FIELDS = {
    Trigger.RESULT_DECLARED: "declared_on",
    Trigger.RETURN_MADE: "return_made_on",
    Trigger.RETURN_RECEIVED: "return_received_on",
    Trigger.GAZETTED: "gazetted_on",
    Trigger.POLLED: "polled_on",
    Trigger.COUNTED: "counted_on",
    Trigger.PAPERS_RECEIVED: "papers_received_on",
    Trigger.NEXT_POLL: "next_poll_on",
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
        self._cases: dict[int, Covering[CaseFact]] = {}
        self._orders: dict[int, Covering[OrderFact]] = {}
        self._dates: dict[int, ContestDates] = {}
        self._answers: dict[tuple[object, ...], Retention] = {}
        self._stations: dict[int, dict[int, str]] = {}

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
        if len(stations) < len(set(known)) or self._names_more(box, stations):
            stations = frozenset()
        return self._answer(box.contest, box.kind, stations)

    def _names_more(self, box: Box, stations: frozenset[int]) -> bool:
        """Tell whether a box's label names stations of which no envelope is on record.

        It matters only where a case or an order names single stations of the contest.
        """
        contest = box.contest
        if contest is None or not box.written_station_number:
            return False
        named = (
            self.cases(contest.election).stations_of_contest.get(contest.pk),
            self.orders(contest.election).stations_of_contest.get(contest.pk),
        )
        if not any(named):
            return False
        if contest.pk not in self._stations:
            rows = contest.stations.values_list("id", "station_number")
            self._stations[contest.pk] = {pk: plain_station(n) for pk, n in rows}
        numbers = self._stations[contest.pk]
        held = {numbers[pk] for pk in stations if pk in numbers}
        return names_more(box.written_station_number, held)

    def envelope(self, envelope: Envelope) -> Retention | None:
        """Return how long an envelope is kept; None where its contest is not known."""
        stations = frozenset({envelope.station_id} if envelope.station_id else ())
        return self._answer(envelope.contest, envelope.kind, stations)

    def container(self, container: Box | Envelope) -> Retention | None:
        """Return how long a box or an envelope is kept."""
        if isinstance(container, Box):
            return self.box(container)
        return self.envelope(container)

    def suppose(
        self,
        election: Election,
        schedule: Schedule | None = None,
        calendar: Calendar | None = None,
    ) -> None:
        """Answer from here on as if the election had this schedule or calendar."""
        if schedule is not None:
            self._schedules[election.pk] = schedule
        if calendar is not None:
            self._calendars[election.pk] = calendar
        self._answers.clear()

    def contest(
        self,
        contest: Contest,
        kind: ContentKind,
        stations: frozenset[int] = frozenset(),
    ) -> Retention:
        """Return how long this content of a contest is kept; no stations means all."""
        answer = self._answer(contest, kind, stations)
        assert answer is not None
        return answer

    def _answer(
        self, contest: Contest | None, kind: str, stations: frozenset[int]
    ) -> Retention | None:
        if contest is None:
            return None
        election = contest.election
        cases = self.cases(election)
        orders = self.orders(election)
        bearing = cases.bearing(contest.pk, stations)
        ordered = orders.bearing(contest.pk, stations)
        key = (
            contest.pk,
            kind,
            tuple(sorted(c.number for c in bearing)),
            tuple(sorted(o.number for o in ordered)),
        )
        if key not in self._answers:
            facts = RetentionFacts(
                kind=ContentKind(kind),
                contest=self._contest_dates(contest),
                cases=tuple(bearing),
                orders=tuple(ordered),
            )
            self._answers[key] = retention_of(
                facts,
                self.schedule(election),
                self._calendar(election),
                self.day(election),
                self.known_at,
            )
        return self._answers[key]

    def suppose_dates(self, contest: Contest) -> None:
        """Answer from here on as if the contest had these dates."""
        self._dates[contest.pk] = contest_dates(contest)
        self._answers.clear()

    def _contest_dates(self, contest: Contest) -> ContestDates:
        if contest.pk not in self._dates:
            then = row_known(contest, self.known_at) or contest
            self._dates[contest.pk] = contest_dates(then)
        return self._dates[contest.pk]

    def _calendar(self, election: Election) -> Calendar:
        if election.pk not in self._calendars:
            calendar = row_known(election.calendar, self.known_at)
            self._calendars[election.pk] = calendar_of(
                calendar or election.calendar, self.known_at
            )
        return self._calendars[election.pk]

    def cases(self, election: Election) -> Covering[CaseFact]:
        """Return the cases of an election, by what they cover."""
        if election.pk not in self._cases:
            self._cases[election.pk] = cases_covering(election, self.known_at)
        return self._cases[election.pk]

    def orders(self, election: Election) -> Covering[OrderFact]:
        """Return the orders to preserve of an election, by what they cover."""
        if election.pk not in self._orders:
            self._orders[election.pk] = orders_covering(election, self.known_at)
        return self._orders[election.pk]


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


def legal_zone(election: Election | None) -> ZoneInfo:
    """Return the zone of an election's law; UTC where no election is known."""
    return ZoneInfo(election.legal_zone if election else "UTC")


def legal_date(election: Election | None, at: datetime) -> date:
    """Return the day it is, at this moment, where the election's law is in force."""
    return at.astimezone(legal_zone(election)).date()
