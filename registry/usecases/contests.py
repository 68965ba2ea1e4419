"""Looking at a contest; and what a form about cases or orders may choose from."""

from dataclasses import dataclass
from datetime import date, datetime

from registry.queries.contests import ContestFile, contest_file
from registry.queries.find import the
from registry.queries.keeping import legal_date
from registry.queries.scope import cases_of, contests_of, elections_of
from registry.rules.powers import Actor, Power
from registry.usecases._door import note_access, usecase
from registry.usecases.two_clocks import settle


@usecase("contest.look", power=Power.SEE_ELECTIONS, subject="contest")
def look_at_contest(
    *,
    contest: str,
    as_of: date | None = None,
    known_at: datetime | None = None,
    actor: Actor,
    at: datetime,
) -> ContestFile:
    """Open a contest's page; containers and cases only for those who may see them.

    Args:
        as_of: the day for which keeping and cases are reckoned; today if left out.
        known_at: reckon with what the register knew at that moment.
    """
    rows = contests_of(actor).select_related("election__schedule", "election__calendar")
    of = the(rows, contest, "contest")
    note_access(of.number)
    return contest_file(of, actor, *settle(of.election, as_of, known_at, at))


@usecase("contest.prepare", power=Power.RECORD_DATES, subject="contest")
def look_before_dates(*, contest: str, actor: Actor, at: datetime) -> ContestFile:
    """Open a contest in order to record its dates."""
    rows = contests_of(actor).select_related("election__schedule", "election__calendar")
    of = the(rows, contest, "contest")
    return contest_file(of, actor, legal_date(of.election, at))


@dataclass(frozen=True)
class Choices:
    """What may be chosen in a form; ``election`` empty: it must be chosen first.

    Each choice is a register number and what it is called.
    """

    elections: tuple[tuple[str, str], ...]
    election: str
    election_name: str
    contests: tuple[tuple[str, str], ...]
    cases: tuple[tuple[str, str], ...]


@usecase("case.prepare", power=Power.ENTER_CASES)
def choices_for_entry(*, election: str = "", actor: Actor, at: datetime) -> Choices:
    """Tell which elections, contests and cases a new entry may name.

    Args:
        election: register number; where it is empty and the actor works for one
            election only, that one.
    """
    mine = elections_of(actor).order_by("id")
    found = list(mine[:2])
    of = the(mine, election, "election") if election else None
    if of is None and len(found) == 1:
        (of,) = found
    contests = contests_of(actor).filter(election=of).order_by("id") if of else ()
    cases = cases_of(actor).filter(election=of).order_by("-id")[:200] if of else ()
    return Choices(
        elections=tuple((each.number, str(each)) for each in mine),
        election=of.number if of else "",
        election_name=str(of or ""),
        contests=tuple((each.number, str(each)) for each in contests),
        cases=tuple((each.number, f"{each} ({each.parties})") for each in cases),
    )
