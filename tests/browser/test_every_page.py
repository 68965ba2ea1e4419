"""Every page that a role can reach: whole, named, labelled, narrow enough, focusable.

What is asked of a page follows WCAG 2.2: 1.4.10 Reflow (no scrolling in two directions
at a narrow width), 2.4.2 Page Titled, 2.4.7 Focus Visible, 3.1.1 Language of Page,
3.3.2 Labels or Instructions. The number of the criteria is from memory. That a page has
one main heading is common practice, no published source.
"""

from datetime import timedelta
from urllib.parse import urlsplit

import pytest
from playwright.sync_api import Page

from tests import given
from tests.browser import keyboard, lively_strong_room

pytestmark = [
    pytest.mark.browser,
    pytest.mark.slow,
    pytest.mark.django_db(transaction=True),
]

ROLES = ("custodian", "legal", "authority", "auditor", "administrator")
WIDTHS = {"narrow": 360, "usual": 1280}
AT_MOST = 200
# How many pages of one shape (the same address but for numbers) are opened.
OF_A_SHAPE = 2

_LINKS = """() => [...document.querySelectorAll("a[href]:not([download])")]
  .map(link => new URL(link.getAttribute("href"), location).href)"""
_FAULTS = """() => {
  const faults = [];
  const root = document.documentElement;
  if (!root.lang) faults.push("no language");
  if (!document.title.trim() || document.title.trim().startsWith("–"))
    faults.push("no title");
  const h1s = document.querySelectorAll("h1").length;
  if (h1s !== 1) faults.push(`${h1s} main headings`);
  if (root.scrollWidth > window.innerWidth) {
    const wide = [...document.querySelectorAll("main *, aside *, header *")]
      .filter(part => part.getBoundingClientRect().right > window.innerWidth + 1)
      .map(part => `${part.tagName}.${part.className}`).slice(0, 4);
    faults.push(`${root.scrollWidth} px wide: ${wide.join(", ")}`);
  }
  const controls = "input:not([type=hidden]), select, textarea";
  for (const control of document.querySelectorAll(controls)) {
    const named = [...control.labels].some(label => label.textContent.trim())
      || control.getAttribute("aria-label");
    if (!named) faults.push(`no label: ${control.name}`);
  }
  for (const control of document.querySelectorAll("a[href], button, summary")) {
    const words = control.textContent.trim() || control.getAttribute("aria-label")
      || control.querySelector("img[alt]")?.alt;
    if (!words) faults.push(`no words: ${control.outerHTML.slice(0, 80)}`);
  }
  const ids = [...document.querySelectorAll("[id]")].map(part => part.id);
  const twice = ids.filter((id, place) => ids.indexOf(id) !== place);
  if (twice.length) faults.push(`the same id twice: ${twice.join(", ")}`);
  return faults;
}"""
# A table may cover what stands beside it though the page itself is not too wide.
_WIDE_TABLES = """() => [...document.querySelectorAll(".table > table")]
  .filter(table => table.offsetWidth > table.parentElement.clientWidth + 1)
  .map(table => `too wide: ${table.caption?.innerText}`)"""
_FOCUS_IS_SEEN = """() => {
  const look = getComputedStyle(document.activeElement);
  return look.outlineStyle !== "none" && parseFloat(look.outlineWidth) >= 2;
}"""


def shape(address: str) -> str:
    """The address without the numbers in it: one page of each shape says enough."""
    parts = urlsplit(address)
    kept = [
        p if not any(c.isdigit() for c in p) else "#" for p in parts.path.split("/")
    ]
    asked = sorted(pair.partition("=")[0] for pair in parts.query.split("&") if pair)
    return "/".join(kept) + "?" + "&".join(asked)


def crawl(page: Page) -> tuple[dict[str, int], list[str]]:
    """Follow links from the desk; returns what answered how, and the faults seen."""
    home = urlsplit(page.url).netloc
    waiting, opened, faults = [page.url], {}, []
    shapes: dict[str, int] = {}
    while waiting and len(opened) < AT_MOST:
        address = waiting.pop(0)
        if address in opened:
            continue
        answer = page.goto(address)
        assert answer is not None
        opened[address] = answer.status
        faults += [f"{address}: {fault}" for fault in page.evaluate(_FAULTS)]
        page.set_viewport_size({"width": WIDTHS["usual"], "height": 900})
        faults += [f"{address}: {fault}" for fault in page.evaluate(_WIDE_TABLES)]
        page.set_viewport_size({"width": WIDTHS["narrow"], "height": 900})
        for link in page.evaluate(_LINKS):
            link = link.partition("#")[0]
            of_shape = shape(link)
            if urlsplit(link).netloc != home or link.endswith((".pdf", ".csv")):
                continue
            if ".pdf?" in link or "format=" in link or link in waiting:
                continue
            if shapes.get(of_shape, 0) < OF_A_SHAPE:
                shapes[of_shape] = shapes.get(of_shape, 0) + 1
                waiting.append(link)
    return opened, faults


def a_lively_register() -> given.Scene:
    """Something of everything, so that lists are not empty."""
    scene = given.a_scene()
    box = given.a_shelved_box(scene)
    other = given.a_shelved_box_of_station_two(scene)
    odd = given.changed(
        given.an_envelope_on_the_table(
            station="002",
            name="Net Loft Hall",
            paper_trail_unit="PT-AA-11002",
            seal="W-0002",
        ),
        given.Marking.CONTROL_UNIT,
        "CU-" + "9" * 60,
    )
    given.logged(scene, odd)
    given.logged(scene, given.an_open_box(("12", "Quillmoor"), label="1 of 3"))
    given.a_case(scene, "12", parties="Fen and eleven others v. Returning Officer")
    given.a_confirmation(scene)
    # Later than any day on which the test runs: the order stays in force.
    long = given.TODAY + timedelta(days=36_500)
    permission = given.a_permission(scene, [box.number], valid_until=long)
    given.a_recorded_permission(
        scene, [box.number], act="open-box", ref="ESC/ORD/2", valid_until=long
    )
    given.a_checked_seal(scene, box.number)
    given.disposed_of(scene, box.number, permission)
    lively_strong_room.liven(scene, other.number)
    return scene


@pytest.mark.parametrize("role", ROLES)
def test_every_page_of_a_role_on_a_narrow_screen(desk_of, role):
    scene = a_lively_register()
    page = desk_of(getattr(scene.cast, role), "narrow")
    opened, faults = crawl(page)
    assert [a for a, status in opened.items() if status >= 400] == []
    assert faults == []
    assert len(opened) > 8


@pytest.mark.parametrize("role", ROLES)
def test_the_keyboard_reaches_the_search_box_and_the_main_links(desk_of, role):
    scene = given.a_scene()
    page = desk_of(getattr(scene.cast, role))
    page.goto("/elections/")
    links = page.locator("nav.tabs a").all_inner_texts()
    seen = []
    for name in ("Skip to the page itself", "Find or scan", "Log out", *links):
        keyboard.tab_to(page, name)
        assert page.evaluate(_FOCUS_IS_SEEN), name
        seen.append(name)
    assert len(seen) > 5


def test_the_first_tab_skips_to_the_page_itself(desk_of):
    page = desk_of(given.a_scene().cast.custodian)
    page.goto("/boxes/")
    page.keyboard.press("Tab")
    assert keyboard.focus_name(page) == "Skip to the page itself"
    page.keyboard.press("Enter")
    assert page.evaluate("() => document.activeElement.id") == "leaf"


def test_a_scan_works_at_once_on_the_desk(desk_of):
    """On the desk the search box has the focus; on any page it is one key away."""
    scene = given.a_scene()
    box = given.a_shelved_box(scene).number
    page = desk_of(scene.cast.custodian)
    keyboard.last_scan(page, box.lower())
    assert page.url.endswith(f"/boxes/{box}/")
    keyboard.find(page, f"{box[:-1]}{'A' if box[-1] != 'A' else 'B'}")
    # A mistyped number is refused, never taken for another box.
    assert "/boxes/" not in page.url
    assert page.get_by_label("Find or scan").input_value()
