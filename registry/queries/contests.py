"""A contest as its page shows it: its dates, how long all is kept, what it holds."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date, datetime
from itertools import pairwise
from zoneinfo import ZoneInfo

from django.db.models import Model, Q, QuerySet

from registry.models import (
    CONTENT_TITLES,
    Case,
    CaseScope,
    Contest,
    DisposalItem,
    OrderScope,
    PreservationOrder,
)
from registry.queries.as_known import row_known, rows_known
from registry.queries.case_facts import cases_with_facts
from registry.queries.cases import CaseRow, case_rows
from registry.queries.confirmations import (
    ConfirmationDue,
    ConfirmationRow,
    confirmation_due,
    confirmation_rows,
)
from registry.queries.containers import RetentionShown, not_yet_known, shown
from registry.queries.contest_stations import Stations, stations_of
from registry.queries.keeping import (
    Keeper,
    calendar_of,
    contest_dates,
    schedule_of,
)
from registry.queries.orders import OrderRow, order_row, orders_with_scopes
from registry.queries.scope import of_containers_in_scope
from registry.queries.timeline import TimelineEntry, timeline_of
from registry.rules.pictures import retention_picture
from registry.rules.powers import Actor, Power
from registry.rules.retention import Retention, RetentionFacts, retention_of
from registry.rules.schedules import ContentKind

DATE_LABELS = {
    "polled_on": "Poll",
    "counted_on": "Count",
    "declared_on": "Declaration of the result",
    "return_made_on": "Return made",
    "return_received_on": "Return received",
    "gazetted_on": "Published in the gazette",
    "papers_received_on": "Papers received",
    "next_poll_on": "Next poll",
}

Scopes = QuerySet[CaseScope] | QuerySet[OrderScope]
Reckoning = Callable[[Contest, ContentKind], Retention]


@dataclass(frozen=True)
class KindKept:
    """How long one content of a contest is kept."""

    kind: str
    content: str
    retention: RetentionShown


@dataclass(frozen=True)
class KeptOtherwise:
    """How long a content was kept by the dates before, and by those after."""

    content: str
    before: RetentionShown
    after: RetentionShown


@dataclass(frozen=True)
class Correction:
    """Dates that were on record and were replaced by others."""

    at: datetime
    who: str
    changes: tuple[tuple[str, date | None, date | None], ...]
    source: str
    kept: tuple[KeptOtherwise, ...]


@dataclass(frozen=True)
class DisposedEarly:
    """A container disposed of before the day that today's dates give."""

    number: str
    noun: str
    disposed_on: date
    keep_through: date | None


@dataclass(frozen=True)
class Legal:
    """What the legal cell watches in a contest."""

    cases: tuple[CaseRow, ...]
    orders: tuple[OrderRow, ...]
    confirmations: tuple[ConfirmationRow, ...]
    due: ConfirmationDue


@dataclass(frozen=True)
class ContestFile:
    """Everything a contest's page shows.

    Attributes:
        legal: None where the asker may not look at cases; retention is then reckoned
            from the dates alone.
        sees_containers: whether counts of containers may be shown.
    """

    number: str
    title: str
    constituency_number: str
    constituency_name: str
    election: str
    election_number: str
    schedule: str
    returning_officer: str
    dates: tuple[tuple[str, str, date | None], ...]
    dates_source: str
    kept: tuple[KindKept, ...]
    corrections: tuple[Correction, ...]
    disposed_early: tuple[DisposedEarly, ...]
    stations: Stations
    sees_containers: bool
    legal: Legal | None
    timeline: tuple[TimelineEntry, ...]
    as_of: date
    known_at: datetime | None = None


def contest_file(
    contest: Contest, actor: Actor, as_of: date, known_at: datetime | None = None
) -> ContestFile:
    """Gather everything that a contest's page shows to this asker.

    Args:
        as_of: the day for which keeping, cases and orders are reckoned.
        known_at: the moment whose knowledge counts for these; all else, and what is
            counted, is as it is known now.
    """
    looks = actor.may(Power.LOOK)
    sees_cases = actor.may(Power.LOOK_AT_CASES)
    then = row_known(contest, known_at)
    reckon = _reckoning(as_of, known_at, by_dates=not sees_cases)
    corrections = tuple(_corrections(contest, as_of))
    return ContestFile(
        number=contest.number,
        title=str(contest),
        constituency_number=contest.constituency_number,
        constituency_name=contest.constituency_name,
        election=str(contest.election),
        election_number=contest.election.number,
        schedule=str(contest.election.schedule),
        returning_officer=contest.returning_officer,
        dates=tuple(
            (name, label, getattr(then, name, None))
            for name, label in DATE_LABELS.items()
        ),
        dates_source=then.dates_source if then else "",
        kept=tuple(
            KindKept(kind.value, title, _kept(then, kind, as_of, known_at, reckon))
            for kind, title in CONTENT_TITLES.items()
        ),
        corrections=corrections,
        disposed_early=_disposed_early(contest, actor, as_of) if corrections else (),
        stations=stations_of(contest, with_containers=looks),
        sees_containers=looks,
        legal=_legal(contest, as_of, known_at) if sees_cases else None,
        timeline=tuple(timeline_of(contest)) if sees_cases else (),
        as_of=as_of,
        known_at=known_at,
    )


def _reckoning(as_of: date, known_at: datetime | None, *, by_dates: bool) -> Reckoning:
    """Reckon with all that is known, or by dates alone for who may see no more."""
    return _by_dates(as_of) if by_dates else Keeper(as_of, known_at).contest


def _kept(
    contest: Contest | None,
    kind: ContentKind,
    as_of: date,
    known_at: datetime | None,
    reckon: Reckoning,
) -> RetentionShown:
    if contest is None and known_at:
        return not_yet_known(as_of, known_at)
    assert contest is not None
    retention = reckon(contest, kind)
    told = replace(shown(retention, as_of), known_at=known_at)
    return replace(told, picture=retention_picture(retention))


def _by_dates(as_of: date) -> Reckoning:
    """Reckon from the contest's dates alone."""

    def reckon(contest: Contest, kind: ContentKind) -> Retention:
        election = contest.election
        return retention_of(
            RetentionFacts(kind=kind, contest=contest_dates(contest)),
            schedule_of(election.schedule),
            calendar_of(election.calendar),
            as_of,
        )

    return reckon


def _corrections(contest: Contest, as_of: date) -> list[Correction]:
    """Return, newest first, each replacement of a date by another.

    Both times of keeping are reckoned from the dates alone: a case without an end
    would hide what the correction changes.
    """
    reckon = _by_dates(as_of)
    versions = list(
        contest.history.select_related("history_user").order_by("history_id")
    )
    found = []
    for before, after in pairwise(versions):
        changes = tuple(
            (label, getattr(before, name), getattr(after, name))
            for name, label in DATE_LABELS.items()
            if getattr(before, name) and getattr(before, name) != getattr(after, name)
        )
        if not changes:
            continue
        was, became = before.instance, after.instance
        was.election = became.election = contest.election
        kept = tuple(
            KeptOtherwise(
                title,
                shown(reckon(was, kind), as_of),
                shown(reckon(became, kind), as_of),
            )
            for kind, title in CONTENT_TITLES.items()
        )
        found.append(
            Correction(
                at=after.history_date,
                who=str(after.history_user or "a terminal"),
                changes=changes,
                source=after.dates_source,
                kept=kept,
            )
        )
    return found[::-1]


def _disposed_early(
    contest: Contest, actor: Actor, as_of: date
) -> tuple[DisposedEarly, ...]:
    """Return what was disposed of on a day on which today's dates still keep it."""
    zone = ZoneInfo(contest.election.legal_zone)
    reckon = _by_dates(as_of)
    through = {kind.value: reckon(contest, kind).retain_through for kind in ContentKind}
    items = of_containers_in_scope(DisposalItem.objects.all(), actor)
    items = items.filter(
        Q(box__contest=contest) | Q(envelope__contest=contest)
    ).select_related("batch", "box", "envelope")
    found = []
    for item in items.order_by("id"):
        container = item.box or item.envelope
        assert container is not None
        on = item.batch.occurred_at.astimezone(zone).date()
        keep = through[container.kind]
        if keep is None or on <= keep:
            noun = "box" if item.box else "envelope"
            found.append(DisposedEarly(container.number, noun, on, keep))
    return tuple(found)


def _legal(contest: Contest, as_of: date, known_at: datetime | None) -> Legal:
    of_election = {"contest__election": contest.election_id}
    named = CaseScope.objects.filter(ended=False, **of_election)
    cases = cases_with_facts(
        Case.objects.filter(_bears_on(contest, named, "case") & _known(Case, known_at))
        .select_related("election__schedule", "election__calendar")
        .prefetch_related("scopes__contest", "scopes__station")
    )
    ordered = OrderScope.objects.filter(**of_election)
    orders = orders_with_scopes(
        PreservationOrder.objects.filter(
            _bears_on(contest, ordered, "order") & _known(PreservationOrder, known_at)
        )
    )
    return Legal(
        cases=tuple(case_rows(cases, as_of, known_at)),
        orders=tuple(order_row(order, as_of) for order in orders),
        confirmations=confirmation_rows(contest),
        due=confirmation_due(contest, Keeper(as_of)),
    )


def _bears_on(contest: Contest, scopes: Scopes, owner: str) -> Q:
    """Return what covers a contest: the whole election, by name, or naming nothing."""
    by_name = scopes.filter(contest=contest).values(owner)
    return Q(election=contest.election_id) & (
        Q(whole_election=True) | Q(pk__in=by_name) | ~Q(pk__in=scopes.values(owner))
    )


def _known(model: type[Model], known_at: datetime | None) -> Q:
    """Return which rows the register had at a moment."""
    if known_at is None:
        return Q()
    return Q(pk__in=[row.pk for row in rows_known(model, known_at)])
