"""Hands on a keyboard and a scanner: nothing here touches the mouse."""

from datetime import date, datetime

from playwright.sync_api import Page

# What a person would call a thing: its label, or its words.
_NAME = """thing => {
  const labels = [...(thing.labels ?? [])].map(label => label.textContent).join(" ");
  const words = labels || thing.getAttribute("aria-label") || thing.textContent;
  return (words ?? "").replace(/\\s+/g, " ").trim();
}"""
_FOCUS = "document.activeElement ?? document.body"
# Whether it has the focus, and whether it stands before the thing that has.
_IS_IT_HERE = f"""([name, what]) => {{
  const nameOf = {_NAME};
  const fits = thing => thing.matches(what)
    && nameOf(thing).toLowerCase().startsWith(name.toLowerCase());
  const focus = {_FOCUS};
  if (focus !== document.body && fits(focus)) return "here";
  const first = [...document.querySelectorAll(what)]
    .find(thing => thing.tabIndex >= 0 && thing.checkVisibility() && fits(thing));
  if (!first) return "nowhere";
  const order = focus.compareDocumentPosition(first);
  return order & Node.DOCUMENT_POSITION_PRECEDING ? "before" : "after";
}}"""
_CAN_BE_REACHED = "a[href], button, input, select, textarea, summary"
_LEADS_ON = "a[href], button"
_MANY = 250


def focus_name(page: Page) -> str:
    """What has the focus, as a person would name it."""
    return page.evaluate(f"({_NAME})({_FOCUS})")


def tab_to(page: Page, name: str, what: str = _CAN_BE_REACHED) -> None:
    """Press Tab, or Shift and Tab, until what has the focus has a name that begins so.

    Args:
        what: a CSS selector that says what kind of thing is looked for.
    """
    for _ in range(_MANY):
        where = page.evaluate(_IS_IT_HERE, [name, what])
        assert where != "nowhere", f"{page.url} has nothing named {name!r}"
        if where == "here":
            return
        page.keyboard.press("Shift+Tab" if where == "before" else "Tab")
    raise AssertionError(f"{page.url}: Tab never reaches {name!r}")


def follow(page: Page, name: str) -> None:
    """Tab to a link or a button, press Enter, and wait for the page it leads to."""
    tab_to(page, name, _LEADS_ON)
    enter(page)


def enter(page: Page) -> None:
    """Press Enter where it sends something, and wait for the answer."""
    with page.expect_navigation():
        page.keyboard.press("Enter")


def scan(page: Page, code: str) -> None:
    """What a handheld scanner does: type a code very fast and press Enter."""
    _wait_for_a_field(page)
    page.keyboard.type(code)
    page.keyboard.press("Enter")


def last_scan(page: Page, code: str) -> None:
    """The scan after which the form is sent."""
    _wait_for_a_field(page)
    page.keyboard.type(code)
    enter(page)


def _wait_for_a_field(page: Page) -> None:
    # The browser gives a new page's first field the focus a moment after loading it;
    # nobody scans faster than that, but this program would.
    page.wait_for_function("() => document.activeElement?.matches('input')")


def find(page: Page, code: str) -> None:
    """Scan a code into the search box, which stands on every page."""
    tab_to(page, "Find or scan")
    page.keyboard.press("Control+A")
    last_scan(page, code)


def write(page: Page, label: str, text: str) -> None:
    """Tab to a field and type; what stood there goes."""
    tab_to(page, label, "input, textarea")
    page.keyboard.press("Control+A")
    page.keyboard.type(text)


def choose(page: Page, label: str, words: str) -> None:
    """Tab to a list and choose by typing the beginning of the choice."""
    tab_to(page, label, "select")
    page.keyboard.type(words)
    chosen = page.evaluate("() => document.activeElement.selectedOptions[0].label")
    assert chosen.startswith(words), f"{label}: {chosen!r} was chosen"


def write_day(page: Page, label: str, day: date) -> None:
    """Tab to a day and type it, in the order in which the browser shows its parts."""
    tab_to(page, label, "[type=date]")
    for order in ("%d%m%Y", "%m%d%Y"):
        page.keyboard.type(f"{day:{order}}")
        typed = page.evaluate("() => document.activeElement.value")
        if typed == day.isoformat():
            return
        page.keyboard.press("ArrowLeft")
        page.keyboard.press("ArrowLeft")
    raise AssertionError(f"{label}: {typed!r} was entered")


def write_moment(page: Page, label: str, at: datetime) -> None:
    """Tab to a day with a time and type both; AM and PM, where the browser asks."""
    field = "[type=datetime-local]"
    for order in ("%d%m%Y", "%m%d%Y"):
        tab_to(page, label, field)
        page.keyboard.type(f"{at:{order}}")
        page.keyboard.press("Tab")
        page.keyboard.type(f"{at:%I%M%p}")
        typed = page.evaluate("() => document.activeElement.value")
        if typed == f"{at:%Y-%m-%dT%H:%M}":
            return
        while page.evaluate("what => document.activeElement.matches(what)", field):
            page.keyboard.press("Shift+Tab")
    raise AssertionError(f"{label}: {typed!r} was entered")


def tick(page: Page, label: str) -> None:
    """Tab to a box and press the space bar; leave it where it is ticked already."""
    tab_to(page, label, "[type=checkbox]")
    if not page.evaluate("() => document.activeElement.checked"):
        page.keyboard.press("Space")
    assert page.evaluate("() => document.activeElement.checked"), label
