"""The door log on paper."""

from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from registry.documents.door_logs import (
    DoorLog,
    LoggedOpening,
    LoggedPerson,
    door_log_pdf,
)
from registry.models import DoorSession, StrongRoom
from registry.queries.doors import WITH, DoorRow, door_rows
from registry.queries.find import the
from registry.queries.keys import held_of
from registry.queries.room_doors import moved_behind_a_closed_door
from registry.queries.scope import rooms_of
from registry.rules.powers import Actor, Power
from registry.usecases._door import Mistaken, note_access, usecase
from registry.usecases.papers import Printed


@usecase("door.prepare_log", power=Power.LOOK, subject="room")
def look_before_log(*, room: str, actor: Actor, at: datetime) -> tuple[str, str]:
    """Return number and name of the room whose log is to be printed."""
    of = the(rooms_of(actor), room, "strong room")
    note_access(of.number)
    return of.number, of.name


@usecase("door.print_log", power=Power.LOOK, subject="room")
def print_door_log(
    *,
    room: str,
    first_day: date,
    last_day: date,
    zone: str,
    actor: Actor,
    at: datetime,
) -> Printed:
    """Print the door log of a room, from one day through another.

    Args:
        zone: the zone in which the days are meant and the moments are printed.

    Raises:
        Mistaken: the last day is before the first.
    """
    of = the(rooms_of(actor), room, "strong room")
    if last_day < first_day:
        raise Mistaken(last_day="The last day is before the first.")
    local = ZoneInfo(zone)
    start = datetime.combine(first_day, time(), local)
    end = datetime.combine(last_day, time(), local) + timedelta(days=1)
    sessions = DoorSession.objects.filter(
        room=of, opened_at__gte=start, opened_at__lt=end
    ).select_related(*WITH)
    rows = door_rows(sessions.order_by("opened_at", "id"), at)
    log = DoorLog(
        room=of.name,
        number=of.number,
        first_day=first_day,
        last_day=last_day,
        openings=tuple(_logged(row, local) for row in rows),
        keys=tuple(
            f"{held.key.lock.name}: {held.holder}, {held.appointment}"
            for held in held_of(of)
        ),
        behind_closed_door=_behind(of, start, end, local),
        made_at=at.astimezone(local),
        made_by=actor.name,
    )
    note_access(of.number, shown=[row.number for row in rows])
    name = f"door-log-{of.number}-{first_day}-{last_day}.pdf"
    return Printed(name, door_log_pdf(log))


def _logged(row: DoorRow, zone: ZoneInfo) -> LoggedOpening:
    return LoggedOpening(
        number=row.number,
        opened_at=row.opened_at.astimezone(zone),
        closed_at=row.closed_at.astimezone(zone) if row.closed_at else None,
        purpose=row.purpose_title,
        permission=" ".join(filter(None, [row.permission, row.permission_title])),
        first=row.first,
        second=row.second,
        confirmed=_confirmed(row, zone),
        seals_found=row.seals_found,
        compared=row.seals_title,
        seals_put_on=row.seals_put_on,
        camera=row.camera_reference,
        done=row.done,
        waste=row.waste_title,
        present=tuple(
            LoggedPerson(
                ", ".join(filter(None, [one.name, one.post])),
                one.came_at.astimezone(zone),
                one.left_at.astimezone(zone) if one.left_at else None,
                one.escort,
            )
            for one in row.present
        ),
        signs=tuple(sign.text for sign in row.signs),
    )


def _confirmed(row: DoorRow, zone: ZoneInfo) -> str:
    if not row.second:
        return ""
    if row.second_confirmed_at:
        return f"confirmed {row.second_confirmed_at.astimezone(zone):%H:%M}"
    return "not confirmed" if row.second_has_account else "has no log-in"


def _behind(
    room: StrongRoom, start: datetime, end: datetime, zone: ZoneInfo
) -> tuple[str, ...]:
    moves = moved_behind_a_closed_door(room, start).filter(occurred_at__lt=end)
    return tuple(
        f"{(move.box or move.envelope).number}, {move.get_act_display()} "  # type: ignore[union-attr]
        f"{move.occurred_at.astimezone(zone):%-d %B %Y, %H:%M} "
        f"({move.from_place or 'not said'} to {move.to_place or 'not said'}), "
        f"{move.number}"
        for move in moves.order_by("occurred_at", "id")
    )
