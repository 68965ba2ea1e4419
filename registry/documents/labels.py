"""Labels: a code to scan, and every marking in words beside it.

The code holds the register number and nothing else: a scan shows that the container
is there, it gives no power over it and tells nothing about a voter. A label carries
the rule of keeping, never a date, since a case may move the date after printing.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from enum import StrEnum

import segno

from registry.documents.pdf import Paper, pages_of, render

LABELS_TO_A_SHEET = 8

# From the size that reads at arm's length down to the smallest that still prints
# clean at 300 dpi (common practice, no published source).
TEXT_SIZES = ("size-1", "size-2", "size-3", "size-4", "size-5")


class Layout(StrEnum):
    """How labels lie on paper."""

    SHEET = "sheet"  # A4, two across and four down
    SINGLE = "single"  # one label to a page of 105 × 74 mm


class LabelTooLong(ValueError):
    """What must stand on a label does not fit, even in the smallest type."""


@dataclass(frozen=True)
class Label:
    """What stands on one container's label.

    A marking that does not apply to the container is None and gets no line; one that
    applies and is not known is empty and says so. ``keep_rule_text`` names the rule
    of keeping ("45 days from the result, longer while a case is pending"), no date.
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


@dataclass(frozen=True)
class _Printed:
    """A label with its code drawn and its size of type chosen."""

    place: str
    label: Label
    code: str
    size: str


def label_pdf(
    labels: Sequence[Label],
    made_at: datetime,
    made_by: str,
    *,
    layout: Layout = Layout.SHEET,
    first_place: int = 1,
) -> bytes:
    """Return labels as a PDF: sheets of eight, or one to a page.

    Args:
        labels: at least one.
        made_at: when they are printed; stands on each, so that the later one of two
            labels can be told.
        made_by: who prints them.
        layout: sheets or single labels.
        first_place: where to begin on a part-used sheet, 1 (top left) to 8.

    Raises:
        LabelTooLong: a label does not fit; the message names the container.
        ValueError: no label was given, or ``first_place`` is not 1 to 8.
    """
    if not labels:
        raise ValueError("There is no label to print: choose at least one container.")
    if not 1 <= first_place <= LABELS_TO_A_SHEET:
        raise ValueError("A sheet has eight places: begin at a place from 1 to 8.")
    paper = Paper(
        template="documents/labels_single.html",
        facts={},
        title=_title(labels),
        made_at=made_at,
        made_by=made_by,
        sheet="documents/labels.css",
    )
    printed = tuple(
        _Printed(f"label-{place}", label, code_image(label.number), TEXT_SIZES[0])
        for place, label in enumerate(labels)
    )
    printed = _fitted(printed, paper)
    if layout is Layout.SINGLE:
        return render(replace(paper, facts={"labels": printed}))
    sheets = _sheets(printed, first_place)
    facts = {"sheets": sheets}
    return render(replace(paper, template="documents/labels_sheet.html", facts=facts))


def code_image(number: str) -> str:
    """Return the QR code of a register number as an address that holds the picture.

    Level Q and a quiet zone of four modules (ISO/IEC 18004). Eleven characters give
    a code of 21 modules, 29 with the quiet zone: printed 24 mm wide, the code itself
    is 17 mm, which still decodes from a 150 dpi print.
    """
    code = segno.make(number, micro=False, error="q", boost_error=False)
    return code.svg_data_uri(border=4, xmldecl=False, svgns=True)


def _title(labels: Sequence[Label]) -> str:
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
    laid = pages_of(replace(paper, facts={"labels": printed}))
    return frozenset(place for place, pages in laid.items() if len(pages) > 1)


def _smaller(printed: _Printed) -> _Printed:
    """Set a label in the next smaller type; raises LabelTooLong where none is left."""
    step = TEXT_SIZES.index(printed.size) + 1
    if step == len(TEXT_SIZES):
        raise LabelTooLong(
            f"The label of {printed.label.number} does not fit, even in the smallest "
            "type. Shorten the longest of its names, or the note on its seal."
        )
    return replace(printed, size=TEXT_SIZES[step])


def _sheets(
    printed: Sequence[_Printed], first_place: int
) -> list[list[_Printed | None]]:
    """Lay labels on sheets of eight, leaving the places before the first one empty."""
    places: list[_Printed | None] = [None] * (first_place - 1)
    places += printed
    return [
        places[start : start + LABELS_TO_A_SHEET]
        for start in range(0, len(places), LABELS_TO_A_SHEET)
    ]
