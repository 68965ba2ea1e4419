"""What was issued for sealing, what became of it, and which seals were put on."""

from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from registry.rules.seal_numbers import SealRange


class Fate(StrEnum):
    """What became of a piece; each has exactly one, the first that fits."""

    APPLIED = "applied"
    SPOILT = "spoilt"
    RETURNED = "returned"
    LOST = "lost"
    UNACCOUNTED = "unaccounted"


@dataclass(frozen=True)
class Issue:
    """A lot that was issued for a contest.

    Attributes:
        kind: ``paper`` or ``strap`` for numbered seals, else ``envelope`` or ``box``.
        maker: in the form in which makers are compared; empty: not known.
        numbers: of seals; None for what is counted only.
    """

    ref: str
    contest: str
    kind: str
    count: int
    issued_on: date
    maker: str = ""
    numbers: SealRange | None = None


@dataclass(frozen=True)
class End:
    """Pieces of a lot that were not used: spoilt, returned or lost."""

    ref: str
    issue: str
    fate: Fate
    count: int
    numbers: SealRange | None = None


@dataclass(frozen=True)
class Applied:
    """A numbered seal on a container, now or before it was superseded.

    Attributes:
        ref: register number of the seal.
        serial: as printed; plain: as compared.
        contest: of the container; empty where it is in quarantine without one.
        on: how the container is named to whoever asks.
    """

    ref: str
    contest: str
    kind: str
    serial: str
    plain: str
    on: str
    maker: str = ""


@dataclass(frozen=True)
class Answered:
    """A discrepancy about material: its number, and what was written in it."""

    ref: str
    contest: str
    written: str
    expected: str
    is_resolved: bool
    owner: str = ""
    due_on: date | None = None
    resolution: str = ""


@dataclass(frozen=True)
class MaterialFacts:
    """The material of an election.

    Attributes:
        used: by contest and kind, how many envelopes or boxes are on the register.
    """

    issues: tuple[Issue, ...] = ()
    ends: tuple[End, ...] = ()
    applied: tuple[Applied, ...] = ()
    used: tuple[tuple[str, str, int], ...] = ()
    answered: tuple[Answered, ...] = ()
