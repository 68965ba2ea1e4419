"""How dates, numbers and counts are written on a page. Formatting only."""

import re
from collections.abc import Iterable
from datetime import date, datetime
from itertools import zip_longest

from django import template
from django.utils.dateformat import format as written_date
from django.utils.html import format_html
from django.utils.safestring import SafeString

register = template.Library()

NOT_KNOWN = "not known"

# Two letters for the kind, six digits, one check character. Only the shape is
# judged here, to choose the typeface; `registry.rules` checks the number itself.
REGISTER_NUMBER = re.compile(r"[A-Z]{2}-\d{6}-[0-9A-Z]")


@register.filter(expects_localtime=True)
def long_date(value: date | None) -> str:
    """Write a date as "5 March 2026"; without one, say that it is not known."""
    if not value:
        return NOT_KNOWN
    return format_html(
        '<time datetime="{}">{}</time>',
        written_date(value, "Y-m-d"),
        written_date(value, "j F Y"),
    )


@register.filter(expects_localtime=True)
def long_moment(value: datetime | None) -> str:
    """Write a moment as "5 March 2026, 14:05", in the time zone of the page."""
    if not value:
        return NOT_KNOWN
    return format_html(
        '<time datetime="{}">{}</time>',
        value.isoformat(timespec="seconds"),
        written_date(value, "j F Y, H:i"),
    )


@register.filter
def register_number(value: object) -> str:
    """Set a register number, serial or seal number in the typeface for codes."""
    return format_html('<span class="number">{}</span>', value) if value else NOT_KNOWN


@register.filter
def count_of(count: int, words: str) -> str:
    """Write a count with its word: `{{ 1|count_of:"box,boxes" }}` gives "1 box".

    Raises ValueError where `words` is not "one,many": the template is wrong.
    """
    one, many = words.split(",")
    return f"{count:,} {one if count == 1 else many}"


@register.filter(expects_localtime=True)
def as_read(value: object) -> object:
    """Write any plain value as a person reads it; nothing becomes "not known"."""
    match value:
        case None | "":
            return NOT_KNOWN
        case SafeString():
            return value
        case bool():
            return "yes" if value else "no"
        case datetime():
            return long_moment(value)
        case date():
            return long_date(value)
        case str() if REGISTER_NUMBER.fullmatch(value):
            return register_number(value)
    return value


@register.filter
def beside(
    row: Iterable[object], columns: Iterable[str]
) -> list[tuple[object, object]]:
    """Pair each cell of a row with its column's label."""
    return list(zip_longest(columns, row, fillvalue=""))
