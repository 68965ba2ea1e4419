"""Confirmations of the court's registry, and whether one is due for a contest."""

from dataclasses import dataclass
from datetime import date, datetime

from registry.models import Contest, NoPetitionConfirmation
from registry.queries.keeping import Keeper, confirmation_for


@dataclass(frozen=True)
class ConfirmationRow:
    """A confirmation as it is on file."""

    number: str
    registry_of: str
    reference: str
    dated: date
    covers_through: date
    recorded_at: datetime
    withdrawn_on: date | None
    document: str


@dataclass(frozen=True)
class ConfirmationDue:
    """Whether a contest's confirmation is on file.

    Attributes:
        needed_through: the last day of the windows, past which the paper must reach;
            None where a window or a case has no end yet.
        state: on-file, too-early, due, window-open, no-end or not-asked.
    """

    contest: str
    contest_number: str
    election: str
    declared_on: date | None
    needed_through: date | None
    state: str
    word: str
    tone: str
    confirmation: str
    dated: date | None
    covers_through: date | None


STATES = {
    "on-file": ("on file", "clear"),
    "too-early": ("too early", "stop"),
    "due": ("due", "stop"),
    "window-open": ("window still open", "wait"),
    "no-end": ("no end yet", "wait"),
    "not-asked": ("not asked for", "plain"),
}


def confirmation_due(contest: Contest, keeper: Keeper) -> ConfirmationDue:
    """Tell whether a confirmation is on file, due, or of too early a date.

    It counts as the rules of disposal count it: given after the last day of the
    windows, since on that day it could not know what was still to be filed, and
    speaking of the time through that day.
    """
    schedule = keeper.schedule(contest.election)
    ends = [keeper.contest(contest, kind).confirm_through for kind in schedule.classes]
    known = [end for end in ends if end is not None]
    needed = max(known) if known and len(known) == len(ends) else None
    found = confirmation_for(contest, keeper.as_of)
    if not schedule.confirmation_required:
        state = "not-asked"
    elif needed is None:
        state = "no-end"
    elif found and found.dated > needed and found.covers_through >= needed:
        state = "on-file"
    elif needed >= keeper.as_of:
        state = "window-open"
    else:
        state = "too-early" if found else "due"
    word, tone = STATES[state]
    return ConfirmationDue(
        contest=str(contest),
        contest_number=contest.number,
        election=str(contest.election),
        declared_on=contest.declared_on,
        needed_through=needed,
        state=state,
        word=word,
        tone=tone,
        confirmation=found.number if found else "",
        dated=found.dated if found else None,
        covers_through=found.covers_through if found else None,
    )


def confirmation_rows(contest: Contest) -> tuple[ConfirmationRow, ...]:
    """Return every confirmation of a contest, withdrawn ones too."""
    rows = NoPetitionConfirmation.objects.filter(contest=contest)
    return tuple(
        ConfirmationRow(
            number=row.number,
            registry_of=row.registry_of,
            reference=row.reference,
            dated=row.dated,
            covers_through=row.covers_through,
            recorded_at=row.recorded_at,
            withdrawn_on=row.withdrawn_on,
            document=row.document.number if row.document else "",
        )
        for row in rows.select_related("document").order_by("dated", "id")
    )
