"""Reading tables that people send: CSV and XLSX as they really come.

UTF-8 with or without a byte-order mark, UTF-16 with one, else Windows-1252; commas,
semicolons or tabs; blank lines and other column orders; text cells whose leading
zeros survive. What was assumed is told, so that a person can look.
"""

import csv
import io
import re
import zipfile
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


class UnusableTable(ValueError):
    """The file is no table that can be read; the message says what to do."""


@dataclass(frozen=True)
class Line:
    """One line of a table: its number in the file and its cells by column."""

    number: int
    cells: Mapping[str, str]

    def __getitem__(self, column: str) -> str:
        return self.cells.get(column, "")


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
    if not content.strip():
        raise UnusableTable(f"{file_name} is empty.")
    if len(content) > LARGEST_FILE:
        raise UnusableTable(
            f"{file_name} is larger than {LARGEST_FILE // 2**20} MB. Split it."
        )
    known = _headings(columns)
    if content[:4] == b"PK\x03\x04":
        rows, read_as = _xlsx_rows(content, file_name), "XLSX"
    else:
        text, encoding = _decode(content, file_name)
        rows, read_as = _csv_rows(text, known), f"CSV, {encoding}"
    return _table(rows, file_name, known, required, read_as)


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
    elif b"\x00" in content[:4096]:
        raise UnusableTable(f"{file_name} is neither CSV nor XLSX.")
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
            sheet.iter_rows(max_col=MOST_COLUMNS, max_row=MOST_ROWS, values_only=True),
            start=1,
        ):
            yield number, [_cell(value) for value in row]
    except UnusableTable:
        raise
    except (zipfile.BadZipFile, InvalidFileException, KeyError, IndexError, ValueError,
            OSError) as error:  # fmt: skip
        raise UnusableTable(f"{file_name} cannot be read as XLSX: {error}.") from error


def _cell(value: Any) -> str:
    if value is None:
        return ""
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
            # Cells beyond the head: a stray separator has shifted this line.
            lines.append(Line(number, {"": "more cells than the head has columns"}))
            continue
        cells = {n: c.strip() for n, c in zip(names, row, strict=False) if n}
        lines.append(Line(number, cells))
    if not names:
        raise UnusableTable(f"{file_name} holds no line.")
    columns = tuple(n for n in names if n and not n.startswith("?"))
    unknown = tuple(n[1:] for n in names if n.startswith("?"))
    return TableFile(tuple(lines), columns, read_as, unknown)


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
