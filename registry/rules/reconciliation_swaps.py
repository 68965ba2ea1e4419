"""Serials of two stations that were written on each other's envelopes.

Two envelopes that bear each other's serials differ from the register in four places
and are one mistake: they are told as one swap, and so is a ring of three or more.
"""

from collections.abc import Iterable, Sequence

from registry.rules.arrivals import DiscrepancyKind
from registry.rules.contents import ContentKind
from registry.rules.reconciliation_facts import Standing, expected
from registry.rules.reconciliation_findings import Difference, Reason
from registry.rules.reconciliation_serials import Spoken, UnitIndex
from registry.rules.swaps import Misplaced, cycles

Ring = tuple[Misplaced[str, Spoken], ...]


def swaps(
    spoken: Sequence[Spoken], index: UnitIndex, kind: ContentKind
) -> tuple[list[Difference], set[str]]:
    """Return each swap, and the numbers of the envelopes that are in one."""
    found: list[Difference] = []
    taken: set[str] = set()
    crossed = [one for one in map(_crossed, spoken) if one]
    for ring in cycles(crossed):
        found.append(_told(ring, index, kind, _which_serial(ring, index)))
        taken |= {one.thing.envelope.number for one in ring}
    rest = [one for one in spoken if one.envelope.number not in taken]
    for ring in cycles(_elsewhere(rest, index)):
        found.append(_told(ring, index, kind, "both serials"))
        taken |= {one.thing.envelope.number for one in ring}
    return found, taken


def _crossed(one: Spoken) -> Misplaced[str, Spoken] | None:
    """An envelope whose two serials belong to two different unit sets."""
    if not one.by_control or not one.by_paper:
        return None
    if set(one.by_control) & set(one.by_paper):
        return None
    return Misplaced(one, belongs=min(one.by_control), bears=min(one.by_paper))


def _elsewhere(
    spoken: Iterable[Spoken], index: UnitIndex
) -> Iterable[Misplaced[str, Spoken]]:
    """Envelopes whose serials belong to another station than is written on them."""
    for one in spoken:
        both = set(one.by_control) & set(one.by_paper)
        sets = both or {*one.by_control, *one.by_paper}
        stations = {index.station_of[ref].ref for ref in sets}
        if one.station and len(stations) == 1 and one.station not in stations:
            yield Misplaced(one, belongs=one.station, bears=stations.pop())


def _which_serial(ring: Ring, index: UnitIndex) -> str:
    """Tell which serial went round: the one that is not of the station written."""
    of_control = {
        index.station_of[one.belongs].ref == one.thing.station for one in ring
    }
    of_paper = {index.station_of[one.bears].ref == one.thing.station for one in ring}
    if of_control == {True} and of_paper == {False}:
        return "the paper-trail serials"
    if of_control == {False} and of_paper == {True}:
        return "the control-unit serials"
    return "the serials"


def _told(ring: Ring, index: UnitIndex, kind: ContentKind, what: str) -> Difference:
    envelopes = [one.thing.envelope for one in ring]
    places = [_place(one, index) for one in ring]
    stations = list(dict.fromkeys(ref for ref, _ in places))
    at = " and ".join(dict.fromkeys(name for _, name in places))
    names = ", ".join(envelope.name for envelope in envelopes)
    shape = "Swapped" if len(ring) == 2 else f"Changed round among {len(ring)}"
    released = all(each.standing is Standing.HELD for each in envelopes)
    return Difference(
        reason=Reason.SWAPPED,
        kind=kind,
        about=(
            *sorted(envelope.number for envelope in envelopes),
            *sorted(expected(ref, kind) for ref in _sets(ring, index)),
        ),
        text=f"{shape}: {what} of {at}, on {names}.",
        remedy="Lay the envelopes side by side with the list of units. Ask the "
        "returning officer for one statement that names the swap; it resolves all of "
        "it. Nothing is rewritten on the envelopes.",
        stations=tuple(stations),
        # Once both have left quarantine, what was resolved on them explains it.
        also_by=(DiscrepancyKind.MARKING_DIFFERS,) if released else (),
    )


def _place(one: Misplaced[str, Spoken], index: UnitIndex) -> tuple[str, str]:
    """The station of an envelope in a ring: that written on it, else its unit's."""
    if one.thing.station:
        station = index.stations[one.thing.station]
    else:
        station = index.station_of[one.belongs]
    return station.ref, station.title


def _sets(ring: Ring, index: UnitIndex) -> set[str]:
    """The unit sets that a ring speaks of: they are not missing."""
    return {
        ref
        for one in ring
        for ref in (min(one.thing.by_control, default=""),
                    min(one.thing.by_paper, default=""))
        if ref in index.units
    }  # fmt: skip
