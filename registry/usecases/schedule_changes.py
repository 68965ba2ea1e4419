"""Moving an election to another version of its schedule, with the order for it.

What every held container gets, later, earlier or the same, is shown first; an earlier
end is never applied without saying so, and why.
"""

from dataclasses import dataclass
from datetime import datetime

from registry.models import Box, Election, Envelope, RetentionSchedule, ScheduleChange
from registry.queries.effects import Effects, Supposed, effects_on
from registry.queries.find import NotThere
from registry.queries.finding import election_named
from registry.queries.keeping import legal_date, schedule_of
from registry.queries.schedules import ChangeRow, VersionRow, changes_of, version_row
from registry.queries.scope import elections_of
from registry.rules.powers import Actor, Power
from registry.rules.schedule_changes import Change, compare
from registry.usecases._covers import lock_contests
from registry.usecases._door import Mistaken, Refused, note_access, usecase
from registry.usecases._records import enter
from registry.usecases.schedules import schedule_named

LONGEST = {"order": 200, "earlier_accepted_because": 400}


@dataclass(frozen=True)
class Counts:
    """How many containers end later, earlier, and as before."""

    later: int
    earlier: int
    unchanged: int


@dataclass(frozen=True)
class ElectionSchedule:
    """The version to which an election is pinned, and how it came to be.

    Attributes:
        offered: (register number, name) of every other version.
    """

    number: str
    election: str
    pinned: VersionRow
    changes: tuple[ChangeRow, ...]
    offered: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class SchedulePreview:
    """What moving an election to another version would do."""

    election: str
    election_number: str
    before: VersionRow
    after: VersionRow
    changes: tuple[Change, ...]
    effects: Effects

    @property
    def counts(self) -> Counts:
        """The counts that an adoption must find again."""
        return _counts(self.effects)


@usecase("election.look_at_schedule", power=Power.SEE_ELECTIONS, subject="election")
def look_at_election_schedule(
    *, election: str, actor: Actor, at: datetime
) -> ElectionSchedule:
    """Say to which version an election is pinned, and by which orders it came there."""
    of = _election(election, actor)
    note_access(of.number)
    others = RetentionSchedule.objects.exclude(pk=of.schedule_id)
    return ElectionSchedule(
        number=of.number,
        election=of.name,
        pinned=_version(of.schedule),
        changes=changes_of(of),
        offered=tuple(
            (row.number, f"{row.code}, version {row.version}: {row.title}")
            for row in others.order_by("code", "-version")
        ),
    )


@usecase("election.preview_schedule", power=Power.SET_UP, subject="election")
def preview_schedule_change(
    *, election: str, schedule: str, actor: Actor, at: datetime
) -> SchedulePreview:
    """Say what another version would do to every held container, changing nothing.

    Args:
        election: its code or register number.
        schedule: a register number, or ``code:version``.
    """
    of = _election(election, actor)
    new = schedule_named(schedule)
    note_access(of.number, schedule=new.number)
    return _preview(of, new, at)


@usecase("election.change_schedule", power=Power.SET_UP, subject="election")
def change_election_schedule(
    *,
    election: str,
    schedule: str,
    order: str,
    seen: Counts,
    earlier_accepted_because: str = "",
    actor: Actor,
    at: datetime,
) -> str:
    """Pin an election to another version, by the order that ordains it.

    Args:
        order: the order, as it is cited.
        seen: the counts of the preview that this rests on.
        earlier_accepted_because: why an earlier end than before shall apply; needed
            where there is one.

    Returns:
        The register number of the change.

    Raises:
        Mistaken: the order or the acceptance is missing.
        Refused: it is pinned to this version already, the version is not in force, or
            the containers are no longer those of the preview.
    """
    of = _election(election, actor)
    new = schedule_named(schedule)
    note_access(of.number, schedule=new.number)
    _check_texts(order=order, earlier_accepted_because=earlier_accepted_because)
    # Disposals lock the same contests: none runs between the counting and the saving.
    lock_contests(list(of.contests.all()))
    of = Election.objects.select_for_update(no_key=True).get(pk=of.pk)
    _refuse_unfit(of, new, at)
    found = _preview(of, new, at)
    _refuse_unsaid(found, seen, earlier_accepted_because)
    change = enter(
        ScheduleChange(
            election=of,
            before=of.schedule,
            after=new,
            order=order.strip(),
            adopted_at=at,
            later=found.counts.later,
            earlier=found.counts.earlier,
            unchanged=found.counts.unchanged,
            earlier_accepted_because=earlier_accepted_because.strip(),
        )
    )
    of.schedule = new
    of.save()
    note_access(of.number, change=change.number, **vars(found.counts))
    return change.number


def _check_texts(**texts: str) -> None:
    problems = {
        name: [f"Shorten this to {LONGEST[name]} characters."]
        for name, text in texts.items()
        if len(text.strip()) > LONGEST[name]
    }
    if not texts["order"].strip():
        problems["order"] = ["Name the order that ordains the new version."]
    if problems:
        raise Mistaken(problems)


def _refuse_unfit(of: Election, new: RetentionSchedule, at: datetime) -> None:
    if of.schedule_id == new.pk:
        raise Refused(f"{of} is pinned to {new} already.")
    if new.in_force_from > legal_date(of, at):
        raise Refused(
            f"{new} is in force only from {new.in_force_from:%-d %B %Y}. Until then "
            "the version before it governs; look at the preview, and adopt it on "
            "that day."
        )


def _refuse_unsaid(found: SchedulePreview, seen: Counts, because: str) -> None:
    if found.counts != seen:
        raise Refused(
            "What is held, or what holds it, has changed since the preview: "
            f"now {found.counts.later} end later, {found.counts.earlier} earlier, "
            f"{found.counts.unchanged} as before. Look at the preview again."
        )
    if found.effects.sooner and not because.strip():
        raise Mistaken(
            earlier_accepted_because=f"{found.effects.earlier_told} Say why this shall "
            "apply to what is held already, or leave the election where it is."
        )


def _preview(of: Election, new: RetentionSchedule, at: datetime) -> SchedulePreview:
    rules = schedule_of(new)
    return SchedulePreview(
        election=of.name,
        election_number=of.number,
        before=_version(of.schedule),
        after=_version(new),
        changes=compare(schedule_of(of.schedule), rules),
        effects=effects_on(
            [of],
            [Box.objects.all(), Envelope.objects.all()],
            Supposed(schedules={of.pk: rules}),
            at,
        ),
    )


def _counts(effects: Effects) -> Counts:
    return Counts(effects.later, effects.earlier, effects.unchanged)


def _version(record: RetentionSchedule) -> VersionRow:
    return version_row(schedule_of(record), record.number)


def _election(named: str, actor: Actor) -> Election:
    rows = elections_of(actor).select_related("schedule", "calendar")
    found = election_named(rows, named)
    if found is None:
        raise NotThere(f"There is no election {named.strip()} that you may see.")
    return found
