"""What a reconciliation finds: each difference with its reason and what to do."""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import datetime
from enum import StrEnum

from registry.rules.arrivals import DiscrepancyKind
from registry.rules.contents import ContentKind
from registry.rules.reconciliation_facts import DiscrepancyFacts


class Reason(StrEnum):
    """Why what is there and what must be there differ."""

    MISSING = "missing"
    SWAPPED = "swapped"
    DUPLICATE = "duplicate"
    NEAR_MISS = "near-miss"
    UNKNOWN_SERIAL = "unknown-serial"
    WRONG_STATION = "wrong-station"
    WRONG_DATE = "wrong-date"
    SURPLUS = "surplus"
    OTHER_CONTESTS_BOX = "other-contests-box"
    NOT_FOUND = "not-found"
    SEEN_ELSEWHERE = "seen-elsewhere"
    COUNT_DIFFERS = "count-differs"
    QUARANTINE = "quarantine"
    NOT_BOXED = "not-boxed"
    BOX_NOT_CLOSED = "box-not-closed"
    NOT_SHELVED = "not-shelved"
    NEVER_SEEN = "never-seen"


TITLES = {
    Reason.MISSING: "Expected, not registered",
    Reason.SWAPPED: "Swapped serials",
    Reason.DUPLICATE: "Serial on more than one",
    Reason.NEAR_MISS: "Serial nearly right",
    Reason.UNKNOWN_SERIAL: "Serial of no unit of this contest",
    Reason.WRONG_STATION: "Written for another station",
    Reason.WRONG_DATE: "Wrong date",
    Reason.SURPLUS: "Surplus",
    Reason.OTHER_CONTESTS_BOX: "In another contest’s box",
    Reason.NOT_FOUND: "Registered, not found",
    Reason.SEEN_ELSEWHERE: "Seen elsewhere",
    Reason.COUNT_DIFFERS: "Slips and votes differ",
    Reason.QUARANTINE: "In quarantine",
    Reason.NOT_BOXED: "Registered, not boxed",
    Reason.BOX_NOT_CLOSED: "Box not closed",
    Reason.NOT_SHELVED: "Closed, not shelved",
    Reason.NEVER_SEEN: "Never seen",
}

# The discrepancies by which a difference is taken in hand; the first is opened.
ANSWERED_BY: dict[Reason, tuple[DiscrepancyKind, ...]] = {
    Reason.MISSING: (DiscrepancyKind.MISSING,),
    Reason.SWAPPED: (DiscrepancyKind.SWAPPED,),
    Reason.DUPLICATE: (DiscrepancyKind.DUPLICATE_SERIAL,),
    Reason.NEAR_MISS: (DiscrepancyKind.MARKING_DIFFERS, DiscrepancyKind.UNEXPECTED),
    Reason.UNKNOWN_SERIAL: (
        DiscrepancyKind.MARKING_DIFFERS,
        DiscrepancyKind.UNEXPECTED,
    ),
    Reason.WRONG_STATION: (DiscrepancyKind.MARKING_DIFFERS,),
    Reason.WRONG_DATE: (DiscrepancyKind.MARKING_DIFFERS,),
    Reason.SURPLUS: (DiscrepancyKind.UNEXPECTED,),
    Reason.OTHER_CONTESTS_BOX: (DiscrepancyKind.WRONG_PLACE,),
    Reason.NOT_FOUND: (DiscrepancyKind.NOT_FOUND, DiscrepancyKind.WRONG_PLACE),
    Reason.SEEN_ELSEWHERE: (DiscrepancyKind.WRONG_PLACE,),
    Reason.COUNT_DIFFERS: (DiscrepancyKind.COUNT_DIFFERS,),
    Reason.QUARANTINE: (DiscrepancyKind.OTHER, *DiscrepancyKind),
    Reason.NOT_BOXED: (DiscrepancyKind.WRONG_PLACE,),
    Reason.BOX_NOT_CLOSED: (DiscrepancyKind.WRONG_PLACE,),
    Reason.NOT_SHELVED: (DiscrepancyKind.WRONG_PLACE,),
    Reason.NEVER_SEEN: (DiscrepancyKind.WRONG_PLACE,),
}

STATEMENT = (
    "Ask the returning officer for a written statement; resolve the discrepancy on "
    "it. What is written stays as it is."
)


class State(StrEnum):
    """How far a difference is dealt with."""

    UNEXPLAINED = "unexplained"
    IN_HAND = "in hand"
    EXPLAINED = "explained"


@dataclass(frozen=True)
class Difference:
    """One difference, named with its reason and with what to do.

    Attributes:
        about: what it is about: register numbers of containers, or ``expected(…)``
            of what is missing; a discrepancy about any of them answers for it.
        text: what differs, in a sentence; remedy: what to do about it.
        stations: register numbers of the stations concerned.
        markings, written, expected: as in a discrepancy; where they are given, a
            discrepancy of other writing does not answer for this difference.
        since: what was resolved before this moment does not explain it.
        amount: slips less votes, for a difference of count.
        also_by: further kinds of discrepancy that answer for this one.
        answers: the discrepancies opened for it.
    """

    reason: Reason
    kind: ContentKind
    about: tuple[str, ...]
    text: str
    remedy: str
    stations: tuple[str, ...] = ()
    markings: tuple[str, ...] = ()
    written: str = ""
    expected: str = ""
    since: datetime | None = None
    amount: int | None = None
    also_by: tuple[DiscrepancyKind, ...] = ()
    answers: tuple[DiscrepancyFacts, ...] = ()

    @property
    def key(self) -> str:
        """What names it in an address: its reason, what it is about, its marking."""
        about = "+".join(each.replace(" ", ".") for each in self.about)
        return "~".join(filter(None, [self.reason.value, about, *self.markings[:1]]))

    @property
    def title(self) -> str:
        """Its reason in plain words."""
        return TITLES[self.reason]

    @property
    def opens(self) -> DiscrepancyKind:
        """The discrepancy that is opened for it."""
        return ANSWERED_BY[self.reason][0]

    @property
    def state(self) -> State:
        """Unexplained; in hand while a discrepancy of it is open; else explained.

        A container in quarantine is not explained by what was resolved about it:
        somebody has to release it.
        """
        if not self.answers:
            return State.UNEXPLAINED
        if any(each.resolved_at is None for each in self.answers):
            return State.IN_HAND
        if self.reason is Reason.QUARANTINE:
            return State.UNEXPLAINED
        return State.EXPLAINED


def answered(
    differences: Iterable[Difference], discrepancies: Iterable[DiscrepancyFacts]
) -> tuple[Difference, ...]:
    """Return the differences, each with the discrepancies that answer for it."""
    by_subject: dict[str, list[DiscrepancyFacts]] = {}
    for each in discrepancies:
        by_subject.setdefault(each.about, []).append(each)
    return tuple(
        replace(
            one,
            answers=tuple(
                each
                for about in one.about
                for each in by_subject.get(about, ())
                if _answers(each, one)
            ),
        )
        for one in differences
    )


def _answers(given: DiscrepancyFacts, difference: Difference) -> bool:
    kinds = (*ANSWERED_BY[difference.reason], *difference.also_by)
    if given.kind not in kinds:
        return False
    if difference.since and given.resolved_at:
        return given.resolved_at >= difference.since
    if given.kind is DiscrepancyKind.UNEXPECTED or difference.since:
        return True
    if given.marking and given.marking not in (difference.markings or given.marking):
        return False
    return difference.written in ("", given.written) and difference.expected in (
        "",
        given.expected,
    )
