"""Looking at cases: each look is entered, and so is each list."""

from dataclasses import dataclass
from datetime import date, datetime

from django.db.models import Q

from registry.queries.case_facts import cases_with_facts
from registry.queries.case_links import once_called
from registry.queries.cases import CaseFile, CaseRow, case_file, case_rows
from registry.queries.find import the
from registry.queries.keeping import legal_date
from registry.queries.scope import cases_of
from registry.rules.powers import Actor, Power
from registry.usecases._door import note_access, usecase

PAGE = 100


@dataclass(frozen=True)
class CasesWanted:
    """What a list of cases is asked for; empty means any.

    Attributes:
        standing: pending, appeal-window, settled or not-begun.
        text: part of the court's number, of the forum or of the parties.
    """

    standing: str = ""
    text: str = ""
    page: int = 1


@dataclass(frozen=True)
class CasePage:
    """One page of cases."""

    rows: tuple[CaseRow, ...]
    page: int
    has_next: bool


@usecase("case.list", power=Power.LOOK_AT_CASES)
def list_cases(*, wanted: CasesWanted, actor: Actor, at: datetime) -> CasePage:
    """List the cases within the actor's scope, the newest entered first.

    Where a case stands is reckoned and not stored, so all are read to narrow by it;
    an election has hundreds of cases at most.
    """
    rows = cases_of(actor)
    if wanted.text:
        rows = rows.filter(
            Q(pk__in=once_called(wanted.text))
            | Q(court_number__icontains=wanted.text)
            | Q(parties__icontains=wanted.text)
            | Q(forum__icontains=wanted.text)
            | Q(number__iexact=wanted.text)
        )
    cases = cases_with_facts(
        rows.select_related(
            "election__schedule", "election__calendar"
        ).prefetch_related("scopes__contest", "scopes__station")
    ).order_by("-id")
    found = case_rows(cases, at)
    if wanted.standing:
        found = [row for row in found if row.stand.standing == wanted.standing]
    start = (wanted.page - 1) * PAGE
    shown = found[start : start + PAGE]
    note_access(
        shown=[row.number for row in shown],
        **{name: value for name, value in vars(wanted).items() if value},
    )
    return CasePage(tuple(shown), wanted.page, len(found) > start + PAGE)


@usecase("case.look", power=Power.LOOK_AT_CASES, subject="case")
def look_at_case(
    *, case: str, as_of: date | None = None, actor: Actor, at: datetime
) -> CaseFile:
    """Open a case's page: where it stands and why, its events, what it holds."""
    rows = cases_with_facts(
        cases_of(actor).select_related("election__schedule", "election__calendar")
    )
    of = the(rows, case, "case")
    note_access(of.number)
    return case_file(of, actor, as_of or legal_date(of.election, at))


@usecase("case.prepare", power=Power.ENTER_CASES, subject="case")
def look_before_entry(*, case: str, actor: Actor, at: datetime) -> CaseFile:
    """Open a case in order to enter something about it."""
    rows = cases_with_facts(
        cases_of(actor).select_related("election__schedule", "election__calendar")
    )
    of = the(rows, case, "case")
    return case_file(of, actor, legal_date(of.election, at))
