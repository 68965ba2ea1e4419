"""The main job, from intake to certificate, in a real browser.

The custodian has a keyboard and a scanner that types and presses Enter; so have the
others here. The order of work follows the project's own description of the job; what a
certificate says is looked at in tests/documents.
"""

import re
from datetime import UTC, datetime, timedelta

import pytest
from playwright.sync_api import Page, expect

from registry.models import Box, ContainerState, Envelope
from tests import given
from tests.browser import keyboard

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

SEALS = ("PS-7001", "PS-7002")
PARTIES = "Moss v. Returning Officer"
POLL_SLIPS = "Printed paper-trail slips"


def today():
    """The day of the server, which has the real clock."""
    return datetime.now(tz=UTC).date()


def come_in(page: Page, username: str) -> None:
    page.goto("/")
    keyboard.write(page, "Log-in name", username)
    keyboard.write(page, "Password", given.PASSWORD)
    keyboard.enter(page)
    expect(page.get_by_role("heading", level=1)).to_have_text("Desk")


def leave(page: Page) -> None:
    keyboard.follow(page, "Log out")
    expect(page.get_by_role("heading", level=1)).to_have_text("Log in")


def begin_an_intake(page: Page, picture) -> None:
    keyboard.follow(page, "Coming in")
    keyboard.choose(page, "Constituency", "11 Harbour")
    keyboard.write(page, "Delivered by", "Isolde Tarn, returning officer")
    picture(page, "02-intake")
    keyboard.enter(page)


def write_what_is_the_same_on_all(page: Page) -> None:
    keyboard.write(page, "Election", given.ELECTION_NAME)
    keyboard.write(page, "Constituency number", "11")
    keyboard.write(page, "Constituency name", "Harbour Reach")
    keyboard.write(page, "Date of poll", f"{given.POLLED:%d/%m/%Y}")
    keyboard.write(page, "Date of counting", f"{given.COUNTED:%d/%m/%Y}")
    keyboard.write_day(page, "Sealed on", given.COUNTED)


def log_an_open_box(page: Page, picture) -> str:
    keyboard.follow(page, "Log a box")
    write_what_is_the_same_on_all(page)
    keyboard.tab_to(page, "Stations written on it")
    keyboard.scan(page, "001")
    for _ in range(4):
        keyboard.scan(page, "")  # an open box has no seals yet
    picture(page, "03-log-a-box")
    keyboard.last_scan(page, "1 of 1")
    number = Box.objects.get().number
    expect(page.locator("main")).to_contain_text(number)
    return number


def log_envelopes(page: Page, picture) -> tuple[Envelope, Envelope]:
    """One whose markings are right, and one with a serial that nobody expected."""
    keyboard.follow(page, "Log an envelope")
    scan_an_envelope(page, "001", "Customs Quay School", "CU-11001", "PT-AA-11001", "1")
    perfect = Envelope.objects.get()
    assert perfect.state == ContainerState.HELD
    expect(page.get_by_text("Recognised as")).to_be_visible()
    picture(page, "04-envelope-logged", "narrow")
    scan_an_envelope(page, "002", "Net Loft Hall", "CU-99999", "PT-AA-11002", "2")
    odd = Envelope.objects.exclude(pk=perfect.pk).get()
    picture(page, "05-envelope-into-quarantine", "narrow")
    return perfect, odd


def scan_an_envelope(page: Page, station, name, control, paper_trail, seal) -> None:
    """Nothing but the scanner: the focus stands where the first scan belongs."""
    for code in (station, name, control, paper_trail, f"W-000{seal}"):
        keyboard.scan(page, code)
    keyboard.last_scan(page, "612")


def close_seal_and_shelve(page: Page, box: str, shelf: str, picture) -> None:
    keyboard.find(page, box)
    keyboard.follow(page, "Close and seal")
    for seal in SEALS:
        keyboard.scan(page, seal)
    keyboard.choose(page, "Box marked with its stations", "yes")
    keyboard.choose(page, "Seal 1: signatures", "signed")
    keyboard.write(page, "Seal 1: maker", "Calvenna Print Works")
    picture(page, "06-close-and-seal")
    keyboard.enter(page)
    expect(page.get_by_text(f"{box} is closed and sealed.")).to_be_visible()
    keyboard.follow(page, "Put on a shelf")
    keyboard.last_scan(page, shelf)
    expect(page.get_by_text(f"{box} stands on")).to_be_visible()


def obstacles(page: Page) -> str:
    return page.locator("section.obstacles").inner_text()


def ask_what_stands_against(page: Page, box: str, picture) -> None:
    keyboard.find(page, box)
    picture(page, "07-the-box", "narrow", "wide")
    keyboard.follow(page, "What stands against disposal?")
    picture(page, "08-too-early", "narrow")


def settle_the_case(page: Page, case: str, picture) -> None:
    """The court decided long ago; its paper reached the legal cell only now."""
    keyboard.find(page, case)
    for words, day in (
        ("filed", given.DECLARED + timedelta(days=20)),
        ("dismissed", given.DECLARED + timedelta(days=90)),
    ):
        keyboard.follow(page, "Record what happened")
        keyboard.choose(page, "What happened", words)
        keyboard.choose(page, "In which court", "court of first instance")
        keyboard.write_day(page, "When it happened", day)
        keyboard.write(page, "Order, judgment or notice", f"HB/EP/4, {words}")
        keyboard.enter(page)
    expect(page.locator("main .title")).to_contain_text("settled")
    picture(page, "09-case-settled", "narrow")


def enter_the_confirmation(page: Page, contest: str, picture) -> None:
    keyboard.find(page, contest)
    keyboard.follow(page, "Enter a confirmation")
    keyboard.write(page, "Registry of which court", "High Bench of Calvenna")
    keyboard.write(page, "Number of the paper", "HB/REG/11")
    keyboard.write_day(page, "Date of the paper", today())
    keyboard.write_day(page, "It speaks of filings through", today())
    picture(page, "10-confirmation")
    keyboard.enter(page)
    expect(page.locator("#confirmations")).to_contain_text("HB/REG/11")


def record_the_order(page: Page, box: str, picture) -> str:
    keyboard.find(page, box)
    keyboard.follow(page, "What stands against disposal?")
    keyboard.follow(page, "Record an order for it")
    keyboard.write(page, "Authority", "Electoral Steward of Calvenna")
    keyboard.write(page, "Order number", "ESC/ORD/31")
    keyboard.write_day(page, "Date of the order", today())
    keyboard.write_day(page, "Valid from", today())
    keyboard.write_day(page, "Valid until", today() + timedelta(days=14))
    keyboard.write(page, "Conditions", "In the presence of a party agent")
    picture(page, "11-order", "narrow")
    keyboard.follow(page, "Record the order")
    expect(page.get_by_text("before another person countersigns it.")).to_be_visible()
    permission = re.search(r"PM-\d{6}-\w", page.url)
    assert permission
    return permission.group()


def sign_ones_own_order(page: Page, permission: str, picture) -> None:
    """Two people: it is not offered, and the guessed address is refused."""
    expect(page.get_by_role("link", name="Countersign")).to_have_count(0)
    answer = page.goto(f"/permissions/{permission}/countersign/")
    keyboard.tick(page, "I have compared this entry")
    with page.expect_response(lambda r: r.request.method == "POST") as told:
        keyboard.enter(page)
    assert answer is not None
    assert told.value.status == 409
    expect(page.locator("main")).to_contain_text("another person", ignore_case=True)
    picture(page, "12-own-signature-refused")


def countersign(page: Page, permission: str, picture) -> None:
    keyboard.find(page, permission)
    keyboard.follow(page, "Countersign")
    keyboard.tick(page, "I have compared this entry")
    if page.get_by_text("I have read what stands against").count():
        keyboard.tick(page, "I have read what stands against")
    picture(page, "13-countersign")
    keyboard.follow(page, "Countersign")
    expect(page.get_by_text(f"{permission} is countersigned")).to_be_visible()


def fill_in_the_disposal(page: Page, box: str) -> None:
    keyboard.tick(page, box)
    keyboard.write(page, "Method", "cross-cut shredding, machine 2")
    keyboard.choose(page, "Particle level achieved", "P-5")
    keyboard.write(page, "Place", "Customs House yard")
    keyboard.write(page, "First witness: name", "Wim Sedge")
    keyboard.write(page, "First witness: post", "clerk of the court")
    keyboard.write(page, "Second witness: name", "Ida Rill")
    keyboard.write(page, "Second witness: post", "party agent")
    keyboard.tick(page, "In the presence of a party agent")


def dispose_with_seals_unchecked(page: Page, permission: str, box, picture) -> None:
    keyboard.find(page, permission)
    keyboard.follow(page, "Dispose of what it names")
    fill_in_the_disposal(page, box)
    with page.expect_response(lambda r: r.request.method == "POST") as told:
        keyboard.follow(page, "Review")
    assert told.value.status == 409
    assert "seal" in obstacles(page)
    # What was typed is not lost by the refusal.
    expect(page.get_by_label("Method")).to_have_value("cross-cut shredding, machine 2")
    expect(page.get_by_label("Second witness: name")).to_have_value("Ida Rill")
    picture(page, "14-seals-not-checked", "narrow")


def check_both_seals_blind(page: Page, box: str, picture) -> None:
    keyboard.find(page, box)
    for seal in SEALS:
        keyboard.follow(page, "Check the seal")
        assert all(number not in page.content() for number in SEALS)
        keyboard.write(page, "Number as read on the seal", seal)
        keyboard.choose(page, "How the seal was found", "intact, number read")
        keyboard.write(page, "Second person present", "Wim Sedge")
        picture(page, "15-seal-checked-blind")
        keyboard.enter(page)
        expect(page.locator(".messages")).to_contain_text("is recorded as")


def dispose_of_it(page: Page, permission: str, box: str, picture) -> bytes:
    """Dispose of the box before two witnesses; returns the certificate."""
    keyboard.find(page, permission)
    keyboard.follow(page, "Dispose of what it names")
    fill_in_the_disposal(page, box)
    keyboard.follow(page, "Review")
    picture(page, "16-review", "narrow")
    keyboard.follow(page, "They are destroyed")
    expect(page.get_by_text("The disposal is certified")).to_be_visible()
    picture(page, "17-disposed")
    keyboard.tab_to(page, "Download certificate")
    with page.expect_download() as arriving:
        page.keyboard.press("Enter")
    return arriving.value.path().read_bytes()


def test_the_main_job(window, picture):
    scene = given.a_scene()
    case = given.a_case(scene, parties=PARTIES)

    page = window()
    come_in(page, "cora.keeper")
    picture(page, "01-desk-of-the-custodian", "narrow", "wide")
    begin_an_intake(page, picture)
    box = log_an_open_box(page, picture)
    perfect, odd = log_envelopes(page, picture)
    expect(page.locator("main")).to_contain_text("Control unit serial: differs")
    expect(page.get_by_text("Set it apart on the quarantine shelf.")).to_be_visible()
    assert odd.state == ContainerState.QUARANTINED
    assert odd.box is None
    perfect.refresh_from_db()
    assert perfect.box.number == box
    close_seal_and_shelve(page, box, scene.shelves[0], picture)
    ask_what_stands_against(page, box, picture)
    told = obstacles(page)
    for obstacle in (PARTIES, "confirmation", "permission", "seal has not been check"):
        assert obstacle in told
    leave(page)

    come_in(page, "lena.law")
    picture(page, "01-desk-of-the-legal-officer")
    settle_the_case(page, case, picture)
    enter_the_confirmation(page, scene.contests["11"], picture)
    leave(page)

    come_in(page, "aron.steward")
    permission = record_the_order(page, box, picture)
    sign_ones_own_order(page, permission, picture)
    leave(page)
    come_in(page, "bea.steward")
    picture(page, "01-desk-of-the-authority")
    countersign(page, permission, picture)
    leave(page)

    come_in(page, "cora.keeper")
    dispose_with_seals_unchecked(page, permission, box, picture)
    check_both_seals_blind(page, box, picture)
    certificate = dispose_of_it(page, permission, box, picture)
    assert certificate.startswith(b"%PDF-")
    keyboard.find(page, box)
    expect(page.locator("main .title")).to_contain_text("disposed of")
    picture(page, "18-the-box-disposed-of", "narrow")
    leave(page)

    come_in(page, "otto.audit")
    picture(page, "01-desk-of-the-auditor", "wide")
    keyboard.find(page, box)
    history = page.locator("#timeline").inner_text()
    for entry in (
        "Logged at intake.",
        "Closed and sealed.",
        "Put on a shelf.",
        "asked what stands against disposal",
        "permission recorded",
        "countersigned",
        "Refused. disposal reviewed before it was carried out. Reason: Box",
        "seal checked",
        "Disposed of.",
    ):
        assert entry in history, entry
    # Whoever acted on it or looked at it, and the auditor's own look.
    for name in ("Cora Keeper", "Aron Steward", "Bea Steward", "Otto Audit"):
        assert name in history, name
    picture(page, "19-the-auditor", "wide")
