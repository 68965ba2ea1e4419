"""The account of material: looked at, printed, and taken in hand where it differs."""

from dataclasses import dataclass
from datetime import datetime

from registry.documents.materials import MaterialPaper, material_csv, material_pdf
from registry.models import Contest
from registry.queries.find import the
from registry.queries.materials import (
    MaterialFile,
    MaterialStanding,
    material_file,
    material_standings,
)
from registry.queries.scope import contests_of, elections_of
from registry.queries.snapshot import hold_one_moment
from registry.rules.arrivals import DiscrepancyKind, Problem
from registry.rules.material_troubles import MUST_BE
from registry.rules.powers import Actor, Power
from registry.usecases._contest_room import room_of_contest
from registry.usecases._door import Mistaken, Refused, note_access, usecase
from registry.usecases._recording import discrepancy, lock_intake
from registry.usecases._records import enter
from registry.usecases.papers import Printed

__all__ = ["MaterialFile", "MaterialStanding"]

_PAPERS = {
    "pdf": ("application/pdf", material_pdf),
    "csv": ("text/csv; charset=utf-8", material_csv),
}


@dataclass(frozen=True)
class ElectionMaterial:
    """How far the material of each contest of an election is accounted for."""

    number: str
    name: str
    contests: tuple[MaterialStanding, ...]


@usecase("material.list", power=Power.LOOK)
def list_materials(*, actor: Actor, at: datetime) -> tuple[ElectionMaterial, ...]:
    """Show how far the seals of each contest are accounted for."""
    hold_one_moment()
    found = tuple(
        ElectionMaterial(
            election.number, str(election), material_standings(election, actor)
        )
        for election in elections_of(actor).order_by("id")
    )
    note_access(contests=sum(len(each.contests) for each in found))
    return found


@usecase("material.look", power=Power.LOOK, subject="contest")
def look_at_materials(*, contest: str, actor: Actor, at: datetime) -> MaterialFile:
    """Show the account of a contest's seals, envelopes and boxes."""
    hold_one_moment()
    file = material_file(_contest(contest, actor), actor)
    note_access(file.number, differences=len(file.account.open))
    return file


@usecase("report.material", power=Power.REPORT, subject="contest")
def make_material_report(
    *, contest: str, form: str, actor: Actor, at: datetime
) -> Printed:
    """Make the account of a contest's material as PDF or CSV.

    Raises:
        Mistaken: there is no account of this form.
    """
    if form not in _PAPERS:
        raise Mistaken(format=f"There is no account as {form}: pdf or csv.")
    hold_one_moment()
    file = material_file(_contest(contest, actor), actor)
    note_access(file.number, format=form)
    content_type, make = _PAPERS[form]
    paper = MaterialPaper(file, at, f"{actor.name} ({actor.role_title})")
    name = f"material-{file.number}-{at:%Y-%m-%d}.{form}"
    return Printed(name, make(paper), content_type)


@usecase("material.open", power=Power.KEEP, subject="contest")
def open_material_difference(
    *, contest: str, difference: str, actor: Actor, at: datetime
) -> str:
    """Open a discrepancy for what does not agree; returns its number.

    Raises:
        Refused: it is gone, or somebody has it in hand already.
    """
    of = _contest(contest, actor)
    lock_intake()  # two people must not open the same one at once
    account = material_file(of, actor).account
    found = {each.key: each for each in account.differences}.get(difference)
    if found is None:
        raise Refused(
            "This difference is no longer there: the register has changed. Look at "
            "the account again."
        )
    in_hand = [each.ref for each in found.answers if not each.is_resolved]
    if in_hand:
        raise Refused(f"{', '.join(in_hand)} is open for this difference already.")
    problem = Problem(
        DiscrepancyKind.MATERIAL,
        written=found.written,
        expected=MUST_BE[found.trouble],
        detail=f"{found.title}: {found.text}",
    )
    room = room_of_contest(of, actor)
    opened = enter(discrepancy(of, problem, at, room=room))
    note_access(of.number, discrepancy=opened.number, trouble=found.trouble.value)
    return opened.number


def _contest(number: str, actor: Actor) -> Contest:
    rows = contests_of(actor).select_related("election__schedule")
    return the(rows, number, "contest")
