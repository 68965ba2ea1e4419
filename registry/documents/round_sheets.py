"""The sheet of an inspection round: to be walked with a pencil and typed in later.

It never tells the number on record of a seal, for whoever knows it reads what is
expected and not what is there.
"""

from dataclasses import dataclass
from datetime import datetime

from registry.documents.labels import code_image
from registry.documents.pdf import Paper, render


@dataclass(frozen=True)
class SheetLine:
    """One container that is to be seen; ``seals`` says how many to read."""

    number: str
    noun: str
    title: str
    label: str
    weight: str
    seals: int

    @property
    def code(self) -> str:
        """The picture of its code, to be scanned when the sheet is typed in."""
        return code_image(self.number)

    @property
    def boxes(self) -> range:
        """One empty box for each seal, and one where none is on record."""
        return range(max(self.seals, 1))


@dataclass(frozen=True)
class SheetShelf:
    """A shelf with what is to be seen on it; no number for the intake table."""

    number: str
    name: str
    lines: tuple[SheetLine, ...]


@dataclass(frozen=True)
class RoundSheet:
    """A round as it is walked on paper."""

    number: str
    room: str
    contested_only: bool
    walked_by: str
    witness: str
    shelves: tuple[SheetShelf, ...]
    findings: tuple[str, ...]
    made_at: datetime
    made_by: str


def round_sheet_pdf(sheet: RoundSheet) -> bytes:
    """Return the sheet of a round as a PDF, with lines for both signatures.

    Raises ValueError where nothing is to be seen.
    """
    if not any(shelf.lines for shelf in sheet.shelves):
        raise ValueError("A sheet needs at least one container to be seen.")
    total = sum(len(shelf.lines) for shelf in sheet.shelves)
    facts = (
        ("Strong room", sheet.room),
        ("To be seen", f"{total}, in walking order"),
        ("Walked by", sheet.walked_by),
        ("Second person", sheet.witness or "____________________________"),
        ("Walked on, from – to", "____________________________"),
    )
    paper = Paper(
        template="documents/round_sheet.html",
        facts={
            "kind": "Inspection round",
            "number": sheet.number,
            "code": code_image(sheet.number),
            "sheet": sheet,
            "facts": facts,
            "signers": (f"Walked by: {sheet.walked_by}", "Second person present"),
        },
        title=f"Sheet of inspection round {sheet.number}",
        made_at=sheet.made_at,
        made_by=sheet.made_by,
        sheet="documents/round_sheet.css",
    )
    return render(paper)
