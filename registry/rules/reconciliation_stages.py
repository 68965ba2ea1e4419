"""How far the envelopes of a contest have come: the numbers of a reconciliation."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from registry.rules.contents import ContentKind
from registry.rules.reconciliation_facts import (
    ELSEWHERE,
    Box,
    ContestFacts,
    Envelope,
    Place,
    Standing,
)
from registry.rules.reconciliation_items import Item


@dataclass(frozen=True)
class Stages:
    """How many envelopes of one content came how far.

    Each stage counts only what passed the one before. What is out under an order,
    kept by a court, on the way, or disposed of with its certificate is accounted for
    and counts at every stage; it is also told apart.

    Attributes:
        expected: None where nobody can say beforehand.
        seen_on_shelf: of those seen, how many since they came in.
        in_quarantine: expected, and there only in quarantine.
        missing: expected, and not there.
    """

    kind: ContentKind
    expected: int | None
    registered: int
    boxed: int
    shelved: int
    seen: int
    seen_on_shelf: int
    elsewhere: int
    disposed: int
    in_quarantine: int
    missing: int


def stages(
    facts: ContestFacts, must_exist: Sequence[Item], claimed: set[str]
) -> tuple[Stages, ...]:
    """Return the numbers of each content."""
    boxes = {box.number: box for box in facts.boxes}
    return tuple(
        _of_kind(
            kind,
            [item for item in must_exist if item.kind is kind],
            boxes,
            claimed,
            foretold=kind is not ContentKind.STATUTORY_PACKET
            or facts.packets_per_station is not None,
        )
        for kind in ContentKind
    )


def _of_kind(
    kind: ContentKind,
    must_exist: Sequence[Item],
    boxes: Mapping[str, Box],
    claimed: set[str],
    *,
    foretold: bool,
) -> Stages:
    registered = [item.envelope for item in must_exist if item.envelope]
    absent = [item for item in must_exist if not item.envelope]
    elsewhere = [each for each in registered if is_elsewhere(each, boxes)]
    disposed = [each for each in registered if each.standing is Standing.DISPOSED]
    boxed = [each for each in registered if _reached(each, boxes, Place.IN_BOX)]
    shelved = [each for each in boxed if _reached(each, boxes, Place.SHELVED)]
    seen = [each for each in shelved if _is_seen(each, boxes)]
    return Stages(
        kind=kind,
        expected=len(must_exist) if foretold else None,
        registered=len(registered),
        boxed=len(boxed),
        shelved=len(shelved),
        seen=len(seen),
        seen_on_shelf=sum(_on_round(each, boxes) for each in seen),
        elsewhere=len(elsewhere),
        disposed=len(disposed),
        in_quarantine=sum(item.about in claimed for item in absent),
        missing=sum(item.about not in claimed for item in absent),
    )


def is_elsewhere(envelope: Envelope, boxes: Mapping[str, Box]) -> bool:
    """Tell whether it is out, kept by a court or on the way, itself or in its box."""
    if envelope.standing is Standing.DISPOSED:
        return False
    box = boxes.get(envelope.box)
    return envelope.place in ELSEWHERE or (
        box is not None and envelope.place is Place.IN_BOX and box.place in ELSEWHERE
    )


def _reached(envelope: Envelope, boxes: Mapping[str, Box], stage: Place) -> bool:
    if envelope.standing is Standing.DISPOSED or is_elsewhere(envelope, boxes):
        return True
    box = boxes.get(envelope.box)
    if box is None or envelope.place is not Place.IN_BOX:
        return False
    return stage is Place.IN_BOX or box.place is Place.SHELVED


def _is_seen(envelope: Envelope, boxes: Mapping[str, Box]) -> bool:
    if envelope.standing is Standing.DISPOSED or is_elsewhere(envelope, boxes):
        return True
    if envelope.seen and not envelope.seen.found:
        return False
    box = boxes.get(envelope.box)
    if box and box.seen:
        return box.seen.found and box.seen.as_registered
    return envelope.seen is not None


def _on_round(envelope: Envelope, boxes: Mapping[str, Box]) -> bool:
    box = boxes.get(envelope.box)
    return any(
        each is not None and each.found and each.on_round
        for each in (envelope.seen, box.seen if box else None)
    )
