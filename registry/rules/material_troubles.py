"""Why an account of material does not agree, and what answers for it."""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from registry.rules.material_facts import Answered
from registry.rules.seal_numbers import NoRange, seal_range


class Trouble(StrEnum):
    """Why an account of material does not agree."""

    GAP = "gap"
    APPLIED_TWICE = "applied-twice"
    NEVER_ISSUED = "never-issued"
    ISSUED_ELSEWHERE = "issued-elsewhere"
    ISSUED_TWICE = "issued-twice"
    ENDED_YET_APPLIED = "ended-yet-applied"
    ENDED_TWICE = "ended-twice"
    PIECES_DIFFER = "pieces-differ"


TITLES = {
    Trouble.GAP: "Not accounted for",
    Trouble.APPLIED_TWICE: "Applied twice",
    Trouble.NEVER_ISSUED: "Applied, never issued",
    Trouble.ISSUED_ELSEWHERE: "Issued for another contest",
    Trouble.ISSUED_TWICE: "Issued twice",
    Trouble.ENDED_YET_APPLIED: "Handed back or spoilt, and yet applied",
    Trouble.ENDED_TWICE: "Spoilt, returned or lost twice",
    Trouble.PIECES_DIFFER: "Count does not agree",
}
# What must be, as the discrepancy about it says.
MUST_BE = {
    Trouble.GAP: "applied, spoilt and kept, returned or lost",
    Trouble.APPLIED_TWICE: "applied once",
    Trouble.NEVER_ISSUED: "issued before it is applied",
    Trouble.ISSUED_ELSEWHERE: "applied where it was issued for",
    Trouble.ISSUED_TWICE: "issued once",
    Trouble.ENDED_YET_APPLIED: "not applied after it was spoilt, returned or lost",
    Trouble.ENDED_TWICE: "spoilt, returned or lost once",
    Trouble.PIECES_DIFFER: "as many as were issued",
}


@dataclass(frozen=True)
class MaterialDifference:
    """What does not agree; ``written`` names the seals, as in a discrepancy."""

    trouble: Trouble
    kind: str
    written: str
    text: str
    count: int = 1
    answers: tuple[Answered, ...] = ()

    @property
    def key(self) -> str:
        """What names it in a form."""
        return f"{self.trouble.value}~{self.kind}~{self.written}"

    @property
    def title(self) -> str:
        """The trouble in plain words."""
        return TITLES[self.trouble]

    @property
    def state(self) -> str:
        """Unexplained; in hand while a discrepancy is open; else explained."""
        if not self.answers:
            return "unexplained"
        resolved = all(each.is_resolved for each in self.answers)
        return "explained" if resolved else "in hand"


def answers_for(
    difference: MaterialDifference, answered: Sequence[Answered]
) -> tuple[Answered, ...]:
    return tuple(
        each
        for each in answered
        if each.expected == MUST_BE[difference.trouble]
        and _names(each.written, difference)
    )


def _names(written: str, difference: MaterialDifference) -> bool:
    """Tell whether a discrepancy speaks of these seals, or of more of a range."""
    if written == difference.written:
        return True
    ends = written.split(" to "), difference.written.split(" to ")
    if difference.trouble is not Trouble.GAP:
        return False
    try:
        whole, part = (seal_range(each[0], each[-1]) for each in ends)
    except NoRange:
        return False
    return whole.covers(part)
