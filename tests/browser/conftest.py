"""A real browser for the walk: one for the session, a fresh window for each person."""

import os
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from django.conf import settings
from playwright.sync_api import Browser, Page, Playwright, sync_playwright

from registry.rules.powers import Actor
from tests import given

QUIET = [
    "--no-sandbox",
    "--disable-background-networking",
    "--disable-component-update",
    "--no-first-run",
]
WIDTHS = {"narrow": 360, "usual": 1280, "wide": 1920}

OpenDesk = Callable[..., Page]
Picture = Callable[..., Path]


@pytest.fixture(scope="session")
def playwright() -> Iterator[Playwright]:
    """What drives browsers; a second one in the same process is refused."""
    with sync_playwright() as playwright:
        yield playwright


@pytest.fixture(scope="session")
def browser(playwright: Playwright, chromium_path: str) -> Iterator[Browser]:
    """The one browser of the session."""
    browser = playwright.chromium.launch(executable_path=chromium_path, args=QUIET)
    yield browser
    browser.close()


@pytest.fixture
def window(browser: Browser, live_server) -> Iterator[OpenDesk]:
    """Open a window of its own, in which nobody is logged in yet.

    What the browser complains of (scripts, styles and frames that the
    Content-Security-Policy forbids, faults in scripts) is gathered and fails the test.
    """
    contexts = []
    complaints: list[str] = []

    def open_window(width: str = "usual", **more) -> Page:
        context = browser.new_context(
            base_url=live_server.url,
            viewport={"width": WIDTHS[width], "height": 900},
            locale="en-GB",
            accept_downloads=True,
            **more,
        )
        contexts.append(context)
        context.set_default_timeout(10_000)
        page = context.new_page()
        page.on("pageerror", lambda error: complaints.append(f"{page.url}: {error}"))
        page.on(
            "console",
            lambda said: (
                complaints.append(f"{page.url}: {said.text}")
                if said.type == "error" and "the server responded with" not in said.text
                else None
            ),
        )
        return page

    yield open_window
    for context in contexts:
        context.close()
    assert complaints == []


@pytest.fixture
def desk_of(window: OpenDesk, live_server) -> OpenDesk:
    """Open a window in which this person is logged in already."""

    def open_desk(actor: Actor, width: str = "usual", **more) -> Page:
        page = window(width, **more)
        cookie = given.browser_of(actor).cookies[settings.SESSION_COOKIE_NAME]
        page.context.add_cookies(
            [{"name": cookie.key, "value": cookie.value, "url": live_server.url}]
        )
        page.goto("/")
        return page

    return open_desk


@pytest.fixture
def picture(tmp_path: Path) -> Picture:
    """Take a picture of a page, for a person to look at.

    Where REGISTRY_SCREENSHOTS names a directory they are kept there, of whole pages and
    at each width that is asked for; otherwise one of what stands in the window must do.
    """
    wanted = os.environ.get("REGISTRY_SCREENSHOTS")
    place = Path(wanted or tmp_path)
    place.mkdir(parents=True, exist_ok=True)

    def take(page: Page, name: str, *widths: str) -> Path:
        for width in widths if wanted else ():
            page.set_viewport_size({"width": WIDTHS[width], "height": 900})
            page.screenshot(path=place / f"{name}-{WIDTHS[width]}.png", full_page=True)
        page.set_viewport_size({"width": WIDTHS["usual"], "height": 900})
        path = place / f"{name}-{WIDTHS['usual']}.png"
        page.screenshot(path=path, full_page=bool(wanted))
        assert path.stat().st_size > 0
        return path

    return take
