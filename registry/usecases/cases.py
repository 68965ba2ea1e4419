"""Cases, their events, orders to preserve, confirmations: the legal cell's entries.

Each entry that can hold containers locks the contests it covers, in one order, so
that a disposal being confirmed at the same moment sees it or waits for it.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime

from registry.models import (
    Case,
    CaseEvent,
    CaseKind,
    CaseScope,
    Contest,
    Election,
    NoPetitionConfirmation,
    OrderScope,
    PollingStation,
    PreservationOrder,
)
from registry.queries.find import the
from registry.queries.keeping import legal_date
from registry.queries.scope import (
    cases_of,
    contests_of,
    elections_of,
    of_elections_in_scope,
)
from registry.rules.case_events import DECISIONS, CaseEventKind, CourtLevel
from registry.rules.powers import Actor, Power
from registry.usecases._door import Mistaken, Refused, note_access, usecase
from registry.usecases._records import enter, enter_many


@dataclass(frozen=True)
class Covers:
    """What a case or an order covers.

    Attributes:
        whole_election: every contest.
        contests: register numbers of contests covered whole.
        stations: register numbers of stations, to which the rest is narrowed.
        because, authority: why and on whose authority it is narrowed.
    """

    whole_election: bool = False
    contests: tuple[str, ...] = ()
    stations: tuple[str, ...] = ()
    because: str = ""
    authority: str = ""


def lock_contests(contests: Sequence[Contest]) -> None:
    """Let one decision on these contests be made at a time (by id: no deadlock)."""
    ids = sorted(contest.pk for contest in contests)
    list(Contest.objects.select_for_update().filter(pk__in=ids).order_by("pk"))


@usecase("case.enter", power=Power.ENTER_CASES, subject="election")
def enter_case(
    *,
    election: str,
    kind: str,
    forum: str,
    parties: str,
    covers: Covers,
    first_event: str = CaseEventKind.HEARD_OF,
    occurred_on: date,
    court_number: str = "",
    level: str = CourtLevel.FIRST,
    paper: str = "",
    note: str = "",
    actor: Actor,
    at: datetime,
) -> str:
    """Enter a case the moment it is heard of; it holds from the day it happened.

    Args:
        first_event: heard of, or filed where the filing is known.
        occurred_on: when that was, not when it is entered.
        covers: whole constituencies, unless narrowed with reason and authority.

    Returns:
        The case's register number.
    """
    of = the(elections_of(actor), election, "election")
    if first_event not in (CaseEventKind.HEARD_OF, CaseEventKind.FILED):
        raise Mistaken(first_event="A case begins with being heard of or filed.")
    if kind not in CaseKind.values:
        raise Mistaken(kind="Say what kind of proceeding it is.")
    _need(forum=forum, parties=parties)
    _refuse_future(of, occurred_on, at)
    contests, stations = _covered(of, covers, actor)
    _lock_covered(of, covers, contests, stations)
    if court_number.strip():
        known = Case.objects.filter(
            forum=forum.strip(), court_number=court_number.strip()
        ).first()
        if known:
            raise Mistaken(
                court_number=f"This case is entered already, as {known.number}."
            )
    case = enter(
        Case(
            election=of,
            kind=kind,
            forum=forum.strip(),
            court_number=court_number.strip(),
            parties=parties.strip(),
            whole_election=covers.whole_election,
            note=note.strip(),
        )
    )
    _enter_scopes(case, contests, stations, covers)
    _enter_event(case, first_event, level, occurred_on, paper, "", actor, at)
    note_access(case.number)
    return case.number


def _need(**texts: str) -> None:
    missing = {
        name: ["This must be filled in."]
        for name, text in texts.items()
        if not text.strip()
    }
    if missing:
        raise Mistaken(missing)


def _refuse_future(election: Election, day: date, at: datetime) -> None:
    if day > legal_date(election, at):
        raise Mistaken(
            occurred_on="This day has not come yet. Enter an event once it happened."
        )


def _covered(
    election: Election, covers: Covers, actor: Actor
) -> tuple[list[Contest], list[PollingStation]]:
    rows = contests_of(actor).filter(election=election)
    contests = [the(rows, number, "contest") for number in covers.contests]
    stations = [
        the(
            PollingStation.objects.filter(contest__election=election).select_related(
                "contest"
            ),
            number,
            "polling station",
        )
        for number in covers.stations
    ]
    if not (covers.whole_election or contests or stations):
        raise Mistaken(
            contests="Say what it challenges: the election, contests, or stations."
        )
    if stations and not (covers.because.strip() and covers.authority.strip()):
        raise Mistaken(
            because="Narrowing a hold to stations needs a reason and the authority "
            "for it. Without them the whole constituency is held."
        )
    return contests, stations


def _lock_covered(
    election: Election,
    covers: Covers,
    contests: Sequence[Contest],
    stations: Sequence[PollingStation],
) -> None:
    if covers.whole_election:
        lock_contests(list(election.contests.all()))
    else:
        lock_contests([*contests, *(station.contest for station in stations)])


def _enter_scopes(
    case: Case,
    contests: Sequence[Contest],
    stations: Sequence[PollingStation],
    covers: Covers,
) -> None:
    enter_many([CaseScope(case=case, contest=contest) for contest in contests])
    enter_many(
        [
            CaseScope(
                case=case,
                contest=station.contest,
                station=station,
                narrowed_because=covers.because.strip(),
                narrowed_by_authority=covers.authority.strip(),
            )
            for station in stations
        ]
    )


def _enter_event(
    case: Case,
    kind: str,
    level: str,
    occurred_on: date,
    paper: str,
    note: str,
    actor: Actor,
    at: datetime,
) -> CaseEvent:
    return enter(
        CaseEvent(
            case=case,
            kind=CaseEventKind(kind).value,
            level=CourtLevel(level).value,
            occurred_on=occurred_on,
            recorded_at=at,
            recorded_by_id=actor.person_id,
            paper=paper.strip(),
            note=note.strip(),
        )
    )


def _lock_case(case: Case) -> None:
    if case.whole_election:
        lock_contests(list(case.election.contests.all()))
    else:
        lock_contests(
            [scope.contest for scope in case.scopes.select_related("contest")]
        )


@usecase("case.record_event", power=Power.ENTER_CASES, subject="case")
def record_case_event(
    *,
    case: str,
    kind: str,
    level: str,
    occurred_on: date,
    paper: str = "",
    note: str = "",
    actor: Actor,
    at: datetime,
) -> str:
    """Record what happened in a case, when it happened; returns the event's number.

    A decision needs the paper it stands in, since it may let material go.
    """
    of = the(cases_of(actor).select_related("election"), case, "case")
    if kind not in set(CaseEventKind) or level not in set(CourtLevel):
        raise Mistaken(kind="Say what happened, and in which court.")
    _refuse_future(of.election, occurred_on, at)
    if CaseEventKind(kind) in DECISIONS and not paper.strip():
        raise Mistaken(paper="Name the order or judgment this decision stands in.")
    _lock_case(of)
    event = _enter_event(of, kind, level, occurred_on, paper, note, actor, at)
    note_access(of.number, event=event.number)
    return event.number


@usecase("case.strike_event", power=Power.ENTER_CASES, subject="case")
def strike_case_event(
    *, case: str, event: str, because: str, actor: Actor, at: datetime
) -> str:
    """Declare an event to have been entered in error; it stays, struck."""
    of = the(cases_of(actor).select_related("election"), case, "case")
    struck = the(of.events.all(), event, "event of this case")
    _need(because=because)
    if hasattr(struck, "struck_by") or struck.strikes_id:
        raise Refused(f"{struck.number} is a correction or is struck already.")
    _lock_case(of)
    correction = enter(
        CaseEvent(
            case=of,
            kind=struck.kind,
            level=struck.level,
            occurred_on=struck.occurred_on,
            recorded_at=at,
            recorded_by_id=actor.person_id,
            note=because.strip(),
            strikes=struck,
        )
    )
    note_access(of.number, struck=struck.number)
    return correction.number


@usecase("case.name", power=Power.ENTER_CASES, subject="case")
def record_court_number(
    *, case: str, court_number: str, parties: str, actor: Actor, at: datetime
) -> None:
    """Record the court's number and the parties once they are known."""
    of = the(cases_of(actor), case, "case")
    _need(court_number=court_number, parties=parties)
    of.court_number = court_number.strip()
    of.parties = parties.strip()
    of.save()


@usecase("case.change_scope", power=Power.ENTER_CASES, subject="case")
def change_case_scope(*, case: str, covers: Covers, actor: Actor, at: datetime) -> None:
    """Record anew what a case covers; narrowing needs a reason and an authority."""
    of = the(cases_of(actor).select_related("election"), case, "case")
    contests, stations = _covered(of.election, covers, actor)
    _lock_case(of)
    _lock_covered(of.election, covers, contests, stations)
    live = list(of.scopes.filter(ended=False))
    was = {s.contest_id for s in live if s.station_id is None}
    lets_go = (of.whole_election and not covers.whole_election) or (
        not covers.whole_election and was - {c.pk for c in contests}
    )
    if lets_go and not (covers.because.strip() and covers.authority.strip()):
        raise Mistaken(
            because="This lets material go that the case holds now. Give the reason "
            "and the authority for it."
        )
    for scope in live:
        scope.ended = True
        scope.save()
    of.whole_election = covers.whole_election
    if covers.because.strip():
        why = f"Scope changed: {covers.because.strip()} ({covers.authority.strip()})"
        of.note = f"{of.note} {why}".strip()[-400:]
    of.save()
    _enter_scopes(of, contests, stations, covers)


@usecase("order.enter", power=Power.ENTER_CASES, subject="election")
def enter_preservation_order(
    *,
    election: str,
    issued_by: str,
    order_ref: str,
    dated: date,
    from_on: date,
    until_on: date | None,
    covers: Covers,
    case: str = "",
    note: str = "",
    actor: Actor,
    at: datetime,
) -> str:
    """Enter an order to preserve, with or without an end; returns its number."""
    of = the(elections_of(actor), election, "election")
    _need(issued_by=issued_by, order_ref=order_ref)
    if dated > legal_date(of, at):
        raise Mistaken(dated="The order's date has not come yet.")
    if until_on and until_on < from_on:
        raise Mistaken(until_on="The order would end before it begins.")
    contests, stations = _covered(of, covers, actor)
    _lock_covered(of, covers, contests, stations)
    if PreservationOrder.objects.filter(
        issued_by=issued_by.strip(), order_ref=order_ref.strip()
    ).exists():
        raise Mistaken(order_ref="This order is entered already.")
    order = enter(
        PreservationOrder(
            election=of,
            case=the(cases_of(actor), case, "case") if case else None,
            issued_by=issued_by.strip(),
            order_ref=order_ref.strip(),
            dated=dated,
            from_on=from_on,
            until_on=until_on,
            whole_election=covers.whole_election,
            recorded_at=at,
            note=note.strip(),
        )
    )
    enter_many([OrderScope(order=order, contest=contest) for contest in contests])
    enter_many(
        [OrderScope(order=order, contest=s.contest, station=s) for s in stations]
    )
    note_access(order.number)
    return order.number


@usecase("order.lift", power=Power.ENTER_CASES, subject="order")
def lift_preservation_order(
    *, order: str, lifted_on: date, lifted_by_order: str, actor: Actor, at: datetime
) -> None:
    """Record that an order to preserve was lifted, and by which order."""
    rows = of_elections_in_scope(PreservationOrder.objects.all(), actor)
    of = the(rows, order, "preservation order")
    if of.lifted_on:
        raise Refused(f"{of.number} was lifted on {of.lifted_on:%-d %B %Y}.")
    _need(lifted_by_order=lifted_by_order)
    if lifted_on > legal_date(of.election, at):
        raise Mistaken(lifted_on="This day has not come yet.")
    if lifted_on < of.dated:
        raise Mistaken(lifted_on="The order was not yet made on that day.")
    of.lifted_on = lifted_on
    of.lifted_by_order = lifted_by_order.strip()
    of.save()


@usecase("confirmation.enter", power=Power.ENTER_CASES, subject="contest")
def record_confirmation(
    *,
    contest: str,
    registry_of: str,
    reference: str,
    dated: date,
    covers_through: date,
    actor: Actor,
    at: datetime,
) -> str:
    """Record the court registry's paper that no petition is pending."""
    of = the(contests_of(actor), contest, "contest")
    _need(registry_of=registry_of, reference=reference)
    if dated > legal_date(of.election, at):
        raise Mistaken(dated="The paper's date has not come yet.")
    if covers_through > dated:
        raise Mistaken(
            covers_through="A registry can only speak of days up to its paper's date."
        )
    known = of.confirmations.filter(
        registry_of=registry_of.strip(), reference=reference.strip()
    )
    if known.exists():
        raise Mistaken(reference="This paper is entered already.")
    confirmation = enter(
        NoPetitionConfirmation(
            contest=of,
            registry_of=registry_of.strip(),
            reference=reference.strip(),
            dated=dated,
            covers_through=covers_through,
            recorded_at=at,
        )
    )
    note_access(of.number, confirmation=confirmation.number)
    return confirmation.number
