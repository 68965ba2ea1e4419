"""What is asked about when a container is to be opened or disposed of: the facts."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime
from unicodedata import normalize

from registry.rules.acts import ACT_TITLES as ACT_TITLES
from registry.rules.acts import Act as Act
from registry.rules.retention import Retention
from registry.rules.schedule_parts import ContentKind
from registry.rules.steps import Fact
from registry.rules.wording import say
from registry.rules.wording_remedies import REMEDIES

# The states of a container that the rules know; any other is a reason to refuse.
HELD, QUARANTINED, DISPOSED = "held", "quarantined", "disposed"


@dataclass(frozen=True)
class IncidentFact:
    """An open incident that touches a container; everything it touches is held.

    Attributes:
        directed: the authority's direction on it is on record.
    """

    number: str
    title: str
    directed: bool = False


@dataclass(frozen=True)
class ContainerFact:
    """A box, an envelope or a strong room as it stands at this instant.

    Attributes:
        number: its register number.
        noun: ``box``, ``envelope`` or ``strong room``.
        state: ``held``, ``quarantined``, ``disposed`` or another word.
        whereabouts: where it is, in words: "at the Registry of the High Bench".
        seal_intact: None where nobody has looked.
        open_discrepancies: the register numbers of those that are open.
        incidents: those that are open and touch it, or the whole room around it.
        retention: as of the day of the act; None (unknown) means keep.
        contents: what lies in it.
        lies_in: the register number of the box around an envelope.
        box_opened_on: the last day on which that box was opened.
        kind: what it holds, where that is known.
    """

    number: str
    noun: str
    state: str
    whereabouts_present: bool
    whereabouts: str
    seal_intact: bool | None
    seal_checked_on: date | None
    open_discrepancies: tuple[str, ...]
    retention: Retention | None
    contents: tuple["ContainerFact", ...] = ()
    lies_in: str = ""
    box_opened_on: date | None = None
    kind: ContentKind | None = None
    incidents: tuple[IncidentFact, ...] = ()

    @property
    def called(self) -> str:
        """How it is called at the head of a sentence."""
        return f"{self.noun[:1].upper()}{self.noun[1:]} {self.number}"


@dataclass(frozen=True)
class PermissionFact:
    """An order of the higher authority; its times are in the registry's legal zone.

    Attributes:
        covers: the register numbers it names, frozen when it was granted.
        while_still_kept: it expressly allows its act during the time of keeping.
        instead_of_confirmation: it expressly stands in for the registry's confirmation,
            where the schedule lets it.
        conditions_unmet: its conditions that are not met at this instant, in words.
    """

    number: str
    act: Act
    authority: str
    order_ref: str
    dated: date
    valid_from: date
    valid_until: date
    countersigned_at: datetime | None
    revoked_at: datetime | None
    covers: frozenset[str]
    while_still_kept: bool = False
    conditions_unmet: tuple[str, ...] = ()
    instead_of_confirmation: bool = False


@dataclass(frozen=True)
class ConfirmationFact:
    """The court registry's word that no petition or appeal is pending.

    Attributes:
        contest: the register number of the contest it speaks of.
        covers_through: the last day of the time it speaks of.
    """

    number: str
    dated: date
    contest: str
    covers_through: date


@dataclass(frozen=True)
class Obstacle:
    """One thing that stands in the way."""

    code: str
    facts: Mapping[str, Fact]

    @property
    def text(self) -> str:
        """The obstacle in one plain sentence."""
        return say(f"disposal.{self.code}", self.facts)

    @property
    def remedy(self) -> str:
        """What to do about it."""
        return REMEDIES[self.code]


def as_compared(name: str) -> str:
    """Return a name as it is compared: spacing, case and letter forms do not differ."""
    return " ".join(normalize("NFKC", name).casefold().split())
