"""The reconciliation of a contest: what must exist against what is there.

This is the trade's own checklist, in its order: what must exist and is not on the
register; what is there and bears another's serials or dates; what has not come as far
as its shelf; what was not found, or seen elsewhere; slips against votes. Each
difference is named once, with its reason and with what to do about it. What a resolved
discrepancy answers for is explained; a contest is at zero when no difference is left
that is not. (Reconciliation of count, register and shelf: common practice.)
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from registry.rules.contents import ContentKind
from registry.rules.numbers import plain_serial
from registry.rules.reconciliation_counts import Count, counts, differing
from registry.rules.reconciliation_dates import wrong_dates
from registry.rules.reconciliation_facts import (
    OF_EACH_UNIT_SET,
    ContestFacts,
    Standing,
)
from registry.rules.reconciliation_findings import (
    Difference,
    Reason,
    State,
    answered,
)
from registry.rules.reconciliation_items import Item, items
from registry.rules.reconciliation_packets import look_at_packets
from registry.rules.reconciliation_places import not_as_seen, not_put_away
from registry.rules.reconciliation_serials import SERIALS, UnitIndex
from registry.rules.reconciliation_slips import look_at_slips
from registry.rules.reconciliation_stages import Stages, stages

_IN_ORDER = {State.UNEXPLAINED: 0, State.IN_HAND: 1, State.EXPLAINED: 2}
_REASONS = {reason: place for place, reason in enumerate(Reason)}


@dataclass(frozen=True)
class Reconciliation:
    """What a reconciliation of a contest comes to.

    Attributes:
        stages: how many of each content came how far.
        differences: those that nothing explains first.
        counts: control units whose slips were held against their votes.
        countable: unit sets of which slips are on the register.
    """

    stages: tuple[Stages, ...]
    differences: tuple[Difference, ...]
    counts: tuple[Count, ...]
    countable: int

    def of(self, *states: State) -> tuple[Difference, ...]:
        """Return the differences in these states."""
        return tuple(each for each in self.differences if each.state in states)

    @property
    def open(self) -> tuple[Difference, ...]:
        """The differences that are not explained; none of them means zero."""
        return self.of(State.UNEXPLAINED, State.IN_HAND)

    @property
    def explained(self) -> tuple[Difference, ...]:
        """The differences that resolved discrepancies explain."""
        return self.of(State.EXPLAINED)

    @property
    def is_at_zero(self) -> bool:
        """Whether every difference is explained."""
        return not self.open


def reconcile(facts: ContestFacts) -> Reconciliation:
    """Hold what must exist against what is on the register, boxed, shelved and seen.

    A contest without stations, such as an uncontested seat, expects nothing: nothing
    is missing there, and whatever is there is surplus.
    """
    must_exist = items(facts)
    index = UnitIndex(facts)
    looks = [
        *(
            look_at_slips(facts, kind, index, [i for i in must_exist if i.kind is kind])
            for kind in OF_EACH_UNIT_SET
        ),
        look_at_packets(facts, index, must_exist),
    ]
    claimed = {about for look in looks for about in look.claimed}
    compared = counts(must_exist)
    found = answered(
        [
            *_missing(facts, must_exist, claimed),
            *(difference for look in looks for difference in look.differences),
            *wrong_dates(facts, index),
            *not_put_away(facts),
            *not_as_seen(facts),
            *differing(compared),
        ],
        facts.discrepancies,
    )
    found += answered(_in_quarantine(facts, found), facts.discrepancies)
    return Reconciliation(
        stages=stages(facts, must_exist, claimed),
        differences=tuple(sorted(found, key=_order)),
        counts=compared,
        countable=sum(
            item.kind is ContentKind.POLL_SLIPS and item.envelope is not None
            for item in must_exist
        ),
    )


def _order(difference: Difference) -> tuple[int, int, tuple[str, ...]]:
    return (
        _IN_ORDER[difference.state],
        _REASONS[difference.reason],
        difference.about,
    )


def _missing(
    facts: ContestFacts, must_exist: Sequence[Item], claimed: set[str]
) -> Iterator[Difference]:
    """Name what must exist, and is neither registered nor in quarantine."""
    for item in must_exist:
        if item.envelope or item.about in claimed:
            continue
        remedy = (
            "Look at the sealing table, in the boxes of the contest and in quarantine; "
            "ask the returning officer. Log it at intake when it comes; else have the "
            "shortage explained in writing."
        )
        if item.was:
            remedy = f"{item.was.name} was superseded: log what replaced it."
        strange = _found_strange(facts, item)
        if strange:
            remedy = (
                f"{strange} was found and is on no register, with a serial of these "
                f"units: log it at intake. {remedy}"
            )
        yield Difference(
            reason=Reason.MISSING,
            kind=item.kind,
            about=(item.about,),
            text=f"{item.title}: no envelope is on the register.",
            remedy=remedy,
            stations=(item.station.ref,),
        )


def _found_strange(facts: ContestFacts, item: Item) -> str:
    """Return the discrepancy of what was found and bears a serial of these units."""
    if item.units is None:
        return ""
    serials = [plain_serial(item.units.serial(marking)) for marking in SERIALS]
    for number, written in facts.found_strange:
        if any(serial and serial in plain_serial(written) for serial in serials):
            return number
    return ""


def _in_quarantine(
    facts: ContestFacts, found: Sequence[Difference]
) -> Iterator[Difference]:
    """Name what is in quarantine and not spoken of by an open difference."""
    spoken_of = {
        about
        for difference in found
        if difference.state is not State.EXPLAINED
        for about in difference.about
    }
    own = [box for box in facts.boxes if box.contest == facts.number]
    for each in (*facts.envelopes, *own):
        if each.standing is Standing.QUARANTINED and each.number not in spoken_of:
            yield Difference(
                reason=Reason.QUARANTINE,
                kind=each.kind,
                about=(each.number,),
                text=f"{each.name} is in quarantine and counts for nothing yet.",
                remedy="Resolve what is wrong with it, then release it.",
            )
