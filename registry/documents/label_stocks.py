"""Label sheets and label rolls, as data: where each label lies on its page.

Sizes in millimetres. A4 is ISO 216; every other size is common practice, no published
source: lay a print on plain paper over the sheet before the first label is used.
"""

from dataclasses import dataclass

INCH = 25.4


@dataclass(frozen=True)
class Stock:
    """A sheet of labels, or a roll of single ones (one place on a page of its size).

    Attributes:
        width, height: of one label.
        left, top: where the first label begins on the page.
        gap, line_gap: between two labels side by side, and one above the other.
        design: how much stands on a label and how large: "large", "full",
            "wide", "short" or "tiny".
    """

    code: str
    title: str
    page_width: float
    page_height: float
    columns: int
    rows: int
    width: float
    height: float
    left: float = 0
    top: float = 0
    gap: float = 0
    line_gap: float = 0
    design: str = "full"

    @property
    def places(self) -> int:
        """How many labels a page holds."""
        return self.columns * self.rows

    def corner(self, place: int) -> tuple[float, float]:
        """Return the left and upper edge of a place, counted from 1, row by row."""
        row, column = divmod(place - 1, self.columns)
        return (
            self.left + column * (self.width + self.gap),
            self.top + row * (self.height + self.line_gap),
        )


def _a4(
    columns: int, rows: int, width: float, height: float, design: str, **where: float
) -> Stock:
    size = f"{width:g} × {height:g} mm"
    return Stock(
        code=f"a4-{columns}x{rows}",
        title=f"A4 sheet, {columns * rows} labels of {size}",
        page_width=210,
        page_height=297,
        columns=columns,
        rows=rows,
        width=width,
        height=height,
        design=design,
        **where,
    )


def _letter(
    columns: int, rows: int, size: tuple[float, float], design: str, **where: float
) -> Stock:
    """Return a sheet of US Letter, 8½ × 11 inches; ``size`` is in inches."""
    width, height = size
    return Stock(
        code=f"letter-{columns}x{rows}",
        title=f"US Letter sheet, {columns * rows} labels of {width:g} × {height:g} in",
        page_width=8.5 * INCH,
        page_height=11 * INCH,
        columns=columns,
        rows=rows,
        width=width * INCH,
        height=height * INCH,
        design=design,
        **{name: value * INCH for name, value in where.items()},
    )


def _single(width: float, height: float, design: str) -> Stock:
    return Stock(
        code=f"single-{width:.0f}x{height:.0f}",
        title=f"Label printer, {width:g} × {height:g} mm",
        page_width=width,
        page_height=height,
        columns=1,
        rows=1,
        width=width,
        height=height,
        design=design,
    )


STOCKS = {
    stock.code: stock
    for stock in (
        _a4(2, 4, 105, 74, "full"),
        _a4(2, 2, 105, 148, "large"),
        _a4(2, 5, 99.1, 57, "wide", left=4.65, top=6, gap=2.5),
        _a4(2, 7, 99.1, 38.1, "wide", left=4.65, top=15.15, gap=2.5),
        _a4(3, 7, 63.5, 38.1, "short", left=7.25, top=15.15, gap=2.5),
        _letter(2, 3, (4, 3.33), "full", left=0.156, top=0.5, gap=0.188),
        _letter(2, 5, (4, 2), "wide", left=0.156, top=0.5, gap=0.188),
        _letter(3, 10, (2.625, 1), "tiny", left=0.188, top=0.5, gap=0.125),
        _single(100, 150, "large"),
        _single(105, 74, "full"),
        _single(100, 50, "wide"),
        _single(62, 29, "tiny"),
    )
}
USUAL = "a4-2x4"
