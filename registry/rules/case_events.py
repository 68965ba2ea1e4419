"""What happens to a case in court, as dated events at a level of court.

An event counts from the day on which it happened, never from the day on which it
was entered; both are kept. Corrected entries stay, struck, and count for nothing.
"""

from dataclasses import dataclass
from datetime import date, datetime
from enum import StrEnum


class CaseEventKind(StrEnum):
    """One kind of event in the life of a case."""

    HEARD_OF = "heard-of"
    FILED = "filed"
    RETURNED_FOR_DEFECTS = "returned-for-defects"
    ADMITTED = "admitted"
    HEARING = "hearing"
    TRANSFERRED = "transferred"
    WITHDRAWAL_SOUGHT = "withdrawal-sought"
    DISMISSED = "dismissed"
    DISMISSED_FOR_DEFAULT = "dismissed-for-default"
    WITHDRAWN = "withdrawn"
    ABATED = "abated"
    ALLOWED = "allowed"
    APPEALED = "appealed"
    REVIEW_SOUGHT = "review-sought"
    SUBSTITUTED = "substituted"
    RESTORED = "restored"
    REMANDED = "remanded"
    FINALLY_DISPOSED = "finally-disposed-of"


EVENT_TITLES = {
    CaseEventKind.HEARD_OF: "heard of, not yet confirmed",
    CaseEventKind.FILED: "filed",
    CaseEventKind.RETURNED_FOR_DEFECTS: "returned for defects",
    CaseEventKind.ADMITTED: "admitted",
    CaseEventKind.HEARING: "listed for hearing",
    CaseEventKind.TRANSFERRED: "transferred to another court",
    CaseEventKind.WITHDRAWAL_SOUGHT: "leave to withdraw asked for",
    CaseEventKind.DISMISSED: "dismissed",
    CaseEventKind.DISMISSED_FOR_DEFAULT: "dismissed for default",
    CaseEventKind.WITHDRAWN: "withdrawn with the court's leave",
    CaseEventKind.ABATED: "abated",
    CaseEventKind.ALLOWED: "allowed",
    CaseEventKind.APPEALED: "taken on appeal",
    CaseEventKind.REVIEW_SOUGHT: "review asked for",
    CaseEventKind.SUBSTITUTED: "continued by a substituted petitioner",
    CaseEventKind.RESTORED: "restored",
    CaseEventKind.REMANDED: "sent back to be heard again",
    CaseEventKind.FINALLY_DISPOSED: "finally disposed of",
}

# A decision ends the case at its level; it settles nothing by itself.
DECISIONS = frozenset(
    {
        CaseEventKind.DISMISSED,
        CaseEventKind.DISMISSED_FOR_DEFAULT,
        CaseEventKind.WITHDRAWN,
        CaseEventKind.ABATED,
        CaseEventKind.ALLOWED,
        CaseEventKind.FINALLY_DISPOSED,
    }
)

# These say that the case is alive at their level, whatever was decided before.
REVIVALS = frozenset(
    {
        CaseEventKind.HEARD_OF,
        CaseEventKind.FILED,
        CaseEventKind.ADMITTED,
        CaseEventKind.APPEALED,
        CaseEventKind.REVIEW_SOUGHT,
        CaseEventKind.SUBSTITUTED,
        CaseEventKind.RESTORED,
        CaseEventKind.REMANDED,
    }
)

# On one day these come after a decision: an order that decides an appeal and sends
# the case back is one order, and the case is alive when the day is over.
_LAST_OF_THE_DAY = frozenset(
    {
        CaseEventKind.REVIEW_SOUGHT,
        CaseEventKind.SUBSTITUTED,
        CaseEventKind.RESTORED,
        CaseEventKind.REMANDED,
    }
)


class CourtLevel(StrEnum):
    """How high the court stands."""

    FIRST = "first"
    APPEAL = "appeal"
    FINAL = "final"


LEVEL_TITLES = {
    CourtLevel.FIRST: "court of first instance",
    CourtLevel.APPEAL: "court of appeal",
    CourtLevel.FINAL: "last court",
}


def height(level: CourtLevel) -> int:
    """Return how high the level stands, so that two levels can be compared."""
    return list(CourtLevel).index(level)


@dataclass(frozen=True)
class CaseEventFact:
    """One event of a case.

    Attributes:
        on: the day on which it happened.
        level: the court in which the case stands through this event: the court that
            decided; for an appeal the court appealed to; for a remand the court
            to which the case is sent back.
        number: the court's own number of the order or paper, if any.
        recorded_at: when the register learnt of it, in the registry's legal zone.
        struck: the entry was made in error and has been corrected.
    """

    kind: CaseEventKind
    on: date
    level: CourtLevel
    number: str = ""
    recorded_at: datetime | None = None
    struck: bool = False


@dataclass(frozen=True)
class CaseFact:
    """A petition or other case, with its events in any order.

    Attributes:
        number: the register number of the case.
        title: how the case is called.
    """

    number: str
    title: str
    events: tuple[CaseEventFact, ...] = ()


def in_order(events: tuple[CaseEventFact, ...]) -> list[CaseEventFact]:
    """Return the events in the order in which they happened.

    Order of entry says nothing. Within one day a case goes up through the courts,
    and a decision follows what was filed; what brings the case back comes last.
    """
    kinds = list(CaseEventKind)
    return sorted(
        events,
        key=lambda event: (
            event.on,
            _comes_last(event),
            height(event.level),
            event.kind in DECISIONS,
            kinds.index(event.kind),
            event.number,
            str(event.recorded_at),
        ),
    )


def _comes_last(event: CaseEventFact) -> bool:
    # No appeal lies to the court of first instance: such an entry names the court
    # appealed from, whose decision came before.
    strayed = event.kind is CaseEventKind.APPEALED and event.level is CourtLevel.FIRST
    return strayed or event.kind in _LAST_OF_THE_DAY
