"""Labels: a code to scan, and every marking in words beside it.

The code holds the register number and nothing else: a scan shows that the container
is there, it gives no power over it and tells nothing about a voter. A label carries
the rule of keeping, never a date, since a case may move the date after printing.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime

import segno

from registry.documents.label_stocks import STOCKS, USUAL, Stock
from registry.documents.pdf import Paper, pages_of, render

# Wide labels are short ones with more room, tiny ones those with still fewer words.
_LOOKS = {"wide": "short wide", "tiny": "short tiny"}
# From the size that reads at arm's length down to the smallest that still prints
# clean at 300 dpi (common practice, no published source).
TEXT_SIZES = ("size-1", "size-2", "size-3", "size-4", "size-5")


class LabelTooLong(ValueError):
    """What must stand on a label does not fit, even in the smallest type."""


@dataclass(frozen=True)
class Label:
    """What stands on one container's label.

    A marking that does not apply to the container is None and gets no line; one that
    applies and is not known is empty and says so. ``keep_rule_text`` names the rule
    of keeping ("45 days from the result, longer while a case is pending"), no date;
    ``keep_rule_short`` its clause, for small labels. ``copy`` counts the labels of
    this number that were printed, this one included.
    """

    number: str
    noun: str
    content_title: str
    election: str
    constituency: str
    station: str | None
    control_unit: str | None
    paper_trail_unit: str | None
    polled_on: date | None
    counted_on: date | None
    sealed_on: date | None
    seal_text: str
    keep_rule_text: str
    keep_rule_short: str = ""
    seal_place: str = ""
    copy: int = 1

    @property
    def template(self) -> str:
        """How it is laid out."""
        return "documents/label.html"

    @property
    def told(self) -> str:
        """What it is for, in one line."""
        parts = (self.content_title, self.constituency, self.station)
        return ", ".join(filter(None, parts))


@dataclass(frozen=True)
class PlainLabel:
    """The label of a shelf, a bay, a room or a set of units: its number, large."""

    number: str
    noun: str
    title: str
    lines: tuple[str, ...] = ()
    copy: int = 1

    @property
    def template(self) -> str:
        """How it is laid out."""
        return "documents/label_plain.html"

    @property
    def told(self) -> str:
        """What it is for, in one line."""
        return ", ".join((self.title, *self.lines))


AnyLabel = Label | PlainLabel


@dataclass(frozen=True)
class _Printed:
    """A label with its code drawn and its size of type chosen."""

    place: str
    label: AnyLabel
    code: str
    size: str


@dataclass(frozen=True)
class _Placed:
    """A label at its place on a page, in millimetres."""

    left: str
    top: str
    printed: _Printed


def label_pdf(
    labels: Sequence[AnyLabel],
    made_at: datetime,
    made_by: str,
    *,
    stock: Stock = STOCKS[USUAL],
    first_place: int = 1,
) -> bytes:
    """Return labels as a PDF, laid out for a stock of labels.

    Args:
        labels: at least one.
        made_at: when they are printed; stands on each, so that the later one of two
            labels can be told.
        made_by: who prints them.
        stock: the sheet or roll that lies in the printer.
        first_place: where to begin on a part-used sheet, 1 is the top left; counted
            row by row.

    Raises:
        LabelTooLong: a label does not fit; the message names the container.
        ValueError: no label was given, or the sheet has no such place.
    """
    if not labels:
        raise ValueError("There is no label to print: choose at least one container.")
    if not 1 <= first_place <= stock.places:
        raise ValueError(
            f"This stock has {stock.places} places to a page: begin at a place from 1 "
            f"to {stock.places}."
        )
    alone = Paper(
        template="documents/labels_alone.html",
        facts={"stock": _in_millimetres(stock)},
        title=_title(labels),
        made_at=made_at,
        made_by=made_by,
        sheet="documents/labels.css",
    )
    printed = tuple(
        _Printed(f"label-{place}", label, code_image(label.number), TEXT_SIZES[0])
        for place, label in enumerate(labels)
    )
    pages = list(_pages(_fitted(printed, alone), stock, first_place))
    facts = {**alone.facts, "pages": pages}
    return render(replace(alone, template="documents/labels.html", facts=facts))


def code_image(number: str) -> str:
    """Return the QR code of a register number as an address that holds the picture.

    Level Q and a quiet zone of four modules (ISO/IEC 18004). Eleven characters give
    a code of 21 modules, 29 with the quiet zone: printed 22 mm wide, the code itself
    is 16 mm, which still decodes from a 150 dpi print.
    """
    code = segno.make(number, micro=False, error="q", boost_error=False)
    return code.svg_data_uri(border=4, xmldecl=False, svgns=True)


def _in_millimetres(stock: Stock) -> dict[str, str]:
    """Return the measures of a stock as a style sheet takes them."""
    names = ("page_width", "page_height", "width", "height")
    measures = {name: f"{getattr(stock, name):.2f}mm" for name in names}
    look = _LOOKS.get(stock.design, stock.design)
    return {**measures, "design": stock.design, "look": look}


def _title(labels: Sequence[AnyLabel]) -> str:
    numbers = [label.number for label in labels]
    if len(numbers) == 1:
        return f"Label for {numbers[0]}"
    return f"Labels for {numbers[0]} to {numbers[-1]}"


def _fitted(printed: tuple[_Printed, ...], paper: Paper) -> tuple[_Printed, ...]:
    """Set each label in the largest type in which it fits; ``paper`` is for singles."""
    fitted = {label.place: label for label in printed}
    spilling = _spilling(printed, paper)
    while spilling:
        smaller = {place: _smaller(fitted[place]) for place in sorted(spilling)}
        fitted |= smaller
        spilling = _spilling(tuple(smaller.values()), paper)
    return tuple(fitted.values())


def _spilling(printed: tuple[_Printed, ...], paper: Paper) -> frozenset[str]:
    """Return the places of the labels that do not fit on their page."""
    laid = pages_of(replace(paper, facts={**paper.facts, "labels": printed}))
    return frozenset(place for place, pages in laid.items() if len(pages) > 1)


def _smaller(printed: _Printed) -> _Printed:
    """Set a label in the next smaller type; raises LabelTooLong where none is left."""
    step = TEXT_SIZES.index(printed.size) + 1
    if step == len(TEXT_SIZES):
        raise LabelTooLong(
            f"The label of {printed.label.number} does not fit, even in the smallest "
            "type. Choose a larger label, or shorten the longest of its names or the "
            "note on its seal."
        )
    return replace(printed, size=TEXT_SIZES[step])


def _pages(
    printed: Sequence[_Printed], stock: Stock, first_place: int
) -> Iterator[list[_Placed]]:
    """Lay labels on pages, leaving the places before the first one empty."""
    page: list[_Placed] = []
    for index, label in enumerate(printed, start=first_place - 1):
        place = index % stock.places + 1
        if place == 1 and page:
            yield page
            page = []
        left, top = stock.corner(place)
        page.append(_Placed(f"{left:.2f}mm", f"{top:.2f}mm", label))
    yield page
