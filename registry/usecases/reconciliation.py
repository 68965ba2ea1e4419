"""The reconciliation of a contest: looked at, reported, and brought down to zero."""

from dataclasses import dataclass
from datetime import datetime

from registry.documents.reconciliations import (
    ReconciliationPaper,
    reconciliation_csv,
    reconciliation_json,
    reconciliation_pdf,
)
from registry.models import (
    Box,
    Contest,
    Discrepancy,
    Envelope,
    PollingStation,
    UnitSet,
)
from registry.queries.find import the
from registry.queries.reconciliation import contest_facts, of_no_contest
from registry.queries.reconciliation_rows import (
    ContestStanding,
    ReconciliationFile,
    reconciliation_file,
    standings,
)
from registry.queries.scope import contests_of, elections_of
from registry.queries.snapshot import hold_one_moment
from registry.rules.arrivals import Problem
from registry.rules.numbers import kind_of
from registry.rules.powers import Actor, Power
from registry.rules.reconciliation import reconcile
from registry.rules.reconciliation_findings import Difference
from registry.usecases._contest_room import room_of_contest
from registry.usecases._door import Mistaken, Refused, note_access, usecase
from registry.usecases._recording import discrepancy, lock_intake
from registry.usecases._records import enter
from registry.usecases.papers import Printed

__all__ = ["ContestStanding", "ReconciliationFile"]

_PAPERS = {
    "pdf": ("application/pdf", reconciliation_pdf),
    "csv": ("text/csv; charset=utf-8", reconciliation_csv),
    "json": ("application/json", reconciliation_json),
}


@usecase("reconciliation.look", power=Power.LOOK, subject="contest")
def look_at_reconciliation(
    *, contest: str, actor: Actor, at: datetime
) -> ReconciliationFile:
    """Hold what a contest must have against what is there."""
    hold_one_moment()
    file = reconciliation_file(_contest(contest, actor), actor)
    note_access(
        file.number,
        shown=file.containers,
        unexplained=file.unexplained,
        in_hand=file.in_hand,
    )
    return file


@usecase("report.reconciliation", power=Power.REPORT, subject="contest")
def make_reconciliation_report(
    *, contest: str, form: str, actor: Actor, at: datetime
) -> Printed:
    """Make the report of a reconciliation as PDF, CSV or JSON.

    Raises:
        Mistaken: there is no report of this form.
    """
    if form not in _PAPERS:
        raise Mistaken(format=f"There is no report as {form}: pdf, csv or json.")
    hold_one_moment()
    file = reconciliation_file(_contest(contest, actor), actor)
    note_access(file.number, shown=file.containers, format=form)
    paper = ReconciliationPaper(
        file=file, made_at=at, made_by=f"{actor.name} ({actor.role_title})"
    )
    content_type, make = _PAPERS[form]
    name = f"reconciliation-{file.number}-{at:%Y-%m-%d}.{form}"
    return Printed(name, make(paper), content_type)


@dataclass(frozen=True)
class ElectionStanding:
    """How far the contests of an election are reconciled.

    Attributes:
        of_no_contest: envelopes in quarantine that no contest of it expects.
    """

    number: str
    name: str
    contests: tuple[ContestStanding, ...]
    of_no_contest: int


@usecase("reconciliation.list", power=Power.LOOK)
def list_reconciliations(*, actor: Actor, at: datetime) -> tuple[ElectionStanding, ...]:
    """Show how far each contest of each election is from zero."""
    hold_one_moment()
    found = tuple(
        ElectionStanding(
            number=election.number,
            name=str(election),
            contests=standings(election, actor),
            of_no_contest=of_no_contest(election),
        )
        for election in elections_of(actor).select_related("schedule").order_by("id")
    )
    note_access(contests=sum(len(each.contests) for each in found))
    return found


@usecase("reconciliation.open", power=Power.KEEP, subject="contest")
def open_difference(
    *, contest: str, difference: str, actor: Actor, at: datetime
) -> str:
    """Open a discrepancy for a difference, with its owner and due day.

    Args:
        difference: its key, as the reconciliation gives it.

    Returns:
        The number of the discrepancy.

    Raises:
        Refused: the difference is gone, or somebody has it in hand already.
    """
    of = _contest(contest, actor)
    lock_intake()  # two people must not open the same one at once
    facts = contest_facts(of.election, [of], actor)[of.number]
    hidden = {each.number for each in (*facts.envelopes, *facts.boxes) if each.called}
    found = {
        each.key: each
        for each in reconcile(facts).differences
        if not hidden.intersection(each.about)
    }.get(difference)
    if found is None:
        raise Refused(
            "This difference is no longer there: the register has changed. Look at "
            "the reconciliation again."
        )
    in_hand = [each.number for each in found.answers if each.resolved_at is None]
    if in_hand:
        raise Refused(f"{', '.join(in_hand)} is open for this difference already.")
    opened = enter(_discrepancy(of, found, actor, at))
    note_access(of.number, discrepancy=opened.number, reason=found.reason.value)
    return opened.number


def _contest(number: str, actor: Actor) -> Contest:
    rows = contests_of(actor).select_related("election__schedule")
    return the(rows, number, "contest")


def _discrepancy(
    of: Contest, found: Difference, actor: Actor, at: datetime
) -> Discrepancy:
    problem = Problem(
        found.opens,
        marking=found.markings[0] if found.markings else "",
        written=found.written,
        expected=found.expected,
        detail=found.text,
    )
    container = _container(found)
    if container is not None:
        return discrepancy(container, problem, at)
    units, station = _expected(found)
    return discrepancy(
        of,
        problem,
        at,
        station=station,
        unit_set=units,
        content=found.kind.value,
        room=room_of_contest(of, actor),
    )


def _container(found: Difference) -> Box | Envelope | None:
    number = found.about[0]
    if kind_of(number) == "BX":
        return Box.objects.get(number=number)
    if kind_of(number) == "EN":
        return Envelope.objects.get(number=number)
    return None


def _expected(found: Difference) -> tuple[UnitSet | None, PollingStation]:
    """Return the unit set, if there is one, and the station of what is missing."""
    ref = found.about[0].split()[0]
    if kind_of(ref) == "US":
        units = UnitSet.objects.select_related("station").get(number=ref)
        return units, units.station
    return None, PollingStation.objects.get(number=ref)
