"""What a new version of a schedule changes, in words and for what is held.

An earlier end than before is never applied without saying so: it is counted and named
here, and the caller asks before it adopts the version.
"""

from collections.abc import Hashable, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from enum import StrEnum
from typing import Generic, TypeVar

from registry.rules.calendars import Calendar
from registry.rules.retention import Retention, RetentionFacts, retention_of
from registry.rules.schedule_words import in_words
from registry.rules.schedules import Schedule

Key = TypeVar("Key", bound=Hashable)


@dataclass(frozen=True)
class Change:
    """One point in which two versions differ; an empty side does not have it."""

    about: tuple[str, ...]
    old: str
    new: str

    @property
    def text(self) -> str:
        """The change in one plain sentence."""
        about = ", ".join(self.about)
        if not self.old:
            return f"{about}: new: {self.new}."
        if not self.new:
            return f"{about}: falls away (it was: {self.old})."
        return f"{about}: was: {self.old}; is now: {self.new}."


def compare(old: Schedule, new: Schedule) -> tuple[Change, ...]:
    """Return every point in which the versions differ, in the order they are written.

    The version's own name, order and date are left out: they always differ.
    """
    before, after = in_words(old), in_words(new)
    changes = (
        Change(about, before.get(about, ""), after.get(about, ""))
        for about in dict.fromkeys([*before, *after])
    )
    return tuple(change for change in changes if change.old != change.new)


class Effect(StrEnum):
    """What a new version does to the end of keeping."""

    EARLIER = "earlier"
    LATER = "later"
    UNCHANGED = "unchanged"


@dataclass(frozen=True)
class Moved:
    """What a new version does to one container, or to all that share its facts."""

    before: Retention
    after: Retention

    @property
    def effect(self) -> Effect:
        """Whether disposal may come earlier, later or as before; no end is latest."""
        before = self.before.may_be_disposed_from or date.max
        after = self.after.may_be_disposed_from or date.max
        if after == before:
            return Effect.UNCHANGED
        return Effect.EARLIER if after < before else Effect.LATER

    @property
    def longer(self) -> Retention:
        """The answer that keeps longer: what applies where the law leaves it open."""
        return self.before if self.effect is Effect.EARLIER else self.after


@dataclass(frozen=True)
class Moves(Generic[Key]):
    """What a new version does to everything held, by the caller's own keys."""

    by_key: Mapping[Key, Moved]

    def with_effect(self, effect: Effect) -> tuple[Key, ...]:
        """Return the keys on which it has this effect, in the order given."""
        return tuple(key for key, each in self.by_key.items() if each.effect is effect)


def effect_of(
    facts: RetentionFacts,
    old: Schedule,
    new: Schedule,
    calendar: Calendar,
    as_of: date,
    known_at: datetime | None = None,
) -> Moved:
    """Return what a new version does to what these facts keep, as of a day."""
    return Moved(
        retention_of(facts, old, calendar, as_of, known_at),
        retention_of(facts, new, calendar, as_of, known_at),
    )


def effects_of(
    held: Mapping[Key, RetentionFacts],
    old: Schedule,
    new: Schedule,
    calendar: Calendar,
    as_of: date,
    known_at: datetime | None = None,
) -> Moves[Key]:
    """Return what a new version does to everything held.

    Args:
        held: the facts, by whatever names the container or the group that shares them.
        old: the version in force.
        new: the version to be adopted.
        calendar: of the court in which petitions and appeals are filed.
        as_of: the day asked about.
        known_at: as in ``retention_of``.
    """
    return Moves(
        {
            key: effect_of(facts, old, new, calendar, as_of, known_at)
            for key, facts in held.items()
        }
    )
