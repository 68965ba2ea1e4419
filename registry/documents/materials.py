"""The account of a contest's seals, envelopes and boxes, as PDF and CSV."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime

from registry.documents.pdf import Paper, render
from registry.documents.reports import BYTE_ORDER_MARK
from registry.documents.spreadsheet_cells import csv_line, harmless_line
from registry.queries.materials import MaterialFile

TITLE = "Account of seals and material"
COLUMNS = (
    *("part", "lot", "what", "serials", "count", "day", "whom_or_where"),
    *("applied", "spoilt", "returned", "lost", "unaccounted"),
    *("state", "discrepancies", "note"),
)


@dataclass(frozen=True)
class MaterialPaper:
    """The account at the moment at which it was made."""

    file: MaterialFile
    made_at: datetime
    made_by: str


def material_pdf(paper: MaterialPaper) -> bytes:
    """Return the account as a PDF for signature."""
    file = paper.file
    return render(
        Paper(
            template="documents/material.html",
            facts={
                "kind": TITLE,
                "number": file.number,
                "file": file,
                "facts": (
                    ("Contest", f"{file.title} ({file.number})"),
                    ("Election", f"{file.election} ({file.election_number})"),
                    ("Differences open", len(file.account.open)),
                ),
                "signers": ("Custodian", "Returning officer", "Checked by"),
            },
            title=f"{TITLE} of {file.title}",
            made_at=paper.made_at,
            made_by=paper.made_by,
        )
    )


def material_csv(paper: MaterialPaper) -> bytes:
    """Return the account as CSV, made harmless for spreadsheet programs."""
    lines = [BYTE_ORDER_MARK + csv_line((*COLUMNS, "escaped"))]
    for row in _lines(paper.file):
        full = {name: str(row.get(name, "")) for name in COLUMNS}
        lines.append(harmless_line(full))
    return "".join(lines).encode()


def _lines(file: MaterialFile) -> Iterator[dict[str, object]]:
    for lot in file.lots:
        yield {
            "part": "issued",
            "lot": lot.number,
            "what": lot.what,
            "serials": lot.serials,
            "count": lot.count,
            "day": lot.issued_on.isoformat(),
            "whom_or_where": lot.issued_to,
            "note": lot.receipt,
            **lot.fates,
        }
    for end in file.ends:
        yield {
            "part": end.fate,
            "lot": end.lot,
            "what": end.what,
            "serials": end.what,
            "count": end.count,
            "day": end.on.isoformat(),
            "whom_or_where": end.kept_in,
            "note": end.note,
        }
    for pieces in file.account.pieces:
        yield {
            "part": "counted",
            "what": pieces.kind,
            "count": pieces.issued,
            "applied": pieces.used,
            "spoilt": pieces.spoilt,
            "returned": pieces.returned,
            "lost": pieces.lost,
            "unaccounted": pieces.unaccounted,
        }
    for each in file.account.differences:
        yield {
            "part": "difference",
            "what": each.title,
            "serials": each.written,
            "count": each.count,
            "state": each.state,
            "discrepancies": " ".join(answer.ref for answer in each.answers),
            "note": each.text,
        }
