"""Cells of a CSV file that no spreadsheet program takes for a formula."""

import csv
from collections.abc import Iterable, Mapping
from io import StringIO

# = + - @ TAB CR: the OWASP list. NUL: OWASP ASVS 5.0, 1.2.10. Line feed and the
# full-width signs, which some East Asian settings read as formulas: from memory.
FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r", "\0", "\n", "＝", "＋", "－", "＠")


def harmless(
    cells: Mapping[str, str | None],
) -> tuple[dict[str, str], tuple[str, ...]]:
    """Return the cells with an apostrophe before what looks like a formula.

    Args:
        cells: texts by column; None is an empty cell.

    Returns:
        The cells to write, and the names of the columns that were altered: ``-5`` and
        ``+91…`` are honest values, and whoever reads the file must be able to tell.
    """
    texts = {name: text or "" for name, text in cells.items()}
    altered = tuple(name for name in texts if texts[name].startswith(FORMULA_STARTS))
    return texts | {name: f"'{texts[name]}" for name in altered}, altered


def csv_line(cells: Iterable[str]) -> str:
    """Return one line of CSV with its CRLF, every cell in quotes (RFC 4180).

    Without the quotes a program that parts cells by semicolons would find a formula
    in the middle of an honest cell.
    """
    line = StringIO()
    csv.writer(line, quoting=csv.QUOTE_ALL, lineterminator="\r\n").writerow(cells)
    return line.getvalue()


def harmless_line(cells: Mapping[str, str | None], *more: str) -> str:
    """Return one line of CSV: the cells made harmless, then which of them were altered.

    Args:
        more: what stands after them in every line, such as a note.
    """
    written, altered = harmless(cells)
    return csv_line((*written.values(), " ".join(altered), *more))
