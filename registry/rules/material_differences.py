"""What does not agree in the account of a contest's seals, envelopes and boxes."""

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from registry.rules.material_facts import Applied, Fate, Issue, MaterialFacts
from registry.rules.material_seals import Seals
from registry.rules.material_troubles import MaterialDifference, Trouble
from registry.rules.seal_numbers import SealNumber, SealRange, in_ranges


@dataclass(frozen=True)
class Lot:
    """The account of one lot: how many pieces have which fate.

    Attributes:
        gaps: the numbers of seals that are not accounted for.
    """

    issue: Issue
    fates: Mapping[Fate, int]
    gaps: tuple[SealRange, ...] = ()


@dataclass(frozen=True)
class Pieces:
    """The account of what is counted only: envelopes, or boxes.

    Attributes:
        unaccounted: issued less all the others; below zero: more than were issued.
    """

    kind: str
    issued: int
    used: int
    spoilt: int
    returned: int
    lost: int

    @property
    def unaccounted(self) -> int:
        """What is left of those issued."""
        return self.issued - self.used - self.spoilt - self.returned - self.lost


def gaps(lots: Sequence[Lot]) -> Iterator[MaterialDifference]:
    for lot in lots:
        for gap in lot.gaps:
            many = f"{len(gap)} seals are" if len(gap) > 1 else "This seal is"
            yield MaterialDifference(
                Trouble.GAP,
                lot.issue.kind,
                str(gap),
                f"{gap}: {many} issued and neither applied, spoilt, returned nor lost.",
                len(gap),
            )


def never_issued(
    facts: MaterialFacts, seals: Seals, contest: str
) -> Iterator[MaterialDifference]:
    for seal in facts.applied:
        if seal.contest != contest:
            continue
        issue = seals.issue_of[seal.ref]
        if issue is None:
            yield MaterialDifference(
                Trouble.NEVER_ISSUED,
                seal.kind,
                seal.serial,
                f"{seal.serial} on {seal.on} was not issued for any contest.",
            )
        elif issue.contest != contest:
            yield MaterialDifference(
                Trouble.ISSUED_ELSEWHERE,
                seal.kind,
                seal.serial,
                f"{seal.serial} on {seal.on} was issued for another contest, with "
                f"{issue.ref}.",
            )


def reused(
    facts: MaterialFacts, seals: Seals, contest: str
) -> Iterator[MaterialDifference]:
    worn: dict[tuple[str, str, str], list[Applied]] = defaultdict(list)
    for seal in facts.applied:
        issue = seals.issue_of[seal.ref]
        lot = issue.ref if issue else f"maker {seal.maker}"
        worn[lot, seal.kind, seal.plain].append(seal)
    for same in worn.values():
        contests = {seal.contest for seal in same}
        issue = seals.issue_of[same[0].ref]
        if issue:
            contests.add(issue.contest)
        if len(same) > 1 and contest in contests:
            names = " and ".join(dict.fromkeys(seal.on for seal in same))
            yield MaterialDifference(
                Trouble.APPLIED_TWICE,
                same[0].kind,
                same[0].serial,
                f"{same[0].serial} is on record {len(same)} times: on {names}.",
            )


def issued_twice(seals: Seals, contest: str) -> Iterator[MaterialDifference]:
    doubled: dict[tuple[str, ...], list[SealNumber]] = defaultdict(list)
    kinds: dict[tuple[str, ...], str] = {}
    for (kind, _), found in seals.by_number.items():
        for maker in {issue.maker for issue, _ in found}:
            same = [(i, n) for i, n in found if i.maker == maker]
            if len(same) > 1 and any(i.contest == contest for i, _ in same):
                refs = tuple(i.ref for i, _ in same)
                doubled[refs].append(same[0][1])
                kinds[refs] = kind
    for refs, numbers in doubled.items():
        for part in in_ranges(numbers):
            yield MaterialDifference(
                Trouble.ISSUED_TWICE,
                kinds[refs],
                str(part),
                f"{part}: issued with {' and with '.join(refs)}.",
                len(part),
            )


def ended(seals: Seals, contest: str) -> Iterator[MaterialDifference]:
    issues = {issue.ref: issue for issue in seals.issues if issue.contest == contest}
    for (ref, plain), ends in seals.ended.items():
        if ref not in issues:
            continue
        worn = seals.worn.get((ref, plain), [])
        fates = " and ".join(f"{end.fate.value} ({end.ref})" for end in ends)
        if worn:
            yield MaterialDifference(
                Trouble.ENDED_YET_APPLIED,
                issues[ref].kind,
                worn[0].serial,
                f"{worn[0].serial} is on {worn[0].on}, and was recorded as {fates}.",
            )
        elif len(ends) > 1:
            yield MaterialDifference(
                Trouble.ENDED_TWICE,
                issues[ref].kind,
                plain,
                f"{plain} was recorded as {fates}.",
            )


def miscounted(pieces: Sequence[Pieces]) -> Iterator[MaterialDifference]:
    names = {"envelope": "envelopes", "box": "boxes"}
    for each in pieces:
        if each.issued and each.unaccounted:
            n = each.unaccounted
            way = "not accounted for" if n > 0 else "more than were issued"
            yield MaterialDifference(
                Trouble.PIECES_DIFFER,
                each.kind,
                f"{abs(n)} {names[each.kind]} {way}",
                f"{abs(n)} {names[each.kind]} {way}: {each.issued} issued, "
                f"{each.used} on the register, {each.spoilt} spoilt, {each.returned} "
                f"returned, {each.lost} lost.",
                abs(n),
            )
