"""Looking at the door log, and taking up the form of an opening."""

from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from django.db.models import QuerySet

from registry.models import DoorSession, Permission
from registry.queries.desks import in_force
from registry.queries.door_forms import Offered, offered
from registry.queries.doors import (
    DoorFile,
    DoorRow,
    door_file,
    door_rows,
    door_sessions_of,
)
from registry.queries.find import the
from registry.queries.scope import of_elections_in_scope, rooms_of
from registry.rules.powers import Actor, Power
from registry.usecases._door import note_access, usecase

__all__ = [
    "DoorFile",
    "DoorPage",
    "DoorRow",
    "DoorsWanted",
    "Offered",
    "list_doors",
    "look_at_door",
    "look_before_opening",
    "rooms_to_open",
]

PAGE = 50


@dataclass(frozen=True)
class DoorsWanted:
    """What the door log is narrowed to; empty means any."""

    room: str = ""
    first_day: date | None = None
    last_day: date | None = None
    standing_out: bool = False
    before: int = 0


@dataclass(frozen=True)
class DoorPage:
    """One page of the door log, newest first; ``rooms`` to narrow it to."""

    rows: tuple[DoorRow, ...]
    next_before: int | None
    rooms: tuple[tuple[str, str], ...]


@usecase("door.list", power=Power.LOOK)
def list_doors(
    *, wanted: DoorsWanted, zone: str, actor: Actor, at: datetime
) -> DoorPage:
    """List openings of doors within scope, newest first, a page at a time.

    Args:
        zone: the zone in which the days are meant.
    """
    rows = door_sessions_of(actor).order_by("-opened_at", "-id")
    if wanted.room:
        rows = rows.filter(room__number=wanted.room)
    first, last = wanted.first_day, wanted.last_day
    if first:
        rows = rows.filter(opened_at__gte=_midnight(first, zone))
    if last:
        end = _midnight(last, zone) + timedelta(days=1)
        rows = rows.filter(opened_at__lt=end)
    found, next_before = _page(rows[wanted.before :], wanted, at)
    note_access(
        shown=[row.number for row in found],
        **{name: str(said) for name, said in vars(wanted).items() if said},
    )
    rooms = tuple(rooms_of(actor).order_by("id").values_list("number", "name"))
    return DoorPage(tuple(found), next_before, rooms)


def _midnight(day: date, zone: str) -> datetime:
    return datetime.combine(day, time(), ZoneInfo(zone))


def _page(
    rows: QuerySet[DoorSession], wanted: DoorsWanted, at: datetime
) -> tuple[list[DoorRow], int | None]:
    """Return one page; what stands out is reckoned, so it is picked afterwards."""
    listed = list(rows[: PAGE + 1])
    found = [
        row
        for row in door_rows(listed[:PAGE], at)
        if row.to_look_at or not wanted.standing_out
    ]
    return found, wanted.before + PAGE if len(listed) > PAGE else None


@usecase("door.look", power=Power.SEE_ELECTIONS, subject="session")
def look_at_door(*, session: str, actor: Actor, at: datetime) -> DoorFile:
    """Open the page of one opening of a door."""
    of = the(door_sessions_of(actor), session, "opening of a door")
    file = door_file(of, at)
    note_access(of.number, shown=[row.container for row in file.row.handled])
    return file


@usecase("door.prepare", power=Power.KEEP, subject="room")
def look_before_opening(*, room: str, actor: Actor, at: datetime) -> Offered:
    """Take up the form of an opening; which seals were put on is not told yet."""
    of = the(rooms_of(actor), room, "strong room")
    note_access(of.number)
    scope = of_elections_in_scope(Permission.objects.all(), actor)
    return offered(of, in_force(scope, at.date()), actor)


@usecase("door.rooms", power=Power.KEEP)
def rooms_to_open(*, actor: Actor, at: datetime) -> tuple[tuple[str, str], ...]:
    """List the strong rooms whose doors the actor may open, by number and name."""
    return tuple((room.number, room.name) for room in rooms_of(actor).order_by("id"))
