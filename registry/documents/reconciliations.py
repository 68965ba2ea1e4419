"""The report of a reconciliation: the same numbers as PDF, CSV and JSON."""

import json
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime

from registry.documents.pdf import Paper, render
from registry.documents.reports import AID_NOTE, BYTE_ORDER_MARK
from registry.documents.spreadsheet_cells import csv_line, harmless_line
from registry.queries.reconciliation_rows import (
    DifferenceRow,
    ReconciliationFile,
    StageRow,
)

TITLE = "Reconciliation"
# The stages in order: what each is called in the files.
STAGES = ("expected", "registered", "boxed", "shelved", "seen")
APART = ("seen_on_shelf", "elsewhere", "disposed", "in_quarantine", "missing")


@dataclass(frozen=True)
class ReconciliationPaper:
    """The reconciliation of a contest at the moment at which it was made."""

    file: ReconciliationFile
    made_at: datetime
    made_by: str


def reconciliation_pdf(paper: ReconciliationPaper) -> bytes:
    """Return the report as a PDF for signature."""
    file = paper.file
    return render(
        Paper(
            template="documents/reconciliation.html",
            facts={
                "kind": TITLE,
                "number": file.number,
                "file": file,
                "facts": (
                    ("Contest", f"{file.title} ({file.number})"),
                    ("Election", f"{file.election} ({file.election_number})"),
                    (
                        "Expected from",
                        f"{file.stations} stations, {file.unit_sets} unit sets",
                    ),
                    (
                        "Differences",
                        f"{file.unexplained} unexplained, {file.in_hand} "
                        f"in hand, {len(file.explained)} explained",
                    ),
                    ("Slips less votes", _slips_less_votes(file)),
                ),
                "signers": ("Custodian", "Returning officer", "Checked by"),
            },
            title=f"{TITLE} of {file.title}",
            made_at=paper.made_at,
            made_by=paper.made_by,
        )
    )


def _slips_less_votes(file: ReconciliationFile) -> str:
    if not file.compared:
        return "not compared: no votes are recorded"
    return (
        f"{file.signed_difference} over {file.compared} of {file.countable} envelopes"
    )


def reconciliation_csv(paper: ReconciliationPaper) -> bytes:
    """Return the report as CSV: a line for each stage, then one for each difference.

    Texts are made harmless for spreadsheet programs as in the retention report.
    """
    return "".join(_csv_lines(paper)).encode()


def _csv_lines(paper: ReconciliationPaper) -> Iterator[str]:
    columns = (
        *("part", "contest", "content", "stage", "number", "state", "reason"),
        *("what", "what_to_do", "containers", "discrepancies", "as_of"),
    )
    yield BYTE_ORDER_MARK + csv_line((*columns, "escaped", "note"))
    for row in _lines(paper):
        full = {name: row.get(name, "") for name in columns}
        yield harmless_line(full, AID_NOTE)


def _lines(paper: ReconciliationPaper) -> Iterator[dict[str, str | None]]:
    file, as_of = paper.file, paper.made_at.isoformat()
    for row in file.stages:
        for stage, number in _numbers(row).items():
            yield {
                "part": "stage",
                "contest": file.title,
                "content": row.content,
                "stage": stage,
                "number": "" if number is None else str(number),
                "as_of": as_of,
            }
    for difference in (*file.open, *file.explained):
        yield {
            "part": "difference",
            "contest": file.title,
            "content": difference.content,
            "state": difference.state,
            "reason": difference.title,
            "what": difference.text,
            "what_to_do": difference.remedy,
            "containers": " ".join(difference.containers),
            "discrepancies": " ".join(each.number for each in difference.answers),
            "as_of": as_of,
        }
    for each in file.accounted:
        yield {
            "part": "accounted for",
            "contest": file.title,
            "content": each.content,
            "number": str(each.envelopes or 1),
            "what": f"{each.name}: {each.where}",
            "containers": each.number,
            "as_of": as_of,
        }


def reconciliation_json(paper: ReconciliationPaper) -> bytes:
    """Return the report as UTF-8 JSON, every text as it stands in the register."""
    file = paper.file
    content = {
        "title": TITLE,
        "contest": {"number": file.number, "title": file.title},
        "election": {"number": file.election_number, "title": file.election},
        "as_of": paper.made_at.isoformat(),
        "made_by": paper.made_by,
        "note": AID_NOTE,
        "stations": file.stations,
        "unit_sets": file.unit_sets,
        "stages": {row.content: _numbers(row) for row in file.stages},
        "totals": {
            "unexplained": file.unexplained,
            "in_hand": file.in_hand,
            "explained": len(file.explained),
        },
        "slips_less_votes": {
            "difference": file.slips_less_votes,
            "compared": file.compared,
            "of": file.countable,
        },
        "differences": [_difference(each) for each in (*file.open, *file.explained)],
        "accounted_for": [vars(each) for each in file.accounted],
    }
    return json.dumps(content, ensure_ascii=False, indent=1).encode()


def _numbers(row: StageRow) -> dict[str, int | None]:
    return {name: getattr(row.stages, name) for name in (*STAGES, *APART)}


def _difference(row: DifferenceRow) -> dict[str, object]:
    return {
        "reason": row.reason,
        "content": row.content,
        "state": row.state,
        "what": row.text,
        "what_to_do": row.remedy,
        "containers": list(row.containers),
        "discrepancies": [
            {
                "number": each.number,
                "owner": each.owner,
                "due_on": each.due_on.isoformat() if each.due_on else None,
                "resolution": each.resolution,
            }
            for each in row.answers
        ],
    }
