"""Cases or orders of an election, by what they cover."""

from collections import defaultdict
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from typing import Generic, Protocol, TypeVar

from registry.rules.cases import CaseFact
from registry.rules.retention import OrderFact

Fact = TypeVar("Fact", CaseFact, OrderFact)


class Scope(Protocol):
    """A contest that is covered, or one station of it."""

    @property
    def contest_id(self) -> int: ...
    @property
    def station_id(self) -> int | None: ...


@dataclass
class Covering(Generic[Fact]):
    """Cases or orders of an election, by what they cover."""

    whole_election: list[Fact] = field(default_factory=list)
    by_contest: dict[int, list[Fact]] = field(default_factory=lambda: defaultdict(list))
    by_station: dict[int, list[Fact]] = field(default_factory=lambda: defaultdict(list))
    stations_of_contest: dict[int, set[int]] = field(
        default_factory=lambda: defaultdict(set)
    )

    def file(self, fact: Fact, scopes: Sequence[Scope], *, whole: bool) -> None:
        """Put a case or an order where it bears.

        One that names nothing is held to cover everything: unknown means keep.
        """
        if whole or not scopes:
            self.whole_election.append(fact)
            return
        for scope in scopes:
            if scope.station_id is None:
                self.by_contest[scope.contest_id].append(fact)
            else:
                self.by_station[scope.station_id].append(fact)
                self.stations_of_contest[scope.contest_id].add(scope.station_id)

    def bearing(self, contest_id: int, stations: frozenset[int]) -> list[Fact]:
        """Return what covers these stations of a contest; no stations means all."""
        named: set[int] = self.stations_of_contest.get(contest_id, set())
        # The contents of a box without envelopes on record are not known: all bears.
        touched: set[int] = named & stations if stations else named
        facts = [
            *self.whole_election,
            *self.by_contest.get(contest_id, ()),
            *(fact for s in touched for fact in self.by_station[s]),
        ]
        return list({fact.number: fact for fact in facts}.values())

    def clear(self) -> None:
        """Take out everything."""
        for place in self._places():
            place.clear()

    def remove(self, number: str) -> list[Fact]:
        """Take out the case or order of this number; return what was taken."""
        taken: dict[str, Fact] = {}
        for place in self._places():
            taken |= {fact.number: fact for fact in place if fact.number == number}
            place[:] = [fact for fact in place if fact.number != number]
        return list(taken.values())

    def replace(self, number: str, change: Callable[[Fact], Fact]) -> None:
        """Put another fact in the place of the case or order of this number."""
        for place in self._places():
            place[:] = [change(f) if f.number == number else f for f in place]

    def _places(self) -> Iterator[list[Fact]]:
        yield self.whole_election
        yield from self.by_contest.values()
        yield from self.by_station.values()
