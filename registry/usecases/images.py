"""Paper that fades: which paper slips are printed on, and what is at risk."""

from datetime import datetime

from registry.models import Box, ContainerState, Envelope, Paper
from registry.queries.desk_day import day_at_desk
from registry.queries.find import the
from registry.queries.images import AtRisk, images_at_risk
from registry.queries.scope import contests_of, envelopes_of
from registry.rules.contents import ContentKind
from registry.rules.powers import Actor, Power
from registry.usecases._door import Mistaken, Refused, note_access, usecase
from registry.usecases.boxes import container_of

__all__ = ["PAPERS", "AtRisk", "list_images_at_risk", "set_contest_paper", "set_paper"]

PAPERS = tuple(Paper.choices)


@usecase("envelope.set_paper", power=Power.KEEP, subject="container")
def set_paper(
    *, container: str, paper: str, source: str, actor: Actor, at: datetime
) -> int:
    """Record on which paper the slips of an envelope, or of a box, are printed.

    Args:
        source: how that is known, without opening anything: the maker's sheet, the
            record of sealing.

    Returns:
        How many envelopes it is recorded for.
    """
    of = container_of(actor, container)
    rows = envelopes_of(actor)
    rows = rows.filter(box=of) if isinstance(of, Box) else rows.filter(pk=of.pk)
    n = _set(list(rows.select_for_update(of=("self",))), paper, source)
    note_access(of.number, paper=paper, source=source.strip()[:200], envelopes=n)
    return n


@usecase("contest.set_paper", power=Power.KEEP, subject="contest")
def set_contest_paper(
    *, contest: str, paper: str, source: str, actor: Actor, at: datetime
) -> int:
    """Record on which paper all slips of a contest in the actor's rooms are printed.

    Only envelopes of which nothing is known yet are changed.
    """
    of = the(contests_of(actor), contest, "contest")
    rows = envelopes_of(actor).filter(contest=of, paper=Paper.UNKNOWN)
    n = _set(list(rows.select_for_update(of=("self",))), paper, source)
    note_access(of.number, paper=paper, source=source.strip()[:200], envelopes=n)
    return n


def _set(envelopes: list[Envelope], paper: str, source: str) -> int:
    if paper not in Paper.values:
        raise Mistaken(paper="Choose the paper.")
    if len(source.strip()) < 3:
        raise Mistaken(source="Say how it is known: a maker's sheet, a record.")
    gone = (ContainerState.DISPOSED, ContainerState.SUPERSEDED)
    live = [
        each
        for each in envelopes
        if each.state not in gone
        and each.kind != ContentKind.STATUTORY_PACKET.value
        and each.paper != paper
    ]
    if not live:
        raise Refused("No envelope of slips is there of which this is not recorded.")
    for each in live:
        each.paper = paper
        each.save()
    return len(live)


@usecase("image.list", power=Power.LOOK_AT_CASES)
def list_images_at_risk(
    *, contest: str = "", actor: Actor, at: datetime
) -> tuple[AtRisk, ...]:
    """List the images that fade, those of pending cases first.

    Args:
        contest: register number of one contest; empty for all in scope.
    """
    of = the(contests_of(actor), contest, "contest") if contest else None
    found = images_at_risk(actor, day_at_desk(actor, at), contest=of)
    note_access(
        of.number if of else "", shown=[n for one in found for n in one.numbers]
    )
    return found
