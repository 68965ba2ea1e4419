"""The stock account: what there was, what came, what went, and what there must be.

Opening + received + sealed anew + transferred in − transferred out − disposed of
− superseded = closing, for each room and class of container. (The rule of any stock
ledger; common practice, no published source.)
"""

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from itertools import groupby
from operator import attrgetter


class Flow(StrEnum):
    """How a container comes into a class of stock or leaves it.

    A transfer is into another room, or into another class by a correction.
    """

    RECEIVED = "received"
    SEALED_ANEW = "sealed anew"
    BROUGHT = "transferred in"
    TAKEN = "transferred out"
    DISPOSED = "disposed of"
    SUPERSEDED = "superseded"


# Stock that is not in the room, in words.
AWAY = {
    "out": "out under an order",
    "kept": "kept by a court",
    "on-way": "on the way to another room",
    "missing": "not found",
}
COMING = frozenset({Flow.RECEIVED, Flow.SEALED_ANEW, Flow.BROUGHT})


@dataclass(frozen=True)
class Held:
    """How a container stood at a moment.

    Attributes:
        container: which one.
        ended: disposed of or superseded: no longer stock; None while it is.
        succeeds: it was put in the place of an opened one, under a permission.
    """

    container: int
    room: int
    noun: str
    kind: str
    ended: Flow | None = None
    succeeds: bool = False

    @property
    def stock(self) -> "Class | None":
        """The class of stock it belongs to; None where it has left the stock."""
        return None if self.ended else Class(self.room, self.noun, self.kind)


@dataclass(frozen=True, order=True)
class Class:
    """One line of the account: a room, boxes or envelopes, a content."""

    room: int
    noun: str
    kind: str


@dataclass(frozen=True)
class Line:
    """The account of one class over a period.

    Attributes:
        counted: the closing stock as it was counted, not reckoned.
        away: of the closing stock, what is not in the room, by where it is.
    """

    of: Class
    opening: int
    flows: Mapping[Flow, int]
    counted: int
    away: Mapping[str, int] = field(default_factory=dict)

    @property
    def closing(self) -> int:
        """The closing stock as reckoned from what came and went."""
        came = sum(n for flow, n in self.flows.items() if flow in COMING)
        went = sum(n for flow, n in self.flows.items() if flow not in COMING)
        return self.opening + came - went

    @property
    def agrees(self) -> bool:
        """Whether what was reckoned is what was counted."""
        return self.closing == self.counted


def flows_between(
    before: Mapping[int, Held], changes: Iterable[Held]
) -> Counter[tuple[Class, Flow]]:
    """Return what came into each class and what left it.

    Args:
        before: how each container stood when the period began, by container.
        changes: how they stood after each change of the period, container by
            container, each one's in the order in which they were entered.
    """
    flows: Counter[tuple[Class, Flow]] = Counter()
    for container, versions in groupby(changes, key=attrgetter("container")):
        was = before.get(container)
        for now in versions:
            flows.update(_change(was, now))
            was = now
    return flows


def _change(was: Held | None, now: Held) -> Iterable[tuple[Class, Flow]]:
    old = was.stock if was else None
    new = now.stock
    if was is None:
        born = Class(now.room, now.noun, now.kind)
        yield born, Flow.SEALED_ANEW if now.succeeds else Flow.RECEIVED
        if now.ended:
            yield born, now.ended
    elif old == new:
        return
    elif old is None:
        assert new is not None
        yield new, Flow.BROUGHT
    elif new is None:
        assert now.ended is not None
        yield old, now.ended
    else:
        yield old, Flow.TAKEN
        yield new, Flow.BROUGHT


def account(
    opening: Mapping[Class, int],
    flows: Mapping[tuple[Class, Flow], int],
    counted: Mapping[Class, int],
    away: Mapping[tuple[Class, str], int],
) -> tuple[Line, ...]:
    """Return the account, a line for each class that had stock or movement."""
    classes = {*opening, *counted, *(of for of, _ in flows)}
    return tuple(
        Line(
            of=of,
            opening=opening.get(of, 0),
            flows={flow: flows.get((of, flow), 0) for flow in Flow},
            counted=counted.get(of, 0),
            away={where: n for (whose, where), n in away.items() if whose == of and n},
        )
        for of in sorted(classes)
    )
