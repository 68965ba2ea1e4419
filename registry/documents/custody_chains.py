"""The chain of custody of one container: in whose charge it was, and every gap."""

from dataclasses import dataclass
from datetime import date, datetime

from registry.documents.moments import written_moment
from registry.documents.pdf import Paper, render
from registry.rules.wording import shown


@dataclass(frozen=True)
class CustodySpan:
    """A span of time in one person's charge, or in one named gap.

    Attributes:
        until: None where it has not ended.
        gap: what is lacking, in words; empty where ``holder`` had it.
        by: number of the movement that began it, with what it was.
    """

    since: datetime
    until: datetime | None
    holder: str
    gap: str
    place: str
    by: str


@dataclass(frozen=True)
class CustodyFinding:
    """One thing that the chain lacks."""

    since: datetime
    until: datetime
    title: str
    text: str


@dataclass(frozen=True)
class CustodyChain:
    """A container's chain of custody, as it is printed; moments bear their zone."""

    number: str
    noun: str
    content_title: str
    election: str
    constituency: str
    station: str
    sealed_on: date | None
    received_on: date
    spans: tuple[CustodySpan, ...]
    findings: tuple[CustodyFinding, ...]
    made_at: datetime
    made_by: str


def custody_chain_pdf(chain: CustodyChain) -> bytes:
    """Return a chain of custody as a PDF, with lines for two signatures."""
    facts = (
        (chain.noun, f"{chain.number}, {chain.content_title}"),
        ("Election", chain.election),
        ("Constituency", chain.constituency),
        ("Polling station", chain.station),
        ("Sealed on", shown(chain.sealed_on) if chain.sealed_on else ""),
        ("Received on", shown(chain.received_on)),
    )
    spans = [
        (
            written_moment(span.since),
            written_moment(span.until) if span.until else "now",
            span,
        )
        for span in chain.spans
    ]
    findings = [
        (
            written_moment(one.since),
            written_moment(one.until) if one.until != one.since else "",
            one,
        )
        for one in chain.findings
    ]
    paper = Paper(
        template="documents/custody_chain.html",
        facts={
            "kind": "Chain of custody",
            "number": chain.number,
            "facts": facts,
            "spans": spans,
            "findings": findings,
            "signers": ("Prepared by", "Checked by"),
        },
        title=f"Chain of custody {chain.number}",
        made_at=chain.made_at,
        made_by=chain.made_by,
    )
    return render(paper)
