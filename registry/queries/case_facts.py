"""Cases and orders as the rules know them, from rows as they are or as then known."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from datetime import date, datetime
from zoneinfo import ZoneInfo

from django.db.models import Prefetch, Q, QuerySet

from registry.models import (
    Case,
    CaseEvent,
    CaseLink,
    CaseScope,
    Election,
    OrderScope,
    PreservationOrder,
)
from registry.queries.as_known import rows_by, rows_known
from registry.queries.covering import Covering
from registry.rules.cases import CaseEventFact, CaseEventKind, CaseFact, CourtLevel
from registry.rules.retention import OrderFact

# Which event of a case a link from another case explains. A part that was split off,
# or a cross-petition, is linked to the case it came from.
_EXPLAINS = {
    CaseLink.Kind.SPLIT: CaseEventKind.SPLIT,
    CaseLink.Kind.CROSS: CaseEventKind.CROSS_PETITION,
    CaseLink.Kind.CONSOLIDATED: CaseEventKind.CONSOLIDATED,
}


def cases_with_facts(cases: QuerySet[Case]) -> QuerySet[Case]:
    """Fetch cases with the scopes, events and links that their retention needs."""
    events = CaseEvent.objects.select_related("struck_by").order_by("id")
    return (
        cases.select_related("election")
        .order_by("id")
        .prefetch_related(
            Prefetch("events", queryset=events),
            Prefetch("links", queryset=CaseLink.objects.select_related("other")),
            Prefetch("linked_by", queryset=CaseLink.objects.select_related("case")),
            "scopes",
        )
    )


def case_fact(case: Case) -> CaseFact:
    """Return a case as the rules know it; struck events stay, marked as struck."""
    links = [*case.links.all(), *case.linked_by.all()]
    return _fact(case, list(case.events.all()), links, legal_zone(case.election))


def cases_covering(election: Election, known_at: datetime | None) -> Covering[CaseFact]:
    """Return the cases of an election by what they cover, as they were known."""
    covering: Covering[CaseFact] = Covering()
    cases = rows_known(Case, known_at, election_id=election.pk)
    ids = [case.pk for case in cases]
    events = rows_by(CaseEvent, "case_id", ids, known_at)
    scopes = rows_by(CaseScope, "case_id", ids, known_at)
    links = _links_of(ids, known_at)
    for case in cases:
        found = (events[case.pk], links[case.pk], legal_zone(election))
        live = [scope for scope in scopes[case.pk] if not scope.ended]
        covering.file(_fact(case, *found), live, whole=case.whole_election)
    return covering


def orders_covering(
    election: Election, known_at: datetime | None
) -> Covering[OrderFact]:
    """Return the orders to preserve of an election by what they cover."""
    covering: Covering[OrderFact] = Covering()
    orders = rows_known(PreservationOrder, known_at, election_id=election.pk)
    scopes = rows_by(OrderScope, "order_id", [order.pk for order in orders], known_at)
    for order in orders:
        covering.file(order_fact(order), scopes[order.pk], whole=order.whole_election)
    return covering


def case_as_known(case: Case, known_at: datetime) -> CaseFact:
    """Return a case as the rules know it, with what was known of it at a moment."""
    events = rows_known(CaseEvent, known_at, case_id=case.pk)
    links = _links_of([case.pk], known_at)[case.pk]
    return _fact(case, events, links, legal_zone(case.election))


def event_fact(
    event: CaseEvent, zone: ZoneInfo, *, struck: bool = False, other: str = ""
) -> CaseEventFact:
    """Return an event as the rules know it, with its days in the legal zone."""
    return CaseEventFact(
        kind=CaseEventKind(event.kind),
        on=event.occurred_on,
        level=CourtLevel(event.level),
        number=event.paper,
        recorded_at=event.recorded_at.astimezone(zone),
        struck=struck,
        other=other,
        reason=event.note,
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


def _fact(
    case: Case,
    events: Sequence[CaseEvent],
    links: Iterable[CaseLink],
    zone: ZoneInfo,
) -> CaseFact:
    struck = {event.strikes_id for event in events if event.strikes_id}
    standing = [event for event in events if not event.strikes_id]
    others = _others(case, [e for e in standing if e.pk not in struck], links)
    return CaseFact(
        number=case.number,
        title=f"{case.court_number or case.get_kind_display()}, {case.parties}",
        events=tuple(
            event_fact(
                event, zone, struck=event.pk in struck, other=others.get(event.pk, "")
            )
            for event in standing
        ),
    )


def _others(
    case: Case, events: Iterable[CaseEvent], links: Iterable[CaseLink]
) -> dict[int, str]:
    """Return the case that each event speaks of, by the event's id.

    An event is explained by a link of its own day only: a second part that was split
    off and not entered must not pass for the first.
    """
    named: dict[tuple[str, date], list[str]] = defaultdict(list)
    for link in links:
        kind = _EXPLAINS.get(CaseLink.Kind(link.kind))
        comes_here = link.other_id == case.pk
        if kind and (comes_here or kind is CaseEventKind.CONSOLIDATED):
            number = link.case.number if comes_here else link.other.number
            named[kind.value, link.occurred_on].append(number)
    found = {}
    for event in sorted(events, key=lambda event: event.pk):
        numbers = named.get((event.kind, event.occurred_on))
        if numbers:
            found[event.pk] = numbers.pop(0)
    return found


def _links_of(ids: list[int], known_at: datetime | None) -> dict[int, list[CaseLink]]:
    """Return the links from and to cases, by the case, each link's two ends at hand."""
    rows = CaseLink.objects.filter(Q(case__in=ids) | Q(other__in=ids))
    links = list(rows.select_related("case", "other").order_by("id"))
    # A link is written once and never changed: its row is the version then known.
    then = rows_known(CaseLink, known_at, id__in=[link.pk for link in links])
    known = {link.pk for link in then}
    found: dict[int, list[CaseLink]] = defaultdict(list)
    for link in links:
        if link.pk in known:
            found[link.case_id].append(link)
            found[link.other_id].append(link)
    return found


def legal_zone(election: Election) -> ZoneInfo:
    """Return the zone in which the days of an election's law begin and end."""
    return ZoneInfo(election.legal_zone)
