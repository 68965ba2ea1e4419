"""The receipt given at the strong-room door: who brought what, and how it looked."""

from collections import Counter
from dataclasses import dataclass
from datetime import datetime

from registry.documents.moments import written_moment
from registry.documents.pdf import Paper, render


@dataclass(frozen=True)
class ReceivedContainer:
    """One container as it came in.

    Attributes:
        seals: each seal with its number, as read at the door.
        condition: how container and seals looked.
        count: the slips it is said to hold; None where nothing says so.
        open_points: what was found wrong and stands open, in words.
    """

    number: str
    noun: str
    content_title: str
    station: str
    seals: tuple[str, ...]
    condition: str
    count: int | None
    quarantined: bool = False
    open_points: tuple[str, ...] = ()


@dataclass(frozen=True)
class Receipt:
    """An intake, as both sides sign it. ``number`` is the intake's."""

    number: str
    election: str
    constituency: str
    room: str
    delivered_by: str
    delivered_for: str
    received_by: str
    received_at: datetime
    containers: tuple[ReceivedContainer, ...]
    made_at: datetime
    made_by: str
    remarks: str = ""


@dataclass(frozen=True)
class ReceiptTotal:
    """How many containers of one sort came in, and the slips they are said to hold."""

    sort: str
    containers: int
    slips: int
    uncounted: int


def receipt_pdf(receipt: Receipt) -> bytes:
    """Return the receipt of an intake as a PDF, with lines for both signatures.

    Raises ValueError where the receipt lists no container.
    """
    if not receipt.containers:
        raise ValueError("A receipt needs at least one container: nothing came in.")
    facts = (
        ("Election", receipt.election),
        ("Constituency", receipt.constituency),
        ("Received into", receipt.room),
        ("Received at", written_moment(receipt.received_at)),
        ("Delivered by", receipt.delivered_by),
        ("On behalf of", receipt.delivered_for),
        ("Received by", receipt.received_by),
    )
    shown = {
        "kind": "Receipt for sealed containers",
        "number": receipt.number,
        "receipt": receipt,
        "facts": facts,
        "totals": totals_of(receipt.containers),
        "set_apart": sum(c.quarantined for c in receipt.containers),
        "signers": (
            f"Delivered by: {receipt.delivered_by}",
            f"Received by: {receipt.received_by}",
        ),
    }
    paper = Paper(
        template="documents/receipt.html",
        facts=shown,
        title=f"Receipt {receipt.number}",
        made_at=receipt.made_at,
        made_by=receipt.made_by,
    )
    return render(paper)


def totals_of(containers: tuple[ReceivedContainer, ...]) -> tuple[ReceiptTotal, ...]:
    """Return the totals by sort, in the order of their names, the whole last."""
    sorts = Counter(_sort(container) for container in containers)
    parts = [
        _total(sort, tuple(c for c in containers if _sort(c) == sort))
        for sort in sorted(sorts)
    ]
    return (*parts, _total("All containers", containers))


def _sort(container: ReceivedContainer) -> str:
    return f"{container.noun}, {container.content_title}"


def _total(sort: str, containers: tuple[ReceivedContainer, ...]) -> ReceiptTotal:
    counts = [container.count for container in containers]
    known = [count for count in counts if count is not None]
    return ReceiptTotal(sort, len(counts), sum(known), len(counts) - len(known))
