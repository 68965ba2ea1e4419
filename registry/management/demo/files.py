"""The demo's files, their dates laid relative to today.

The files in ``fixtures/demo`` stand as offices would send them, with the dates of a
poll on 1 March 2025. A copy is made in which every date of that year is moved by the
same number of whole weeks, so that the demo is alive on any day; everything else
stays to the byte.
"""

import io
import re
from collections.abc import Callable
from datetime import date, timedelta
from pathlib import Path

from openpyxl import load_workbook

FILES = Path(__file__).resolve().parents[3] / "fixtures" / "demo"
POLL_IN_FILES = date(2025, 3, 1)
# Long enough ago for the shorter periods of the schedule to be over.
POLL_BEFORE_TODAY = timedelta(days=420)

_DATES = re.compile(r"\b(2025)-(\d\d)-(\d\d)\b|\b(\d\d)([/.])(\d\d)[/.](2025)\b")


def poll_day(today: date) -> date:
    """Return the demo's day of poll: some 420 days ago, on the files' weekday."""
    return POLL_IN_FILES + _shift(today)


def _shift(today: date) -> timedelta:
    wanted = today - POLL_BEFORE_TODAY - POLL_IN_FILES
    return timedelta(weeks=wanted.days // 7)


def file_of(name: str, today: date) -> bytes:
    """Return a file of the demo with its dates moved."""
    content = (FILES / name).read_bytes()
    move = _mover(_shift(today))
    if name.endswith(".xlsx"):
        return _moved_workbook(content, move)
    # Latin-1 keeps every byte as it is, whatever the file's own encoding.
    return move(content.decode("latin-1")).encode("latin-1")


def _mover(shift: timedelta) -> Callable[[str], str]:
    def moved(found: re.Match[str]) -> str:
        if found[1]:
            day = date(int(found[1]), int(found[2]), int(found[3])) + shift
            return day.isoformat()
        day = date(int(found[7]), int(found[6]), int(found[4])) + shift
        return day.strftime(f"%d{found[5]}%m{found[5]}%Y")

    return lambda text: _DATES.sub(moved, text)


def _moved_workbook(content: bytes, move: Callable[[str], str]) -> bytes:
    book = load_workbook(io.BytesIO(content))
    for row in book.worksheets[0].iter_rows():
        for cell in row:
            if isinstance(cell.value, str):
                cell.value = move(cell.value)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()
