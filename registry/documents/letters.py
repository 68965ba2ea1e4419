"""Letters that no font of this machine has, spelt out so that none is lost.

A letter without a font would be printed as an empty box, and a marking with empty
boxes says nothing. It is printed as its Unicode number instead: "[U+7801]".
"""

import functools
import logging
import threading
from html import escape

# Every font in use has the Latin letters up to here (from memory).
LAST_LATIN_LETTER = "\u024f"


def spelt_out(text: str) -> str:
    """Return a text with each letter that cannot be printed as its Unicode number."""
    others = "".join(sorted({letter for letter in text if letter > LAST_LATIN_LETTER}))
    lacking = letters_without_font(others) if others else frozenset()
    return text.translate({ord(x): f"[U+{ord(x):04X}]" for x in lacking})


@functools.lru_cache(maxsize=128)
def letters_without_font(letters: str) -> frozenset[str]:
    """Return those of the letters that no font of this machine has.

    WeasyPrint says so in its log alone, so a scrap is printed and its log read.
    """
    from weasyprint import HTML

    watch = _Watch()
    log = logging.getLogger("weasyprint")
    log.addHandler(watch)
    try:
        HTML(string=f"<p>{escape(' '.join(letters))}</p>").write_pdf()
    finally:
        log.removeHandler(watch)
    return frozenset(watch.lacking)


class _Watch(logging.Handler):
    """Gather the letters that WeasyPrint reports while this thread prints."""

    def __init__(self) -> None:
        super().__init__(logging.WARNING)
        self.lacking: set[str] = set()
        self.printing = threading.get_ident()

    def emit(self, record: logging.LogRecord) -> None:
        if record.thread == self.printing and ".notdef" in str(record.msg):
            letter, *_ = record.args or ("",)
            self.lacking.add(str(letter))
