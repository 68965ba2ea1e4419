"""What is known of a container's contest, and the orders and cases that cover it."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime

from registry.rules.cases import CaseFact
from registry.rules.schedules import ContentKind, Trigger


@dataclass(frozen=True)
class DateEntry:
    """A day entered for one of the contest's events; the latest entry counts.

    Attributes:
        on: None where an earlier entry was taken back and no day is known.
        recorded_at: when it was entered; None for always known.
    """

    trigger: Trigger
    on: date | None
    recorded_at: datetime | None = None


@dataclass(frozen=True)
class ContestDates:
    """A contest and the days on which things happened in it, as far as known.

    Attributes:
        events: the days as known now.
        entries: how they came to be known, in any order; where there are any, they
            say everything, and ``events`` is not looked at.
    """

    number: str
    title: str
    events: Mapping[Trigger, date]
    entries: tuple[DateEntry, ...] = ()

    def as_known(self, known_at: datetime | None) -> "ContestDates":
        """Return the days as known at a moment; None for now."""
        if not self.entries:
            return self
        events: dict[Trigger, date | None] = {}
        for entry in sorted(self.entries, key=_entered):
            at = entry.recorded_at
            if known_at is None or at is None or at <= known_at:
                events[entry.trigger] = entry.on
        known = {trigger: on for trigger, on in events.items() if on is not None}
        return replace(self, events=known, entries=())


def _entered(entry: DateEntry) -> tuple[bool, float, date]:
    # Of two entries of one instant the later day counts: it keeps longer.
    at = entry.recorded_at
    return at is not None, at.timestamp() if at else 0.0, entry.on or date.min


@dataclass(frozen=True)
class OrderFact:
    """A preservation order; without ``until_on`` it holds until it is lifted.

    Attributes:
        from_on: the day from which it holds.
        until_on: the last day it names, if it names one.
        lifted_on: the day on which it was lifted; that day is still kept.
        made_on: the day on which it was made, if that was before ``from_on``; an
            order that is known to be coming holds from then.
        recorded_at: when the register learnt of it; None for always known.
        lift_recorded_at: when the register learnt that it was lifted.
    """

    number: str
    title: str
    from_on: date
    until_on: date | None
    lifted_on: date | None = None
    made_on: date | None = None
    recorded_at: datetime | None = None
    lift_recorded_at: datetime | None = None


@dataclass(frozen=True)
class RetentionFacts:
    """All that bears on one container: only the cases and orders that cover it."""

    kind: ContentKind
    contest: ContestDates
    cases: tuple[CaseFact, ...] = ()
    orders: tuple[OrderFact, ...] = ()
