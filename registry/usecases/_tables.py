"""Reading tables that people send: CSV and XLSX as they really come.

UTF-8 with or without a byte-order mark, UTF-16 with one, else Windows-1252; commas,
semicolons or tabs; blank lines and other column orders; text cells whose leading
zeros survive. What was assumed is told, so that a person can look.
"""

import csv
import io
import re
import zipfile
import zlib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from openpyxl import load_workbook
from openpyxl.utils.exceptions import InvalidFileException

LARGEST_FILE = 50 * 1024 * 1024
# A small archive can hold a huge sheet; no honest list comes near this.
LARGEST_UNPACKED = 500 * 1024 * 1024
MOST_COLUMNS = 60
MOST_ROWS = 2_000_000


# Our own lists set an apostrophe before these, as spreadsheets do.
_GUARDED = tuple("=+-@")


class UnusableTable(ValueError):
    """The file is no table that can be read; the message says what to do."""


@dataclass(frozen=True)
class Line:
    """One line of a table: its number in the file and its cells by column."""

    number: int
    cells: Mapping[str, str]

    def __getitem__(self, column: str) -> str:
        return self.cells.get(column, "")

    @property
    def name(self) -> str:
        """How the line is called while its container has no register number."""
        return f"line {self.number} of this file"


@dataclass(frozen=True)
class TableFile:
    """A table as read, and what had to be assumed to read it."""

    lines: tuple[Line, ...]
    columns: tuple[str, ...]
    read_as: str
    unknown_columns: tuple[str, ...] = ()


def read_table(
    content: bytes,
    file_name: str,
    columns: Mapping[str, Sequence[str]],
    required: Sequence[str] = (),
) -> TableFile:
    """Read a CSV or XLSX file into lines with our names of columns.

    Args:
        content: the file's bytes.
        file_name: tells XLSX from CSV, with the bytes.
        columns: our name of each column, with other headings it goes by.
        required: columns without which nothing can be done.

    Raises:
        UnusableTable: empty, too large, broken, or a needed column is missing.
    """
    _refuse_unfit(content, file_name)
    known = _headings(columns)
    rows, read_as = _rows(content, file_name, known)
    return _table(rows, file_name, known, required, read_as)


def read_head(content: bytes, file_name: str) -> set[str]:
    """Return the headings of a table, in the form in which they are compared.

    Raises UnusableTable as ``read_table`` does.
    """
    _refuse_unfit(content, file_name)
    rows, _ = _rows(content, file_name, {})
    head = next((row for _, row in rows if any(cell.strip() for cell in row)), [])
    # Without known headings the separator was a guess: try each.
    return {
        _plain(part) for cell in head for part in (cell, *re.split(r"[,;\t|]", cell))
    }


def _refuse_unfit(content: bytes, file_name: str) -> None:
    if not content.strip():
        raise UnusableTable(f"{file_name} is empty.")
    if len(content) > LARGEST_FILE:
        raise UnusableTable(
            f"{file_name} is larger than {LARGEST_FILE // 2**20} MB. Split it."
        )


def _rows(
    content: bytes, file_name: str, known: Mapping[str, str]
) -> tuple[Iterator[tuple[int, list[str]]], str]:
    if content[:4] == b"PK\x03\x04":
        return _xlsx_rows(content, file_name), "XLSX"
    text, encoding = _decode(content, file_name)
    return _csv_rows(text, known), f"CSV, {encoding}"


def _headings(columns: Mapping[str, Sequence[str]]) -> dict[str, str]:
    return {
        _plain(heading): name
        for name, others in columns.items()
        for heading in (name, *others)
    }


def _plain(heading: str) -> str:
    return re.sub(r"[^a-z0-9]+", "", heading.casefold())


def _decode(content: bytes, file_name: str) -> tuple[str, str]:
    if content[:2] in (b"\xff\xfe", b"\xfe\xff"):
        encodings = ["utf-16"]
    elif b"\x00" in content:
        raise UnusableTable(
            f"{file_name} is neither CSV nor XLSX. Open it in the program that made "
            "it and save it as XLSX, or as CSV in UTF-8."
        )
    else:
        encodings = ["utf-8-sig", "cp1252"]
    titles = {"utf-8-sig": "UTF-8", "cp1252": "Windows-1252", "utf-16": "UTF-16"}
    for encoding in encodings:
        try:
            return content.decode(encoding), titles[encoding]
        except UnicodeDecodeError:
            continue
    raise UnusableTable(
        f"{file_name} is written in an unknown encoding. Save it as UTF-8."
    )


def _csv_rows(text: str, known: Mapping[str, str]) -> Iterator[tuple[int, list[str]]]:
    head = next((line for line in text.splitlines() if line.strip()), "")
    delimiter = max(
        ",;\t|",
        key=lambda mark: sum(_plain(cell) in known for cell in head.split(mark)),
    )
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter)
    before = 0
    try:
        for row in reader:
            yield before + 1, row
            before = reader.line_num
    except csv.Error as error:
        raise UnusableTable(
            f"Line {reader.line_num} cannot be read: {error}."
        ) from error


def _xlsx_rows(content: bytes, file_name: str) -> Iterator[tuple[int, list[str]]]:
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as archive:
            if sum(part.file_size for part in archive.infolist()) > LARGEST_UNPACKED:
                raise UnusableTable(f"{file_name} unpacks to far too much. Split it.")
        book = load_workbook(io.BytesIO(content), read_only=True, data_only=True)
        sheet = book.worksheets[0]
        for number, row in enumerate(
            sheet.iter_rows(max_col=MOST_COLUMNS, max_row=MOST_ROWS),
            start=1,
        ):
            yield number, [_cell(cell.value, cell.number_format) for cell in row]
    except UnusableTable:
        raise
    except (zipfile.BadZipFile, zlib.error, InvalidFileException, SyntaxError,
            LookupError, ValueError, TypeError, AttributeError, EOFError,
            OSError, NotImplementedError, RuntimeError) as error:  # fmt: skip
        # Whatever is broken inside the archive, the custodian can only do one thing.
        raise UnusableTable(
            f"{file_name} cannot be read as XLSX: {error}. Open it in a spreadsheet "
            "program and save it again, as XLSX or as CSV in UTF-8."
        ) from error


def _cell(value: Any, number_format: str | None = None) -> str:
    if value is None:
        return ""
    if isinstance(value, int | float) and not isinstance(value, bool):
        # A number shown as 007 by its format was meant as 007.
        padded = number_format and re.fullmatch(r"0{2,}", number_format)
        if padded and float(value).is_integer() and value >= 0:
            return str(int(value)).zfill(len(number_format or ""))
    if isinstance(value, datetime):
        return value.date().isoformat()
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, float) and value.is_integer():
        return str(int(value))
    return str(value)


def _table(
    rows: Iterator[tuple[int, list[str]]],
    file_name: str,
    known: Mapping[str, str],
    required: Sequence[str],
    read_as: str,
) -> TableFile:
    names: list[str] = []
    lines: list[Line] = []
    for number, row in rows:
        if not any(cell.strip() for cell in row):
            continue
        if not names:
            names = _read_head(row, file_name, known, required)
            continue
        if len(row) > len(names) and any(cell.strip() for cell in row[len(names) :]):
            # Cells beyond the head: a stray separator has shifted this line. They
            # are kept under no name, so that the line can be handed back whole.
            spilt = {"": " | ".join(cell.strip() for cell in row[len(names) :])}
        else:
            spilt = {}
        cells = {n: _as_meant(c) for n, c in zip(names, row, strict=False) if n}
        lines.append(Line(number, cells | spilt))
    if not names:
        raise UnusableTable(f"{file_name} holds no line.")
    columns = tuple(n for n in names if n and not n.startswith("?"))
    unknown = tuple(n[1:] for n in names if n.startswith("?"))
    return TableFile(tuple(lines), columns, read_as, unknown)


def _as_meant(cell: str) -> str:
    """Return a cell without the apostrophe that keeps it from being a formula."""
    text = cell.strip()
    return text[1:] if text.startswith("'") and text[1:2] in _GUARDED else text


def _read_head(
    row: Sequence[str],
    file_name: str,
    known: Mapping[str, str],
    required: Sequence[str],
) -> list[str]:
    names = [
        known.get(_plain(cell), f"?{cell.strip()}" if cell.strip() else "")
        for cell in row
    ]
    lacking = [name for name in required if name not in names]
    if lacking:
        raise UnusableTable(
            f"{file_name} lacks the column {', '.join(lacking)}. Its first line must "
            "name the columns; found: "
            f"{', '.join(cell.strip() for cell in row if cell.strip()) or 'nothing'}."
        )
    twice = sorted({n for n in names if n and names.count(n) > 1})
    if twice:
        raise UnusableTable(f"{file_name} has the column {', '.join(twice)} twice.")
    return names
