"""The note that goes with containers from room to room, for both sides to sign."""

from dataclasses import dataclass
from datetime import datetime

from registry.documents.moments import written_moment
from registry.documents.pdf import Paper, render
from registry.queries.transfers import TransferFile


@dataclass(frozen=True)
class TransferNote:
    """A transfer as its paper shows it.

    Attributes:
        handed_over_at: in the zone of the paper.
        partial: only containers of the reader's elections stand on it.
    """

    file: TransferFile
    handed_over_at: datetime
    partial: bool
    made_at: datetime
    made_by: str


def transfer_pdf(note: TransferNote) -> bytes:
    """Return the note of a transfer as a PDF, with lines for three signatures."""
    file = note.file
    facts = [
        ("From", file.from_room),
        ("To", file.to_room),
        ("Forced by" if file.emergency else "By order of", file.order),
        (
            "Handed over",
            f"{written_moment(note.handed_over_at)}, {file.handed_over_by}",
        ),
        ("Carrier", file.carrier),
        ("Seal of the vehicle", file.vehicle_seal or "none stated"),
    ]
    if file.emergency:
        word = file.confirmed_order or "not yet on record"
        facts.append(("The authority’s word afterwards", word))
    paper = Paper(
        template="documents/transfer.html",
        facts={
            "kind": "Transfer between strong rooms",
            "number": file.number,
            "file": file,
            "partial": note.partial,
            "facts": facts,
            "signers": (
                f"Handed over by: {file.handed_over_by}",
                f"Carried by: {file.carrier}",
                f"Taken over for {file.to_room} by:",
            ),
        },
        title=f"Transfer {file.number}",
        made_at=note.made_at,
        made_by=note.made_by,
    )
    return render(paper)
