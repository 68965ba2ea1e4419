"""Slips counted against the votes that the control units recorded."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from registry.rules.contents import ContentKind
from registry.rules.reconciliation_facts import Envelope
from registry.rules.reconciliation_findings import Difference, Reason
from registry.rules.reconciliation_items import Item


@dataclass(frozen=True)
class Count:
    """The slips of one control unit against the votes it recorded.

    Attributes:
        items: the unit sets in which the unit served; two, where only the paper-trail
            unit was replaced and the votes were read once, at the end.
        uncut: printed, but still hanging in the unit when it was opened.
    """

    items: tuple[Item, ...]
    votes: int
    slips: int
    uncut: int

    @property
    def amount(self) -> int:
        """Slips, uncut ones included, less votes: with its sign."""
        return self.slips + self.uncut - self.votes


def counts(items: Sequence[Item]) -> tuple[Count, ...]:
    """Return each control unit whose votes and slips are both known."""
    found = (_count(group) for group in _by_control_unit(items))
    return tuple(each for each in found if each)


def differing(found: Sequence[Count]) -> Iterator[Difference]:
    """Name each control unit whose slips and votes are not as many."""
    for each in found:
        if each.amount:
            yield _told(each)


def _by_control_unit(items: Sequence[Item]) -> Iterator[list[Item]]:
    """Yield the items of poll slips, those of one control unit's reading together."""
    group: list[Item] = []
    for item in items:
        if item.kind is not ContentKind.POLL_SLIPS or item.units is None:
            continue
        goes_on = (
            group
            and item.units.control_unit_kept
            and group[-1].station is item.station
            # Read after each set: two readings, two comparisons.
            and group[-1].units is not None
            and group[-1].units.votes is None
        )
        if goes_on:
            group.append(item)
            continue
        if group:
            yield group
        group = [item]
    if group:
        yield group


def _count(group: Sequence[Item]) -> Count | None:
    units = group[-1].units
    envelopes = [item.envelope for item in group]
    if units is None or units.votes is None:
        return None
    known = [each for each in envelopes if each and each.slips is not None]
    if len(known) != len(group):
        return None
    return Count(
        items=tuple(group),
        votes=units.votes,
        slips=sum(each.slips or 0 for each in known),
        uncut=sum(each.uncut or 0 for each in known),
    )


def _told(count: Count) -> Difference:
    first = count.items[0]
    uncut = f" and {count.uncut:,} uncut" if count.uncut else ""
    named = ", ".join(each.name for each in _envelopes(count))
    return Difference(
        reason=Reason.COUNT_DIFFERS,
        kind=first.kind,
        about=tuple(each.number for each in _envelopes(count)),
        text=f"{first.station.title.capitalize()}, control unit "
        f"{first.units.control_unit if first.units else ''}: {count.slips:,} slips"
        f"{uncut} against {count.votes:,} votes recorded: {count.amount:+,}. {named}.",
        remedy="Compare with the report of the count and with the self-test slips. "
        "Nothing is counted anew without an order.",
        stations=(first.station.ref,),
        written=str(count.slips + count.uncut),
        expected=str(count.votes),
        amount=count.amount,
    )


def _envelopes(count: Count) -> list[Envelope]:
    return [item.envelope for item in count.items if item.envelope]
