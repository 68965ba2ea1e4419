"""The stock account as CSV, a line for each room and class of container."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime

from registry.documents.reports import BYTE_ORDER_MARK
from registry.documents.spreadsheet_cells import csv_line, harmless_line
from registry.rules.stock import AWAY, Flow, Line


@dataclass(frozen=True)
class AccountRow:
    """A line of the account, with its names."""

    room: str
    room_number: str
    noun: str
    content: str
    line: Line


@dataclass(frozen=True)
class StockAccount:
    """The account of some rooms over a period.

    Attributes:
        zone: by whose days it is reckoned.
    """

    scope_text: str
    first_day: date
    last_day: date
    zone: str
    made_at: datetime
    made_by: str
    rows: tuple[AccountRow, ...]

    def total(self, flow: Flow) -> int:
        """How many containers came or went in this way."""
        return sum(row.line.flows[flow] for row in self.rows)

    @property
    def opening(self) -> int:
        """All that there was when the period began."""
        return sum(row.line.opening for row in self.rows)

    @property
    def closing(self) -> int:
        """All that there must be at its end."""
        return sum(row.line.closing for row in self.rows)

    @property
    def agrees(self) -> bool:
        """Whether each line agrees with the count of what is on the register."""
        return all(row.line.agrees for row in self.rows)


FLOWS = tuple(Flow)


def stock_account_csv(account: StockAccount) -> bytes:
    """Return the account as CSV (RFC 4180, UTF-8 with a byte order mark)."""
    return "".join(_lines(account)).encode()


def _lines(account: StockAccount) -> Iterator[str]:
    first = account.rows[0] if account.rows else None
    head = tuple(_cells(account, first)) if first else ("first_day", "last_day")
    yield BYTE_ORDER_MARK + csv_line((*head, "escaped"))
    for row in account.rows:
        yield harmless_line(_cells(account, row))


def _cells(account: StockAccount, row: AccountRow) -> dict[str, str | None]:
    line = row.line
    counts = {
        "opening": line.opening,
        **{flow.name.lower(): line.flows[flow] for flow in FLOWS},
        "closing": line.closing,
        "counted": line.counted,
        **{f"of_these_{where.replace('-', '_')}": line.away.get(where, 0)
           for where in AWAY},
    }  # fmt: skip
    return {
        "first_day": account.first_day.isoformat(),
        "last_day": account.last_day.isoformat(),
        "zone": account.zone,
        "room": row.room,
        "room_number": row.room_number,
        "noun": row.noun,
        "content": row.content,
        **{name: str(n) for name, n in counts.items()},
    }
