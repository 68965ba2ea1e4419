"""Forms on paper: one number each, in words and as a code a decoder reads again."""

from dataclasses import replace

import pytest
import zxingcpp

from registry.documents.paper_forms import SHAPES, BlankForm, paper_forms_pdf
from tests.documents.papers import (
    AT,
    MILLIMETRES_TO_AN_INCH,
    numbers,
    page_texts,
    pictures,
    reader,
)

AT_THE_REGISTER = "https://register.calvenna.example/"


def sheet(number, kind="moves", **more):
    form = BlankForm(number, kind, "Customs House strong room", AT, "Cora Keeper")
    return replace(form, **more)


def printed(forms):
    return paper_forms_pdf(forms, AT, "Cora Keeper", enter_at=AT_THE_REGISTER)


@pytest.mark.parametrize("kind", SHAPES)
def test_each_sheet_is_one_page_with_its_own_number(kind):
    wanted = numbers("PF", 3)
    pdf = printed([sheet(number, kind) for number in wanted])
    texts = page_texts(pdf)
    assert len(texts) == 3
    for number, text, picture in zip(wanted, texts, pictures(pdf, 150), strict=True):
        assert [code.text for code in zxingcpp.read_barcodes(picture)] == [number]
        assert number in text
        for words in (
            SHAPES[kind].title, "Customs House strong room", AT_THE_REGISTER,
            *SHAPES[kind].signers, "spoilt", "returned", "Local rules come first",
            *(column.title for column in SHAPES[kind].columns),
        ):  # fmt: skip
            assert words in text, words


def test_a_sheet_is_a4_on_its_side():
    # ISO 216: A4 is 210 × 297 mm.
    [page] = reader(printed([sheet("PF-000001-6")])).pages
    width, height = (float(side) / 72 for side in page.mediabox[2:])
    assert round(width * MILLIMETRES_TO_AN_INCH) == 297
    assert round(height * MILLIMETRES_TO_AN_INCH) == 210


def test_a_second_print_says_so():
    assert (
        "Print 2: destroy"
        in page_texts(printed([sheet("PF-000001-6", times_printed=2)]))[0]
    )
    assert "destroy the earlier" not in page_texts(printed([sheet("PF-000001-6")]))[0]


def test_long_names_keep_to_one_page():
    name = ("Customs House strong room, lower vault, " * 3)[:120]
    for kind in SHAPES:
        assert len(page_texts(printed([sheet("PF-000001-6", kind, room=name)]))) == 1


def test_nothing_is_printed_beside_the_paper():
    """An office printer leaves a rim of about 5 mm (common practice)."""
    for kind in SHAPES:
        [picture] = pictures(printed([sheet("PF-000001-6", kind)]), 100)
        rim = round(5 / MILLIMETRES_TO_AN_INCH * 100)
        wide, high = picture.size
        for strip in (
            (0, 0, wide, rim), (0, high - rim, wide, high),
            (0, 0, rim, high), (wide - rim, 0, wide, high),
        ):  # fmt: skip
            assert picture.crop(strip).getextrema() == (255, 255)


def test_no_form_is_refused():
    with pytest.raises(ValueError, match="no form"):
        printed([])
