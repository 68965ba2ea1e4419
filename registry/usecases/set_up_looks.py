"""Looking at what is set up: elections, contests, schedules, calendars, rooms."""

from datetime import datetime

from registry.models import CourtCalendar, RetentionSchedule
from registry.queries.find import the
from registry.queries.keeping import legal_date
from registry.queries.schedules import (
    ScheduleFile,
    ScheduleRow,
    schedule_file,
    schedule_rows,
)
from registry.queries.scope import contests_of, elections_of, rooms_of
from registry.queries.set_up import (
    CalendarRow,
    ContestFile,
    ElectionFile,
    ElectionRow,
    RoomFile,
    RoomRow,
    calendar_file,
    calendar_rows,
    contest_file,
    election_file,
    election_rows,
    room_file,
    room_rows,
)
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


@usecase("contest.look", power=Power.SEE_ELECTIONS, subject="contest")
def look_at_contest(*, contest: str, actor: Actor, at: datetime) -> ContestFile:
    """Open a contest's page; how long its content is kept, for those who may look."""
    rows = contests_of(actor).select_related("election__schedule", "election__calendar")
    of = the(rows, contest, "contest")
    note_access(of.number)
    as_of = legal_date(of.election, at)
    return contest_file(of, as_of, with_retention=actor.may(Power.LOOK))


@usecase("schedule.list", power=Power.SEE_ELECTIONS)
def list_schedules(*, actor: Actor, at: datetime) -> tuple[ScheduleRow, ...]:
    """List the retention schedules."""
    return schedule_rows(RetentionSchedule.objects.all())


@usecase("schedule.look", power=Power.SEE_ELECTIONS, subject="schedule")
def look_at_schedule(*, schedule: str, actor: Actor, at: datetime) -> ScheduleFile:
    """Open a schedule's page."""
    of = the(RetentionSchedule.objects.all(), schedule, "schedule")
    note_access(of.number)
    return schedule_file(of)


@usecase("calendar.list", power=Power.SEE_ELECTIONS)
def list_calendars(*, actor: Actor, at: datetime) -> tuple[CalendarRow, ...]:
    """List the calendars of the courts' registries."""
    return calendar_rows(CourtCalendar.objects.all())


@usecase("calendar.look", power=Power.SEE_ELECTIONS, subject="calendar")
def look_at_calendar(*, calendar: str, actor: Actor, at: datetime) -> CalendarRow:
    """Open a calendar's page."""
    of = the(CourtCalendar.objects.all(), calendar, "calendar")
    note_access(of.number)
    return calendar_file(of)


@usecase("room.list", power=Power.SEE_ELECTIONS)
def list_rooms(*, actor: Actor, at: datetime) -> tuple[RoomRow, ...]:
    """List the strong rooms within the actor's scope."""
    return room_rows(rooms_of(actor), with_boxes=actor.may(Power.LOOK))


@usecase("room.look", power=Power.SEE_ELECTIONS, subject="room")
def look_at_room(*, room: str, actor: Actor, at: datetime) -> RoomFile:
    """Open a strong room's page."""
    of = the(rooms_of(actor), room, "strong room")
    note_access(of.number)
    return room_file(of, with_boxes=actor.may(Power.LOOK))
