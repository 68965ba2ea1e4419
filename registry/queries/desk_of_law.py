"""The legal cell's desk: windows, dates, confirmations, cases and orders."""

from collections import Counter
from collections.abc import Iterator
from datetime import date, datetime, timedelta

from django.db.models import Exists, OuterRef, Q, QuerySet

from registry.models import (
    Box,
    Case,
    ContainerState,
    Contest,
    Envelope,
    PreservationOrder,
)
from registry.queries.case_facts import case_fact, cases_with_facts
from registry.queries.desks import (
    FEW,
    SOON,
    Waiting,
    count,
    named_or_counted,
    open_incidents,
    own_discrepancies_overdue,
)
from registry.queries.images import images_at_risk
from registry.queries.keeping import (
    Keeper,
    calendar_of,
    confirmation_for,
    schedule_of,
)
from registry.queries.scope import cases_of, contests_of, of_elections_in_scope
from registry.rules.cases import CaseStand, CaseStanding, stand_of
from registry.rules.powers import Actor
from registry.rules.retention import Hold, Retention
from registry.rules.schedules import ContentKind

_LIVE = (ContainerState.HELD, ContainerState.QUARANTINED)


def legal_cells_desk(actor: Actor, on: date, at: datetime) -> Iterator[Waiting]:
    """What the elections of a legal officer ask for."""
    yield from _without_declaration(actor, on)
    yield from _cases(actor, on)
    yield from _unnumbered(actor)
    yield from _contests(actor, on)
    yield from _orders_ending(actor, on)
    yield from own_discrepancies_overdue(actor, on)
    yield from open_incidents(actor, on)
    yield from _images_at_risk(actor, on)


def _images_at_risk(actor: Actor, on: date) -> Iterator[Waiting]:
    """Slips of pending cases that fade: the court is asked in time."""
    for one in images_at_risk(actor, on):
        if not one.cases or one.stands == "sound":
            continue
        cases = ", ".join(number for number, _ in one.cases)
        yield Waiting(
            text=f"{one.contest}: images of "
            f"{count(one.envelopes, 'envelope', 'envelopes')} may fade",
            page="images-at-risk",
            narrowed={"contest": one.contest_number},
            word="At risk" if one.stands == "at-risk" else "Ask in time",
            tone="stop" if one.stands == "at-risk" else "wait",
            due=one.risk.at_risk_on,
            note=f"{cases} is pending: ask the court for directions for a copy.",
        )


def _without_declaration(actor: Actor, on: date) -> Iterator[Waiting]:
    begun = Q(polled_on__lt=on) | Q(counted_on__lte=on)
    rows = contests_of(actor).filter(begun, declared_on__isnull=True).order_by("id")
    yield from named_or_counted(
        rows,
        lambda row: Waiting(
            text=f"{row}: the day of the declaration is not known",
            number=row.number,
            word="No date",
            tone="stop",
            note="Until it is, everything of this contest is kept without an end.",
        ),
        lambda n: Waiting(
            text=f"{n} contests without the day of the declaration",
            page="elections",
            word="No date",
            tone="stop",
        ),
    )


def _cases(actor: Actor, on: date) -> Iterator[Waiting]:
    stands = [*_stands(cases_of(actor), on)]
    counted = Counter(stand.standing for _, stand in stands)
    pending = counted[CaseStanding.PENDING]
    if pending:
        yield Waiting(
            text=f"{count(pending, 'case', 'cases')} pending",
            page="cases",
            word="Pending",
            tone="stop",
            note="Each holds what it covers, without an end.",
        )
    running = [
        (case, stand)
        for case, stand in stands
        if stand.standing is CaseStanding.APPEAL_WINDOW
    ]
    running.sort(key=lambda one: (one[1].holds_through or date.max, one[0].pk))
    for case, stand in running:
        yield Waiting(
            text=f"{case} ({case.parties}): the window after the decision is running",
            number=case.number,
            word="Running" if stand.holds_through else "No end",
            tone="wait" if stand.holds_through else "stop",
            due=stand.holds_through,
            note="Watch the registry of the court above for an appeal.",
        )


def _stands(cases: QuerySet[Case], on: date) -> Iterator[tuple[Case, CaseStand]]:
    rows = cases_with_facts(
        cases.select_related("election__schedule", "election__calendar")
    )
    calendars = {}
    for case in rows:
        key = case.election.calendar_id
        if key not in calendars:
            calendars[key] = calendar_of(case.election.calendar)
        schedule = schedule_of(case.election.schedule)
        yield case, stand_of(case_fact(case), schedule, calendars[key], on)


def _unnumbered(actor: Actor) -> Iterator[Waiting]:
    yield from named_or_counted(
        cases_of(actor).filter(court_number="").order_by("id"),
        lambda row: Waiting(
            text=f"{row.get_kind_display().capitalize()} {row.number} "
            f"({row.parties}): the court's number is not known",
            number=row.number,
            word="Heard of",
            note=f"Ask the registry of the {row.forum}. It holds all the same.",
        ),
        lambda n: Waiting(
            text=f"{n} cases without the court's number", page="cases", word="Heard of"
        ),
    )


def _contests(actor: Actor, on: date) -> Iterator[Waiting]:
    """Windows that close soon, and confirmations that could be asked for now."""
    live = [
        Exists(model.objects.filter(contest=OuterRef("pk"), state__in=_LIVE))
        for model in (Box, Envelope)
    ]
    rows = contests_of(actor).filter(declared_on__isnull=False)
    keeper = Keeper(on)
    due: list[Waiting] = []
    closing: list[tuple[date, Waiting]] = []
    for contest in rows.annotate(holds=live[0] | live[1]).select_related(
        "election__schedule", "election__calendar"
    ):
        latest = _latest_window(keeper, contest)
        if latest is None:
            continue
        window, retention = latest
        through = window.through
        if through and on <= through <= on + SOON:
            closing.append((through, _closing(contest, window, through)))
        elif contest.holds and _confirmation_is_due(contest, retention, on):
            due.append(_confirmation(contest, retention))
    yield from (waiting for _, waiting in sorted(closing, key=lambda one: one[0]))
    if len(due) <= FEW:
        yield from due
    else:
        yield Waiting(
            text=f"{len(due)} contests want the confirmation that nothing is pending",
            page="elections",
            word="To confirm",
        )


def _latest_window(keeper: Keeper, contest: Contest) -> tuple[Hold, Retention] | None:
    """Return the petition window of a contest that closes last."""
    classes = keeper.schedule(contest.election).classes
    found = []
    for kind in ContentKind:
        if kind not in classes:
            continue
        retention = keeper.contest(contest, kind)
        names = {term.name for term in classes[kind].terms if term.petition_window}
        found += [(h, retention) for h in retention.holds if h.governed_by in names]
    return max(found, key=lambda one: one[0].through or date.max, default=None)


def _closing(contest: Contest, window: Hold, through: date) -> Waiting:
    return Waiting(
        text=f"{contest}: {window.title} closes",
        number=contest.number,
        word="Closing",
        due=through,
        note="Ask the registry for what was filed, heard of or lodged.",
    )


def _confirmation_is_due(contest: Contest, retention: Retention, on: date) -> bool:
    """Whether all windows are over and no paper on file reaches past them."""
    reach = retention.confirm_through
    if not schedule_of(contest.election.schedule).confirmation_required:
        return False
    if reach is None or reach >= on:
        return False
    on_file = confirmation_for(contest, on)
    return on_file is None or on_file.covers_through < reach


def _confirmation(contest: Contest, retention: Retention) -> Waiting:
    return Waiting(
        text=f"{contest}: confirmation of the court's registry wanted",
        number=contest.number,
        word="To confirm",
        note="All windows are over; nothing is released before the registry confirms "
        f"that nothing was filed up to {retention.confirm_through:%-d %B %Y}.",
    )


def _orders_ending(actor: Actor, on: date) -> Iterator[Waiting]:
    rows = of_elections_in_scope(PreservationOrder.objects.all(), actor).filter(
        lifted_on__isnull=True,
        until_on__gte=on,
        until_on__lte=on + timedelta(days=30),
    )
    for row in rows.order_by("until_on", "id"):
        yield Waiting(
            text=f"Preservation order {row} ends",
            number=row.number,
            word="Ends soon",
            due=row.until_on,
        )
