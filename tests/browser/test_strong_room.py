"""The days of a strong room in a real browser: keyboard and scanner, no mouse.

From the sealing table to the shelf, round the shelves with a telephone, out to a court
and back. Issue 4 of this project asks for the walk; its order follows the desk work
described there (common practice, no published source).
"""

from dataclasses import replace
from datetime import datetime, timedelta

import pytest
from playwright.sync_api import Page, expect

from registry.models import Envelope
from tests import given
from tests.browser import keyboard
from tests.browser.conftest import WIDTHS

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

SEAL = "PS-8001"
SEAL_OF_STATION_TWO = "PS-0002"
WRONG_SEAL = "PS-0009"
CLERK = "Rhea Moor, clerk of the High Bench"
HANDED_OUT = given.NOW + timedelta(days=2)
BACK_ON = given.TODAY + timedelta(days=14)


@pytest.fixture
def clock(monkeypatch):
    """Set the clock of all pages; the walk begins at ``given.NOW``."""

    def set_clock(at: datetime) -> None:
        given.clock_at(monkeypatch, at)

    set_clock(given.NOW)
    return set_clock


def title_of(page: Page):
    return page.locator("main .title")


def seal_station_one(page: Page, box: str, contest: str) -> str:
    """One unit at the sealing table, from its tag to the box; returns the envelope."""
    keyboard.follow(page, "Coming in")
    keyboard.follow(page, "Sealing table")
    page.goto(f"/sealing/?contest={contest}")
    keyboard.last_scan(page, "001")
    for code in ("CU-11001", "PT-AA-11001"):
        keyboard.scan(page, code)
    for _ in ("power packs out", "slips out", "shown empty"):
        page.keyboard.press("Space")
    for count in ("0", "612", "7", "612"):
        keyboard.scan(page, count)
    page.keyboard.press("Space")  # marked and closed
    keyboard.scan(page, "W-0001")
    keyboard.scan(page, "Returning Officer 11")
    page.keyboard.press("Enter")  # the paper is not known
    keyboard.scan(page, box)
    page.keyboard.press("Space")  # the waste
    keyboard.enter(page)
    expect(page.get_by_text("The last one")).to_be_visible()
    return Envelope.objects.get(box__number=box).number


def close_and_put_away(page: Page, box: str, shelf: str, picture) -> None:
    keyboard.find(page, box)
    keyboard.follow(page, "Close and seal")
    keyboard.scan(page, SEAL)
    keyboard.choose(page, "Box marked with its stations", "yes")
    keyboard.choose(page, "Seal 1: signatures", "signed")
    keyboard.write(page, "Seal 1: maker", "Calvenna Print Works")
    keyboard.enter(page)
    expect(page.get_by_text(f"{box} is closed and sealed.")).to_be_visible()
    keyboard.follow(page, "Strong rooms")
    keyboard.follow(page, "Put away")
    expect(page.get_by_role("link", name=box)).to_be_visible()
    keyboard.tab_to(page, "Boxes, then their shelf")
    page.keyboard.type(box)
    page.keyboard.press("Enter")
    page.keyboard.type(shelf)
    keyboard.enter(page)
    expect(page.get_by_text("1 box is put away")).to_be_visible()
    picture(page, "strong-room-01-put-away")


def begin_a_round(page: Page) -> None:
    keyboard.follow(page, "Strong rooms")
    keyboard.follow(page, "Rounds")
    keyboard.follow(page, "Begin a round")
    keyboard.write(page, "Second person who walks along", "Gil Keeper, custodian")
    keyboard.follow(page, "Begin the round")
    expect(page.get_by_text("is begun.")).to_be_visible()
    keyboard.follow(page, "Walk ")


def see(page: Page, box: str, read: str, finding: str, on_record: str) -> None:
    """Scan a box and the seal on it; the record is not told before it is read."""
    assert on_record not in page.content()
    keyboard.scan(page, box)
    keyboard.scan(page, read)
    keyboard.choose(page, "How the seal was found", finding)
    keyboard.enter(page)


def walk_the_shelves(page: Page, boxes: tuple[str, str], picture) -> None:
    """On a telephone: one box is as it should be, the seal of the other is not."""
    page.set_viewport_size({"width": WIDTHS["narrow"], "height": 800})
    begin_a_round(page)
    see(page, boxes[0], SEAL, "intact, number read", SEAL)
    told = page.locator(".messages")
    expect(told).to_contain_text(f"{boxes[0]}: in order.")
    expect(page.get_by_text("1 of 2 seen on this round")).to_be_visible()
    picture(page, "strong-room-02-round-in-order", "narrow")
    page.set_viewport_size({"width": WIDTHS["narrow"], "height": 800})
    keyboard.follow(page, "Next:")
    see(page, boxes[1], WRONG_SEAL, "intact, number read", SEAL_OF_STATION_TWO)
    expect(told).to_contain_text(f"{boxes[1]}: not in order.")
    expect(page.get_by_text("2 of 2 seen on this round")).to_be_visible()
    picture(page, "strong-room-03-round-seal-differs", "narrow")


def end_the_round(page: Page) -> None:
    keyboard.follow(page, "Leave without saving")
    keyboard.follow(page, "End the round")
    expect(page.get_by_text("Everything was seen or looked for.")).to_be_visible()
    keyboard.follow(page, "End the round")
    expect(page.get_by_text("is ended.")).to_be_visible()


def find_the_discrepancy(page: Page, box: str, picture) -> None:
    keyboard.find(page, box)
    expect(page.locator("main")).to_contain_text(WRONG_SEAL)
    keyboard.follow(page, "Holdings")
    keyboard.follow(page, "Discrepancies")
    row = page.get_by_role("row").filter(has_text=box)
    expect(row).to_contain_text("seal", ignore_case=True)
    picture(page, "strong-room-04-discrepancy")


def hand_out(page: Page, box: str, permission: str, picture) -> None:
    keyboard.find(page, box)
    keyboard.follow(page, "Take it out under a permission")
    expect(page.locator("main")).to_contain_text(permission)
    assert SEAL not in page.content()
    keyboard.write(page, f"Seal of {box}, as read", SEAL)
    keyboard.write(page, "Handed to", CLERK)
    keyboard.write(page, "Where it goes", "Registry of the High Bench")
    keyboard.write(page, "Second person of the strong room", "Gil Keeper")
    keyboard.write(page, "Order confirmed by call-back", "Orin Sedge, registrar")
    keyboard.write_moment(page, "Confirmed at", HANDED_OUT - timedelta(hours=1))
    keyboard.write_day(page, "Expected back on", BACK_ON)
    picture(page, "strong-room-05-handing-out")
    keyboard.follow(page, "Record that it is out")
    expect(page.get_by_text("1 container is out.")).to_be_visible()


def out_and_back(page: Page, box: str):
    """The line of a box on the list of what is out."""
    keyboard.follow(page, "Strong rooms")
    keyboard.follow(page, "Out and back")
    return page.get_by_role("row").filter(has_text=box)


def take_back(page: Page, box: str, picture) -> None:
    keyboard.find(page, box)
    keyboard.follow(page, "Record that it came back")
    assert SEAL not in page.content()
    keyboard.write(page, "Seal, as read", SEAL)
    keyboard.choose(page, "How the seals were found", "intact, number read")
    keyboard.write(page, "Brought back by", CLERK)
    keyboard.write(page, "Second person present", "Gil Keeper")
    picture(page, "strong-room-08-taking-back")
    keyboard.follow(page, "Record that it is back")
    expect(page.get_by_text(f"{box} is back as it went.")).to_be_visible()


def put_on_its_shelf(page: Page, box: str, shelf: str) -> None:
    keyboard.find(page, box)
    keyboard.follow(page, "Put on a shelf")
    keyboard.last_scan(page, shelf)
    expect(page.get_by_text(f"{box} stands on")).to_be_visible()


def custody_is_unbroken(page: Page, box: str, picture) -> None:
    """One holder after another, the court too; only the late return stands out."""
    keyboard.find(page, box)
    chain = page.locator("#custody")
    expect(chain).to_contain_text("Now: Cora Keeper")
    expect(chain.locator(".state")).to_have_text(["Out past its expected return"])
    held = chain.locator("tbody tr").all()
    lines = [line.locator("th, td").all_inner_texts() for line in held]
    assert [after[0] for after in lines[1:]] == [line[1] for line in lines[:-1]]
    assert [CLERK in " ".join(line) for line in lines].count(True) == 1
    assert "now" in lines[-1][1]
    picture(page, "strong-room-09-custody")


def test_from_the_sealing_table_to_the_court_and_back(desk_of, picture, clock):
    scene = given.a_scene()
    other = given.a_shelved_box_of_station_two(scene).number
    empty = replace(given.an_open_box(), received_on=given.TODAY)
    box = given.logged(scene, empty).number
    page = desk_of(scene.cast.custodian)

    envelope = seal_station_one(page, box, scene.contests["11"])
    close_and_put_away(page, box, scene.shelves[0], picture)
    clock(given.NOW + timedelta(days=1))
    walk_the_shelves(page, (box, other), picture)
    end_the_round(page)
    find_the_discrepancy(page, other, picture)

    clock(HANDED_OUT)
    given.a_confirmation(scene, at=HANDED_OUT)
    order = given.a_permission(scene, [box, envelope], act="take-out", at=HANDED_OUT)
    hand_out(page, box, order, picture)
    expect(out_and_back(page, box).locator(".state")).to_have_text("out")
    expect(out_and_back(page, box)).to_contain_text(CLERK)
    picture(page, "strong-room-06-out-and-back")

    clock(given.NOW + timedelta(days=15))
    page.goto("/")
    expect(page.locator("main")).to_contain_text(f"Box {box} is out with {CLERK}")
    expect(out_and_back(page, box).locator(".state")).to_have_text("overdue")
    picture(page, "strong-room-07-overdue")

    take_back(page, box, picture)
    put_on_its_shelf(page, box, scene.shelves[0])
    expect(out_and_back(page, box).locator(".state")).to_have_text("back")
    clock(given.NOW + timedelta(days=16))
    custody_is_unbroken(page, box, picture)
