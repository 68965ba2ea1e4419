"""A retention schedule as the rules know it; its keys: registry.rules.schedules."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from enum import StrEnum

from registry.rules.acts import Act, KeepingState
from registry.rules.calendars import Calendar
from registry.rules.case_events import CaseEventKind, CourtLevel
from registry.rules.contents import ContentKind as ContentKind
from registry.rules.keeping_parts import KeepingRules
from registry.rules.markings import Marking
from registry.rules.periods import Computed, Period, last_day


class Trigger(StrEnum):
    """What starts a term."""

    RESULT_DECLARED = "result-declared"
    RETURN_MADE = "return-made"
    RETURN_RECEIVED = "return-received"
    GAZETTED = "gazetted"
    POLLED = "polled"
    COUNTED = "counted"
    PAPERS_RECEIVED = "papers-received"
    NEXT_POLL = "next-poll"


class DestructionLevel(StrEnum):
    """Particle size after shredding paper, ISO/IEC 21964-1 (also DIN 66399-1)."""

    P1 = "P-1"
    P2 = "P-2"
    P3 = "P-3"
    P4 = "P-4"
    P5 = "P-5"
    P6 = "P-6"
    P7 = "P-7"


class Basis(StrEnum):
    """What a clause in the file rests on; counsel confirms it whatever it is."""

    ORDAINED = "ordained"
    LOOKED_UP = "looked-up"
    FROM_MEMORY = "from-memory"


@dataclass(frozen=True)
class Term:
    """One period for which containers are kept; ``triggers``: the latest starts it.

    Attributes:
        earlier_legs: periods counted one after the other before ``period``.
        looked_up_in: where the clause was read, if it was looked up.
    """

    name: str
    title: str
    triggers: tuple[Trigger, ...]
    period: Period
    clause: str
    source: str
    petition_window: bool = False
    earlier_legs: tuple[Period, ...] = ()
    basis: Basis = Basis.ORDAINED
    looked_up_in: str = ""

    @property
    def legs(self) -> tuple[Period, ...]:
        """All its periods in the order in which they are counted."""
        return (*self.earlier_legs, self.period)


@dataclass(frozen=True)
class AppealWindow:
    """How long after a decision of this kind and level it is not yet settled.

    Attributes:
        waits: whether the decision is unsettled while the window runs; where the law
            does not wait for it, the window is shown only.
    """

    name: str
    after: frozenset[CaseEventKind]
    levels: frozenset[CourtLevel]
    period: Period
    clause: str
    source: str
    waits: bool = True
    earlier_legs: tuple[Period, ...] = ()
    basis: Basis = Basis.ORDAINED
    looked_up_in: str = ""

    @property
    def legs(self) -> tuple[Period, ...]:
        """All its periods in the order in which they are counted."""
        return (*self.earlier_legs, self.period)


@dataclass(frozen=True)
class ClassRules:
    """What the schedule says about one class of content.

    Attributes:
        per_station: envelopes of the class expected from each station; None: nobody
            can say beforehand. Slips are expected from each unit set instead.
    """

    kind: ContentKind
    terms: tuple[Term, ...]
    envelope_markings: tuple[Marking, ...]
    box_markings: tuple[Marking, ...]
    destruction_level: DestructionLevel
    per_station: int | None = None


@dataclass(frozen=True)
class AuthorityRule:
    """Which authority may permit these acts on these classes in these states."""

    authority: str
    acts: frozenset[Act]
    classes: frozenset[ContentKind]
    states: frozenset[KeepingState]
    clause: str
    source: str
    basis: Basis = Basis.ORDAINED
    looked_up_in: str = ""


@dataclass(frozen=True)
class Notice:
    """How long before an act it must be announced; its period counts backward."""

    name: str
    title: str
    act: Act
    period: Period
    clause: str
    source: str
    basis: Basis = Basis.ORDAINED
    looked_up_in: str = ""

    def last_day(self, act_on: date, calendar: Calendar) -> Computed:
        """Count the last day on which notice of an act on this day may be given.

        Raises PeriodError where it cannot be counted.
        """
        return last_day([act_on], self.period, calendar)


@dataclass(frozen=True)
class SafetyMargins:
    """Days kept beyond what the law asks, for papers that are still on their way.

    Attributes:
        inner_days: after each window for a petition or an appeal.
        outer_days: after everything else has ended.
    """

    inner_days: int = 0
    outer_days: int = 0
    clause: str = ""


@dataclass(frozen=True)
class Schedule:
    """One version of a retention schedule.

    Attributes:
        express_order_suffices: the authority's express order may stand in place of
            the confirmation.
        to_be_confirmed: written from published law; counsel has not confirmed it.
    """

    code: str
    version: int
    title: str
    law: str
    ordained_by: str
    order: str
    in_force_from: date
    classes: Mapping[ContentKind, ClassRules]
    appeal_windows: tuple[AppealWindow, ...]
    confirmation_required: bool
    confirmation_clause: str
    seal_check_within_days: int
    note: str = ""
    express_order_suffices: bool = False
    to_be_confirmed: bool = False
    authorities: tuple[AuthorityRule, ...] = ()
    notices: tuple[Notice, ...] = ()
    margins: SafetyMargins = SafetyMargins()
    keeping: KeepingRules = field(default_factory=KeepingRules)

    def windows_after(
        self, kind: CaseEventKind, level: CourtLevel
    ) -> tuple[AppealWindow, ...]:
        """Return every window that a decision of this kind and level opens."""
        return tuple(
            window
            for window in self.appeal_windows
            if kind in window.after and level in window.levels
        )

    def authorities_for(
        self, act: Act, kind: ContentKind, state: KeepingState
    ) -> tuple[AuthorityRule, ...]:
        """Return every authority that may permit the act; none: it does not say."""
        return tuple(
            rule
            for rule in self.authorities
            if act in rule.acts and kind in rule.classes and state in rule.states
        )

    def notices_before(self, act: Act) -> tuple[Notice, ...]:
        """Return every notice that must be given before the act."""
        return tuple(notice for notice in self.notices if notice.act is act)
