"""What must exist, one by one, and the envelope that answers for each."""

from collections import defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from registry.rules.contents import ContentKind
from registry.rules.reconciliation_facts import (
    CONTENT_NAMES,
    OF_EACH_UNIT_SET,
    ContestFacts,
    Envelope,
    Standing,
    Station,
    Units,
    expected,
)


@dataclass(frozen=True)
class Item:
    """One envelope that must exist.

    Attributes:
        ref: register number of its unit set; of its station for a packet.
        envelope: what stands for it outside quarantine; None where nothing does.
        unforeseen: nobody said beforehand that it would be there.
        was: the superseded envelope whose successor is not on the register.
    """

    kind: ContentKind
    ref: str
    station: Station
    units: Units | None = None
    envelope: Envelope | None = None
    unforeseen: bool = False
    was: Envelope | None = None

    @property
    def about(self) -> str:
        """How a discrepancy names it."""
        return expected(self.ref, self.kind)

    @property
    def title(self) -> str:
        """What it is, in words."""
        content = CONTENT_NAMES[self.kind].capitalize()
        units = f", units {self.units.title}" if self.units else ""
        return f"{content} of {self.station.title}{units}"


def items(facts: ContestFacts) -> tuple[Item, ...]:
    """Return each envelope that must exist, and packets that nobody could foretell."""
    registered: dict[str, list[Envelope]] = defaultdict(list)
    gone: dict[str, Envelope] = {}
    for envelope, subject in stand_for(facts.envelopes):
        if envelope.standing in (Standing.HELD, Standing.DISPOSED):
            registered[subject].append(envelope)
        elif envelope.standing is Standing.SUPERSEDED:
            gone[subject] = envelope
    return (*_slips(facts, registered, gone), *_packets(facts, registered))


def stand_for(envelopes: tuple[Envelope, ...]) -> Iterator[tuple[Envelope, str]]:
    """Yield each envelope with what it stands for, if that is known.

    A successor stands for what the superseded one stood for.
    """
    subjects = {each.number: _subject(each) for each in envelopes}
    for each in envelopes:
        if each.superseded_by and not subjects.get(each.superseded_by, "-"):
            subjects[each.superseded_by] = subjects[each.number]
    for each in envelopes:
        if subjects[each.number]:
            yield each, subjects[each.number]


def _subject(envelope: Envelope) -> str:
    of_unit_set = envelope.kind in OF_EACH_UNIT_SET
    ref = envelope.unit_set if of_unit_set else envelope.station
    return expected(ref, envelope.kind) if ref else ""


def _slips(
    facts: ContestFacts,
    registered: Mapping[str, list[Envelope]],
    gone: Mapping[str, Envelope],
) -> Iterator[Item]:
    for station, units in facts.units():
        for kind in OF_EACH_UNIT_SET:
            subject = expected(units.ref, kind)
            # One that was disposed of may have had a predecessor: the last counts.
            found = registered.get(subject)
            yield Item(
                kind,
                units.ref,
                station,
                units,
                envelope=found[-1] if found else None,
                was=None if found else gone.get(subject),
            )


def _packets(
    facts: ContestFacts, registered: Mapping[str, list[Envelope]]
) -> Iterator[Item]:
    kind = ContentKind.STATUTORY_PACKET
    foretold = facts.packets_per_station
    for station in facts.stations:
        found = registered.get(expected(station.ref, kind), [])
        wanted = len(found) if foretold is None else foretold
        for place in range(wanted):
            yield Item(
                kind,
                station.ref,
                station,
                envelope=found[place] if place < len(found) else None,
                unforeseen=foretold is None,
            )
