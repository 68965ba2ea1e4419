"""Read a TOML text key by key, collecting every problem with its file, line and key.

``tomllib`` gives values without their lines, so the lines are found by scanning the
text for the key within its table. A reader gets a stand-in value for what is wrong
and goes on, so that the person who wrote the file sees all that is wrong at once.
"""

import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from enum import StrEnum
from typing import Any, TypeVar

Path = tuple[str | int, ...]
Word = TypeVar("Word", bound=StrEnum)

_HEADER = re.compile(r"\s*(\[\[?)\s*([^\[\]]+?)\s*\]\]?\s*(?:#.*)?$")
_KEY = re.compile(r"""\s*["']?([A-Za-z0-9_-]+)["']?\s*=""")
_BROKEN_AT = re.compile(r"\(at line (\d+)")
_QUOTES = ('"""', "'''")


@dataclass(frozen=True, order=True)
class Problem:
    """One thing that is wrong in a file, and what to do about it."""

    file: str
    line: int
    key: str
    message: str

    def __str__(self) -> str:
        return f"{self.file}, line {self.line}, {self.key}: {self.message}"


@dataclass
class Document:
    """A TOML text, the lines of its keys, and the problems found so far."""

    file: str
    values: Mapping[str, Any]
    lines: Mapping[Path, int]
    problems: list[Problem] = field(default_factory=list)

    @property
    def root(self) -> "Table":
        """The table of the keys that stand before the first header."""
        return Table(self, (), self.values)

    def line_of(self, path: Path) -> int:
        """Return the line of this key, or of the nearest table that holds it."""
        while path and path not in self.lines:
            path = path[:-1]
        return self.lines.get(path, 1)


def read_document(text: str, file: str) -> Document:
    """Read the text; where it is no TOML at all, the document's only problem says so.

    Args:
        text: the whole file.
        file: its name, as the person who wrote it knows it.
    """
    try:
        values = tomllib.loads(text.removeprefix("\ufeff"))
    except (ValueError, RecursionError) as error:
        found = _BROKEN_AT.search(str(error))
        line = int(found[1]) if found else max(1, len(text.splitlines()))
        message = f"cannot be read as TOML ({error}). Mend this line and load again."
        return Document(file, {}, {}, [Problem(file, line, "syntax", message)])
    return Document(file, values, _lines(text))


def _lines(text: str) -> dict[Path, int]:
    """Find the line of each table header and each key, by its path."""
    lines: dict[Path, int] = {}
    seen: dict[Path, int] = {}
    table: Path = ()
    inside = ""
    for number, line in enumerate(text.splitlines(), start=1):
        was_inside = inside
        inside = _string_left_open(line, inside)
        if was_inside:
            continue
        if header := _HEADER.match(line):
            table = _path(header[2], seen)
            if header[1] == "[[":
                seen[table] = seen.get(table, -1) + 1
                table += (seen[table],)
            lines.setdefault(table, number)
        elif key := _KEY.match(line):
            lines.setdefault((*table, key[1]), number)
    return lines


def _path(header: str, seen: Mapping[Path, int]) -> Path:
    """Return the path of a header; inside a list of tables the latest one is meant."""
    *above, last = (part.strip().strip("\"'") for part in header.split("."))
    path: Path = ()
    for part in above:
        path += (part,)
        if path in seen:
            path += (seen[path],)
    return (*path, last)


def _string_left_open(line: str, inside: str) -> str:
    """Return the quotes of the many-line string that is open after this line."""
    for quotes in _QUOTES:
        if inside in ("", quotes) and line.count(quotes) % 2:
            return "" if inside else quotes
    return inside


@dataclass
class Table:
    """One table of a document, read key by key; ``finish`` names what was not read."""

    document: Document
    path: Path
    values: Mapping[str, Any]
    read: set[str] = field(default_factory=set)

    def wrong(self, key: str, message: str) -> None:
        """Note a problem with this key."""
        where = ".".join(
            f"{part + 1}" if isinstance(part, int) else part
            for part in (*self.path, key)
        )
        line = self.document.line_of((*self.path, key))
        problem = Problem(self.document.file, line, where, message)
        self.document.problems.append(problem)

    def text(self, key: str, default: str | None = None) -> str:
        """Return the text under the key; an empty one counts as missing."""
        value = self._value(key, "a text in quotes", default)
        if isinstance(value, str) and (value.strip() or value == default):
            return value.strip()
        if value is not None:
            self.wrong(key, "must be a text in quotes that is not empty.")
        return ""

    def whole(
        self, key: str, default: int | None = None, *, least: int, most: int
    ) -> int:
        """Return the whole number under the key, from ``least`` to ``most``."""
        value = self._value(key, "a whole number", default)
        is_whole = isinstance(value, int) and not isinstance(value, bool)
        if is_whole and least <= value <= most:
            return int(value)
        if value is not None:
            self.wrong(key, f"must be a whole number from {least} to {most}.")
        return least

    def flag(self, key: str, default: bool | None = None) -> bool:
        """Return whether the key is ``true``."""
        value = self._value(key, "true or false", default)
        if isinstance(value, bool):
            return value
        if value is not None:
            self.wrong(key, "must be true or false, without quotes.")
        return False

    def day(self, key: str) -> date:
        """Return the date under the key."""
        value = self._value(key, "a date such as 2024-03-01")
        if isinstance(value, date) and not isinstance(value, datetime):
            return value
        if value is not None:
            self.wrong(key, "must be a date such as 2024-03-01, without quotes.")
        return date.min

    def word(self, key: str, words: type[Word], default: Word | None = None) -> Word:
        """Return the one of these words that stands under the key."""
        value = self._value(key, f"one of {_listed(words)}", default)
        if isinstance(value, str) and value in list(words):
            return words(value)
        if value is not None:
            self.wrong(key, f"is {value!r}; it must be one of {_listed(words)}.")
        return next(iter(words))

    def words(self, key: str, words: type[Word]) -> tuple[Word, ...]:
        """Return the list of these words under the key; it holds at least one."""
        value = self._value(key, f"a list out of {_listed(words)}")
        if value is None:
            return ()
        if not isinstance(value, list) or not value:
            self.wrong(key, f"must be a list with at least one of {_listed(words)}.")
            return ()
        unknown = [item for item in value if item not in list(words)]
        for item in unknown:
            self.wrong(key, f"holds {item!r}; it may hold {_listed(words)}.")
        return tuple(words(item) for item in value if item not in unknown)

    def table(self, key: str) -> "Table":
        """Return the table under the key; an empty one where it is missing."""
        value = self._value(key, f"a table, headed [{key}]")
        if value is not None and not isinstance(value, dict):
            self.wrong(key, f"must be a table, headed [{key}].")
            value = None
        return Table(self.document, (*self.path, key), value or {})

    def table_if_any(self, key: str) -> "Table":
        """Return the table under the key; an empty one, and no problem, if missing."""
        if key in self.values:
            return self.table(key)
        self.read.add(key)
        return Table(self.document, (*self.path, key), {})

    def tables(self, key: str) -> tuple["Table", ...]:
        """Return the tables headed ``[[key]]``; none is allowed."""
        value = self._value(key, "", default=[])
        rows = value if isinstance(value, list) else [value]
        if not all(isinstance(row, dict) for row in rows):
            self.wrong(key, f"must be tables, each headed [[{key}]].")
            return ()
        path = (*self.path, key)
        return tuple(
            Table(self.document, (*path, index), row) for index, row in enumerate(rows)
        )

    def finish(self) -> None:
        """Note every key that nobody asked for: a mistyped key must not pass."""
        for key in self.values:
            if key not in self.read:
                known = ", ".join(sorted(self.read))
                self.wrong(key, f"is not known here; the keys are {known}.")

    def _value(self, key: str, kind: str, default: object = None) -> Any:
        self.read.add(key)
        if key not in self.values:
            if default is None:
                self.wrong(key, f"is missing; write {kind}.")
            return default
        return self.values[key]


def _listed(words: type[StrEnum]) -> str:
    return ", ".join(words)
