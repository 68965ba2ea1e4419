"""What is not on a shelf and yet accounted for: with whom, or by which certificate."""

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass

from registry.rules.reconciliation_facts import (
    CONTENT_NAMES,
    ELSEWHERE,
    Container,
    ContestFacts,
    Place,
    Standing,
)

_WORDS = {
    Place.OUT: "out under an order",
    Place.KEPT: "in the custody of a court",
    Place.ON_WAY: "on the way to another room",
    Place.GONE: "disposed of",
}


@dataclass(frozen=True)
class Accounted:
    """A container that is elsewhere or gone, and what says so.

    Attributes:
        envelopes: how many envelopes are in it; 0 for an envelope itself.
    """

    number: str
    name: str
    content: str
    where: str
    envelopes: int = 0


def accounted_for(facts: ContestFacts) -> Iterator[Accounted]:
    """Yield each box, and each envelope outside such a box, that is elsewhere or gone.

    What was superseded is not among them: its successor is counted.
    """
    own = [box for box in facts.boxes if box.contest == facts.number]
    told = {box.number for box in own if _is_away(box)}
    inside = Counter(
        each.box for each in facts.envelopes if each.standing is not Standing.SUPERSEDED
    )
    for box in own:
        if box.number in told:
            yield _told(box, inside[box.number])
    for envelope in facts.envelopes:
        if _is_away(envelope) and envelope.box not in told:
            yield _told(envelope, 0)


def _is_away(container: Container) -> bool:
    return container.standing is not Standing.SUPERSEDED and (
        container.place in ELSEWHERE or container.standing is Standing.DISPOSED
    )


def _told(container: Container, envelopes: int) -> Accounted:
    place = _WORDS.get(container.place, "elsewhere")
    return Accounted(
        number=container.number,
        name=container.name,
        content=CONTENT_NAMES[container.kind],
        where=f"{place}, {container.where}" if container.where else place,
        envelopes=envelopes,
    )
