"""The stock account of rooms over a period."""

from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from registry.documents.stock_accounts import (
    AccountRow,
    StockAccount,
    stock_account_csv,
)
from registry.models import CONTENT_TITLES, Election, StrongRoom
from registry.queries.find import the
from registry.queries.keeping import legal_date, legal_zone
from registry.queries.scope import elections_of, rooms_of
from registry.queries.snapshot import hold_one_moment
from registry.queries.stock import Period, stock_account
from registry.rules.powers import Actor, Power
from registry.rules.schedules import ContentKind
from registry.rules.stock import Line
from registry.usecases._door import Mistaken, note_access, usecase
from registry.usecases.papers import Printed

__all__ = ["AccountWanted", "StockAccount", "account_for_stock", "export_stock_account"]


@dataclass(frozen=True)
class AccountWanted:
    """What an account is asked for.

    Attributes:
        room: its register number; empty for every room within the actor's scope.
        first_day: None for the first day of the year of ``last_day``.
        last_day: None for today.
    """

    room: str = ""
    first_day: date | None = None
    last_day: date | None = None


@usecase("report.stock", power=Power.REPORT)
def account_for_stock(
    *, wanted: AccountWanted, actor: Actor, at: datetime
) -> StockAccount:
    """Draw up the account: opening, what came, what went, closing, by room and class.

    It goes by the day on which each change was entered.

    Raises:
        Mistaken: the days do not follow one another, or lie ahead.
    """
    account = _drawn_up(wanted, actor, at)
    note_access(wanted.room, format="screen", lines=len(account.rows))
    return account


@usecase("report.stock", power=Power.REPORT)
def export_stock_account(
    *, wanted: AccountWanted, actor: Actor, at: datetime
) -> Printed:
    """Give out the account as CSV."""
    account = _drawn_up(wanted, actor, at)
    note_access(wanted.room, format="csv", lines=len(account.rows))
    return Printed(
        f"stock-{account.first_day}-{account.last_day}.csv",
        stock_account_csv(account),
        "text/csv; charset=utf-8",
    )


def _drawn_up(wanted: AccountWanted, actor: Actor, at: datetime) -> StockAccount:
    hold_one_moment()
    election = elections_of(actor).order_by("id").first()
    zone = legal_zone(election)
    first_day, last_day = _days(wanted, election, at)
    rooms = list(_rooms(wanted, actor))
    period = Period(_begin(first_day, zone), _begin(last_day + timedelta(1), zone))
    by_id = {room.pk: room for room in rooms}
    lines = stock_account(tuple(by_id), actor, period)
    return StockAccount(
        scope_text=", ".join(str(room) for room in rooms) or "no room",
        first_day=first_day,
        last_day=last_day,
        zone=zone.key,
        made_at=at,
        made_by=f"{actor.name} ({actor.role_title})",
        rows=tuple(_row(line, by_id[line.of.room]) for line in lines),
    )


def _days(
    wanted: AccountWanted, election: Election | None, at: datetime
) -> tuple[date, date]:
    today = legal_date(election, at)
    last_day = wanted.last_day or today
    first_day = wanted.first_day or last_day.replace(month=1, day=1)
    if last_day > today:
        raise Mistaken(last_day="This day has not come yet.")
    if first_day > last_day:
        raise Mistaken(first_day="The first day is after the last one.")
    if first_day.year < 1900:
        raise Mistaken(first_day="Give a day of these times.")
    return first_day, last_day


def _rooms(wanted: AccountWanted, actor: Actor) -> list[StrongRoom]:
    rows = rooms_of(actor).order_by("id")
    return [the(rows, wanted.room, "strong room")] if wanted.room else list(rows)


def _begin(day: date, zone: ZoneInfo) -> datetime:
    return datetime.combine(day, time.min, tzinfo=zone)


def _row(line: Line, room: StrongRoom) -> AccountRow:
    return AccountRow(
        room=room.name,
        room_number=room.number,
        noun=line.of.noun,
        content=CONTENT_TITLES[ContentKind(line.of.kind)],
        line=line,
    )
