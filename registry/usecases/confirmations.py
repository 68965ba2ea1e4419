"""The court registry's word that no petition is pending against a contest."""

from datetime import date, datetime

from registry.models import NoPetitionConfirmation
from registry.queries.confirmations import (
    ConfirmationDue,
    ConfirmationRow,
    confirmation_due,
    confirmation_rows,
)
from registry.queries.find import the
from registry.queries.keeping import Keeper, legal_date
from registry.queries.scope import contests_of
from registry.rules.powers import Actor, Power
from registry.usecases._covers import lock_contests, need
from registry.usecases._door import Mistaken, Refused, note_access, usecase
from registry.usecases._records import enter
from registry.usecases.documents import Upload, keep_document


@usecase("confirmation.enter", power=Power.ENTER_CASES, subject="contest")
def record_confirmation(
    *,
    contest: str,
    registry_of: str,
    reference: str,
    dated: date,
    covers_through: date,
    document: Upload | None = None,
    actor: Actor,
    at: datetime,
) -> str:
    """Record the court registry's paper that no petition is pending.

    Args:
        covers_through: the last day of filing that the paper speaks of.

    Returns:
        The confirmation's register number.

    Raises:
        Mistaken: its dates cannot be, or it is entered already.
    """
    of = the(contests_of(actor), contest, "contest")
    need(registry_of=registry_of, reference=reference)
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
            document=keep_document(document) if document else None,
        )
    )
    note_access(of.number, confirmation=confirmation.number)
    return confirmation.number


@usecase("confirmation.withdraw", power=Power.ENTER_CASES, subject="contest")
def withdraw_confirmation(
    *,
    contest: str,
    confirmation: str,
    withdrawn_on: date,
    because: str,
    actor: Actor,
    at: datetime,
) -> None:
    """Record that a confirmation no longer counts, and why; it stays on file.

    Args:
        withdrawn_on: the day from which it no longer counts.
    """
    of = the(contests_of(actor), contest, "contest")
    need(because=because)
    lock_contests([of])
    paper = the(of.confirmations.all(), confirmation, "confirmation of this contest")
    if paper.withdrawn_on:
        raise Refused(f"{paper.number} was withdrawn already.")
    if withdrawn_on > legal_date(of.election, at):
        raise Mistaken(withdrawn_on="This day has not come yet.")
    if withdrawn_on < paper.dated:
        raise Mistaken(withdrawn_on="The paper did not yet exist on that day.")
    paper.withdrawn_on = withdrawn_on
    paper.save()
    note_access(of.number, confirmation=paper.number, because=because.strip())


@usecase("confirmation.list", power=Power.LOOK_AT_CASES)
def list_confirmations(*, actor: Actor, at: datetime) -> tuple[ConfirmationDue, ...]:
    """List every contest with the state of its confirmation, what is due first."""
    contests = contests_of(actor).select_related(
        "election__schedule", "election__calendar"
    )
    keepers: dict[date, Keeper] = {}
    found = []
    for contest in contests.order_by("id"):
        on = legal_date(contest.election, at)
        found.append(confirmation_due(contest, keepers.setdefault(on, Keeper(on))))
    note_access(shown=[row.contest_number for row in found])
    first = ("due", "too-early")
    return tuple(sorted(found, key=lambda row: row.state not in first))


@usecase("confirmation.prepare", power=Power.ENTER_CASES, subject="contest")
def look_before_confirming(
    *, contest: str, actor: Actor, at: datetime
) -> tuple[ConfirmationDue, tuple[ConfirmationRow, ...]]:
    """Open a contest's confirmations in order to enter or withdraw one."""
    rows = contests_of(actor).select_related("election__schedule", "election__calendar")
    of = the(rows, contest, "contest")
    keeper = Keeper(legal_date(of.election, at))
    return confirmation_due(of, keeper), confirmation_rows(of)
