"""No page needs what the Content-Security-Policy forbids."""

import re

from django.conf import settings

TEMPLATES = settings.ROOT / "templates"
# Printed by WeasyPrint, never sent to a browser.
PAPER = TEMPLATES / "documents"
INLINE = {
    "a script without src": re.compile(r"<script(?![^>]*\bsrc=)", re.IGNORECASE),
    "an event handler": re.compile(r"<[^>]*\son[a-z]+\s*=", re.IGNORECASE),
    "a javascript: address": re.compile(r"javascript:", re.IGNORECASE),
    "a style element": re.compile(r"<style\b", re.IGNORECASE),
    "a style attribute": re.compile(r"<[^>]*\sstyle\s*=", re.IGNORECASE),
}


def offences(text):
    return [name for name, pattern in INLINE.items() if pattern.search(text)]


def test_no_template_holds_inline_script_or_style():
    guilty = {
        str(path.relative_to(TEMPLATES)): found
        for path in TEMPLATES.rglob("*.html")
        if PAPER not in path.parents and (found := offences(path.read_text()))
    }
    assert not guilty


def test_the_search_for_inline_script_finds_it():
    page = '<a href="javascript:x" onclick="y" style="z"><style></style><script>'
    assert offences(page) == list(INLINE)
    assert not offences('<script src="a.js" defer></script><p class="style on">')
