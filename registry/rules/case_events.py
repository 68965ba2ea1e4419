"""What happens to a case in court, as dated events at a level of court.

An event counts from the day on which it happened, never from the day on which it
was entered; both are kept. Corrected entries stay, struck, and count for nothing.
"""

from dataclasses import dataclass
from datetime import date, datetime
from enum import StrEnum


class CaseEventKind(StrEnum):
    """One kind of event in the life of a case."""

    EXPECTED = "expected"
    HEARD_OF = "heard-of"
    FILED = "filed"
    RETURNED_FOR_DEFECTS = "returned-for-defects"
    ADMITTED = "admitted"
    HEARING = "hearing"
    TRANSFERRED = "transferred"
    RENUMBERED = "renumbered"
    CONSOLIDATED = "consolidated"
    SPLIT = "split"
    CROSS_PETITION = "cross-petition"
    PETITIONER_DIED = "petitioner-died"
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
    NO_LONGER_EXPECTED = "no-longer-expected"


EVENT_TITLES = {
    CaseEventKind.EXPECTED: "reasonably expected",
    CaseEventKind.HEARD_OF: "heard of, not yet confirmed",
    CaseEventKind.FILED: "filed",
    CaseEventKind.RETURNED_FOR_DEFECTS: "returned for defects",
    CaseEventKind.ADMITTED: "admitted",
    CaseEventKind.HEARING: "listed for hearing",
    CaseEventKind.TRANSFERRED: "transferred to another court",
    CaseEventKind.RENUMBERED: "given another number",
    CaseEventKind.CONSOLIDATED: "heard together with another case",
    CaseEventKind.SPLIT: "split, a part going on as a case of its own",
    CaseEventKind.CROSS_PETITION: "met with a petition of the other side",
    CaseEventKind.PETITIONER_DIED: "left without a petitioner by death",
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
    CaseEventKind.NO_LONGER_EXPECTED: "no longer expected, for a named reason",
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
        CaseEventKind.NO_LONGER_EXPECTED,
    }
)

# These decide nothing, yet a schedule may let a window run from them: on the death of
# a sole petitioner another may take the place before the abatement is final.
OPENS_A_WINDOW = DECISIONS | {CaseEventKind.PETITIONER_DIED}

# A case of which nothing more than this is known may turn out to be none.
ONLY_EXPECTED = frozenset(
    {
        CaseEventKind.EXPECTED,
        CaseEventKind.HEARD_OF,
        CaseEventKind.NO_LONGER_EXPECTED,
    }
)

# Through these a part of the dispute goes on as a case of its own, to be entered too.
GOES_ON_ELSEWHERE = frozenset({CaseEventKind.SPLIT, CaseEventKind.CROSS_PETITION})

# These say that the case is alive at their level, whatever was decided before.
REVIVALS = frozenset(
    {
        CaseEventKind.EXPECTED,
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

_GIVES_A_NAME = frozenset(
    {
        CaseEventKind.TRANSFERRED,
        CaseEventKind.RENUMBERED,
        CaseEventKind.CONSOLIDATED,
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
        struck_at: when it was struck; None for always known.
        other: the register number of the case it was consolidated with, or of the
            case in which a part or a cross-petition goes on.
        reason: why a case is no longer expected; without one it stays expected.
    """

    kind: CaseEventKind
    on: date
    level: CourtLevel
    number: str = ""
    recorded_at: datetime | None = None
    struck: bool = False
    struck_at: datetime | None = None
    other: str = ""
    reason: str = ""


@dataclass(frozen=True)
class CaseFact:
    """A petition or other case, with its events in any order.

    Attributes:
        number: the register number of the case.
        title: how the case is called.
        recorded_at: when the register learnt of the case; None for always known.
    """

    number: str
    title: str
    events: tuple[CaseEventFact, ...] = ()
    recorded_at: datetime | None = None

    @property
    def aliases(self) -> tuple[str, ...]:
        """The other names under which courts know it, in the order they were given.

        A number given on transfer or renumbering, and the cases it is heard with. An
        alias finds the case; settling one case settles no other.
        """
        names = [
            name
            for event in in_order(self.events)
            if event.kind in _GIVES_A_NAME and not event.struck
            for name in (event.number, event.other)
            if name
        ]
        return tuple(dict.fromkeys(names))


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
            event.other,
            event.reason,
        ),
    )


def _comes_last(event: CaseEventFact) -> bool:
    # No appeal lies to the court of first instance: such an entry names the court
    # appealed from, whose decision came before.
    strayed = event.kind is CaseEventKind.APPEALED and event.level is CourtLevel.FIRST
    return strayed or event.kind in _LAST_OF_THE_DAY
