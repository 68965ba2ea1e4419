"""Cases as their pages show them: where each stands, and what happened when."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from zoneinfo import ZoneInfo

from registry.models import Case, CaseEvent, PreservationOrder
from registry.queries.case_facts import case_as_known, case_fact
from registry.queries.case_links import LinkRow, OtherName, link_rows, other_names
from registry.queries.containers import StepShown
from registry.queries.coverage import (
    Counted,
    CoverRow,
    counted,
    cover_rows,
    covers_text,
)
from registry.queries.keeping import calendar_of, legal_date, schedule_of
from registry.queries.orders import OrderRow, order_row, orders_with_scopes
from registry.queries.timeline import TimelineEntry, timeline_of
from registry.rules.calendars import Calendar
from registry.rules.case_events import (
    EVENT_TITLES,
    LEVEL_TITLES,
    CaseEventKind,
    CourtLevel,
)
from registry.rules.cases import CaseStand, CaseStanding, stand_of
from registry.rules.powers import Actor
from registry.rules.schedules import Schedule


@dataclass(frozen=True)
class StandShown:
    """Where a case stands; ``holds_through`` None: no end, or nothing is held.

    Attributes:
        standing: pending, appeal-window, settled or not-begun.
    """

    standing: str
    word: str
    tone: str
    holds_through: date | None
    why: str
    steps: tuple[StepShown, ...]
    as_of: date

    @property
    def holds(self) -> bool:
        """Whether anything is held by it on the day."""
        return self.standing in (CaseStanding.PENDING, CaseStanding.APPEAL_WINDOW)


@dataclass(frozen=True)
class CaseRow:
    """A case in a list."""

    number: str
    title: str
    kind: str
    forum: str
    court_number: str
    parties: str
    election: str
    covers: str
    stand: StandShown
    last_event: str
    last_event_on: date | None


@dataclass(frozen=True)
class EventRow:
    """Something that happened in a case, and when the register learnt of it."""

    number: str
    title: str
    court: str
    occurred_on: date
    recorded_at: datetime
    recorded_by: str
    days_late: int
    paper: str
    note: str
    document: str
    struck_because: str
    struck_at: datetime | None

    @property
    def is_struck(self) -> bool:
        """Whether it was declared to have been entered in error."""
        return self.struck_at is not None


@dataclass(frozen=True)
class CaseFile:
    """Everything a case's page shows."""

    row: CaseRow
    election_number: str
    whole_election: bool
    not_known: bool
    note: str
    covers: tuple[CoverRow, ...]
    covered_before: tuple[CoverRow, ...]
    events: tuple[EventRow, ...]
    holds: Counted
    links: tuple[LinkRow, ...]
    other_names: tuple[OtherName, ...]
    orders: tuple[OrderRow, ...]
    timeline: tuple[TimelineEntry, ...]


WORDS = {
    CaseStanding.NOT_BEGUN: ("holds nothing", "plain"),
    CaseStanding.PENDING: ("pending", "stop"),
    CaseStanding.APPEAL_WINDOW: ("decided, not settled", "wait"),
    CaseStanding.SETTLED: ("settled", "clear"),
}


def stand_shown(stand: CaseStand, as_of: date) -> StandShown:
    """Return where a case stands, as pages show it."""
    word, tone = WORDS[stand.standing]
    decides = next(step for step in stand.steps if step.decides)
    return StandShown(
        standing=stand.standing.value,
        word=word,
        tone=tone,
        holds_through=stand.holds_through,
        why=decides.text,
        steps=tuple(
            StepShown(s.date, s.text, str(s.facts.get("clause", "")), s.decides)
            for s in stand.steps
        ),
        as_of=as_of,
    )


def case_rows(
    cases: Iterable[Case], as_of: date | datetime, known_at: datetime | None = None
) -> list[CaseRow]:
    """Return cases as rows of a list.

    Args:
        cases: fetched by ``cases_with_facts`` with their elections and scopes.
        as_of: the day asked about; for a moment, each election's own day.
        known_at: where they stood by what was known at that moment.
    """
    rules: dict[int, tuple[Schedule, Calendar]] = {}
    rows = []
    for case in cases:
        election = case.election
        on = legal_date(election, as_of) if isinstance(as_of, datetime) else as_of
        if election.pk not in rules:
            rules[election.pk] = (
                schedule_of(election.schedule),
                calendar_of(election.calendar),
            )
        fact = case_as_known(case, known_at) if known_at else case_fact(case)
        stand = stand_of(fact, *rules[election.pk], on)
        rows.append(_case_row(case, stand_shown(stand, on)))
    return rows


def _case_row(case: Case, stand: StandShown) -> CaseRow:
    live = [scope for scope in case.scopes.all() if not scope.ended]
    standing = [
        event
        for event in case.events.all()
        if not event.strikes_id and not hasattr(event, "struck_by")
    ]
    last = max(standing, key=lambda e: (e.occurred_on, e.pk), default=None)
    return CaseRow(
        number=case.number,
        title=str(case),
        kind=case.get_kind_display(),
        forum=case.forum,
        court_number=case.court_number,
        parties=case.parties,
        election=str(case.election),
        covers=covers_text(whole=case.whole_election, scopes=live),
        stand=stand,
        last_event=EVENT_TITLES[CaseEventKind(last.kind)] if last else "",
        last_event_on=last.occurred_on if last else None,
    )


def case_file(case: Case, actor: Actor, as_of: date) -> CaseFile:
    """Gather everything that a case's page shows."""
    scopes = list(case.scopes.select_related("contest", "station").order_by("id"))
    live = [scope for scope in scopes if not scope.ended]
    (row,) = case_rows([case], as_of)
    orders = orders_with_scopes(PreservationOrder.objects.filter(case=case))
    return CaseFile(
        row=row,
        election_number=case.election.number,
        whole_election=case.whole_election,
        not_known=not live and not case.whole_election,
        note=case.note,
        covers=cover_rows(live),
        covered_before=cover_rows([scope for scope in scopes if scope.ended]),
        events=_events(case),
        holds=counted(case, live, case.whole_election, actor),
        links=link_rows(case, actor),
        other_names=other_names(case),
        orders=tuple(order_row(order, as_of) for order in orders),
        timeline=tuple(timeline_of(case, beside=[*case.events.all(), *scopes])),
    )


def _events(case: Case) -> tuple[EventRow, ...]:
    """Return the events in the order in which they happened, struck ones too."""
    zone = ZoneInfo(case.election.legal_zone)
    rows = CaseEvent.objects.filter(case=case, strikes__isnull=True)
    rows = rows.select_related("recorded_by", "struck_by", "document")
    return tuple(_event(event, zone) for event in rows.order_by("occurred_on", "id"))


def _event(event: CaseEvent, zone: ZoneInfo) -> EventRow:
    struck = getattr(event, "struck_by", None)
    learnt_on = event.recorded_at.astimezone(zone).date()
    return EventRow(
        number=event.number,
        title=EVENT_TITLES[CaseEventKind(event.kind)],
        court=LEVEL_TITLES[CourtLevel(event.level)],
        occurred_on=event.occurred_on,
        recorded_at=event.recorded_at,
        recorded_by=str(event.recorded_by or "a terminal"),
        days_late=(learnt_on - event.occurred_on).days,
        paper=event.paper,
        note=event.note,
        document=event.document.number if event.document else "",
        struck_because=struck.note if struck else "",
        struck_at=struck.recorded_at if struck else None,
    )
