"""A retention schedule as its page shows it: each clause in words, and the text."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from django.db.models import Count, Q, QuerySet

from registry.models import Election, RetentionSchedule, ScheduleChange
from registry.queries.keeping import schedule_of
from registry.queries.set_up import CONTENT
from registry.queries.timeline import TimelineEntry, timeline_of
from registry.rules.acts import ACT_TITLES, STATE_TITLES
from registry.rules.case_events import EVENT_TITLES, LEVEL_TITLES
from registry.rules.periods import Direction, IfClosed, Period
from registry.rules.retention import TRIGGER_TITLES
from registry.rules.schedule_words import last_day_in_words, time_in_words
from registry.rules.schedules import (
    AppealWindow,
    AuthorityRule,
    Basis,
    ClassRules,
    ContentKind,
    Notice,
    Schedule,
    Term,
)
from registry.rules.wording import span


@dataclass(frozen=True)
class ScheduleRow:
    """A version of a schedule in a list."""

    number: str
    title: str
    code: str
    version: int
    in_force_from: date
    elections: int
    ordained_by: str
    to_be_confirmed: bool
    digest: str


@dataclass(frozen=True)
class VersionRow:
    """A version of a schedule, in the register or still a file (then no number)."""

    number: str
    name: str
    title: str
    code: str
    version: int
    ordained_by: str
    order: str
    in_force_from: date
    to_be_confirmed: bool


@dataclass(frozen=True)
class ClauseRow:
    """One clause in words: what, how long, by which law.

    Attributes:
        rests_on: whether it was looked up, and where, or written from memory; empty
            where it is the ordained law itself.
    """

    title: str
    words: str
    clause: str
    source: str
    rests_on: str = ""


@dataclass(frozen=True)
class ChangeRow:
    """An election's move to another version, with what it changed then."""

    number: str
    election: str
    election_number: str
    before: str
    before_number: str
    after: str
    after_number: str
    order: str
    adopted_at: datetime
    later: int
    earlier: int
    unchanged: int
    earlier_accepted_because: str


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
    authorities: tuple[ClauseRow, ...]
    notices: tuple[ClauseRow, ...]
    margins: str
    to_be_confirmed: bool
    changes: tuple[ChangeRow, ...]
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
            number=row.number,
            title=row.title,
            code=row.code,
            version=row.version,
            in_force_from=row.in_force_from,
            elections=row.pinned,
            ordained_by=row.ordained_by,
            to_be_confirmed=schedule_of(row).to_be_confirmed,
            digest=row.digest,
        )
        for row in counted.order_by("code", "-version")
    )


def schedule_file(record: RetentionSchedule) -> ScheduleFile:
    """Gather what a schedule's page shows."""
    rules = schedule_of(record)
    moved = ScheduleChange.objects.filter(Q(before=record) | Q(after=record))
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
        confirmation=_confirmation(rules),
        seal_check=f"not older than {within} days" if within else "of the same day",
        note=rules.note,
        classes=tuple(_class(one) for one in rules.classes.values()),
        windows=tuple(_window(window) for window in rules.appeal_windows),
        authorities=tuple(_authority(rule) for rule in rules.authorities),
        notices=tuple(_notice(notice) for notice in rules.notices),
        margins=_margins(rules),
        to_be_confirmed=rules.to_be_confirmed,
        changes=change_rows(moved),
        file_name=record.file_name,
        text=record.text,
        digest=record.digest,
        elections=tuple((e.number, e.name) for e in record.election_set.order_by("id")),
        timeline=tuple(timeline_of(record)),
    )


def version_row(rules: Schedule, number: str = "") -> VersionRow:
    """Return a version as a row; without a number it is a file still."""
    return VersionRow(
        number=number,
        name=f"{rules.code}, version {rules.version}",
        title=rules.title,
        code=rules.code,
        version=rules.version,
        ordained_by=rules.ordained_by,
        order=rules.order,
        in_force_from=rules.in_force_from,
        to_be_confirmed=rules.to_be_confirmed,
    )


def change_rows(changes: QuerySet[ScheduleChange]) -> tuple[ChangeRow, ...]:
    """Return moves from one version to another as rows, the newest first."""
    rows = changes.select_related("election", "before", "after").order_by("-id")
    return tuple(
        ChangeRow(
            number=row.number,
            election=row.election.name,
            election_number=row.election.number,
            before=f"{row.before.code}, version {row.before.version}",
            before_number=row.before.number,
            after=f"{row.after.code}, version {row.after.version}",
            after_number=row.after.number,
            order=row.order,
            adopted_at=row.adopted_at,
            later=row.later,
            earlier=row.earlier,
            unchanged=row.unchanged,
            earlier_accepted_because=row.earlier_accepted_because,
        )
        for row in rows
    )


def changes_of(election: Election) -> tuple[ChangeRow, ...]:
    """Return an election's moves from one version to another, the newest first."""
    return change_rows(ScheduleChange.objects.filter(election=election))


def _confirmation(rules: Schedule) -> str:
    if not rules.confirmation_required:
        return "not asked for"
    asked = f"asked for by {rules.confirmation_clause or rules.law}"
    if rules.express_order_suffices:
        return f"{asked}, or the authority’s express order in its place"
    return asked


def _margins(rules: Schedule) -> str:
    margins = rules.margins
    if not (margins.inner_days or margins.outer_days):
        return "none"
    inner, outer = span(margins.inner_days, "days"), span(margins.outer_days, "days")
    clause = f" ({margins.clause})" if margins.clause else ""
    return f"{inner} after each window, {outer} after everything{clause}"


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
    words = _time(term.legs, f"after the {events}{later}")
    if term.period.direction is Direction.BACKWARD:
        words = _time(term.legs, f"before the {events}{later}")
    return _clause(term.title, f"{words}{_manner(term.period)}.", term)


def _window(window: AppealWindow) -> ClauseRow:
    after = ", ".join(title for k, title in EVENT_TITLES.items() if k in window.after)
    courts = ", ".join(t for k, t in LEVEL_TITLES.items() if k in window.levels)
    words = _time(window.legs, f"after: {after}, in the {courts}")
    shown = "" if window.waits else "; shown only, the decision settles at once"
    return _clause(window.name, f"{words}{_manner(window.period)}{shown}.", window)


def _authority(rule: AuthorityRule) -> ClauseRow:
    acts = _joined(title for act, title in ACT_TITLES.items() if act in rule.acts)
    kinds = _joined(CONTENT[k].lower() for k in ContentKind if k in rule.classes)
    states = _joined(title for s, title in STATE_TITLES.items() if s in rule.states)
    return _clause(rule.authority, f"May permit to {acts}: {kinds}, {states}.", rule)


def _notice(notice: Notice) -> ClauseRow:
    words = _time([notice.period], f"before: {ACT_TITLES[notice.act]}")
    return _clause(notice.title, f"{words}{_manner(notice.period)}.", notice)


def _clause(
    title: str, words: str, of: Term | AppealWindow | AuthorityRule | Notice
) -> ClauseRow:
    return ClauseRow(title, words, of.clause, of.source, _rests_on(of))


def _rests_on(of: Term | AppealWindow | AuthorityRule | Notice) -> str:
    if of.basis is Basis.LOOKED_UP:
        return f"looked up in {of.looked_up_in}" if of.looked_up_in else "looked up"
    return "from memory, not looked up" if of.basis is Basis.FROM_MEMORY else ""


def _joined(words: Iterable[str]) -> str:
    return ", ".join(words)


def _plain(word: str) -> str:
    return word.replace("-", " ")


def _time(legs: Sequence[Period], since: str) -> str:
    """Say "45 days after the declaration; the first day not counted"."""
    if len(legs) > 1:
        return f"{time_in_words(legs)}, {since}"
    length, _, counted = time_in_words(legs).partition(", ")
    return f"{length} {since}; {counted}"


def _manner(period: Period) -> str:
    if period.if_closed is IfClosed.KEEP:
        return "; a closed last day stays as it is"
    return f"; a closed last day: {last_day_in_words(period)}"
