"""Papers of the invented country, and ways to read a PDF from outside."""

import shutil
import subprocess
from datetime import UTC, date, datetime, timedelta, timezone
from io import BytesIO
from itertools import islice

import zxingcpp
from PIL import Image
from pypdf import PdfReader

from registry.documents.certificates import (
    Certificate,
    DisposedContainer,
    PermissionGiven,
)
from registry.documents.labels import Label
from registry.documents.reports import Report, ReportRow
from registry.rules.numbers import numbers_after

AT = datetime(2026, 3, 5, 14, 5, tzinfo=timezone(timedelta(hours=5, minutes=30)))
AT_UTC = datetime(2026, 3, 5, 8, 35, tzinfo=UTC)
MILLIMETRES_TO_AN_INCH = 25.4
ELECTION = "General Election to the Assembly of Calvenna, 2026"


def numbers(prefix, count):
    return [number for _, number in islice(numbers_after(prefix, 120), count)]


def label(number, **changes):
    facts = {
        "number": number,
        "noun": "Envelope",
        "content_title": "Poll slips",
        "election": ELECTION,
        "constituency": "12 Quillmoor",
        "station": "017A, Quay Street School",
        "control_unit": "0042917",
        "paper_trail_unit": "PTQMR00317",
        "polled_on": date(2026, 2, 16),
        "counted_on": date(2026, 2, 19),
        "sealed_on": date(2026, 2, 20),
        "seal_text": "wax, die 12-A",
        "keep_rule_text": "45 days from the result, longer while a case is pending",
    }
    return Label(**(facts | changes))


def row(number, **changes):
    facts = {
        "number": number,
        "noun": "Envelope",
        "content_title": "Poll slips",
        "constituency": "12 Quillmoor",
        "station": "007, Quay Street School",
        "room": "Customs House strong room",
        "shelf": "Bay 3, shelf 2",
        "state": "held",
        "whereabouts": "on its shelf",
        "retain_through": date(2026, 4, 5),
        "may_be_disposed_from": date(2026, 4, 6),
        "reason": "term",
        "governed_by": "petition window",
        "why": "Keep through 5 April 2026: petition window runs until then.",
    }
    return ReportRow(**(facts | changes))


def report(rows, totals, **changes):
    facts = {
        "title": "Retention report",
        "scope_text": f"{ELECTION}: 12 Quillmoor",
        "as_of": date(2026, 3, 5),
        "made_at": AT,
        "made_by": "A. Hale",
        "rows": rows,
        "totals_by_reason": totals,
        "schedule_text": "calvenna, version 3",
        "calendar_text": "High Bench of Calvenna, 2026",
    }
    return Report(**(facts | changes))


def disposed(number, **changes):
    facts = {
        "number": number,
        "noun": "Envelope",
        "content_title": "Poll slips",
        "station": "007",
        "retain_through": date(2026, 4, 5),
        "governed_by": "petition window",
        "why": "The time of keeping ended on 5 April 2026.",
    }
    return DisposedContainer(**(facts | changes))


def certificate(**changes):
    facts = {
        "number": "CF-000003-J",
        "batch": "DS-000003-4",
        "election": ELECTION,
        "permission": PermissionGiven(
            number="PM-000007-T",
            authority="Electoral Steward of Calvenna",
            order_ref="ES/DIS/2026/041",
            dated=date(2026, 5, 4),
            valid_until=date(2026, 6, 30),
            recorded_by="L. Orme",
            countersigned_by="K. Vane",
        ),
        "confirmations": ("NP-000002-1, Registry of the High Bench, 2 May 2026",),
        "method": "cross-cut shredding",
        "level_ordered": "P-4",
        "level_achieved": "P-5",
        "place": "yard of the Old Granary strong room",
        "disposed_at": datetime(2026, 5, 20, 10, 40, tzinfo=UTC),
        "disposed_by": "R. Alder",
        "witnesses": ("M. Stile, district office", "J. Wren, district audit"),
        "containers": tuple(disposed(number) for number in numbers("EN", 3)),
        "made_at": AT,
        "made_by": "R. Alder",
    }
    return Certificate(**(facts | changes))


def reader(pdf):
    return PdfReader(BytesIO(pdf))


def page_texts(pdf):
    """The text of each page, with every run of white space as one space."""
    return [" ".join(page.extract_text().split()) for page in reader(pdf).pages]


def text_of(pdf):
    return " ".join(page_texts(pdf))


def pictures(pdf, dpi):
    """Each page as a printer would put it on paper, in grey."""
    program = shutil.which("pdftoppm")
    assert program, "pdftoppm is missing: apt-get install -y poppler-utils"
    pages = subprocess.run(
        [program, "-r", str(dpi), "-gray"], input=pdf, capture_output=True, check=True
    ).stdout
    return list(_split(pages))


def _split(pages):
    """Part a stream of PGM pictures."""
    while pages:
        _, size, _, _ = pages.split(b"\n", 3)
        width, height = map(int, size.split())
        head = len(b"\n".join(pages.split(b"\n", 3)[:3])) + 1
        end = head + width * height
        yield Image.open(BytesIO(pages[:end]))
        pages = pages[end:]


def codes_on(pdf, dpi=150):
    """What an independent decoder reads from the printed pages."""
    return [
        code.text
        for page in pictures(pdf, dpi)
        for code in zxingcpp.read_barcodes(page)
    ]
