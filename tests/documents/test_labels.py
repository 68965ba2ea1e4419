"""Labels are scanned by a machine and read by a person: both are tried."""

import re
from dataclasses import replace

import pytest
import zxingcpp

from registry.documents.label_stocks import STOCKS, Stock
from registry.documents.labels import LabelTooLong, PlainLabel, label_pdf
from tests.documents.papers import (
    AT,
    ELECTION,
    MILLIMETRES_TO_AN_INCH,
    label,
    numbers,
    page_texts,
    pictures,
    reader,
    text_of,
)

# A printed code of 16 mm still decodes at 150 dpi (measured by us, shared/reference).
DPI = 150
SMALLEST_CODE_MM = 15.5
SINGLE = STOCKS["single-105x74"]
SHEET = STOCKS["a4-2x4"]
NUMBER = re.compile(r"[A-Z]{2}-[0-9]{6}-[0-9A-Z]")
# ISO/IEC 18004: four modules of white on every side (from memory).
QUIET_MODULES = 4
VERSION_1_MODULES = 21


def print_labels(labels, **how):
    return label_pdf(labels, AT, "R. Alder", **how)


def codes_on(picture):
    return zxingcpp.read_barcodes(picture)


def side_in_pixels(code):
    corners = code.position
    return corners.top_right.x - corners.top_left.x


@pytest.mark.parametrize("stock", [SHEET, SINGLE])
@pytest.mark.parametrize("count", [1, 8, 9, 17])
def test_every_label_can_be_scanned_from_the_print(count, stock):
    wanted = numbers("EN", count)
    pdf = print_labels([label(number) for number in wanted], stock=stock)
    found = [code.text for page in pictures(pdf, DPI) for code in codes_on(page)]
    assert sorted(found) == sorted(wanted)


@pytest.mark.parametrize(("count", "sheets"), [(1, 1), (8, 1), (9, 2), (17, 3)])
def test_a_sheet_of_a4_holds_eight(count, sheets):
    pages = reader(print_labels([label(n) for n in numbers("EN", count)])).pages
    assert len(pages) == sheets
    width, height = (float(side) / 72 for side in pages[0].mediabox[2:])
    # ISO 216: A4 is 210 × 297 mm.
    assert round(width * MILLIMETRES_TO_AN_INCH) == 210
    assert round(height * MILLIMETRES_TO_AN_INCH) == 297


def test_the_code_is_large_enough_and_stands_free():
    [picture] = pictures(print_labels([label("EN-000121-4")], stock=SINGLE), 300)
    [code] = codes_on(picture)
    side = side_in_pixels(code)
    assert side / 300 * MILLIMETRES_TO_AN_INCH >= SMALLEST_CODE_MM
    quiet = round(side / VERSION_1_MODULES * QUIET_MODULES) - 2
    corners = code.position
    x, y = corners.top_left.x, corners.top_left.y
    right, bottom = corners.bottom_right.x, corners.bottom_right.y
    around = [
        (x - quiet, y - quiet, right + quiet, y - 2),
        (x - quiet, bottom + 3, right + quiet, bottom + quiet),
        (x - quiet, y - quiet, x - 2, bottom + quiet),
        (right + 3, y - quiet, right + quiet, bottom + quiet),
    ]
    assert [picture.crop(box).getextrema()[0] for box in around] == [255] * 4


def test_the_code_is_an_ordinary_qr_code_of_level_q_or_m():
    [picture] = pictures(print_labels([label("EN-000121-4")]), 300)
    [code] = codes_on(picture)
    assert code.format == zxingcpp.BarcodeFormat.QRCode
    assert code.ec_level in ("M", "Q")


def test_the_code_tells_nothing_but_the_number():
    [picture] = pictures(print_labels([label("EN-000121-4")]), 300)
    [code] = codes_on(picture)
    assert code.bytes == b"EN-000121-4"


def test_every_marking_stands_on_the_label_in_words():
    text = text_of(print_labels([label("EN-000121-4")], stock=SINGLE))
    for marking in (
        "EN-000121-4",
        "Envelope: Poll slips",
        "Not to be opened without permission",
        ELECTION,
        "12 Quillmoor",
        "017A, Quay Street School",
        "0042917",
        "PTQMR00317",
        "poll 16 February 2026",
        "counting 19 February 2026",
        "20 February 2026; wax, die 12-A",
        "45 days from the result, longer while a case is pending",
        "Printed 5 March 2026, 14:05 (UTC+05:30) by R. Alder",
    ):
        assert marking in text


def test_a_marking_that_does_not_apply_gets_no_line():
    box = label("BX-000123-K", station=None, control_unit=None, paper_trail_unit=None)
    text = text_of(print_labels([box]))
    assert "Polling station" not in text
    assert "unit" not in text


def test_a_marking_that_is_not_known_says_so():
    text = text_of(print_labels([label("EN-000121-4", control_unit="")]))
    assert "Control unit not known" in text


def longest(number):
    """A label with every text as long as the register keeps it."""
    stations = ", ".join(str(station) for station in range(1, 110))[:400]
    name = ("Quay Street Lower Primary School, north wing, " * 5)[:200]
    return label(
        number,
        election=("General Election to the Assembly and the Six Councils " * 4)[:200],
        constituency="0012 "
        + ("Quillmoor and the Lower Marshes, Saint Anselm " * 4)[:160],
        station=f"{stations} {name}",
        control_unit="4" * 80,
        paper_trail_unit="5" * 80,
        seal_text="paper seals " + ", ".join(["0041775"] * 12),
    )


def test_long_markings_are_set_smaller_and_never_cut():
    wanted = longest("EN-000121-4")
    pdf = print_labels([wanted, label("EN-000122-2")], stock=SINGLE)
    pages = page_texts(pdf)
    assert len(pages) == 2
    unbroken = pages[0].replace(" ", "")
    for text in (wanted.election, wanted.constituency, wanted.station):
        assert text.replace(" ", "") in unbroken
    assert wanted.control_unit in unbroken
    assert wanted.seal_text.replace(" ", "") in unbroken


def test_a_long_label_on_a_sheet_keeps_to_its_place():
    wanted = numbers("EN", 8)
    labels = [longest(number) for number in wanted]
    [picture] = pictures(print_labels(labels), DPI)
    assert {code.text for code in codes_on(picture)} == set(wanted)
    width, _ = picture.size
    # Nothing is printed on the lowest 3 mm of a label, where an office printer's
    # paper may shift; the line between two labels lies below that.
    rim = round(3 / MILLIMETRES_TO_AN_INCH * DPI)
    for line in range(1, 4):
        bottom = round(line * 74 / MILLIMETRES_TO_AN_INCH * DPI)
        strip = picture.crop((0, bottom - rim, width // 2 - 4, bottom - 2))
        assert strip.getextrema() == (255, 255)


def test_a_label_that_cannot_fit_is_refused_by_name():
    with pytest.raises(LabelTooLong, match=r"EN-000121-4 does not fit.*shorten"):
        print_labels([label("EN-000121-4", station="Quay Street School, " * 400)])


@pytest.mark.parametrize(
    "name",
    ["राजकीय विद्यालय, उत्तर भाग", "مدرسة شارع الرصيف الابتدائية", "码头街小学"],
)
def test_names_in_any_script_leave_the_label_whole(name):
    pdf = print_labels([label("EN-000121-4", station=name * 3)], stock=SINGLE)
    [text] = page_texts(pdf)
    assert "Not to be opened without permission" in text
    assert "PTQMR00317" in text
    [picture] = pictures(pdf, DPI)
    assert [code.text for code in codes_on(picture)] == ["EN-000121-4"]


def test_a_part_used_sheet_begins_at_the_place_asked_for():
    pdf = print_labels([label(n) for n in numbers("EN", 2)], first_place=8)
    first, second = pictures(pdf, DPI)
    [code] = codes_on(first)
    width, height = first.size
    assert code.position.top_left.x > width / 2
    assert code.position.top_left.y > height * 3 / 4
    assert len(codes_on(second)) == 1


@pytest.mark.parametrize("place", [0, 9])
def test_a_place_that_is_not_on_the_sheet_is_refused(place):
    with pytest.raises(ValueError, match="from 1 to 8"):
        print_labels([label("EN-000121-4")], first_place=place)


def test_no_label_is_refused():
    with pytest.raises(ValueError, match="at least one container"):
        print_labels([])


# Every stock: the page, the place of each label, and what stands on it.


def shape_of(stock: Stock):
    """A full page and one label more, containers and places by turns."""
    wanted = numbers("EN", stock.places + 1)
    more = {"seal_place": "across the flap", "keep_rule_short": "rule 9(1)"}
    labels = [label(number, **more) for number in wanted]
    labels[-1] = PlainLabel(wanted[-1], "Shelf", "A / 2", ("Old Granary",))
    return wanted, print_labels(labels, stock=stock)


def place_at(stock: Stock, x: float, y: float) -> int:
    """The place whose label holds a point, in millimetres from the upper left."""
    [place] = [
        place
        for place in range(1, stock.places + 1)
        if 0 <= x - stock.corner(place)[0] <= stock.width
        and 0 <= y - stock.corner(place)[1] <= stock.height
    ]
    return place


def written_numbers(page, stock: Stock) -> dict[int, str]:
    """The register number that stands in words in each place, as pypdf reads it."""
    found: dict[int, str] = {}

    def visit(text, matrix, text_matrix, font, size):
        for number in NUMBER.findall(text):
            x = text_matrix[4] * matrix[0] + text_matrix[5] * matrix[2] + matrix[4]
            y = text_matrix[4] * matrix[1] + text_matrix[5] * matrix[3] + matrix[5]
            across = x / 72 * MILLIMETRES_TO_AN_INCH
            down = stock.page_height - y / 72 * MILLIMETRES_TO_AN_INCH
            found[place_at(stock, across, down)] = number

    page.extract_text(visitor_text=visit)
    return found


def scanned_numbers(picture, stock: Stock) -> dict[int, str]:
    """The number that a decoder reads in each place."""
    scale = MILLIMETRES_TO_AN_INCH / DPI
    return {
        place_at(stock, c.position.top_left.x * scale, c.position.top_left.y * scale):
        c.text
        for c in codes_on(picture)
    }  # fmt: skip


@pytest.mark.parametrize("stock", STOCKS.values(), ids=STOCKS)
def test_code_and_words_agree_in_each_place_of_each_stock(stock):
    """Failure mode 79: the code of one container beside the number of another."""
    wanted, pdf = shape_of(stock)
    pages = reader(pdf).pages
    assert len(pages) == 2
    found = []
    for page, picture in zip(pages, pictures(pdf, DPI), strict=True):
        width, height = (
            float(side) / 72 * MILLIMETRES_TO_AN_INCH for side in page.mediabox[2:]
        )
        assert width == pytest.approx(stock.page_width, abs=0.2)
        assert height == pytest.approx(stock.page_height, abs=0.2)
        scanned = scanned_numbers(picture, stock)
        assert scanned == written_numbers(page, stock)
        found += [scanned[place] for place in sorted(scanned)]
    assert found == wanted


@pytest.mark.parametrize("stock", STOCKS.values(), ids=STOCKS)
def test_nothing_is_printed_outside_its_label(stock):
    """1 mm of rim stays white: printers shift the paper (common practice)."""
    _, pdf = shape_of(stock)
    picture = next(iter(pictures(pdf, DPI)))
    in_pixels = DPI / MILLIMETRES_TO_AN_INCH
    for place in range(1, stock.places + 1):
        left, top = stock.corner(place)
        within = (left + 1, top + 1, left + stock.width - 1, top + stock.height - 1)
        box = tuple(round(side * in_pixels) for side in within)
        assert picture.crop(box).getextrema()[0] == 0, "a label is blank"
        picture.paste(255, box)
    assert picture.getextrema() == (255, 255)


@pytest.mark.parametrize("stock", STOCKS.values(), ids=STOCKS)
def test_each_stock_says_what_must_stand_on_a_label(stock):
    [text] = page_texts(
        print_labels([label("EN-000121-4", keep_rule_short="rule 9(1)")], stock=stock)
    )
    for marking in (
        "EN-000121-4", "Envelope: Poll slips", "Not to be opened without permission",
        ELECTION, "12 Quillmoor", "017A, Quay Street School", "0042917", "PTQMR00317",
        "wax, die 12-A", "Keep",
    ):  # fmt: skip
        assert marking in text, marking


@pytest.mark.parametrize("stock", STOCKS.values(), ids=STOCKS)
def test_the_labels_of_a_stock_lie_on_its_page_and_apart(stock):
    edges = [stock.corner(place) for place in range(1, stock.places + 1)]
    assert len(set(edges)) == stock.places
    for left, top in edges:
        assert left >= 0
        assert top >= 0
        assert left + stock.width <= stock.page_width + 0.1
        assert top + stock.height <= stock.page_height + 0.1
    assert stock.gap >= 0
    assert stock.line_gap >= 0


def test_a_part_used_sheet_leaves_its_first_places_alone():
    stock = STOCKS["a4-3x7"]
    wanted = numbers("EN", 3)
    pdf = print_labels([label(n) for n in wanted], stock=stock, first_place=20)
    first, second = pictures(pdf, DPI)
    assert scanned_numbers(first, stock) == {20: wanted[0], 21: wanted[1]}
    assert scanned_numbers(second, stock) == {1: wanted[2]}


def test_a_second_label_of_a_number_says_so():
    """Failure mode 79: a label prints twice."""
    assert "copy" not in text_of(print_labels([label("EN-000121-4")]))
    for stock in STOCKS.values():
        again = replace(label("EN-000121-4"), copy=2)
        assert "copy 2" in text_of(print_labels([again], stock=stock))


def test_a_shelf_label_is_read_from_the_gangway():
    shelf = PlainLabel("SH-000001-D", "Shelf", "A / 2", ("Old Granary", "Bay A"))
    text = text_of(print_labels([shelf], stock=SINGLE))
    for words in ("SH-000001-D", "Shelf", "A / 2", "Old Granary", "Bay A"):
        assert words in text
    assert "Not to be opened" not in text
