"""What can be changed in a court's calendar, each told apart from the doing.

A plan knows the calendar as it would be, so that a preview and the act itself answer
from the same.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from typing import TypeAlias, TypeVar

from registry.models import ClosedDays, CourtCalendar, LimitExtension
from registry.queries.find import NotThere, the
from registry.queries.keeping import calendar_of, closure_fact, extension_fact
from registry.rules.calendars import (
    Calendar,
    CalendarError,
    Closure,
    ClosureKind,
    Effect,
    Extension,
)
from registry.usecases._door import Mistaken, Refused
from registry.usecases._records import enter, enter_many

LONGEST_DAYS = 366
LONGEST_TEXT = 200

Entry: TypeAlias = ClosedDays | LimitExtension
Fact = TypeVar("Fact", Closure, Extension)


@dataclass(frozen=True)
class DaysEntered:
    """Days with one effect: closed, or open though otherwise closed.

    Attributes:
        kind: holiday, vacation or event; some laws roll over holidays only.
        notification: the paper that says so; needed where days are opened.
    """

    first_day: date
    last_day: date
    reason: str
    notification: str = ""
    kind: str = ClosureKind.UNSAID.value
    effect: str = Effect.CLOSED.value


@dataclass(frozen=True)
class ListEntered:
    """Several entries of days, entered together."""

    days: tuple[DaysEntered, ...]


@dataclass(frozen=True)
class LimitsExtended:
    """A court's general order by which limits run longer; often with no end yet."""

    from_on: date
    made_on: date
    notification: str
    until_on: date | None = None
    then_days: int = 0
    excludes: bool = False


@dataclass(frozen=True)
class ExtensionEnded:
    """The order by which an extension without an end comes to its end."""

    extension: str
    until_on: date
    then_days: int
    notification: str


@dataclass(frozen=True)
class EntryStruck:
    """An entry that was made in error; it stays, struck."""

    entry: str
    because: str


@dataclass(frozen=True)
class WeekdaysSet:
    """The weekdays on which the registry is closed from now on; Monday is 0."""

    weekdays: Sequence[int]
    because: str


CalendarChange: TypeAlias = (
    DaysEntered
    | ListEntered
    | LimitsExtended
    | ExtensionEnded
    | EntryStruck
    | WeekdaysSet
)


@dataclass(frozen=True)
class Plan:
    """A change thought through: the calendar as it would be, and how to save it."""

    after: Calendar
    save: Callable[[datetime], str]


def planned(of: CourtCalendar, change: CalendarChange, at: datetime) -> Plan:
    """Think a change of a calendar through, without saving anything.

    Raises:
        Mistaken: what was given cannot be right.
        Refused: the entry is struck or ended already.
    """
    match change:
        case DaysEntered():
            return _days(of, change)
        case ListEntered():
            return _list(of, change)
        case LimitsExtended():
            return _extended(of, change, at)
        case ExtensionEnded():
            return _ended(of, change)
        case EntryStruck():
            return _struck(of, change)
        case WeekdaysSet():
            return _weekdays(of, change)


def _days(of: CourtCalendar, change: DaysEntered) -> Plan:
    record = _closure(of, change)
    now = calendar_of(of)
    after = replace(now, closures=(*now.closures, closure_fact(record)))
    return Plan(after, lambda at: enter(record).number)


def _list(of: CourtCalendar, change: ListEntered) -> Plan:
    records = [_closure(of, one) for one in change.days]
    now = calendar_of(of)
    added = tuple(closure_fact(record) for record in records)

    def save(at: datetime) -> str:
        enter_many(records)
        return of.number

    return Plan(replace(now, closures=(*now.closures, *added)), save)


def _closure(of: CourtCalendar, change: DaysEntered) -> ClosedDays:
    problems = problems_of_days(change)
    if problems:
        raise Mistaken({name: [text] for name, text in problems.items()})
    return ClosedDays(
        calendar=of,
        first_day=change.first_day,
        last_day=change.last_day,
        reason=change.reason.strip(),
        notification=change.notification.strip(),
        kind=change.kind,
        effect=change.effect,
    )


def problems_of_days(change: DaysEntered) -> dict[str, str]:
    """Return what is wrong with an entry of days, by what it is about."""
    problems = {}
    if change.last_day < change.first_day:
        problems["last_day"] = "The last day lies before the first."
    elif (change.last_day - change.first_day).days > LONGEST_DAYS:
        problems["last_day"] = "An entry of more than a year is a slip of the pen."
    if not change.reason.strip():
        problems["reason"] = "Say why the registry was closed, or why it was open."
    if change.kind not in set(ClosureKind):
        problems["kind"] = f"Say what it is: {', '.join(ClosureKind)}."
    if change.effect not in set(Effect):
        problems["effect"] = f"Say what it does: {', '.join(Effect)}."
    elif change.effect != Effect.CLOSED and not change.notification.strip():
        problems["notification"] = (
            "Opening days ends windows sooner: name the notification that opens them."
        )
    for name in ("reason", "notification"):
        if len(getattr(change, name).strip()) > LONGEST_TEXT:
            problems[name] = f"Shorten this to {LONGEST_TEXT} characters."
    return problems


def _extended(of: CourtCalendar, change: LimitsExtended, at: datetime) -> Plan:
    _need_paper(change.notification, "Name the order that extends the limits.")
    # The court's own day may be one ahead of the machine's.
    if change.made_on > at.date() + timedelta(days=1):
        raise Mistaken(made_on="This day has not come yet. Enter an order once made.")
    record = LimitExtension(
        calendar=of,
        from_on=change.from_on,
        until_on=change.until_on,
        then_days=_days_after(change.then_days),
        excludes=change.excludes,
        made_on=change.made_on,
        notification=change.notification.strip(),
    )
    now = calendar_of(of)
    try:
        fact = extension_fact(record)
    except CalendarError as error:
        raise Mistaken(until_on=str(error)) from error
    after = replace(now, extensions=(*now.extensions, fact))
    return Plan(after, lambda at: enter(record).number)


def _ended(of: CourtCalendar, change: ExtensionEnded) -> Plan:
    record: LimitExtension = the(of.extensions.all(), change.extension, "extension")
    _refuse_struck(record)
    if record.until_on is not None:
        raise Refused(
            f"{record.number} ends on {record.until_on:%-d %B %Y} already. If that is "
            "wrong, strike it and enter the order anew."
        )
    _need_paper(change.notification, "Name the order that ends the extension.")
    before = extension_fact(record)
    record.until_on = change.until_on
    record.then_days = _days_after(change.then_days)
    record.notification = (
        f"{record.notification}; ended by {change.notification.strip()}"
    )
    if len(record.notification) > LONGEST_TEXT:
        raise Mistaken(notification="Shorten how the order is named.")
    try:
        fact = extension_fact(record)
    except CalendarError as error:
        raise Mistaken(until_on=str(error)) from error
    now = calendar_of(of)
    others = _without(now.extensions, before)

    def save(at: datetime) -> str:
        record.save()
        return record.number

    return Plan(replace(now, extensions=(*others, fact)), save)


def _struck(of: CourtCalendar, change: EntryStruck) -> Plan:
    record = entry_of(of, change.entry)
    _refuse_struck(record)
    if not change.because.strip():
        raise Mistaken(because="Say why the entry was wrong; it stays, struck.")
    if len(change.because.strip()) > LONGEST_TEXT:
        raise Mistaken(because=f"Shorten this to {LONGEST_TEXT} characters.")

    def save(at: datetime) -> str:
        record.struck_at = at
        record.struck_because = change.because.strip()
        record.save()
        return record.number

    return Plan(without_entry(calendar_of(of), record), save)


def without_entry(calendar: Calendar, record: Entry) -> Calendar:
    """Return a calendar without one of its entries."""
    if isinstance(record, LimitExtension):
        left = _without(calendar.extensions, extension_fact(record))
        return replace(calendar, extensions=left)
    closures = _without(calendar.closures, closure_fact(record))
    return replace(calendar, closures=closures)


def with_entry(calendar: Calendar, record: Entry) -> Calendar:
    """Return a calendar with one entry more."""
    if isinstance(record, LimitExtension):
        fact = extension_fact(record)
        return replace(calendar, extensions=(*calendar.extensions, fact))
    return replace(calendar, closures=(*calendar.closures, closure_fact(record)))


def entry_of(of: CourtCalendar, number: str) -> Entry:
    """Return the entry of this calendar with this number; raises NotThere."""
    try:
        days: ClosedDays = the(of.closures.all(), number, "entry of this calendar")
        return days
    except NotThere:
        order: LimitExtension = the(
            of.extensions.all(), number, "entry of this calendar"
        )
        return order


def _weekdays(of: CourtCalendar, change: WeekdaysSet) -> Plan:
    days = weekdays_given(change.weekdays)
    if not change.because.strip():
        raise Mistaken(because="Say by which paper the weekdays are others now.")
    after = replace(calendar_of(of), weekdays=frozenset(days))

    def save(at: datetime) -> str:
        of.closed_weekdays = ",".join(str(day) for day in days)
        of.save()
        return of.number

    return Plan(after, save)


def weekdays_given(given: Sequence[int]) -> list[int]:
    """Return weekdays in order; raises Mistaken where none would be open."""
    days = sorted(set(given))
    if any(not 0 <= day <= 6 for day in days) or len(days) == 7:
        raise Mistaken(closed_weekdays="A registry is open on at least one weekday.")
    return days


def _without(facts: Sequence[Fact], one: Fact) -> tuple[Fact, ...]:
    """Leave out one fact once: another entry may say the same."""
    left = list(facts)
    if one in left:
        left.remove(one)
    return tuple(left)


def _refuse_struck(record: Entry) -> None:
    if record.struck_at is not None:
        raise Refused(f"{record.number} is struck already: {record.struck_because}.")


def _need_paper(text: str, message: str) -> None:
    if not text.strip():
        raise Mistaken(notification=message)
    if len(text.strip()) > LONGEST_TEXT:
        raise Mistaken(notification=f"Shorten this to {LONGEST_TEXT} characters.")


def _days_after(days: int) -> int:
    if days < 0 or days > LONGEST_DAYS:
        raise Mistaken(then_days="Give a number of days from 0 to 366.")
    return days
