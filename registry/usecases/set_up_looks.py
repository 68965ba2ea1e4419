"""Looking at what is set up: elections, contests and rooms; opening forms."""

from dataclasses import dataclass, replace
from datetime import datetime

from registry.models import CourtCalendar, RetentionSchedule, Shelf
from registry.queries.find import the
from registry.queries.room_doors import room_door
from registry.queries.scope import contests_of, elections_of, rooms_of
from registry.queries.set_up import (
    ElectionFile,
    ElectionRow,
    RoomFile,
    RoomRow,
    StationList,
    election_file,
    election_rows,
    room_file,
    room_rows,
    station_list,
)
from registry.queries.shelves import ShelfFile, sees_whole_rooms, shelf_file
from registry.rules.powers import Actor, Power
from registry.usecases._door import note_access, usecase


@usecase("election.list", power=Power.SEE_ELECTIONS)
def list_elections(*, actor: Actor, at: datetime) -> tuple[ElectionRow, ...]:
    """List the elections within the actor's scope."""
    return election_rows(elections_of(actor))


@usecase("election.look", power=Power.SEE_ELECTIONS, subject="election")
def look_at_election(*, election: str, actor: Actor, at: datetime) -> ElectionFile:
    """Open an election's page."""
    rows = elections_of(actor).select_related("schedule", "calendar")
    of = the(rows, election, "election")
    note_access(of.number)
    return election_file(of)


@usecase("station.list", power=Power.SEE_ELECTIONS, subject="contest")
def list_stations(*, contest: str, actor: Actor, at: datetime) -> StationList:
    """List the polling stations of a contest and the units used at each."""
    of = the(contests_of(actor), contest, "contest")
    note_access(of.number)
    return station_list(of)


@usecase("room.list", power=Power.SEE_ELECTIONS)
def list_rooms(*, actor: Actor, at: datetime) -> tuple[RoomRow, ...]:
    """List the strong rooms within the actor's scope."""
    return room_rows(rooms_of(actor), with_boxes=sees_whole_rooms(actor))


@usecase("room.look", power=Power.SEE_ELECTIONS, subject="room")
def look_at_room(*, room: str, actor: Actor, at: datetime) -> RoomFile:
    """Open a strong room's page."""
    of = the(rooms_of(actor), room, "strong room")
    note_access(of.number)
    file = room_file(of, with_boxes=sees_whole_rooms(actor))
    return replace(file, door=room_door(of, at) if actor.may(Power.LOOK) else None)


@usecase("shelf.look", power=Power.SEE_ELECTIONS, subject="shelf")
def look_at_shelf(*, shelf: str, actor: Actor, at: datetime) -> ShelfFile:
    """Open a shelf's page, with the boxes on it that the actor may see."""
    rows = Shelf.objects.filter(bay__room__in=rooms_of(actor))
    of = the(rows.select_related("bay__room"), shelf, "shelf")
    file = shelf_file(of, actor, at)
    note_access(of.number, shown=[row.number for row in file.rows])
    return file


@dataclass(frozen=True)
class Offered:
    """What a form offers to choose from: (register number, name)."""

    elections: tuple[tuple[str, str], ...] = ()
    rooms: tuple[tuple[str, str], ...] = ()
    schedules: tuple[tuple[str, str], ...] = ()
    calendars: tuple[tuple[str, str], ...] = ()


@usecase("set_up.prepare", power=Power.SET_UP)
def look_before_setting_up(*, what: str, actor: Actor, at: datetime) -> Offered:
    """Open a form of set-up; who may not set up is refused here already."""
    note_access(what=what)
    return Offered(
        schedules=tuple(
            (row.number, str(row))
            for row in RetentionSchedule.objects.order_by("code", "-version")
        ),
        calendars=tuple(
            (row.number, row.name) for row in CourtCalendar.objects.order_by("id")
        ),
    )


@usecase("person.prepare", power=Power.APPOINT)
def look_before_appointing(*, actor: Actor, at: datetime) -> Offered:
    """Open a form about an appointment."""
    return _scopes(actor)


@usecase("report.prepare", power=Power.REPORT)
def look_before_reporting(*, actor: Actor, at: datetime) -> Offered:
    """Open the form of the retention report."""
    return _scopes(actor)


def _scopes(actor: Actor) -> Offered:
    return Offered(
        elections=tuple(
            elections_of(actor).order_by("id").values_list("number", "name")
        ),
        rooms=tuple(rooms_of(actor).order_by("id").values_list("number", "name")),
    )
