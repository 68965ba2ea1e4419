"""Taking a list of holidays into a court's calendar: all of it, or nothing."""

from dataclasses import dataclass
from datetime import date, datetime
from typing import TypeAlias

from registry.models import CourtCalendar
from registry.queries.calendars import calendar_named
from registry.queries.effects import Effects
from registry.rules.powers import Actor, Power
from registry.usecases._calendar_changes import DaysEntered, ListEntered
from registry.usecases._door import Mistaken, Refused, note_access, usecase
from registry.usecases._holiday_files import (
    Defaults,
    ReadDays,
    UnusableList,
    read_days,
)
from registry.usecases._published_holidays import (
    PublishedHolidays,
    notes_on,
    published_days,
    years_named,
)
from registry.usecases.calendars import carried_out, moved_by

__all__ = [
    "Defaults",
    "HolidayFile",
    "HolidaySource",
    "HolidaysRead",
    "PublishedHolidays",
    "check_holidays",
    "import_holidays",
    "years_named",
]


@dataclass(frozen=True)
class HolidayFile:
    """A list as it was sent, with what holds for all its entries."""

    content: bytes
    file_name: str
    defaults: Defaults

    @property
    def title(self) -> str:
        """What was read, for the register of looks."""
        return self.file_name


HolidaySource: TypeAlias = HolidayFile | PublishedHolidays


@dataclass(frozen=True)
class HolidaysRead:
    """What a list of holidays holds, and what it would move.

    Attributes:
        calendar: the calendar's register number.
        entries: what is new.
        known: how many stand in the calendar already, to the word; they are left.
        refused: what cannot be taken, and why.
        effects: what the new entries would move, or moved; None where something is
            refused.
        notes: what a person must know of the source before entering its days.
    """

    calendar: str
    calendar_name: str
    entries: tuple[DaysEntered, ...]
    known: int
    refused: tuple[ReadDays, ...]
    effects: Effects | None
    notes: tuple[str, ...] = ()

    @property
    def is_clean(self) -> bool:
        """Whether the list can be taken."""
        return not self.refused and bool(self.entries)


@usecase("calendar.check_list", power=Power.SET_UP, subject="calendar")
def check_holidays(
    *, calendar: str, source: HolidaySource, actor: Actor, at: datetime
) -> HolidaysRead:
    """Say what a list would bring and move, without taking it.

    Args:
        calendar: its register number or its name.

    Raises:
        Mistaken: the file is no list of days, or the library knows no such place.
    """
    of = calendar_named(calendar)
    entries, known, refused = _read(of, source)
    note_access(of.number, file=source.title, refused=len(refused))
    effects = None
    if entries and not refused:
        effects = moved_by(of, ListEntered(entries), actor, at)
    notes = _notes(source)
    return HolidaysRead(of.number, of.name, entries, known, refused, effects, notes)


@usecase("calendar.import_list", power=Power.SET_UP, subject="calendar")
def import_holidays(
    *,
    calendar: str,
    source: HolidaySource,
    earlier_accepted: bool = False,
    actor: Actor,
    at: datetime,
) -> HolidaysRead:
    """Take a list of holidays into a calendar, and say what it moved.

    Raises:
        Mistaken: the file is no list of days, or something would end earlier and
            nobody said that it shall.
        Refused: an entry cannot be taken, or nothing is new; nothing was entered.
    """
    of = calendar_named(calendar)
    note_access(of.number)
    entries, known, refused = _read(of, source)
    if refused or not entries:
        raise Refused(*_why_refused(refused, known))
    note_access(of.number, file=source.title, entries=len(entries))
    done = carried_out(of, ListEntered(entries), earlier_accepted, actor, at)
    notes = _notes(source)
    return HolidaysRead(of.number, of.name, entries, known, (), done.effects, notes)


def _notes(source: HolidaySource) -> tuple[str, ...]:
    return notes_on(source) if isinstance(source, PublishedHolidays) else ()


def _days_of(source: HolidaySource) -> list[ReadDays]:
    if isinstance(source, PublishedHolidays):
        return published_days(source)
    try:
        return read_days(source.content, source.file_name, source.defaults)
    except UnusableList as error:
        raise Mistaken(file=str(error)) from error


def _read(
    of: CourtCalendar, source: HolidaySource
) -> tuple[tuple[DaysEntered, ...], int, tuple[ReadDays, ...]]:
    standing = {
        (row.first_day, row.last_day, row.reason.casefold(), row.effect)
        for row in of.closures.filter(struck_at__isnull=True)
    }
    entries: list[DaysEntered] = []
    known = 0
    read = _days_of(source)
    for one in read:
        if one.entry is None:
            continue
        sign = _sign(one.entry)
        if sign in standing:
            known += 1
        else:
            standing.add(sign)
            entries.append(one.entry)
    return tuple(entries), known, tuple(one for one in read if one.entry is None)


def _sign(entry: DaysEntered) -> tuple[date, date, str, str]:
    reason = entry.reason.strip().casefold()
    return entry.first_day, entry.last_day, reason, entry.effect


def _why_refused(refused: tuple[ReadDays, ...], known: int) -> list[str]:
    if not refused:
        if known:
            return [f"All {known} entries of the list stand in the calendar already."]
        return ["The list names no day."]
    shown = [f"{one.where}: {' '.join(one.problems)}" for one in refused[:20]]
    if len(refused) > len(shown):
        shown.append(f"{len(refused) - len(shown)} more entries are refused.")
    return [*shown, "Nothing was entered. Mend the list and load it again."]
