"""A retention schedule as its page shows it: each clause in words, and the text."""

from dataclasses import dataclass
from datetime import date

from django.db.models import Count, QuerySet

from registry.models import RetentionSchedule
from registry.queries.keeping import schedule_of
from registry.queries.set_up import CONTENT
from registry.queries.timeline import TimelineEntry, timeline_of
from registry.rules.case_events import EVENT_TITLES, LEVEL_TITLES, CourtLevel
from registry.rules.periods import Counting, IfClosed, MonthEnd, Period
from registry.rules.retention import TRIGGER_TITLES
from registry.rules.schedules import AppealWindow, ClassRules, Term
from registry.rules.wording import UNIT_NAMES


@dataclass(frozen=True)
class ScheduleRow:
    """A version of a schedule in a list."""

    number: str
    title: str
    code: str
    version: int
    in_force_from: date
    elections: int


@dataclass(frozen=True)
class ClauseRow:
    """One clause in words: what, how long, by which law."""

    title: str
    words: str
    clause: str
    source: str


@dataclass(frozen=True)
class ClassRow:
    """What a schedule says about one class of content."""

    content: str
    terms: tuple[ClauseRow, ...]
    envelope_markings: tuple[str, ...]
    box_markings: tuple[str, ...]
    destruction_level: str


@dataclass(frozen=True)
class ScheduleFile:
    """Everything that a schedule's page shows."""

    number: str
    title: str
    code: str
    version: int
    law: str
    ordained_by: str
    order: str
    in_force_from: date
    confirmation: str
    seal_check: str
    note: str
    classes: tuple[ClassRow, ...]
    windows: tuple[ClauseRow, ...]
    file_name: str
    text: str
    digest: str
    elections: tuple[tuple[str, str], ...]
    timeline: tuple[TimelineEntry, ...]


def schedule_rows(rows: QuerySet[RetentionSchedule]) -> tuple[ScheduleRow, ...]:
    """Return schedules as rows: by name, the newest version first."""
    counted = rows.annotate(pinned=Count("election"))
    return tuple(
        ScheduleRow(
            row.number, row.title, row.code, row.version, row.in_force_from, row.pinned
        )
        for row in counted.order_by("code", "-version")
    )


def schedule_file(record: RetentionSchedule) -> ScheduleFile:
    """Gather what a schedule's page shows."""
    rules = schedule_of(record)
    asked = f"asked for by {rules.confirmation_clause}"
    within = rules.seal_check_within_days
    return ScheduleFile(
        number=record.number,
        title=record.title,
        code=record.code,
        version=record.version,
        law=rules.law,
        ordained_by=record.ordained_by,
        order=record.order,
        in_force_from=record.in_force_from,
        confirmation=asked if rules.confirmation_required else "not asked for",
        seal_check=f"not older than {within} days" if within else "of the same day",
        note=rules.note,
        classes=tuple(_class(one) for one in rules.classes.values()),
        windows=tuple(_window(window) for window in rules.appeal_windows),
        file_name=record.file_name,
        text=record.text,
        digest=record.digest,
        elections=tuple((e.number, e.name) for e in record.election_set.order_by("id")),
        timeline=tuple(timeline_of(record)),
    )


def _class(rules: ClassRules) -> ClassRow:
    return ClassRow(
        content=CONTENT[rules.kind],
        terms=tuple(_term(term) for term in rules.terms),
        envelope_markings=tuple(_plain(m) for m in rules.envelope_markings),
        box_markings=tuple(_plain(m) for m in rules.box_markings),
        destruction_level=rules.destruction_level.value,
    )


def _term(term: Term) -> ClauseRow:
    events = " or the ".join(TRIGGER_TITLES[trigger] for trigger in term.triggers)
    later = ", whichever is later" if len(term.triggers) > 1 else ""
    words = f"{period_in_words(term.period)} after the {events}{later}"
    return ClauseRow(term.title, f"{words}{_manner(term.period)}.", term.clause,
                     term.source)  # fmt: skip


def _window(window: AppealWindow) -> ClauseRow:
    events = ", ".join(sorted(EVENT_TITLES[kind] for kind in window.after))
    courts = ", ".join(
        LEVEL_TITLES[level] for level in CourtLevel if level in window.levels
    )
    words = f"{period_in_words(window.period)} after: {events}, in the {courts}"
    return ClauseRow(window.name, f"{words}{_manner(window.period)}.", window.clause,
                     window.source)  # fmt: skip


def _plain(word: str) -> str:
    return word.replace("-", " ")


def period_in_words(period: Period) -> str:
    """Write a period's length: "45 days", "1 month"."""
    one, many = UNIT_NAMES[period.unit.value]
    return f"{period.length} {one if period.length == 1 else many}"


_COUNTING = {
    Counting.EXCLUDE_FIRST: "the event's day not counted",
    Counting.INCLUDE_FIRST: "the event's day counted",
    Counting.DAY_AFTER: "starting afresh on the day after",
    Counting.CLEAR: "clear days",
}
_IF_CLOSED = {
    IfClosed.KEEP: "a last day that is closed stays as it is",
    IfClosed.NEXT_OPEN: "a last day that is closed moves to the next open day",
    IfClosed.PREVIOUS_OPEN: "a last day that is closed moves to the open day before",
    IfClosed.FIRST_OPEN_AFTER: "then the first open day after",
}


def _manner(period: Period) -> str:
    told = [_COUNTING[period.counting], _IF_CLOSED[period.if_closed]]
    if period.month_end is MonthEnd.LAST_TO_LAST:
        told.append("from a month's last day to a month's last day")
    if period.skip_closed_within:
        told.append(
            f"closed days not counted in periods of {period.skip_closed_within} days "
            "or fewer"
        )
    if period.at_least_working_days:
        told.append(f"with at least {period.at_least_working_days} open days in it")
    return "; " + "; ".join(told)
