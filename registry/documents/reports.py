"""The retention report: the same rows and totals as PDF, CSV and JSON.

Rows may be an iterator, so that a long CSV never stands in memory. Whatever the
format, a report whose totals do not agree with its rows is refused.
"""

import json
from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date, datetime
from itertools import islice

from registry.documents.moments import written_moment
from registry.documents.pdf import Paper, render
from registry.documents.spreadsheet_cells import csv_line, harmless
from registry.rules.retention import Reason
from registry.rules.wording import shown

AID_NOTE = "Computed dates are an aid. The statute, the court and counsel decide."

# About 380 rows a second are laid out: beyond this the wait and the paper help nobody.
LONGEST_ON_PAPER = 20_000

REASON_TITLES: dict[str, str] = {
    Reason.CASE_PENDING: "case pending",
    Reason.PRESERVATION_ORDER: "preservation order",
    Reason.UNKNOWN_INPUT: "input not known, so kept",
    Reason.APPEAL_WINDOW: "appeal window running",
    Reason.TERM: "term running",
    Reason.PERIOD_OVER: "period over",
}

BYTE_ORDER_MARK = "\ufeff"


class TooLongForPaper(ValueError):
    """The report has more rows than are printed; the message says what to do."""


class TotalsDisagree(ValueError):
    """The totals given are not those of the rows; nothing should be made of either."""


@dataclass(frozen=True)
class ReportRow:
    """One container's line.

    Attributes:
        reason: the code of what governs, one of registry.rules.retention.Reason.
        retain_through: the last day of keeping; None where there is no end.
        why: the answer in one sentence.
    """

    number: str
    noun: str
    content_title: str
    constituency: str
    station: str
    room: str
    shelf: str
    state: str
    whereabouts: str
    retain_through: date | None
    may_be_disposed_from: date | None
    reason: str
    governed_by: str
    why: str


@dataclass(frozen=True)
class Report:
    """A retention report as of a day.

    Attributes:
        scope_text: the election, contest or strong room it speaks of.
        rows: in the order in which they are listed; may be an iterator, which one
            format uses up.
        totals_by_reason: (reason code, number of containers) in the order shown.
        schedule_text: which schedule, version and law.
        calendar_text: whose closed days were counted.
        known_at: the moment whose knowledge counts; None for what was known when the
            report was made.
    """

    title: str
    scope_text: str
    as_of: date
    made_at: datetime
    made_by: str
    rows: Iterable[ReportRow]
    totals_by_reason: tuple[tuple[str, int], ...]
    schedule_text: str
    calendar_text: str
    known_at: datetime | None = None

    @property
    def total(self) -> int:
        """How many containers the report lists."""
        return sum(count for _, count in self.totals_by_reason)


COLUMNS = tuple(ReportRow.__dataclass_fields__)
CLOCKS = ("as_of", "known_at")


def report_pdf(report: Report) -> bytes:
    """Return the report as a PDF for signature.

    Raises:
        TooLongForPaper: it has more rows than are printed.
        TotalsDisagree: the totals are not those of the rows.
    """
    rows = tuple(islice(_checked(report), LONGEST_ON_PAPER + 1))
    if len(rows) > LONGEST_ON_PAPER:
        raise TooLongForPaper(
            f"This report lists more than {LONGEST_ON_PAPER:,} containers and is not "
            "printed. Ask for one contest or one strong room, or take it as CSV or "
            "JSON."
        )
    facts = (
        ("Covers", report.scope_text),
        ("As of", shown(report.as_of)),
        ("With what was known", _knowledge(report)),
        ("Containers", str(report.total)),
        ("Schedule", report.schedule_text),
        ("Closed days", report.calendar_text),
    )
    paper = Paper(
        template="documents/report.html",
        facts={
            "kind": report.title,
            "facts": facts,
            "rows": [(row, reason_title(row.reason)) for row in rows],
            "totals": [(reason_title(r), n) for r, n in report.totals_by_reason],
            "total": report.total,
            "signers": ("Prepared by", "Checked by"),
        },
        title=f"{report.title}, as of {shown(report.as_of)}",
        made_at=report.made_at,
        made_by=report.made_by,
    )
    return render(paper)


def report_csv(report: Report) -> bytes:
    """Return the report as CSV; see ``report_csv_lines``."""
    return "".join(report_csv_lines(report)).encode()


def report_csv_lines(report: Report) -> Iterator[str]:
    """Yield the report as CSV, line by line, the header first.

    RFC 4180 with CRLF and every cell in quotes; UTF-8 with a byte order mark, without
    which common spreadsheet programs misread every letter beyond ASCII. A cell that a
    program could take for a formula gets an apostrophe before it, and the column
    ``escaped`` names it; the JSON report holds every text untouched. Leading zeros
    stand in the file, whatever a program makes of them on opening.

    Raises TotalsDisagree after the last row, so that a broken file ends in an error.
    """
    yield BYTE_ORDER_MARK + csv_line((*COLUMNS, *CLOCKS, "escaped", "note"))
    clocks = tuple(_clocks(report).values())
    for row in _checked(report):
        cells, escaped = harmless(_plain(row))
        yield csv_line((*cells.values(), *clocks, " ".join(escaped), AID_NOTE))


def report_json(report: Report) -> bytes:
    """Return the report as UTF-8 JSON, every text as it stands in the register.

    Raises TotalsDisagree where the totals are not those of the rows.
    """
    content = {
        "title": report.title,
        "scope": report.scope_text,
        **_clocks(report),
        "made_at": report.made_at.isoformat(),
        "made_by": report.made_by,
        "schedule": report.schedule_text,
        "calendar": report.calendar_text,
        "note": AID_NOTE,
        "totals": {
            "containers": report.total,
            "by_reason": dict(report.totals_by_reason),
        },
        "rows": [_plain(row) for row in _checked(report)],
    }
    return json.dumps(content, ensure_ascii=False, indent=1).encode()


def reason_title(code: str) -> str:
    """Return a reason in plain words; a code without words is shown as it is."""
    return REASON_TITLES.get(code, code)


def _clocks(report: Report) -> dict[str, str]:
    """Return the day asked about, and the moment whose knowledge counts."""
    known_at = report.known_at or report.made_at
    moments = (report.as_of.isoformat(), known_at.isoformat())
    return dict(zip(CLOCKS, moments, strict=True))


def _knowledge(report: Report) -> str:
    if report.known_at is None:
        return "when this report was made"
    return written_moment(report.known_at)


def _plain(row: ReportRow) -> dict[str, str | None]:
    """Return a row's texts by column, dates as YYYY-MM-DD."""
    return {
        name: value.isoformat() if isinstance(value, date) else value
        for name, value in vars(row).items()
    }


def _checked(report: Report) -> Iterator[ReportRow]:
    """Yield the rows; raise TotalsDisagree after the last where they do not add up."""
    counted: Counter[str] = Counter()
    for row in report.rows:
        counted[row.reason] += 1
        yield row
    stated = Counter(dict(report.totals_by_reason))
    if +stated != counted:
        raise TotalsDisagree(
            "The report's totals do not agree with its rows: the register changed "
            "while it was read. Ask for the report again."
        )
