"""How cases hang together: joined, crossed, split, filed anew, taken on appeal.

A link gives a case another name by which it is found; it never settles anything. A
part that was split off, and a cross-petition, is entered as a case of its own: until
the two are linked, the case it came from holds for it.
"""

from datetime import date, datetime

from registry.models import Case, CaseEvent, CaseLink
from registry.queries.find import NotThere, the
from registry.queries.keeping import legal_date
from registry.queries.scope import cases_of
from registry.rules.case_events import CaseEventKind
from registry.rules.powers import Actor, Power
from registry.usecases._covers import lock_cases
from registry.usecases._door import Mistaken, note_access, usecase
from registry.usecases._records import enter

# What happened, at the same time, in the case that the link goes to.
_HAPPENED_THERE = {
    CaseLink.Kind.SPLIT: CaseEventKind.SPLIT,
    CaseLink.Kind.CROSS: CaseEventKind.CROSS_PETITION,
}


@usecase("case.link", power=Power.ENTER_CASES, subject="case")
def link_cases(
    *,
    case: str,
    other: str,
    kind: str,
    occurred_on: date,
    paper: str = "",
    actor: Actor,
    at: datetime,
) -> str:
    """Record how a case hangs together with another; neither settles the other.

    A split or a cross-petition is entered as an event of the other case too, unless
    it stands there already on that day.

    Args:
        case: register number of the case that is, say, split from the other.
        other: register number of the other case.
        kind: one of ``CaseLink.Kind``.
        occurred_on: when that happened.

    Returns:
        The link's register number.

    Raises:
        Mistaken: it cannot be, or is recorded already.
    """
    of = the(cases_of(actor).select_related("election"), case, "case")
    linked_to = _other(of, other, actor)
    if kind not in CaseLink.Kind.values:
        raise Mistaken(kind="Say how the two cases hang together.")
    if occurred_on > legal_date(of.election, at):
        raise Mistaken(occurred_on="This day has not come yet.")
    if kind in _HAPPENED_THERE and of.election_id != linked_to.election_id:
        raise Mistaken(
            other="A part of a case, and a cross-petition, is of the same election."
        )
    lock_cases([of, linked_to])
    if CaseLink.objects.filter(case=of, other=linked_to, kind=kind).exists():
        raise Mistaken(other=f"This is recorded already of {linked_to.number}.")
    link = enter(
        CaseLink(
            case=of,
            other=linked_to,
            kind=kind,
            occurred_on=occurred_on,
            paper=paper.strip(),
        )
    )
    _enter_what_happened_there(link, actor, at)
    note_access(of.number, other=linked_to.number, kind=kind)
    return link.number


def _other(case: Case, number: str, actor: Actor) -> Case:
    rows = cases_of(actor).select_related("election")
    try:
        other = the(rows, number, "case")
    except NotThere as error:
        raise Mistaken(other=str(error)) from error
    if other.pk == case.pk:
        raise Mistaken(other="Name the other case: this is the same one.")
    return other


def _enter_what_happened_there(link: CaseLink, actor: Actor, at: datetime) -> None:
    kind = _HAPPENED_THERE.get(CaseLink.Kind(link.kind))
    if kind is None:
        return
    standing = link.other.events.filter(strikes__isnull=True, struck_by__isnull=True)
    same_day = standing.filter(kind=kind.value, occurred_on=link.occurred_on)
    linked = link.other.linked_by.filter(kind=link.kind, occurred_on=link.occurred_on)
    if same_day.count() >= linked.count():
        return
    latest = standing.order_by("occurred_on", "id").last()
    enter(
        CaseEvent(
            case=link.other,
            kind=kind.value,
            level=latest.level if latest else "first",
            occurred_on=link.occurred_on,
            recorded_at=at,
            recorded_by_id=actor.person_id,
            paper=link.paper,
            note=f"Goes on as {link.case.number}.",
        )
    )
