"""In whose charge a container was: printed for one, listed by contest."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

from registry.documents.custody_chains import (
    CustodyChain,
    CustodyFinding,
    CustodySpan,
    custody_chain_pdf,
)
from registry.models import Box, CustodyMovement, Envelope
from registry.queries.custody import ContestGaps, chain, gaps_of
from registry.queries.find import the
from registry.queries.keeping import legal_zone
from registry.queries.scope import contests_of
from registry.rules.custody_facts import FAULT_TITLES, Chain
from registry.rules.powers import Actor, Power
from registry.usecases._door import note_access, usecase
from registry.usecases.boxes import container_of
from registry.usecases.papers import Printed

__all__ = ["ContestGaps", "CustodyGaps", "list_custody_gaps", "print_custody"]


@dataclass(frozen=True)
class CustodyGaps:
    """The contests to choose from, and the gaps of the one that was chosen."""

    contests: tuple[tuple[str, str], ...]
    found: ContestGaps | None


@usecase("custody.gaps", power=Power.REPORT, subject="contest")
def list_custody_gaps(*, contest: str = "", actor: Actor, at: datetime) -> CustodyGaps:
    """List the containers of a contest whose chain of custody lacks something.

    Args:
        contest: its number; empty to see which there are.
    """
    rows = contests_of(actor).order_by("id")
    contests = tuple((row.number, f"{row}, {row.election}") for row in rows)
    if not contest and len(contests) != 1:
        return CustodyGaps(contests, None)
    of = the(rows, contest or contests[0][0], "contest")
    found = gaps_of(of, at)
    note_access(of.number, shown=[row.number for row in found.rows])
    return CustodyGaps(contests, found)


@usecase("custody.print", power=Power.LOOK, subject="container")
def print_custody(*, container: str, actor: Actor, at: datetime) -> Printed:
    """Print a container's chain of custody, every gap named."""
    of = container_of(actor, container)
    note_access(of.number)
    zone = legal_zone(of.election)
    found = chain(of, at)
    paper = CustodyChain(
        number=of.number,
        noun="Box" if isinstance(of, Box) else "Envelope",
        content_title=of.get_kind_display(),
        election=str(of.election or ""),
        constituency=str(of.contest or ""),
        station=_station(of),
        sealed_on=of.sealed_on,
        received_on=of.received_on,
        spans=tuple(_spans(found, zone)),
        findings=tuple(
            CustodyFinding(
                one.start.astimezone(zone),
                one.end.astimezone(zone),
                one.title,
                one.text,
            )
            for one in found.findings
        ),
        made_at=at.astimezone(zone),
        made_by=actor.name,
    )
    return Printed(f"custody-{of.number}.pdf", custody_chain_pdf(paper))


def _spans(found: Chain, zone: ZoneInfo) -> Iterator[CustodySpan]:
    for one in found.stretches:
        title = CustodyMovement.Act(one.act).label if one.act else "sealed"
        yield CustodySpan(
            since=one.start.astimezone(zone),
            until=None if one is found.now else one.end.astimezone(zone),
            holder=one.holder,
            gap=FAULT_TITLES[one.gap] if one.gap else "",
            place=one.place,
            by=f"{title} {one.by}".strip(),
        )


def _station(of: Box | Envelope) -> str:
    if isinstance(of, Envelope) and of.station:
        return str(of.station)
    return of.written_station_number
