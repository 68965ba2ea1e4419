"""A phone at the shelf: its camera reads codes where the browser offers that.

The detector is the browser's own (Shape Detection, a W3C community draft), which this
Chromium has not; it is put in its place before the page's scripts run. The camera is
Chromium's fake one.
"""

from datetime import timedelta

import pytest
from playwright.sync_api import Page

from registry.models import Box
from registry.usecases import paper_forms
from tests import given
from tests.browser import keyboard
from tests.browser.conftest import QUIET

pytestmark = [
    pytest.mark.browser,
    pytest.mark.slow,
    pytest.mark.django_db(transaction=True),
]

FAKE_CAMERA = ["--use-fake-device-for-media-stream", "--use-fake-ui-for-media-stream"]
_DETECTOR = """window.codes = %s;
window.BarcodeDetector = class {
  async detect(video) {
    if (!(video instanceof HTMLVideoElement) || !video.srcObject) return [];
    const code = window.codes.shift();
    return code ? [{ rawValue: code }] : [];
  }
};
const ask = navigator.mediaDevices.getUserMedia.bind(navigator.mediaDevices);
window.streams = [];
navigator.mediaDevices.getUserMedia = async (wanted) => {
  const stream = await ask(wanted);
  window.streams.push(stream);
  return stream;
};"""
_RUNNING = """() => window.streams.flatMap(stream => stream.getTracks())
  .filter(track => track.readyState === "live").length"""
CAMERA = "Use the camera"


@pytest.fixture(scope="module")
def browser(playwright, chromium_path):
    """A browser with a camera that shows a test picture."""
    browser = playwright.chromium.launch(
        executable_path=chromium_path, args=[*QUIET, *FAKE_CAMERA]
    )
    yield browser
    browser.close()


def sees(page: Page, *codes: str) -> None:
    """Let the camera of the next pages see these codes, one after the other."""
    page.add_init_script(_DETECTOR % list(codes))


def test_without_a_detector_there_is_no_button_and_typing_works(desk_of):
    scene = given.a_scene()
    box = given.a_shelved_box(scene).number
    page = desk_of(scene.cast.custodian, "narrow")
    page.add_init_script("delete window.BarcodeDetector")
    page.goto("/scan/")
    assert page.get_by_role("button", name=CAMERA).count() == 0
    keyboard.last_scan(page, box)
    assert page.url.endswith(f"?hand={box}")


def test_a_code_before_the_camera_is_taken_like_a_scan(desk_of, picture):
    scene = given.a_scene()
    box = given.a_shelved_box(scene).number
    page = desk_of(scene.cast.custodian, "narrow")
    sees(page, box)
    page.goto("/scan/")
    with page.expect_navigation(url=f"**?hand={box}"):
        page.get_by_role("button", name=CAMERA).click()
    assert page.get_by_text("In hand").is_visible()
    picture(page, "scan-in-hand", "narrow")
    keyboard.last_scan(page, scene.shelves[1])
    assert page.get_by_text("Done:").is_visible()
    assert Box.objects.get(number=box).shelf.number == scene.shelves[1]


def test_the_camera_is_put_away_when_it_is_stopped_and_after_a_hit(desk_of):
    scene = given.a_scene()
    box = given.a_shelved_box(scene).number
    page = desk_of(scene.cast.custodian)
    sees(page)
    page.goto("/scan/")
    page.get_by_role("button", name=CAMERA).click()
    page.get_by_role("button", name="Stop the camera").wait_for()
    assert page.evaluate(_RUNNING) == 1
    page.get_by_role("button", name="Stop the camera").click()
    assert page.evaluate(_RUNNING) == 0
    # A form that is sent nowhere: what stands there after a hit can be looked at.
    page.evaluate(
        "() => document.querySelector('main form')"
        ".addEventListener('submit', event => event.preventDefault())"
    )
    page.get_by_role("button", name=CAMERA).click()
    page.evaluate(f"() => window.codes.push('{box}')")
    page.wait_for_function(
        f"() => document.querySelector('main [data-scan]').value === '{box}'"
    )
    assert page.evaluate(_RUNNING) == 0


def test_the_camera_walks_from_field_to_field(desk_of):
    """In a form of several fields a hit goes on to the next, as a scanner does."""
    scene = given.a_scene()
    box = given.logged(scene, given.an_open_box()).number
    envelope = given.logged(scene, given.an_envelope_on_the_table()).number
    page = desk_of(scene.cast.custodian, "narrow")
    sees(page, box)
    page.goto("/intake/fill/")
    page.get_by_role("button", name=CAMERA).click()
    page.wait_for_function(
        f"() => document.querySelector('main [name=box]').value === '{box}'"
    )
    assert page.evaluate("() => document.activeElement.name") == "envelope"
    page.evaluate(f"() => window.codes.push('{envelope}')")
    with page.expect_navigation():
        page.get_by_role("button", name=CAMERA).click()
    assert Box.objects.get(number=box).envelopes.get().number == envelope


def test_a_camera_that_is_refused_leaves_typing(desk_of):
    scene = given.a_scene()
    page = desk_of(scene.cast.custodian)
    sees(page)
    page.add_init_script(
        "navigator.mediaDevices.getUserMedia = async () => "
        "{ throw new DOMException('no', 'NotAllowedError'); };"
    )
    page.goto("/scan/")
    page.get_by_role("button", name=CAMERA).click()
    page.get_by_text("Type the number instead").wait_for()


def test_a_shelf_scanned_on_a_box_page_is_confirmed_by_a_second_scan(desk_of):
    scene = given.a_scene()
    box = given.a_shelved_box(scene).number
    page = desk_of(scene.cast.custodian)
    page.goto(f"/boxes/{box}/")
    keyboard.find(page, scene.shelves[1])
    assert "/shelve/" in page.url
    assert Box.objects.get(number=box).shelf.number == scene.shelves[0]
    keyboard.last_scan(page, scene.shelves[1])
    assert Box.objects.get(number=box).shelf.number == scene.shelves[1]


def test_a_night_on_paper_is_entered_from_its_form(desk_of, picture):
    """Failure mode 90: form in hand, line by line, with when it happened."""
    printed = given.NOW - timedelta(days=2)
    scene = given.a_scene(at=printed)
    box = given.logged(scene, given.an_open_box(), at=printed).number
    [form] = paper_forms.issue_forms(
        room=scene.room,
        kind="moves",
        count=1,
        actor=scene.cast.custodian,
        at=printed,
    )
    page = desk_of(scene.cast.custodian)
    keyboard.last_scan(page, form)
    keyboard.follow(page, "Enter from this form")
    keyboard.write(page, "Container on the next line", box)
    keyboard.choose(page, "What was done with it", "put on")
    keyboard.follow(page, "Go on")
    page.get_by_label("When it happened").fill("2026-10-31T23:40")
    picture(page, "late-entry", "narrow")
    keyboard.write(page, "Shelf", scene.shelves[1])
    keyboard.enter(page)
    assert page.url.endswith(f"/paper-forms/{form}/line/")
    page.goto(f"/paper-forms/{form}/")
    assert page.get_by_text("31 October 2026, 23:40").is_visible()
    picture(page, "paper-form", "narrow")
    move = Box.objects.get(number=box).movements.get(act="shelved")
    assert f"{move.occurred_at:%d %H:%M}" == "31 23:40"
    assert move.recorded_at > move.occurred_at
