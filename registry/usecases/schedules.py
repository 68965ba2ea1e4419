"""Retention schedules: taking a version in, reading it, comparing two."""

import hashlib
from dataclasses import dataclass
from datetime import datetime

from registry.models import RetentionSchedule
from registry.queries.find import NotThere, the
from registry.queries.keeping import schedule_of
from registry.queries.schedules import (
    ChangeRow,
    ScheduleFile,
    ScheduleRow,
    VersionRow,
    schedule_file,
    schedule_rows,
    version_row,
)
from registry.rules.numbers import looks_like_number
from registry.rules.powers import Actor, Power
from registry.rules.schedule_changes import Change, compare
from registry.rules.schedules import Schedule, ScheduleError, read_schedule
from registry.usecases._door import Mistaken, note_access, usecase
from registry.usecases._records import enter

__all__ = [
    "ChangeRow",
    "ScheduleFile",
    "ScheduleText",
    "SchedulesCompared",
    "adopt_schedule",
    "compare_schedules",
    "list_schedules",
    "look_at_schedule",
    "schedule_named",
]


@dataclass(frozen=True)
class ScheduleText:
    """The text of a schedule's file that is not in the register yet."""

    text: str
    file_name: str


@dataclass(frozen=True)
class SchedulesCompared:
    """Two versions side by side: every point in which they differ."""

    before: VersionRow
    after: VersionRow
    changes: tuple[Change, ...]


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


@usecase("schedule.compare", power=Power.SEE_ELECTIONS)
def compare_schedules(
    *,
    before: str | ScheduleText,
    after: str | ScheduleText,
    actor: Actor,
    at: datetime,
) -> SchedulesCompared:
    """Hold two versions of a schedule side by side.

    Args:
        before, after: a register number, ``code:version``, or a file's text.

    Raises:
        NotThere: there is no such version in the register.
        Mistaken: a file is no usable schedule; every problem is listed.
    """
    old_row, old = _version(before)
    new_row, new = _version(after)
    note_access(new_row.number or old_row.number, before=old_row.name)
    return SchedulesCompared(old_row, new_row, compare(old, new))


@usecase("schedule.adopt", power=Power.SET_UP)
def adopt_schedule(*, text: str, file_name: str, actor: Actor, at: datetime) -> str:
    """Take a version of a retention schedule into the register.

    A version that is there already is left as it is; another text under the same
    version is refused, because an election may be pinned to it.

    Returns:
        The schedule's register number.

    Raises:
        Mistaken: the file is no usable schedule; every problem is listed.
    """
    rules = _read(ScheduleText(text, file_name))
    digest = hashlib.sha256(text.encode()).hexdigest()
    known = RetentionSchedule.objects.filter(
        code=rules.code, version=rules.version
    ).first()
    if known:
        note_access(known.number)
        if known.digest != digest:
            raise Mistaken(
                text=f"Version {rules.version} of {rules.code} is already in the "
                "register with another text. Give the amended schedule a new version."
            )
        return known.number
    schedule = enter(
        RetentionSchedule(
            code=rules.code,
            version=rules.version,
            title=rules.title,
            ordained_by=rules.ordained_by,
            order=rules.order,
            in_force_from=rules.in_force_from,
            file_name=file_name,
            text=text,
            digest=digest,
        )
    )
    note_access(schedule.number)
    return schedule.number


def schedule_named(named: str) -> RetentionSchedule:
    """Return the version of this register number, or ``code:version``.

    Raises NotThere where the register has no such version.
    """
    rows = RetentionSchedule.objects.all()
    if looks_like_number(named):
        return the(rows, named, "schedule")
    code, _, version = named.strip().partition(":")
    given = int(version) if version.isascii() and version.isdecimal() else 0
    found = rows.filter(code=code, version=min(given, 2**31 - 1)).first()
    if found is None:
        raise NotThere(
            f"There is no schedule {named.strip()}. Write its register number, or its "
            "code and version, such as calvenna:3."
        )
    return found


def _version(of: str | ScheduleText) -> tuple[VersionRow, Schedule]:
    if isinstance(of, ScheduleText):
        rules = _read(of)
        return version_row(rules), rules
    record = schedule_named(of)
    rules = schedule_of(record)
    return version_row(rules, record.number), rules


def _read(given: ScheduleText) -> Schedule:
    try:
        return read_schedule(given.text, given.file_name)
    except ScheduleError as error:
        raise Mistaken({"text": [str(p) for p in error.problems]}) from error
