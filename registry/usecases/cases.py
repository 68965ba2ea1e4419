"""Cases: entered when expected or heard of, followed through the courts, corrected.

Each entry that can hold containers locks the contests it covers, in one order, so
that a disposal being confirmed at the same moment sees it or waits for it.
"""

from collections.abc import Sequence
from datetime import date, datetime

from registry.models import Case, CaseEvent, CaseKind, CaseScope
from registry.queries.find import the
from registry.queries.scope import cases_of, elections_of
from registry.rules.case_events import DECISIONS, CaseEventKind, CourtLevel
from registry.rules.powers import Actor, Power
from registry.usecases._covers import (
    Covered,
    Covers,
    covered_by,
    lock_case,
    lock_contests,
    need,
    need_reason_and_authority,
    refuse_future,
)
from registry.usecases._door import Mistaken, Refused, note_access, usecase
from registry.usecases._records import enter, enter_many
from registry.usecases.confirmations import record_confirmation
from registry.usecases.documents import Upload, keep_document
from registry.usecases.preservation import (
    enter_preservation_order,
    lift_preservation_order,
)

__all__ = [
    "Covers",
    "change_case_scope",
    "enter_case",
    "enter_preservation_order",
    "lift_preservation_order",
    "lock_contests",
    "record_case_event",
    "record_confirmation",
    "record_court_number",
    "strike_case_event",
]

RENAMINGS = frozenset({CaseEventKind.TRANSFERRED, CaseEventKind.RENUMBERED})
BEGINNINGS = (CaseEventKind.EXPECTED, CaseEventKind.HEARD_OF, CaseEventKind.FILED)
NARROWING = (
    "Narrowing a hold to stations needs a reason and the authority for it. Without "
    "them the whole constituency is held."
)
LETTING_GO = (
    "This lets material go that the case holds now. Give the reason and the authority "
    "for it."
)


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
        first_event: heard of, or filed where the filing is known; or only expected,
            with good reason.
        occurred_on: when that was, not when it is entered.
        covers: whole constituencies, unless narrowed with reason and authority.

    Returns:
        The case's register number.

    Raises:
        Mistaken: something is missing or cannot be, or the case is entered already.
    """
    of = the(elections_of(actor), election, "election")
    if first_event not in BEGINNINGS:
        raise Mistaken(
            first_event="A case begins with being expected, heard of or filed."
        )
    if kind not in CaseKind.values:
        raise Mistaken(kind="Say what kind of proceeding it is.")
    if level not in set(CourtLevel):
        raise Mistaken(level="Say in which court it stands.")
    need(forum=forum, parties=parties)
    refuse_future(of, occurred_on, at)
    covered = covered_by(of, covers, actor)
    if covers.stations:
        need_reason_and_authority(covers, NARROWING)
    lock_contests(covered.touched())
    _refuse_known(forum, court_number)
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
    _enter_scopes(case, covered, covers)
    _enter_event(case, first_event, level, occurred_on, paper, "", actor, at)
    note_access(case.number)
    return case.number


def _refuse_known(forum: str, court_number: str, but: Case | None = None) -> None:
    """Refuse a second entry of one case; both would have to be settled."""
    if not court_number.strip():
        return
    known = Case.objects.filter(forum=forum.strip(), court_number=court_number.strip())
    for case in known.exclude(number=but.number if but else ""):
        raise Mistaken(
            court_number=f"This court's case is entered already, as {case.number}."
        )


def _enter_scopes(case: Case, covered: Covered, covers: Covers) -> None:
    enter_many([CaseScope(case=case, contest=contest) for contest in covered.contests])
    enter_many(
        [
            CaseScope(
                case=case,
                contest=station.contest,
                station=station,
                narrowed_because=covers.because.strip(),
                narrowed_by_authority=covers.authority.strip(),
            )
            for station in covered.stations
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
    document: Upload | None = None,
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
            document=keep_document(document) if document else None,
        )
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
    document: Upload | None = None,
    now_before: str = "",
    now_numbered: str = "",
    actor: Actor,
    at: datetime,
) -> str:
    """Record what happened in a case, when it happened; returns the event's number.

    A decision needs the paper it stands in, since it may let material go; that a case
    is no longer expected is nobody's decision and needs its reason, in the note.

    Args:
        now_before, now_numbered: the court to which it was transferred, and the
            number it has from then on; the names before are kept as other names.
    """
    of = the(cases_of(actor).select_related("election"), case, "case")
    if kind not in set(CaseEventKind) or level not in set(CourtLevel):
        raise Mistaken(kind="Say what happened, and in which court.")
    refuse_future(of.election, occurred_on, at)
    _need_its_ground(CaseEventKind(kind), paper, note)
    lock_case(of)
    _rename(of, CaseEventKind(kind), now_before, now_numbered)
    event = _enter_event(of, kind, level, occurred_on, paper, note, actor, at, document)
    note_access(of.number, event=event.number)
    return event.number


def _need_its_ground(kind: CaseEventKind, paper: str, note: str) -> None:
    """Refuse what may let material go without the paper or the reason for it."""
    if kind is CaseEventKind.NO_LONGER_EXPECTED:
        if not note.strip():
            raise Mistaken(note="Say why the case is no longer expected.")
    elif kind in DECISIONS and not paper.strip():
        raise Mistaken(paper="Name the order or judgment this decision stands in.")


def _rename(case: Case, kind: CaseEventKind, forum: str, number: str) -> None:
    """Give a case the court and the number that it has from this event on."""
    forum, number = forum.strip(), number.strip()
    if not (forum or number):
        return
    if kind not in RENAMINGS:
        raise Mistaken(
            now_numbered="Only a transfer or a new number changes what it is called. "
            "Leave the new court and number empty."
        )
    _refuse_known(forum or case.forum, number or case.court_number, but=case)
    case.forum = forum or case.forum
    case.court_number = number or case.court_number
    case.save()


@usecase("case.strike_event", power=Power.ENTER_CASES, subject="case")
def strike_case_event(
    *,
    case: str,
    event: str,
    because: str,
    authority: str = "",
    actor: Actor,
    at: datetime,
) -> str:
    """Declare an event to have been entered in error; it stays, struck.

    Without an event that is no decision a case may hold nothing any more, so striking
    one needs what narrowing a hold needs: a reason and the authority for it.
    """
    of = the(cases_of(actor).select_related("election"), case, "case")
    struck = the(of.events.all(), event, "event of this case")
    need(because=because)
    if hasattr(struck, "struck_by") or struck.strikes_id:
        raise Refused(f"{struck.number} is a correction or is struck already.")
    if CaseEventKind(struck.kind) not in DECISIONS and not authority.strip():
        raise Mistaken(
            authority="Striking this may let go what the case holds. Name the "
            "authority on whose word it is struck."
        )
    on_whose_word = f" ({authority.strip()})" if authority.strip() else ""
    lock_case(of)
    correction = enter(
        CaseEvent(
            case=of,
            kind=struck.kind,
            level=struck.level,
            occurred_on=struck.occurred_on,
            recorded_at=at,
            recorded_by_id=actor.person_id,
            note=f"{because.strip()}{on_whose_word}"[:400],
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
    need(court_number=court_number, parties=parties)
    _refuse_known(of.forum, court_number, but=of)
    of.court_number = court_number.strip()
    of.parties = parties.strip()
    of.save()


@usecase("case.change_scope", power=Power.ENTER_CASES, subject="case")
def change_case_scope(*, case: str, covers: Covers, actor: Actor, at: datetime) -> None:
    """Record anew what a case covers; narrowing needs a reason and an authority."""
    of = the(cases_of(actor).select_related("election"), case, "case")
    covered = covered_by(of.election, covers, actor)
    lock_case(of, also=covered.touched())
    live = list(of.scopes.filter(ended=False))
    if _lets_go(of, live, covered):
        need_reason_and_authority(covers, LETTING_GO)
    elif covers.stations:
        need_reason_and_authority(covers, NARROWING)
    for scope in live:
        scope.ended = True
        scope.save()
    of.whole_election = covers.whole_election
    if covers.because.strip():
        why = f"Scope changed: {covers.because.strip()} ({covers.authority.strip()})"
        of.note = f"{of.note} {why}".strip()[-400:]
    of.save()
    _enter_scopes(of, covered, covers)
    note_access(of.number, because=covers.because, authority=covers.authority)


def _lets_go(case: Case, live: Sequence[CaseScope], covered: Covered) -> bool:
    """Tell whether anything that the case holds now would no longer be held."""
    if covered.everything:
        return False
    if case.whole_election or not live:
        return True
    contests = {contest.pk for contest in covered.contests}
    stations = {station.pk for station in covered.stations}
    return any(
        scope.contest_id not in contests
        and (scope.station_id is None or scope.station_id not in stations)
        for scope in live
    )
