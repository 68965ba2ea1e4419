"""What nobody expected, and statutory packets of each station."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, field

from registry.rules.contents import ContentKind
from registry.rules.markings import Marking
from registry.rules.reconciliation_facts import (
    ContestFacts,
    Envelope,
    Station,
    expected,
)
from registry.rules.reconciliation_findings import Difference, Reason
from registry.rules.reconciliation_items import Item
from registry.rules.reconciliation_serials import Spoken, UnitIndex


@dataclass
class Looked:
    """What a look at the envelopes of one content brought.

    Attributes:
        differences: what is wrong with them.
        claimed: what they stand for, in quarantine or not: it is not missing.
    """

    differences: list[Difference] = field(default_factory=list)
    claimed: set[str] = field(default_factory=set)


def look_at_packets(
    facts: ContestFacts, index: UnitIndex, items: Sequence[Item]
) -> Looked:
    """Name the packets that nobody expected."""
    kind = ContentKind.STATUTORY_PACKET
    live = [each for each in facts.envelopes if each.kind is kind and each.is_live]
    counted = {item.envelope.number for item in items if item.envelope}
    wanted = facts.packets_per_station
    looked = Looked()
    by_station: dict[str, list[Envelope]] = defaultdict(list)
    for each in live:
        station = each.station or index.station_written(each)
        if not station:
            looked.differences.append(surplus(each, None, index))
            continue
        by_station[station].append(each)
        if each.number not in counted:
            looked.claimed.add(expected(station, kind))
    for ref, found in by_station.items():
        if wanted is not None and len(found) > wanted:
            looked.differences.append(_too_many(index.stations[ref], found, wanted))
    return looked


def surplus(envelope: Envelope, spoken: Spoken | None, index: UnitIndex) -> Difference:
    number = envelope.written.get(Marking.STATION_NUMBER, "").strip()
    said = f"station {number} is written on it" if number else "it names no station"
    if spoken:
        said += ", and no serial on it is of this contest"
    expects = "has no such station" if index.stations else "expects no envelope at all"
    return Difference(
        reason=Reason.SURPLUS,
        kind=envelope.kind,
        about=(envelope.number,),
        text=f"Nobody expected {envelope.name}: {said}. This contest {expects}.",
        remedy="It stays in quarantine. Ask whoever brought it where it comes from; "
        "it may belong to another contest or another election.",
    )


def _too_many(station: Station, found: Sequence[Envelope], wanted: int) -> Difference:
    names = ", ".join(each.name for each in found)
    return Difference(
        reason=Reason.SURPLUS,
        kind=ContentKind.STATUTORY_PACKET,
        about=tuple(sorted(each.number for each in found)),
        text=f"{station.title.capitalize()} has {len(found)} statutory packets, not "
        f"{wanted}: {names}.",
        remedy="Compare what is written on them; one may belong to another station.",
        stations=(station.ref,),
    )
