"""Serials that stand on more envelopes than unit sets have them."""

from collections import defaultdict
from collections.abc import Iterable, Sequence

from registry.rules.contents import ContentKind
from registry.rules.markings import Marking
from registry.rules.reconciliation_facts import CONTENT_NAMES
from registry.rules.reconciliation_findings import STATEMENT, Difference, Reason
from registry.rules.reconciliation_serials import (
    SERIAL_NAMES,
    SERIALS,
    Spoken,
    UnitIndex,
)


def duplicates(
    spoken: Iterable[Spoken], index: UnitIndex, kind: ContentKind, swapped: set[str]
) -> tuple[list[Difference], set[str]]:
    """Name the serials that more envelopes bear than unit sets have them."""
    bearers: dict[tuple[Marking, str], list[Spoken]] = defaultdict(list)
    for one in spoken:
        for marking in SERIALS:
            serial = one.serial(marking)
            if serial and one.envelope.number not in swapped:
                bearers[marking, serial].append(one)
    groups: dict[tuple[str, ...], list[tuple[Marking, str]]] = defaultdict(list)
    by_number: dict[str, Spoken] = {}
    for (marking, serial), found in bearers.items():
        if len(found) > max(1, len(index.bearers(marking, serial))):
            by_number |= {one.envelope.number: one for one in found}
            groups[tuple(sorted(one.envelope.number for one in found))].append(
                (marking, serial)
            )
    differences = [
        _duplicate([by_number[n] for n in numbers], serials, index, kind)
        for numbers, serials in groups.items()
    ]
    return differences, {n for numbers in groups for n in numbers}


def _duplicate(
    found: Sequence[Spoken],
    serials: Sequence[tuple[Marking, str]],
    index: UnitIndex,
    kind: ContentKind,
) -> Difference:
    names = ", ".join(one.envelope.name for one in found)
    what = " and the ".join(
        f"{SERIAL_NAMES[marking]} {found[0].envelope.written[marking]}"
        for marking, _ in serials
    )
    refs = [ref for marking, serial in serials
            for ref in index.bearers(marking, serial)]  # fmt: skip
    stations = tuple(dict.fromkeys(index.station_of[ref].ref for ref in refs))
    return Difference(
        reason=Reason.DUPLICATE,
        kind=kind,
        about=tuple(one.envelope.number for one in found),
        text=f"{len(found)} envelopes of {CONTENT_NAMES[kind]} bear the {what}: "
        f"{names}.",
        remedy="Lay them side by side: one may be a slip of the hand, or one was "
        f"entered twice. None leaves the register. {STATEMENT}",
        stations=stations,
    )
