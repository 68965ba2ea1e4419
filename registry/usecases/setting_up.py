"""Setting up elections, contests and strong rooms."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from registry.models import (
    Bay,
    Contest,
    CourtCalendar,
    Election,
    RetentionSchedule,
    Shelf,
    StrongRoom,
    Whereabouts,
)
from registry.queries.find import the
from registry.queries.keeping import legal_date
from registry.queries.scope import contests_of
from registry.rules.powers import Actor, Power
from registry.usecases._door import Mistaken, note_access, usecase
from registry.usecases._records import enter, enter_many
from registry.usecases.calendars import record_closed_days, set_up_calendar
from registry.usecases.schedules import adopt_schedule

__all__ = [
    "BayPlan",
    "ContestDays",
    "add_bays",
    "adopt_schedule",
    "record_closed_days",
    "record_contest_dates",
    "set_shelf",
    "set_up_calendar",
    "set_up_contest",
    "set_up_election",
    "set_up_room",
]

HIGHEST_LEVEL = 50


@usecase("election.set_up", power=Power.SET_UP)
def set_up_election(
    *,
    code: str,
    name: str,
    schedule: str,
    calendar: str,
    legal_zone: str = "UTC",
    actor: Actor,
    at: datetime,
) -> str:
    """Enter an election and pin it to a schedule's version and a court's calendar.

    Args:
        code: short name for commands and files: letters, digits, hyphens.
        name: as it is printed on the containers.
        schedule, calendar: register numbers.
        legal_zone: the time zone in which its legal days begin and end.
    """
    code, name = code.strip().lower(), name.strip()
    problems: dict[str, list[str]] = {}
    if not code or not code.replace("-", "").isalnum() or not code.isascii():
        problems["code"] = ["Use letters, digits and hyphens, such as general-2026."]
    elif Election.objects.filter(code=code).exists():
        problems["code"] = ["There is an election of this code already."]
    if not name:
        problems["name"] = ["Give the election's name as it is printed."]
    try:
        ZoneInfo(legal_zone)
    except (ZoneInfoNotFoundError, ValueError):
        problems["legal_zone"] = ["No such time zone; write one such as Europe/Oslo."]
    if problems:
        raise Mistaken(problems)
    election = enter(
        Election(
            code=code,
            name=name,
            schedule=the(RetentionSchedule.objects.all(), schedule, "schedule"),
            calendar=the(CourtCalendar.objects.all(), calendar, "calendar"),
            legal_zone=legal_zone,
        )
    )
    note_access(election.number)
    return election.number


@dataclass(frozen=True)
class ContestDays:
    """The dated events of a contest, as far as they are known."""

    polled_on: date | None = None
    counted_on: date | None = None
    declared_on: date | None = None
    return_made_on: date | None = None
    return_received_on: date | None = None
    gazetted_on: date | None = None
    papers_received_on: date | None = None
    next_poll_on: date | None = None


@usecase("contest.set_up", power=Power.SET_UP, subject="election")
def set_up_contest(
    *,
    election: str,
    constituency_number: str,
    constituency_name: str,
    returning_officer: str = "",
    days: ContestDays | None = None,
    source: str = "",
    actor: Actor,
    at: datetime,
) -> str:
    """Enter one constituency of an election."""
    of = the(Election.objects.all(), election, "election")
    if not constituency_number.strip() or not constituency_name.strip():
        raise Mistaken(constituency_name="Give the constituency's number and name.")
    if of.contests.filter(constituency_number=constituency_number.strip()).exists():
        raise Mistaken(
            constituency_number="This election has a constituency of this number."
        )
    contest = Contest(
        election=of,
        constituency_number=constituency_number.strip(),
        constituency_name=constituency_name.strip(),
        returning_officer=returning_officer.strip(),
    )
    _put_days(contest, days or ContestDays(), source, at)
    enter(contest)
    note_access(contest.number)
    return contest.number


@usecase("contest.record_dates", power=Power.RECORD_DATES, subject="contest")
def record_contest_dates(
    *, contest: str, days: ContestDays, source: str, actor: Actor, at: datetime
) -> None:
    """Record poll, counting, declaration and the like, with the paper they come from.

    Raises:
        Mistaken: a date lies in the future or before one it must follow, or no paper
            is named.
    """
    of = the(contests_of(actor), contest, "contest")
    if not source.strip():
        raise Mistaken(source="Name the paper that these dates come from.")
    _put_days(of, days, source, at)
    of.save()


def _put_days(contest: Contest, days: ContestDays, source: str, at: datetime) -> None:
    problems = dates_in_order(days, legal_date(contest.election, at))
    if problems:
        raise Mistaken(problems)
    for name, day in vars(days).items():
        setattr(contest, name, day)
    contest.dates_source = source.strip()


def dates_in_order(days: ContestDays, today: date) -> dict[str, list[str]]:
    """Return what cannot be about the dates of a contest, by field."""
    problems: dict[str, list[str]] = {}
    for name, day in vars(days).items():
        if day and day > today and name != "next_poll_on":
            problems[name] = [
                f"{day:%-d %B %Y} has not come yet. Record a date once it happened."
            ]
    if days.polled_on and days.counted_on and days.counted_on < days.polled_on:
        problems.setdefault("counted_on", []).append("Counting follows the poll.")
    for name, day in vars(days).items():
        if day and days.polled_on and day < days.polled_on and name != "counted_on":
            problems.setdefault(name, []).append("This follows the poll.")
    if days.counted_on and days.declared_on and days.declared_on < days.counted_on:
        problems.setdefault("declared_on", []).append("Declaration follows counting.")
    return problems


@dataclass(frozen=True)
class BayPlan:
    """A bay to be entered, with the capacity (in boxes) of each of its shelves.

    Attributes:
        levels: how high each shelf is, 1 the lowest; empty where it is not recorded.
    """

    code: str
    shelves: tuple[tuple[str, int], ...]
    levels: tuple[int, ...] = ()


@usecase("room.set_up", power=Power.SET_UP)
def set_up_room(
    *, name: str, site: str, bays: Sequence[BayPlan], actor: Actor, at: datetime
) -> str:
    """Enter a strong room with its bays and shelves."""
    if not name.strip():
        raise Mistaken(name="Give the strong room's name.")
    if StrongRoom.objects.filter(name=name.strip()).exists():
        raise Mistaken(name="There is a strong room of this name already.")
    room = enter(StrongRoom(name=name.strip(), site=site.strip()))
    _enter_bays(room, bays)
    note_access(room.number)
    return room.number


@usecase("room.extend", power=Power.SET_UP, subject="room")
def add_bays(*, room: str, bays: Sequence[BayPlan], actor: Actor, at: datetime) -> None:
    """Add bays with their shelves to a strong room."""
    of = the(StrongRoom.objects.all(), room, "strong room")
    taken = set(of.bays.values_list("code", flat=True))
    for plan in bays:
        if plan.code in taken:
            raise Mistaken(bays=f"There is a bay {plan.code} in this room already.")
    _enter_bays(of, bays)


def _enter_bays(room: StrongRoom, bays: Sequence[BayPlan]) -> None:
    for plan in bays:
        if not plan.code.strip() or not plan.shelves:
            raise Mistaken(bays="Each bay needs a code and at least one shelf.")
        if any(capacity < 1 for _, capacity in plan.shelves):
            raise Mistaken(bays="A shelf takes at least one box.")
        bay = enter(Bay(room=room, code=plan.code.strip()))
        levels = plan.levels or (None,) * len(plan.shelves)
        enter_many(
            [
                Shelf(bay=bay, code=code, capacity=n, level=level)
                for (code, n), level in zip(plan.shelves, levels, strict=True)
            ]
        )


@usecase("shelf.set", power=Power.SET_UP, subject="shelf")
def set_shelf(
    *, shelf: str, capacity: int, level: int | None, actor: Actor, at: datetime
) -> str:
    """Change what a shelf takes, and how high it is; returns its number.

    Args:
        capacity: in boxes; never below what stands on it.
        level: from the floor, 1 is the lowest; None where it is not known.
    """
    of = the(Shelf.objects.select_for_update(), shelf, "shelf")
    if capacity < 1:
        raise Mistaken(capacity="A shelf takes at least one box.")
    if level is not None and not 1 <= level <= HIGHEST_LEVEL:
        raise Mistaken(level=f"Count from the floor: 1 to {HIGHEST_LEVEL}.")
    if of.boxes.filter(whereabouts=Whereabouts.SHELVED).count() > capacity:
        # Whoever sets up may not know how many boxes there are.
        raise Mistaken(
            capacity="More boxes stand on it than that. Let its custodian move some "
            "first, or give a higher number."
        )
    of.capacity, of.level = capacity, level
    of.save()
    note_access(of.number, capacity=capacity, level=level)
    return of.number
