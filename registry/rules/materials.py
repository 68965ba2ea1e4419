"""The account of seals, envelopes and boxes issued for a contest.

Each numbered seal that was issued is applied, spoilt (and kept), returned, or lost;
what is none of these is a gap, and gaps are named. A seal that was applied twice, that
was never issued, or that was handed back and yet applied stands out. Unnumbered wax is
left out: its impressions are known by die and picture, never by an invented number
(S1, S2 and S9 of the trade's seal rules). Keeping account of every seal, unused ones
too: Johnston and Warner, "How to Choose and Use Seals", 2012, on the seal use protocol.
"""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace

from registry.rules.material_differences import (
    Lot,
    Pieces,
    ended,
    gaps,
    issued_twice,
    miscounted,
    never_issued,
    reused,
)
from registry.rules.material_facts import Fate, Issue, MaterialFacts
from registry.rules.material_seals import Seals
from registry.rules.material_troubles import MaterialDifference, answers_for
from registry.rules.seal_numbers import SealNumber, in_ranges

_COUNTED = ("envelope", "box")


@dataclass(frozen=True)
class MaterialAccount:
    """The account of a contest."""

    lots: tuple[Lot, ...]
    pieces: tuple[Pieces, ...]
    differences: tuple[MaterialDifference, ...]

    @property
    def open(self) -> tuple[MaterialDifference, ...]:
        """What is not explained."""
        return tuple(d for d in self.differences if d.state != "explained")


def accounts(
    facts: MaterialFacts, contests: Sequence[str]
) -> dict[str, MaterialAccount]:
    """Return the account of each contest of an election."""
    seals = Seals(facts)
    found = {}
    for contest in contests:
        lots = tuple(
            _lot(issue, seals) for issue in seals.issues if issue.contest == contest
        )
        pieces = tuple(_pieces(facts, contest, kind) for kind in _COUNTED)
        differences = (
            *gaps(lots),
            *never_issued(facts, seals, contest),
            *reused(facts, seals, contest),
            *issued_twice(seals, contest),
            *ended(seals, contest),
            *miscounted(pieces),
        )
        mine = [each for each in facts.answered if each.contest == contest]
        found[contest] = MaterialAccount(
            lots,
            tuple(p for p in pieces if p.issued or p.spoilt or p.returned or p.lost),
            tuple(replace(d, answers=answers_for(d, mine)) for d in differences),
        )
    return found


def _lot(issue: Issue, seals: Seals) -> Lot:
    by_fate: dict[Fate, list[SealNumber]] = {fate: [] for fate in Fate}
    for number in issue.numbers or ():
        by_fate[seals.fate(issue, number)].append(number)
    return Lot(
        issue,
        {fate: len(numbers) for fate, numbers in by_fate.items()},
        in_ranges(by_fate[Fate.UNACCOUNTED]),
    )


def _pieces(facts: MaterialFacts, contest: str, kind: str) -> Pieces:
    refs = {i.ref for i in facts.issues if i.contest == contest and i.kind == kind}
    away: Counter[Fate] = Counter()
    for end in facts.ends:
        if end.issue in refs:
            away[end.fate] += end.count
    return Pieces(
        kind=kind,
        issued=sum(i.count for i in facts.issues if i.ref in refs),
        used=sum(n for of, k, n in facts.used if (of, k) == (contest, kind)),
        spoilt=away[Fate.SPOILT],
        returned=away[Fate.RETURNED],
        lost=away[Fate.LOST],
    )
