"""The statement of a hand-over of charge, and the paper that both sign."""

import csv
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from registry.documents.moments import written_moment
from registry.documents.pdf import Paper, render
from registry.documents.reports import BYTE_ORDER_MARK
from registry.documents.spreadsheet_cells import csv_line, harmless_line
from registry.queries.hand_overs import SECTIONS, HandOverFile, StockLine

COLUMNS = tuple(StockLine.__dataclass_fields__)


def statement_csv(lines: Iterable[StockLine]) -> bytes:
    """Return the stated stock as CSV; ``statement_lines`` reads it back."""
    out = [BYTE_ORDER_MARK + csv_line((*COLUMNS, "escaped"))]
    for line in lines:
        out.append(harmless_line(vars(line)))
    return "".join(out).encode()


def statement_lines(content: bytes) -> tuple[StockLine, ...]:
    """Return the lines of a statement that was kept, as they were stated."""
    text = content.decode("utf-8-sig").splitlines(keepends=True)
    lines = []
    for row in csv.DictReader(text):
        for name in row.pop("escaped").split():
            row[name] = row[name].removeprefix("'")
        lines.append(StockLine(**row))
    return tuple(lines)


@dataclass(frozen=True)
class HandOverPaper:
    """A hand-over as it is printed."""

    file: HandOverFile
    made_at: datetime
    made_by: str


def hand_over_pdf(paper: HandOverPaper) -> bytes:
    """Return the hand-over as a PDF: the stock, the differences, both signatures."""
    of = paper.file
    return render(
        Paper(
            template="documents/hand_over.html",
            facts={
                "kind": "Hand-over of charge",
                "number": of.row.number,
                "file": of,
                "facts": _facts(of),
                "sections": [
                    (title, lines)
                    for name, title in SECTIONS.items()
                    if (lines := of.section(name))
                ],
                "signers": _signers(of),
            },
            title=f"Hand-over of charge {of.row.number}",
            made_at=paper.made_at,
            made_by=paper.made_by,
        )
    )


def _facts(of: HandOverFile) -> list[tuple[str, object]]:
    facts: list[tuple[str, object]] = [
        ("Strong room", f"{of.row.room} ({of.row.room_number})"),
        ("Hands over", of.row.outgoing),
        ("Takes over", of.row.incoming),
        ("By order", of.order),
        ("Stock stated", f"{written_moment(of.row.stated_at)}, by {of.stated_by}"),
        ("Handed over", f"{of.row.containers:,} boxes and loose envelopes"),
        ("Digest of the statement", of.list_digest),
    ]
    if of.outgoing_absent:
        facts.append(("The outgoing officer is absent", of.outgoing_absent))
    if of.signed_out_at:
        at = written_moment(of.signed_out_at)
        facts.append(("Signed by log-in, handing over", f"{of.signed_out_by}, {at}"))
    if of.signed_in_at:
        at = written_moment(of.signed_in_at)
        facts.append(("Signed by log-in, taking over", f"{of.row.incoming}, {at}"))
    return facts


def _signers(of: HandOverFile) -> tuple[str, str]:
    giver = of.row.outgoing
    if of.outgoing_absent:
        giver = f"{of.stated_by}, commissioner for {of.row.outgoing}"
    return f"Handed over by: {giver}", f"Taken over by: {of.row.incoming}"
