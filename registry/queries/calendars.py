"""Court calendars as their pages show them: closed days, openings, extended limits."""

from dataclasses import dataclass
from datetime import date, datetime

from django.db.models import Count, Q, QuerySet

from registry.models import ClosedDays, CourtCalendar, LimitExtension
from registry.queries.find import NotThere, the
from registry.queries.timeline import TimelineEntry, timeline_of
from registry.rules.calendars import ClosureKind, Effect
from registry.rules.numbers import looks_like_number

KIND_TITLES = {
    ClosureKind.UNSAID: "not said",
    ClosureKind.HOLIDAY: "holiday",
    ClosureKind.VACATION: "court vacation",
    ClosureKind.EVENT: "event, such as a storm or a strike",
}
EFFECT_TITLES = {
    Effect.CLOSED: "closed for filing",
    Effect.OPEN: "open, though otherwise closed",
    Effect.OPEN_FOR_PETITIONS: "open for election petitions alone",
}


@dataclass(frozen=True)
class CalendarRow:
    """A calendar in a list."""

    number: str
    name: str
    closed_weekdays: tuple[int, ...]
    entries: int
    extensions: int
    elections: int


@dataclass(frozen=True)
class ClosureRow:
    """Days with one effect; struck entries stay, with why."""

    number: str
    first_day: date
    last_day: date
    kind: ClosureKind
    effect: Effect
    reason: str
    notification: str
    struck_at: datetime | None
    struck_because: str

    @property
    def kind_title(self) -> str:
        """The kind in plain words."""
        return KIND_TITLES[self.kind]

    @property
    def effect_title(self) -> str:
        """The effect in plain words."""
        return EFFECT_TITLES[self.effect]


@dataclass(frozen=True)
class ExtensionRow:
    """A general order that extends limits; without ``until_on`` it has no end yet."""

    number: str
    from_on: date
    until_on: date | None
    then_days: int
    excludes: bool
    made_on: date
    notification: str
    struck_at: datetime | None
    struck_because: str


@dataclass(frozen=True)
class CalendarFile:
    """Everything that a calendar's page shows."""

    number: str
    name: str
    closed_weekdays: tuple[int, ...]
    closures: tuple[ClosureRow, ...]
    extensions: tuple[ExtensionRow, ...]
    elections: tuple[tuple[str, str], ...]
    timeline: tuple[TimelineEntry, ...]


def calendar_named(named: str) -> CourtCalendar:
    """Return the calendar of this register number or name; raises NotThere."""
    rows = CourtCalendar.objects.all()
    if looks_like_number(named):
        return the(rows, named, "calendar")
    found = rows.filter(name=named.strip()).first()
    if found is None:
        raise NotThere(f"There is no calendar {named.strip()}.")
    return found


def calendar_rows(calendars: QuerySet[CourtCalendar]) -> tuple[CalendarRow, ...]:
    """Return calendars as rows, in order of entry."""
    standing = Q(closures__isnull=False, closures__struck_at__isnull=True)
    extending = Q(extensions__isnull=False, extensions__struck_at__isnull=True)
    counted = calendars.annotate(
        entries=Count("closures", filter=standing, distinct=True),
        orders=Count("extensions", filter=extending, distinct=True),
        pinned=Count("election", distinct=True),
    )
    return tuple(
        CalendarRow(
            row.number,
            row.name,
            weekdays_of(row),
            row.entries,
            row.orders,
            row.pinned,
        )
        for row in counted.order_by("id")
    )


def calendar_file(calendar: CourtCalendar) -> CalendarFile:
    """Gather what a calendar's page shows."""
    closures = list(calendar.closures.order_by("first_day", "id"))
    extensions = list(calendar.extensions.order_by("from_on", "id"))
    return CalendarFile(
        number=calendar.number,
        name=calendar.name,
        closed_weekdays=weekdays_of(calendar),
        closures=tuple(closure_row(one) for one in closures),
        extensions=tuple(extension_row(one) for one in extensions),
        elections=tuple(
            (e.number, e.name) for e in calendar.election_set.order_by("id")
        ),
        timeline=tuple(timeline_of(calendar, beside=_newest(closures, extensions))),
    )


# Each entry's changes cost a question; an older entry tells its own on its page.
_BESIDE = 40


def _newest(
    closures: list[ClosedDays], extensions: list[LimitExtension]
) -> list[ClosedDays | LimitExtension]:
    newest = sorted(closures, key=lambda one: one.pk)[-_BESIDE:]
    return [*newest, *extensions]


def weekdays_of(calendar: CourtCalendar) -> tuple[int, ...]:
    """Return the weekdays on which it is closed, Monday = 0."""
    return tuple(int(day) for day in calendar.closed_weekdays.split(",") if day)


def closure_row(record: ClosedDays) -> ClosureRow:
    """Return an entry of days as a row."""
    return ClosureRow(
        number=record.number,
        first_day=record.first_day,
        last_day=record.last_day,
        kind=ClosureKind(record.kind),
        effect=Effect(record.effect),
        reason=record.reason,
        notification=record.notification,
        struck_at=record.struck_at,
        struck_because=record.struck_because,
    )


def extension_row(record: LimitExtension) -> ExtensionRow:
    """Return a general order as a row."""
    return ExtensionRow(
        number=record.number,
        from_on=record.from_on,
        until_on=record.until_on,
        then_days=record.then_days,
        excludes=record.excludes,
        made_on=record.made_on,
        notification=record.notification,
        struck_at=record.struck_at,
        struck_because=record.struck_because,
    )
