"""Papers of handing out: the pick list before, the receipt that both sides sign."""

from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal

from registry.documents.moments import written_moment
from registry.documents.pdf import Paper, render
from registry.rules.wording import shown


@dataclass(frozen=True)
class PickRow:
    """One container that is to be fetched.

    Attributes:
        place: bay and shelf, or the box in which an envelope lies.
        seals: how many it bears; their numbers are not printed, they are read.
        weight_kg: with content; None where it was not weighed.
    """

    number: str
    noun: str
    title: str
    label: str
    place: str
    envelopes: int
    seals: int
    weight_kg: Decimal | None


@dataclass(frozen=True)
class PickList:
    """What is to be fetched under a permission, in the order in which one walks."""

    permission: str
    act: str
    order: str
    valid_until: date
    election: str
    rows: tuple[PickRow, ...]
    made_at: datetime
    made_by: str


def pick_list_pdf(paper: PickList) -> bytes:
    """Return a pick list as a PDF, with lines for the two persons who fetch.

    Raises ValueError where there is nothing to fetch.
    """
    if not paper.rows:
        raise ValueError("A pick list needs at least one container.")
    weights = [row.weight_kg for row in paper.rows]
    known = sum((w for w in weights if w is not None), Decimal(0))
    facts = (
        ("Election", paper.election),
        ("Order", paper.order),
        ("It permits", paper.act),
        ("Valid until", shown(paper.valid_until)),
        ("To be fetched", f"{len(paper.rows)} containers"),
        ("Weight, where it is known", f"{known} kg" if known else ""),
        ("Not weighed", str(sum(w is None for w in weights))),
    )
    return render(
        Paper(
            template="documents/pick_list.html",
            facts={
                "kind": "Pick list",
                "number": paper.permission,
                "rows": paper.rows,
                "facts": facts,
                "signers": ("Fetched by: first person", "Fetched by: second person"),
            },
            title=f"Pick list {paper.permission}",
            made_at=paper.made_at,
            made_by=paper.made_by,
        )
    )


@dataclass(frozen=True)
class HandedOut:
    """One container as it was handed out; ``seals`` as they were read then."""

    number: str
    noun: str
    title: str
    seals: tuple[str, ...]
    envelopes: int
    weight_kg: Decimal | None


@dataclass(frozen=True)
class ProductionReceipt:
    """Containers handed out together, as both sides sign for them.

    Attributes:
        number: of the first production.
        confirmed_with: who was called back and confirmed the order.
        receipt: the number of the receiver's own receipt, where there is one.
    """

    number: str
    election: str
    order: str
    permission: str
    from_place: str
    handed_over_by: str
    second_person: str
    received_by: str
    received_at_place: str
    handed_over_at: datetime
    expected_back_on: date | None
    confirmed_with: str
    confirmed_at: datetime | None
    receipt: str
    containers: tuple[HandedOut, ...]
    made_at: datetime
    made_by: str


def production_receipt_pdf(receipt: ProductionReceipt) -> bytes:
    """Return the receipt as a PDF, with lines for both sides.

    Raises ValueError where it lists no container.
    """
    if not receipt.containers:
        raise ValueError("A receipt needs at least one container: nothing went out.")
    confirmed = ""
    if receipt.confirmed_at:
        moment = written_moment(receipt.confirmed_at)
        confirmed = f"{receipt.confirmed_with}, {moment}"
    due = receipt.expected_back_on
    facts = (
        ("Election", receipt.election),
        ("Order", f"{receipt.order} ({receipt.permission})"),
        ("Order confirmed by call-back", confirmed),
        ("Handed out of", receipt.from_place),
        ("Handed out at", written_moment(receipt.handed_over_at)),
        ("Handed out by", receipt.handed_over_by),
        ("Second person", receipt.second_person),
        ("Received by", receipt.received_by),
        ("Received at", receipt.received_at_place),
        ("Expected back", shown(due) if due else "no day named"),
        ("Receiver's own receipt", receipt.receipt or "to be entered here:"),
    )
    return render(
        Paper(
            template="documents/production_receipt.html",
            facts={
                "kind": "Receipt for containers handed out",
                "number": receipt.number,
                "receipt": receipt,
                "facts": facts,
                "signers": (
                    f"Handed out by: {receipt.handed_over_by}",
                    f"Received by: {receipt.received_by}",
                    f"Second person: {receipt.second_person}",
                ),
            },
            title=f"Receipt {receipt.number}",
            made_at=receipt.made_at,
            made_by=receipt.made_by,
        )
    )
