"""What a page looks like on paper: the facts are there, the tools of the screen not."""

from io import BytesIO

import pytest
from playwright.sync_api import Page
from pypdf import PdfReader

from tests import given

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def printed(page: Page) -> str:
    """The text of a page as the browser prints it."""
    reader = PdfReader(BytesIO(page.pdf(format="A4")))
    text = "\n".join(sheet.extract_text() for sheet in reader.pages)
    return " ".join(text.split())


def test_a_box_on_paper(desk_of):
    scene = given.a_scene()
    box = given.a_shelved_box(scene)
    page = desk_of(scene.cast.custodian)
    page.goto(f"/boxes/{box.number}/")
    text = printed(page)
    facts = (
        box.number,
        "Harbour Reach",
        given.ELECTION_NAME,
        "PS-0001",
        "Customs Quay School",
        "Computed dates are an aid",
        "Printed by Cora Keeper (Strong-room custodian)",
    )
    for fact in facts:
        assert fact in text, fact
    for tool in ("Find or scan", "Log out", "What you can do here", "Reckon as of"):
        assert tool not in text, tool


def test_the_reasoning_is_printed_though_it_is_closed_on_the_screen(desk_of):
    """Paper cannot be clicked: why a box is held is printed step by step."""
    scene = given.a_scene()
    box = given.a_shelved_box(scene)
    page = desk_of(scene.cast.auditor)
    page.goto(f"/boxes/{box.number}/")
    assert not page.get_by_text("rule 9(1)").first.is_visible()
    assert "rule 9(1)" in printed(page)


def test_papers_of_a_box_come_as_pdf(desk_of):
    scene = given.a_scene()
    box = given.a_shelved_box(scene)
    page = desk_of(scene.cast.custodian)
    answer = page.request.get(f"/containers/{box.number}/reasoning.pdf")
    assert answer.ok
    assert answer.body().startswith(b"%PDF-")


def test_a_label_is_printed_from_its_page(desk_of):
    scene = given.a_scene()
    box = given.a_shelved_box(scene)
    page = desk_of(scene.cast.custodian)
    page.goto(f"/boxes/{box.number}/")
    page.get_by_role("link", name="Print its label", exact=True).click()
    page.get_by_label("Labels in the printer").select_option("single-62x29")
    address = page.url
    with page.expect_response(lambda got: got.request.method == "POST") as got:
        page.get_by_role("button", name="Print", exact=True).click()
    assert got.value.headers["content-type"] == "application/pdf"
    page.goto(address)
    assert page.get_by_text("1 label was printed before").is_visible()
