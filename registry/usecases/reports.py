"""The retention report of an election, a contest or a strong room, as of a day."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime
from typing import IO
from zoneinfo import ZoneInfo

from django.db.models import Q

from registry.documents.reports import (
    Report,
    ReportRow,
    TooLongForPaper,
    TotalsDisagree,
    reason_title,
    report_csv_lines,
    report_json,
    report_pdf,
)
from registry.models import Contest, Election, StrongRoom
from registry.queries.as_known import row_known
from registry.queries.find import the
from registry.queries.finding import election_named
from registry.queries.keeping import legal_date
from registry.queries.reports import (
    KeptContainers,
    Knowledge,
    elections_in,
    without_an_election,
)
from registry.queries.scope import (
    boxes_of,
    contests_of,
    elections_of,
    envelopes_of,
    rooms_of,
)
from registry.queries.snapshot import hold_one_moment
from registry.rules.markings import plain_station
from registry.rules.numbers import looks_like_number
from registry.rules.powers import Actor, Power, Role
from registry.usecases._door import Mistaken, Refused, note_access, usecase
from registry.usecases.two_clocks import settle

TITLE = "Retention report"
FIRST_DAY, LAST_DAY = date(1900, 1, 1), date(2300, 1, 1)
FORMATS = {
    "pdf": "application/pdf",
    "csv": "text/csv; charset=utf-8",
    "json": "application/json",
}


@dataclass(frozen=True)
class ReportWanted:
    """What a report is asked for.

    Attributes:
        election: its code or register number.
        contest: its register number, or the constituency's number.
        room: the strong room's register number.
        as_of: the day asked about; None is the day of asking, or of ``known_at``.
        known_at: the moment whose knowledge counts; None for what is known now.
    """

    election: str = ""
    contest: str = ""
    room: str = ""
    as_of: date | None = None
    known_at: datetime | None = None


@dataclass(frozen=True)
class ReportTotals:
    """What a report adds up to.

    Attributes:
        by_reason: (code, title, number of containers), the most numerous first.
        file_name: how the report is called, without its ending.
        left_out: containers in quarantine whose election nobody knows, which no
            report of an election or contest can list.
    """

    scope_text: str
    subject: str
    as_of: date
    total: int
    by_reason: tuple[tuple[str, str, int], ...]
    schedule_text: str
    calendar_text: str
    file_name: str
    left_out: int = 0
    known_at: datetime | None = None


@dataclass(frozen=True)
class _Scope:
    text: str
    subject: str
    of: Q
    elections: list[Election]
    file_part: str


@usecase("report.retention", power=Power.REPORT)
def sum_up_retention(
    *, wanted: ReportWanted, actor: Actor, at: datetime
) -> ReportTotals:
    """Add up what a report would list, by reason, without the rows.

    Raises:
        Mistaken: it is not clear what the report is of.
    """
    _, totals = _prepare(wanted, actor, at)
    _note(totals, "screen")
    return totals


@usecase("report.retention", power=Power.REPORT)
def make_retention_report(
    *,
    wanted: ReportWanted,
    form: str,
    into: Callable[[], IO[bytes]],
    actor: Actor,
    at: datetime,
) -> ReportTotals:
    """Write a retention report as PDF, CSV or JSON.

    Args:
        form: pdf, csv or json.
        into: opens what the report is written into, once it is known to be made.

    Raises:
        Mistaken: it is not clear what the report is of, or the form is unknown.
        Refused: it is too long for paper, or the register changed meanwhile.
    """
    if form not in FORMATS:
        raise Mistaken(format=f"There is no report as {form}: pdf, csv or json.")
    kept, totals = _prepare(wanted, actor, at)
    _note(totals, form)
    report = Report(
        title=TITLE,
        scope_text=totals.scope_text,
        as_of=totals.as_of,
        made_at=at,
        made_by=f"{actor.name} ({actor.role_title})",
        rows=(ReportRow(**vars(row)) for row in kept.rows()),
        totals_by_reason=tuple((code, n) for code, _, n in totals.by_reason),
        schedule_text=totals.schedule_text,
        calendar_text=totals.calendar_text,
        known_at=totals.known_at,
    )
    try:
        _write(report, form, into)
    except (TooLongForPaper, TotalsDisagree) as error:
        raise Refused(str(error)) from error
    return totals


def _note(totals: ReportTotals, form: str) -> None:
    note_access(
        totals.subject,
        format=form,
        as_of=totals.as_of.isoformat(),
        known_at=totals.known_at.isoformat() if totals.known_at else None,
        containers=totals.total,
    )


def _write(report: Report, form: str, into: Callable[[], IO[bytes]]) -> None:
    if form == "csv":
        out = into()
        for line in report_csv_lines(report):
            out.write(line.encode())
        return
    content = report_pdf(report) if form == "pdf" else report_json(report)
    into().write(content)


def _prepare(
    wanted: ReportWanted, actor: Actor, at: datetime
) -> tuple[KeptContainers, ReportTotals]:
    hold_one_moment()
    if wanted.as_of and not FIRST_DAY <= wanted.as_of <= LAST_DAY:
        raise Mistaken(
            as_of=f"{wanted.as_of} is a slip of the finger: give a day of these times."
        )
    scope = _scope(wanted, actor)
    note_access(scope.subject)
    boxes = boxes_of(actor).filter(scope.of)
    envelopes = envelopes_of(actor).filter(scope.of)
    elections = scope.elections or elections_in(boxes, envelopes)
    zone = ZoneInfo(elections[0].legal_zone) if elections else ZoneInfo("UTC")
    first = elections[0] if elections else None
    as_of, known_at = settle(first, wanted.as_of, wanted.known_at, at)
    clocks = Knowledge(as_of, legal_date(first, at), zone, known_at)
    kept = KeptContainers(boxes, envelopes, clocks)
    counted = kept.totals()
    lost = 0
    if scope.elections:
        lost = without_an_election(boxes_of(actor), envelopes_of(actor))
    return kept, ReportTotals(
        scope_text=scope.text,
        subject=scope.subject,
        as_of=as_of,
        total=counted.total(),
        by_reason=tuple(
            (code, reason_title(code), n)
            for code, n in sorted(counted.items(), key=lambda c: (-c[1], c[0]))
        ),
        schedule_text="; ".join(_schedules(elections, known_at)) or "none",
        calendar_text="; ".join(dict.fromkeys(e.calendar.name for e in elections))
        or "none",
        file_name=f"retention-{scope.file_part}-{as_of:%Y-%m-%d}"
        + (f"-known-{known_at:%Y-%m-%d}" if known_at else ""),
        left_out=lost,
        known_at=known_at,
    )


def _schedules(elections: list[Election], known_at: datetime | None) -> list[str]:
    then = [(row_known(election, known_at) or election).schedule
            for election in elections]  # fmt: skip
    return list(
        dict.fromkeys(f"{s}, ordained by {s.ordained_by}, {s.order}" for s in then)
    )


def _scope(wanted: ReportWanted, actor: Actor) -> _Scope:
    if wanted.room and (wanted.election or wanted.contest):
        raise Mistaken(room="Ask for a strong room, or for an election or contest.")
    if wanted.room:
        room: StrongRoom = the(rooms_of(actor), wanted.room, "strong room")
        return _Scope(
            text=f"{room} ({room.number}), all that is kept there",
            subject=room.number,
            of=Q(room=room),
            elections=[],
            file_part=room.number,
        )
    if wanted.contest:
        return _of_contest(_contest(wanted, actor), actor)
    election = _election(wanted.election, actor)
    return _Scope(
        text=_narrowed(f"{election} ({election.number}), every contest", actor),
        subject=election.number,
        of=Q(election=election),
        elections=[election],
        file_part=election.code,
    )


def _of_contest(contest: Contest, actor: Actor) -> _Scope:
    election = contest.election
    return _Scope(
        text=_narrowed(f"{contest} ({contest.number}), {election}", actor),
        subject=contest.number,
        of=Q(contest=contest),
        elections=[election],
        file_part=f"{election.code}-{contest.constituency_number}",
    )


def _narrowed(text: str, actor: Actor) -> str:
    """Say where a report lists less than its heading promises."""
    if actor.role is not Role.CUSTODIAN:
        return text
    names = rooms_of(actor).order_by("id").values_list("name", flat=True)
    return f"{text}; in {', '.join(names)}"


def _election(named: str, actor: Actor) -> Election:
    rows = elections_of(actor).select_related("schedule", "calendar").order_by("id")
    if named:
        found = election_named(rows, named)
        if found:
            return found
        raise Mistaken(election=f"There is no election {named} that you may see.")
    few = list(rows[:2])
    if len(few) == 1:
        return few[0]
    raise Mistaken(
        election="There are several elections: say which one."
        if few
        else "There is no election yet."
    )


def _contest(wanted: ReportWanted, actor: Actor) -> Contest:
    rows = contests_of(actor).select_related("election__schedule", "election__calendar")
    if looks_like_number(wanted.contest):
        contest = the(rows, wanted.contest, "contest")
        if wanted.election:
            of = _election(wanted.election, actor)
            if of.pk != contest.election_id:
                raise Mistaken(contest=f"{contest.number} is not a contest of {of}.")
        return contest
    election = _election(wanted.election, actor)
    asked = plain_station(wanted.contest)
    for contest in rows.filter(election=election):
        if plain_station(contest.constituency_number) == asked:
            return contest
    raise Mistaken(
        contest=f"{election} has no constituency {wanted.contest}. Give its number, "
        "such as 11, or the contest's register number."
    )
