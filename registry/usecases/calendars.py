"""Court calendars: what closes the registry, what opens it, what extends limits.

A change that is entered late bears on windows that were reckoned already. Each act
answers with what it moved, and asks first where anything would end earlier.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime

from registry.models import (
    Box,
    ClosedDays,
    Contest,
    CourtCalendar,
    Election,
    Envelope,
    LimitExtension,
)
from registry.queries.calendars import (
    EFFECT_TITLES,
    KIND_TITLES,
    CalendarFile,
    CalendarRow,
    ClosureRow,
    ExtensionRow,
    calendar_file,
    calendar_named,
    calendar_rows,
    closure_row,
    extension_row,
)
from registry.queries.effects import (
    Containers,
    EffectRow,
    Effects,
    Supposed,
    effects_on,
)
from registry.queries.keeping import calendar_of
from registry.queries.scope import boxes_of, elections_of, envelopes_of
from registry.queries.timeline import TimelineEntry, timeline_of
from registry.rules.calendars import Calendar
from registry.rules.powers import Actor, Power
from registry.usecases._calendar_changes import (
    CalendarChange,
    DaysEntered,
    EntryStruck,
    ExtensionEnded,
    LimitsExtended,
    ListEntered,
    Plan,
    WeekdaysSet,
    entry_of,
    planned,
    weekdays_given,
    with_entry,
    without_entry,
)
from registry.usecases._covers import lock_contests
from registry.usecases._door import Mistaken, note_access, usecase
from registry.usecases._records import enter

__all__ = [
    "EFFECT_TITLES",
    "KIND_TITLES",
    "CalendarChange",
    "CalendarFile",
    "ClosureRow",
    "DaysEntered",
    "EffectRow",
    "Effects",
    "EntryStruck",
    "ExtensionEnded",
    "ExtensionRow",
    "LimitsExtended",
    "ListEntered",
    "WeekdaysSet",
    "change_calendar",
    "list_calendars",
    "look_at_calendar",
    "look_at_entry",
    "preview_calendar_change",
    "record_closed_days",
    "set_up_calendar",
]


@dataclass(frozen=True)
class Changed:
    """A change that was made: the entry's number, and what it moved."""

    number: str
    effects: Effects


@dataclass(frozen=True)
class EntryFile:
    """One entry of a calendar, and what it does as of today.

    Attributes:
        closure, extension: the entry; one of the two.
        effects: for an entry that stands, against a calendar without it; for a struck
            one, what striking it did.
    """

    calendar: str
    calendar_name: str
    closure: ClosureRow | None
    extension: ExtensionRow | None
    effects: Effects
    timeline: tuple[TimelineEntry, ...]


@usecase("calendar.list", power=Power.SEE_ELECTIONS)
def list_calendars(*, actor: Actor, at: datetime) -> tuple[CalendarRow, ...]:
    """List the calendars of the courts' registries."""
    return calendar_rows(CourtCalendar.objects.all())


@usecase("calendar.look", power=Power.SEE_ELECTIONS, subject="calendar")
def look_at_calendar(*, calendar: str, actor: Actor, at: datetime) -> CalendarFile:
    """Open a calendar's page."""
    of = calendar_named(calendar)
    note_access(of.number)
    return calendar_file(of)


@usecase("calendar.look_at_entry", power=Power.SEE_ELECTIONS, subject="entry")
def look_at_entry(
    *, calendar: str, entry: str, actor: Actor, at: datetime
) -> EntryFile:
    """Open the page of one entry: what it says, and what it moves as of today.

    What is counted are the containers within the actor's scope.
    """
    of = calendar_named(calendar)
    record = entry_of(of, entry)
    note_access(record.number)
    now = calendar_of(of)
    if record.struck_at is None:
        before, after = without_entry(now, record), now
    else:
        before, after = with_entry(now, record), now
    return EntryFile(
        calendar=of.number,
        calendar_name=of.name,
        closure=closure_row(record) if isinstance(record, ClosedDays) else None,
        extension=(
            extension_row(record) if isinstance(record, LimitExtension) else None
        ),
        effects=_effects(of, before, after, actor, at),
        timeline=tuple(timeline_of(record)),
    )


@usecase("calendar.set_up", power=Power.SET_UP)
def set_up_calendar(
    *, name: str, closed_weekdays: Sequence[int], actor: Actor, at: datetime
) -> str:
    """Enter the calendar of a court's registry; Monday is weekday 0."""
    if not name.strip():
        raise Mistaken(name="Give the court whose registry this calendar is of.")
    days = weekdays_given(closed_weekdays)
    if CourtCalendar.objects.filter(name=name.strip()).exists():
        raise Mistaken(name="There is a calendar of this name already.")
    calendar = enter(
        CourtCalendar(
            name=name.strip(), closed_weekdays=",".join(str(day) for day in days)
        )
    )
    note_access(calendar.number)
    return calendar.number


@usecase("calendar.preview", power=Power.SET_UP, subject="calendar")
def preview_calendar_change(
    *, calendar: str, change: CalendarChange, actor: Actor, at: datetime
) -> Effects:
    """Say what a change of a calendar would move, without making it."""
    of = calendar_named(calendar)
    note_access(of.number, change=type(change).__name__)
    return moved_by(of, change, actor, at)


@usecase("calendar.change", power=Power.SET_UP, subject="calendar")
def change_calendar(
    *,
    calendar: str,
    change: CalendarChange,
    earlier_accepted: bool = False,
    actor: Actor,
    at: datetime,
) -> Changed:
    """Make a change of a calendar, and say what it moved.

    Args:
        earlier_accepted: said after a preview, that what would end earlier shall.

    Raises:
        Mistaken: what was given cannot be right, or something would end earlier and
            nobody said that it shall.
        Refused: the entry is struck or ended already.
    """
    of = calendar_named(calendar)
    return carried_out(of, change, earlier_accepted, actor, at)


@usecase("calendar.close", power=Power.SET_UP, subject="calendar")
def record_closed_days(
    *,
    calendar: str,
    first_day: date,
    last_day: date,
    reason: str,
    notification: str,
    kind: str = "unsaid",
    actor: Actor,
    at: datetime,
) -> str:
    """Enter days on which the court's registry did not receive, with the paper."""
    days = DaysEntered(first_day, last_day, reason, notification, kind)
    return carried_out(calendar_named(calendar), days, False, actor, at).number


def moved_by(
    of: CourtCalendar, change: CalendarChange, actor: Actor, at: datetime
) -> Effects:
    """Return what a change would move; raises what ``planned`` does."""
    return _effects(of, calendar_of(of), planned(of, change, at).after, actor, at)


def carried_out(
    of: CourtCalendar,
    change: CalendarChange,
    earlier_accepted: bool,
    actor: Actor,
    at: datetime,
) -> Changed:
    """Make a change, once nobody else can dispose of what it touches."""
    lock_contests(list(Contest.objects.filter(election__calendar=of)))
    of.refresh_from_db()
    # What it moves is asked before saving, since saving makes it the calendar.
    plan: Plan = planned(of, change, at)
    effects = _effects(of, calendar_of(of), plan.after, actor, at)
    if effects.sooner and not earlier_accepted:
        raise Mistaken(
            earlier_accepted=f"{effects.earlier_told} Look at the list, and say that "
            "this is meant."
        )
    number = plan.save(at)
    note_access(
        of.number,
        entry=number,
        change=type(change).__name__,
        later=effects.later,
        earlier=effects.earlier,
        earlier_accepted=bool(effects.sooner),
        because=getattr(change, "because", ""),
    )
    return Changed(number, effects)


def _effects(
    of: CourtCalendar, before: Calendar, after: Calendar, actor: Actor, at: datetime
) -> Effects:
    rows = elections_of(actor).filter(calendar=of)
    elections = list(rows.select_related("schedule", "calendar").order_by("id"))
    return effects_on(
        elections,
        held_by(actor),
        _supposed(elections, after),
        at,
        before=_supposed(elections, before),
    )


def _supposed(elections: Sequence[Election], calendar: Calendar) -> Supposed:
    return Supposed(calendars={election.pk: calendar for election in elections})


def held_by(actor: Actor) -> list[Containers]:
    """Return what is counted for an actor: who sets up sees numbers, no containers."""
    if actor.may(Power.SET_UP):
        return [Box.objects.all(), Envelope.objects.all()]
    return [boxes_of(actor), envelopes_of(actor)]
