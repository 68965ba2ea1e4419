"""What a list meets in the register: the same units, or the very same container."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from datetime import date
from typing import Any

from django.db.models import Q

from registry.models import Box, ContainerState, Election, Envelope, Seal, written_field
from registry.queries.expected import Match
from registry.rules.arrivals import Arrival, SealKind
from registry.rules.markings import Marking
from registry.rules.schedules import ContentKind

_Key = tuple[Any, ...]


class LiveUnits:
    """Which units already have an envelope of a kind, in the register or the file."""

    def __init__(self, election: Election) -> None:
        self._bearers: dict[tuple[str, str, object], str] = {}
        rows = Envelope.objects.filter(
            election=election,
            state__in=[ContainerState.HELD, ContainerState.QUARANTINED],
            unit_set__isnull=False,
        ).values_list(
            "kind", "unit_set_id", "control_unit", "paper_trail_unit",
            "control_unit_kept", "paper_trail_kept", "number",
        )  # fmt: skip
        for kind, units, control, paper, kept, paper_kept, number in rows.iterator():
            self._put(kind, units, control, paper, kept, paper_kept, number)

    def _put(
        self,
        kind: str,
        units: int,
        control: str,
        paper: str,
        control_kept: bool,
        paper_kept: bool,
        number: str,
    ) -> None:
        if kind == ContentKind.STATUTORY_PACKET.value:
            return
        self._bearers.setdefault((kind, "set", units), number)
        if not control_kept:
            self._bearers.setdefault((kind, "control", control), number)
        if not paper_kept:
            self._bearers.setdefault((kind, "paper", paper), number)

    def add(self, match: Match, arrival: Arrival, number: str) -> None:
        """Count an envelope of this file as one that bears its units' serials."""
        units = match.unit_set
        if units and arrival.noun == "envelope":
            self._put(
                arrival.kind.value,
                units.pk,
                units.control_unit_plain,
                units.paper_trail_plain,
                units.control_unit_kept,
                units.paper_trail_kept,
                number,
            )

    def bearing(self, match: Match, arrival: Arrival) -> list[str]:
        """Return which envelopes stand for the same units."""
        units = match.unit_set
        if units is None or arrival.noun != "envelope":
            return []
        kind = arrival.kind.value
        keys: list[tuple[str, str, object]] = [(kind, "set", units.pk)]
        if not units.control_unit_kept:
            keys.append((kind, "control", units.control_unit_plain))
        if not units.paper_trail_kept:
            keys.append((kind, "paper", units.paper_trail_plain))
        return sorted({self._bearers[key] for key in keys if key in self._bearers})


class EnteredBefore:
    """Which arrivals of a file are in the register already, to the letter.

    Two containers may bear the same serial; two that agree in every writing, seal,
    count and day are one, and its list was loaded again.
    """

    def __init__(self, election: Election, arrivals: Iterable[Arrival]) -> None:
        wanted = {_key_of(arrival) for arrival in arrivals}
        self._numbers: dict[_Key, list[str]] = {}
        for noun, model in (("envelope", Envelope), ("box", Box)):
            for key, number in _keys_on_record(noun, model, election):
                if key in wanted:
                    self._numbers.setdefault(key, []).append(number)
        alike = [number for found in self._numbers.values() for number in found]
        self._serials = _serials_on(alike)

    def number_of(self, arrival: Arrival) -> str | None:
        """Return the container that is this very one, if it was entered."""
        mine = sorted(
            seal.serial
            for seal in arrival.seals
            if seal.kind is SealKind.WAX or seal.identity
        )
        for number in self._numbers.get(_key_of(arrival), ()):
            if mine == sorted(self._serials[number]):
                return number
        return None


def _serials_on(numbers: Sequence[str]) -> dict[str, list[str]]:
    """Return the seal numbers on each of these containers."""
    serials: dict[str, list[str]] = defaultdict(list)
    for start in range(0, len(numbers), 400):
        some = numbers[start : start + 400]
        on = Q(box__number__in=some) | Q(envelope__number__in=some)
        rows = Seal.objects.filter(on).values_list(
            "box__number", "envelope__number", "serial"
        )
        for box, envelope, serial in rows:
            serials[box or envelope].append(serial)
    return serials


def _key_of(arrival: Arrival) -> _Key:
    written = tuple(arrival.written.get(m, "").strip() for m in Marking)
    unreadable = ",".join(sorted(arrival.unreadable))
    return _key(
        arrival.noun,
        arrival.kind.value,
        arrival.sealed_on,
        arrival.description,
        unreadable,
        arrival.label if arrival.noun == "box" else arrival.slip_count,
        written,
    )


def _key(
    noun: str,
    kind: str,
    sealed_on: date | None,
    description: str,
    unreadable: str,
    own: object,
    written: tuple[str, ...],
) -> _Key:
    return noun, kind, sealed_on, description, unreadable, own, written


def _keys_on_record(
    noun: str, model: type[Envelope] | type[Box], election: Election
) -> Iterable[tuple[_Key, str]]:
    own = "label" if noun == "box" else "slip_count"
    rows = model.objects.filter(Q(election=election) | Q(election__isnull=True))
    columns = [written_field(marking) for marking in Marking]
    for (
        number,
        kind,
        sealed_on,
        description,
        unreadable,
        mine,
        *written,
    ) in rows.values_list(
        "number", "kind", "sealed_on", "description", "unreadable", own, *columns
    ).iterator():
        key = _key(noun, kind, sealed_on, description, unreadable, mine, tuple(written))
        yield key, number
