"""Forms without scripts, and forms that were mistaken: nothing typed is lost."""

import pytest
from playwright.sync_api import Page, expect

from registry.models import ContainerState, Envelope
from tests import given
from tests.browser import keyboard

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

AS_WRITTEN = {
    "Polling station number": "001",
    "Polling station name": "Customs Quay School",
    "Control unit serial": "CU-11001",
    "Paper-trail unit serial": "PT-AA-11001",
    "Election": given.ELECTION_NAME,
    "Constituency number": "11",
    "Constituency name": "Harbour Reach",
    "Date of poll": f"{given.POLLED:%d/%m/%Y}",
    "Date of counting": f"{given.COUNTED:%d/%m/%Y}",
}


def at_the_intake_table(page: Page) -> None:
    page.goto("/intake/")
    page.get_by_label("Delivered by").fill("Isolde Tarn")
    page.get_by_role("button", name="Begin").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Log envelopes")


def fill_in(page: Page, texts: dict[str, str]) -> None:
    for label, text in texts.items():
        field(page, label).fill(text)


def field(page: Page, label: str):
    """A text field by the beginning of its label; ticks may bear the same words."""
    return (
        page.locator(".field", has=page.locator(f"label:text-matches('^{label}')"))
        .locator("input:not([type=checkbox])")
        .first
    )


def test_an_envelope_is_logged_without_scripts(desk_of):
    scene = given.a_scene()
    page = desk_of(scene.cast.custodian, java_script_enabled=False)
    at_the_intake_table(page)
    fill_in(page, AS_WRITTEN)
    field(page, "Seal 1: number on it").fill("W-0001")
    page.get_by_role("button", name="Log this envelope").first.click()
    assert Envelope.objects.get().state == ContainerState.HELD
    expect(page.locator("main")).to_contain_text("Recognised as")
    # The form of the next one is empty where it must be read anew.
    expect(field(page, "Control unit serial")).to_have_value("")


def test_what_was_typed_stays_when_a_count_cannot_be_read(desk_of):
    scene = given.a_scene()
    page = desk_of(scene.cast.custodian)
    at_the_intake_table(page)
    fill_in(page, AS_WRITTEN)
    field(page, "Slips it is said to hold").fill("six hundred")
    page.get_by_role("button", name="Log this envelope").first.click()
    expect(page.locator(".problems")).to_contain_text("Write a whole number")
    assert page.evaluate("() => document.activeElement.matches('[data-problems]')")
    for label, text in AS_WRITTEN.items():
        expect(field(page, label)).to_have_value(text)
    expect(field(page, "Slips it is said to hold")).to_have_value("six hundred")
    assert not Envelope.objects.exists()


def test_leaving_a_half_entered_form_asks_first(desk_of):
    scene = given.a_scene()
    page = desk_of(scene.cast.custodian)
    at_the_intake_table(page)
    asked = []

    def stay(dialog):
        asked.append(dialog.type)
        dialog.dismiss()

    page.on("dialog", stay)
    keyboard.write(page, "Polling station number", "001")
    page.get_by_role("link", name="Holdings", exact=True).click(no_wait_after=True)
    page.wait_for_timeout(300)
    assert asked == ["beforeunload"]
    expect(field(page, "Polling station number")).to_have_value("001")


def test_a_mistyped_box_keeps_the_other_scan(desk_of):
    """A number whose check character is wrong is never taken for another box."""
    scene = given.a_scene()
    box = given.logged(scene, given.an_open_box()).number
    envelope = given.logged(scene, given.an_envelope_on_the_table()).number
    page = desk_of(scene.cast.custodian)
    page.goto("/intake/fill/")
    wrong = f"{box[:-1]}{'A' if box[-1] != 'A' else 'B'}"
    keyboard.scan(page, wrong)
    keyboard.last_scan(page, envelope)
    expect(page.locator(".problems, .obstacles").first).to_be_visible()
    expect(field(page, "Envelope")).to_have_value(envelope)
    assert Envelope.objects.get(number=envelope).box is None
    keyboard.write(page, "Box", box)
    keyboard.enter(page)
    expect(page.locator(".messages")).to_contain_text(f"{envelope} lies in {box}")
    expect(field(page, "Box")).to_have_value(box)
    assert keyboard.focus_name(page).startswith("Envelope")


def test_a_refused_order_keeps_what_was_typed(desk_of):
    scene = given.a_scene()
    box = given.a_shelved_box(scene)
    page = desk_of(scene.cast.authority)
    page.goto(f"/permissions/new/?container={box.number}")
    texts = {"Order number": "ESC/ORD/77", "Conditions": "By daylight"}
    for label, text in texts.items():
        page.get_by_label(label).fill(text)
    page.get_by_label("Valid from").fill("2026-12-01")
    page.get_by_label("Valid until").fill("2026-11-01")
    page.get_by_role("button", name="Record the order").click()
    expect(page.locator(".problems")).to_be_visible()
    for label, text in texts.items():
        expect(page.get_by_label(label)).to_have_value(text)
    expect(page.get_by_label("What the order names")).to_have_value(box.number)
    expect(page.get_by_label("Valid from")).to_have_value("2026-12-01")
