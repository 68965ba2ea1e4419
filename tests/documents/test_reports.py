"""The same rows and totals, whether printed, opened in a spreadsheet or read back."""

import csv
import io
import json
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from registry.documents import reports
from registry.documents.reports import (
    TooLongForPaper,
    TotalsDisagree,
    report_csv,
    report_csv_lines,
    report_json,
    report_pdf,
)
from registry.rules.retention import Reason
from tests.documents.papers import numbers, page_texts, report, row, text_of

# OWASP, as given in shared/reference/standards.md: = + - @ TAB CR. NUL is added by
# OWASP ASVS 5.0, requirement 1.2.10 (looked up); the payloads are from memory.
DANGEROUS = [
    "=cmd|'/c calc'!A1",
    '=HYPERLINK("http://x.example","y")',
    "+1+cmd",
    "-2+3+cmd",
    "@SUM(1+1)",
    "\t=1+1",
    "\r=1+1",
    "\0=1+1",
]
HONEST = ["-5", "+91 22 5550", "007", "0012", "a=b", "O'Hara", "'quoted", "=", ""]
NOTE = "Computed dates are an aid. The statute, the court and counsel decide."


def rows_of(csv_bytes):
    return list(csv.DictReader(io.StringIO(csv_bytes.decode("utf-8-sig"), newline="")))


def as_json(csv_row):
    """A row of the CSV as the JSON holds it, going by what the row says of itself."""
    added = ("as_of", "known_at", "escaped", "note")
    own = {k: csv_row[k] for k in csv_row if k not in added}
    for name in csv_row["escaped"].split():
        assert own[name][0] == "'"
        own[name] = own[name][1:]
    for name in ("retain_through", "may_be_disposed_from"):
        own[name] = own[name] or None
    return own


def three_rows():
    first, second, third = numbers("EN", 3)
    keep = {"retain_through": None, "may_be_disposed_from": None}
    return (
        row(first),
        row(second, reason="case-pending", governed_by="CA-000003-K", **keep),
        row(third, reason="case-pending", governed_by="CA-000003-K", **keep),
    )


TOTALS = (("case-pending", 2), ("term", 1))


def test_csv_and_json_hold_the_same_rows_and_numbers():
    made = report(three_rows(), TOTALS)
    content = json.loads(report_json(made))
    lines = rows_of(report_csv(made))
    assert [as_json(line) for line in lines] == content["rows"]
    assert content["totals"] == {
        "containers": 3,
        "by_reason": {"case-pending": 2, "term": 1},
    }
    for reason, count in content["totals"]["by_reason"].items():
        assert sum(line["reason"] == reason for line in lines) == count


def test_the_printed_totals_are_those_of_the_rows():
    text = text_of(report_pdf(report(three_rows(), TOTALS)))
    assert "case pending 2 term running 1 All containers 3" in text
    assert text.count("case pending: CA-000003-K") == 2


def test_the_print_shows_dates_in_words_and_no_end_as_keep():
    text = text_of(report_pdf(report(three_rows(), TOTALS)))
    assert "As of 5 March 2026" in text
    assert "5 April 2026 6 April 2026" in text
    assert text.count("no end date: keep") == 2


def test_every_page_is_numbered_and_every_table_page_has_its_heads():
    wanted = numbers("EN", 60)
    pdf = report_pdf(report([row(n) for n in wanted], (("term", 60),)))
    pages = page_texts(pdf)
    assert len(pages) > 3
    for place, text in enumerate(pages, start=1):
        assert f"page {place} of {len(pages)}" in text
        if any(number in text for number in wanted):
            assert "Disposal not before" in text
    assert [n for n in wanted if n not in " ".join(pages)] == []


def test_the_print_has_signatures_cautions_and_the_note():
    text = text_of(report_pdf(report(three_rows(), TOTALS)))
    assert NOTE in text
    assert "Prepared by" in text
    assert "Checked by" in text
    assert "Lifting and reaching" in text
    assert "Local rules on fire, handling and waste come first" in text


def test_csv_and_json_carry_the_note_too():
    made = report(three_rows(), TOTALS)
    assert {line["note"] for line in rows_of(report_csv(made))} == {NOTE}
    assert json.loads(report_json(made))["note"] == NOTE


@pytest.mark.parametrize("text", DANGEROUS)
def test_no_cell_can_be_taken_for_a_formula(text):
    made = report([row("EN-000121-4", station=text)], (("term", 1),))
    [line] = rows_of(report_csv(made))
    assert line["station"] == f"'{text}"
    assert line["escaped"] == "station"


@pytest.mark.parametrize("text", DANGEROUS + HONEST)
def test_json_holds_every_text_untouched(text):
    made = report([row("EN-000121-4", station=text)], (("term", 1),))
    content = json.loads(report_json(made))
    assert content["rows"][0]["station"] == text
    assert as_json(rows_of(report_csv(made))[0]) == content["rows"][0]


# Surrogates alone are not text: no encoding of UTF-8 holds them (RFC 3629).
TEXT = st.text(alphabet=st.characters(exclude_categories=["Cs"]))


@given(station=TEXT, why=TEXT)
def test_whatever_a_cell_holds_it_is_harmless_and_read_back(station, why):
    made = report([row("EN-000121-4", station=station, why=why)], (("term", 1),))
    [line] = rows_of(report_csv(made))
    for cell in line.values():
        assert cell[:1] not in tuple("=+-@\t\r\0")
    assert as_json(line) == json.loads(report_json(made))["rows"][0]


def test_leading_zeros_stand_in_the_file():
    made = report([row("EN-000121-4", station="007")], (("term", 1),))
    assert b'"007"' in report_csv(made)


def test_the_csv_is_rfc_4180_in_utf_8_with_a_byte_order_mark():
    made = report(
        [row("EN-000121-4", room='The "Old" Granary, मालखाना')], (("term", 1),)
    )
    content = report_csv(made)
    # RFC 4180, 2: CRLF after each record, quotes doubled. RFC 3629, 6: EF BB BF.
    assert content.startswith(b"\xef\xbb\xbf")
    assert content.count(b"\r\n") == 2
    assert content.endswith(b"\r\n")
    assert '"The ""Old"" Granary, मालखाना"'.encode() in content


def test_the_csv_is_made_line_by_line():
    read = []

    def rows():
        for number in numbers("EN", 3):
            read.append(number)
            yield row(number)

    lines = report_csv_lines(report(rows(), (("term", 3),)))
    next(lines)
    assert read == []
    next(lines)
    assert len(read) == 1
    assert len(list(lines)) == 2


@pytest.mark.parametrize("make", [report_pdf, report_csv, report_json])
@pytest.mark.parametrize(
    "totals", [(("term", 1),), (("term", 2), ("case-pending", 1)), ()]
)
def test_a_report_whose_totals_disagree_is_refused(make, totals):
    with pytest.raises(TotalsDisagree, match="Ask for the report again"):
        make(report(three_rows(), totals))


def test_a_reason_with_nothing_under_it_may_be_listed():
    made = report(three_rows(), (*TOTALS, ("appeal-window", 0)))
    assert "appeal window running 0" in text_of(report_pdf(made))


def test_an_empty_report_says_so():
    text = text_of(report_pdf(report((), ())))
    assert "All containers 0" in text
    assert "No container is on the register for what this report covers" in text


def test_a_report_too_long_for_paper_names_the_way_out(monkeypatch):
    monkeypatch.setattr(reports, "LONGEST_ON_PAPER", 2)
    with pytest.raises(TooLongForPaper, match="CSV or JSON"):
        report_pdf(report(three_rows(), TOTALS))


def test_every_reason_has_its_words():
    assert {reason.value for reason in Reason} == set(reports.REASON_TITLES)


def test_long_names_and_other_scripts_leave_the_columns_whole():
    made = report(
        [
            row(
                "EN-000121-4",
                constituency="दक्षिण विधानसभा निर्वाचन क्षेत्र " * 5,
                station="Donau" + "dampfschiff" * 20,
                room="مدرسة شارع الرصيف " * 6,
            )
        ],
        (("term", 1),),
    )
    text = text_of(report_pdf(made))
    assert "petition window runs until then" in text
    assert ("Donau" + "dampfschiff" * 20) in text.replace(" ", "")


def test_dates_in_data_are_iso_8601():
    [line] = rows_of(report_csv(report([row("EN-000121-4")], (("term", 1),))))
    assert date.fromisoformat(line["retain_through"]) == date(2026, 4, 5)
    assert line["as_of"] == "2026-03-05"
