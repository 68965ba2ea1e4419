"""Reading lists of holidays: iCalendar files (RFC 5545) and tables, as offices send.

What cannot be taken is told, each with its line or its name, and nothing is guessed.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

from dateutil.rrule import rrulestr
from icalendar import Calendar as FeedFile
from icalendar import Event

from registry.rules.calendars import ClosureKind, Effect
from registry.rules.markings import read_date
from registry.usecases._calendar_changes import DaysEntered, problems_of_days
from registry.usecases._tables import Line, UnusableTable, read_table

LARGEST_FEED = 5 * 1024 * 1024
MOST_REPEATS = 400
COLUMNS = {
    "first_day": (
        "day",
        "date",
        "from",
        "first",
        "holiday date",
        "start",
        "start date",
    ),
    "last_day": ("to", "through", "last", "until", "end", "end date"),
    "reason": ("name", "holiday", "title", "summary", "description", "occasion"),
    "kind": ("type", "class"),
    "effect": (),
    "notification": ("order", "notice", "paper", "source"),
}


class UnusableList(ValueError):
    """The file is no list of days; the message says what to do."""


@dataclass(frozen=True)
class ReadDays:
    """One entry that a file names, or why it cannot be taken.

    Attributes:
        where: the line, or the name under which the file has it.
    """

    where: str
    entry: DaysEntered | None
    problems: tuple[str, ...] = ()


@dataclass(frozen=True)
class Defaults:
    """What holds for every entry of a file that does not say otherwise.

    Attributes:
        through: repeated entries of a feed are followed through this day.
    """

    notification: str = ""
    kind: str = ClosureKind.HOLIDAY.value
    through: date | None = None


def read_days(content: bytes, file_name: str, defaults: Defaults) -> list[ReadDays]:
    """Read the days that a list of holidays names.

    Args:
        content: the file's bytes: iCalendar where it begins so, else CSV or XLSX.
        file_name: for messages, and to tell XLSX from CSV.

    Raises:
        UnusableList: it is neither, or nothing can be read.
    """
    head = content[:200].lstrip(b"\xef\xbb\xbf \t\r\n").upper()
    if head.startswith(b"BEGIN:VCALENDAR"):
        return list(_feed(content, file_name, defaults))
    if file_name.casefold().endswith((".ics", ".ical")):
        raise UnusableList(
            f"{file_name} does not begin with BEGIN:VCALENDAR, so it is no iCalendar "
            "file. Export the calendar again, as iCalendar (.ics), or send it as CSV."
        )
    try:
        table = read_table(content, file_name, COLUMNS, ("first_day", "reason"))
    except UnusableTable as error:
        raise UnusableList(str(error)) from error
    return [_of_line(line, defaults) for line in table.lines]


def _of_line(line: Line, defaults: Defaults) -> ReadDays:
    where = f"Line {line.number}"
    first = read_date(line["first_day"])
    last = read_date(line["last_day"]) if line["last_day"] else first
    problems = [
        f"{line[column]!r} cannot be read as a day: write it as 2026-12-25."
        for column, day in (("first_day", first), ("last_day", last))
        if day is None and (line[column] or column == "first_day")
    ]
    if "" in line.cells:
        problems.append("It has more cells than the first line has columns.")
    if problems or first is None or last is None:
        return ReadDays(where, None, tuple(problems))
    entry = DaysEntered(
        first_day=first,
        last_day=last,
        reason=line["reason"],
        notification=line["notification"] or defaults.notification,
        kind=line["kind"].strip().casefold() or defaults.kind,
        effect=_effect(line["effect"]),
    )
    return _checked(where, entry)


_EFFECTS = {"": Effect.CLOSED, "closed": Effect.CLOSED}


def _effect(text: str) -> str:
    word = "-".join(text.casefold().split())
    return _EFFECTS.get(word, word)


def _checked(where: str, entry: DaysEntered) -> ReadDays:
    problems = tuple(problems_of_days(entry).values())
    return ReadDays(where, None if problems else entry, problems)


def _feed(content: bytes, file_name: str, defaults: Defaults) -> Iterator[ReadDays]:
    if len(content) > LARGEST_FEED:
        raise UnusableList(f"{file_name} is larger than {LARGEST_FEED // 2**20} MB.")
    try:
        feed = FeedFile.from_ical(content)
    except (ValueError, IndexError, KeyError) as error:
        raise UnusableList(
            f"{file_name} cannot be read as iCalendar ({error}). Export it again, or "
            "send the days as CSV with the columns first_day and reason."
        ) from error
    events = [event for event in feed.walk("VEVENT") if isinstance(event, Event)]
    replaced = {
        (str(event.get("UID", "")), day)
        for event in events
        for day in _dates(event, "RECURRENCE-ID")
    }
    for event in events:
        yield from _of_event(event, replaced, defaults)


def _of_event(
    event: Event, replaced: set[tuple[str, date]], defaults: Defaults
) -> Iterator[ReadDays]:
    title = " ".join(str(event.get("SUMMARY", "")).split())
    where = f"“{title or 'without a title'}”"
    if str(event.get("STATUS", "")).upper() == "CANCELLED":
        return
    try:
        start = _start(event)
        where = f"{where} of {start:%Y-%m-%d}"
        starts = _starts(event, start, defaults.through)
        length = _length(event, start)
    except ValueError as error:
        yield ReadDays(where, None, (str(error),))
        return
    uid = str(event.get("UID", ""))
    for day in starts:
        if "RECURRENCE-ID" not in event and (uid, day) in replaced:
            continue
        entry = DaysEntered(
            first_day=day,
            last_day=day + length,
            reason=title,
            notification=defaults.notification,
            kind=defaults.kind,
        )
        yield _checked(f"“{title}” of {day:%Y-%m-%d}", entry)


def _start(event: Event) -> date:
    if event.errors:
        wrong = "; ".join(f"{name}: {what}" for name, what in event.errors)
        raise ValueError(f"It cannot be read: {wrong}.")
    start = getattr(_property(event, "DTSTART"), "dt", None)
    if isinstance(start, datetime):
        raise ValueError(
            "It has hours. Whether the registry was closed for the whole day is for "
            "you to say: enter such a day by hand."
        )
    if not isinstance(start, date):
        raise ValueError("It has no day on which it begins (DTSTART).")
    return start


def _length(event: Event, start: date) -> timedelta:
    """Return how far the last day lies after the first.

    DTEND is not part of the event, and an event of a date with neither DTEND nor
    DURATION takes one day (RFC 5545, 3.6.1).
    """
    end = getattr(_property(event, "DTEND"), "dt", None)
    days = getattr(_property(event, "DURATION"), "dt", timedelta(days=1))
    if isinstance(end, datetime):
        raise ValueError("It begins with a day and ends with an hour.")
    if end is not None:
        days = end - start
    if not isinstance(days, timedelta) or days < timedelta(0):
        raise ValueError("It ends before it begins.")
    # Some programs write the first day as the end of a single day.
    return timedelta(days=max(days.days, 1) - 1)


def _starts(event: Event, start: date, through: date | None) -> list[date]:
    """Return every day on which an event begins: once, or as its rule repeats it."""
    if not any(name in event for name in ("RRULE", "RDATE")):
        return [start]
    if through is None:
        raise ValueError(
            "It repeats. Say through which day repeated entries are to be entered."
        )
    days = {start, *_dates(event, "RDATE")}
    for rule in _as_list(_property(event, "RRULE")):
        days |= set(_repeats(rule.to_ical().decode(), start, through))
    days -= set(_dates(event, "EXDATE"))
    return sorted(day for day in days if day <= through)


def _repeats(rule: str, start: date, through: date) -> Iterator[date]:
    begins = datetime(start.year, start.month, start.day)  # noqa: DTZ001 - a date only
    try:
        for count, moment in enumerate(rrulestr(rule, dtstart=begins, ignoretz=True)):
            if moment.date() > through:
                return
            if count >= MOST_REPEATS:
                break
            yield moment.date()
        else:
            return
    except (ValueError, TypeError, OverflowError) as error:
        raise ValueError(f"How it repeats cannot be read: {rule}.") from error
    raise ValueError(
        f"It repeats more than {MOST_REPEATS} times: a day of every week belongs to "
        "the closed weekdays of the calendar."
    )


def _dates(event: Event, name: str) -> Iterator[date]:
    """Yield the days of a property, however often it stands there."""
    for several in _as_list(_property(event, name)):
        for one in getattr(several, "dts", [several]):
            day = getattr(one, "dt", None)
            if isinstance(day, date):
                yield day.date() if isinstance(day, datetime) else day


def _property(event: Event, name: str) -> Any:
    return event.get(name)


def _as_list(value: Any) -> list[Any]:
    if value is None:
        return []
    return value if isinstance(value, list) else [value]
