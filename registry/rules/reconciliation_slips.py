"""What is wrong with the envelopes of slips, by what is written on them."""

from collections import Counter
from collections.abc import Iterator, Sequence

from registry.rules.contents import ContentKind
from registry.rules.markings import Marking
from registry.rules.near_serials import NearSerials
from registry.rules.numbers import plain_serial
from registry.rules.reconciliation_duplicates import duplicates
from registry.rules.reconciliation_facts import (
    ContestFacts,
    expected,
)
from registry.rules.reconciliation_findings import STATEMENT, Difference, Reason
from registry.rules.reconciliation_items import Item
from registry.rules.reconciliation_packets import Looked, surplus
from registry.rules.reconciliation_serials import (
    SERIAL_NAMES,
    SERIALS,
    Spoken,
    UnitIndex,
)
from registry.rules.reconciliation_swaps import swaps

_OF_STATION = (
    Marking.STATION_NUMBER.value,
    Marking.STATION_NAME.value,
    *(marking.value for marking in SERIALS),
)


def look_at_slips(
    facts: ContestFacts, kind: ContentKind, index: UnitIndex, items: Sequence[Item]
) -> Looked:
    """Name what is wrong with the envelopes of slips: a swap first, then each."""
    live = [each for each in facts.envelopes if each.kind is kind and each.is_live]
    spoken = index.read(live)
    looked = Looked()
    looked.differences, taken = swaps(spoken, index, kind)
    looked.claimed |= {about for one in looked.differences for about in one.about}
    twice, doubled = duplicates(spoken, index, kind, taken)
    looked.differences += twice
    near = _Near(index, items, spoken)
    for one in spoken:
        meant = near.meant(one)
        claims = _claims(one, meant)
        looked.claimed |= {expected(ref, kind) for ref in claims}
        if one.envelope.number in taken | doubled:
            continue
        if not claims and not one.station:
            looked.differences.append(surplus(one.envelope, one, index))
            continue
        looked.differences += _serials(one, meant, index)
        looked.differences += _station(one, index)
    return looked


class _Near:
    """Serials that are missing elsewhere, among which a misread one is sought."""

    def __init__(
        self, index: UnitIndex, items: Sequence[Item], spoken: Sequence[Spoken]
    ) -> None:
        self._index = index
        free = [item.units for item in items if item.units and not item.envelope]
        self._among: dict[Marking, NearSerials] = {}
        for marking in SERIALS:
            borne = Counter(one.serial(marking) for one in spoken)
            serials = (plain_serial(units.serial(marking)) for units in free)
            self._among[marking] = NearSerials.of(s for s in serials if not borne[s])

    def meant(self, one: Spoken) -> dict[Marking, str]:
        """Return, by marking, the unit set whose serial was most likely meant."""
        found: dict[Marking, str] = {}
        for marking in SERIALS:
            serial = one.serial(marking)
            if serial and not one.sets(marking):
                likely = self._among[marking].nearest(serial)
                refs = self._index.bearers(marking, likely or "")
                if refs:
                    found[marking] = refs[0]
        return found


def _claims(one: Spoken, meant: dict[Marking, str]) -> set[str]:
    """Return the unit sets for which an envelope may stand."""
    if one.envelope.unit_set:
        return {one.envelope.unit_set}
    both = set(one.by_control) & set(one.by_paper)
    return both or set(one.by_paper) or set(one.by_control) or set(meant.values())


def _serials(
    one: Spoken, meant: dict[Marking, str], index: UnitIndex
) -> Iterator[Difference]:
    """Name each serial that no unit of the contest has, with the likely right one."""
    for marking in SERIALS:
        serial = one.serial(marking)
        if not serial or one.sets(marking):
            continue
        written = one.envelope.written[marking].strip()
        text = f"On {one.envelope.name} the {SERIAL_NAMES[marking]} is “{written}”"
        likely = meant.get(marking)
        if likely:
            right = index.units[likely].serial(marking)
            yield _of_serial(
                one,
                Reason.NEAR_MISS,
                marking,
                f"{text}; most likely {right} of {index.station_of[likely].title}, "
                "which is on no other envelope.",
                f"Read it again on the envelope, character by character. {STATEMENT}",
            )
        else:
            yield _of_serial(
                one,
                Reason.UNKNOWN_SERIAL,
                marking,
                f"{text}, which no unit of this contest has.",
                f"Look for it in the list of units and of replacements. {STATEMENT}",
            )


def _of_serial(
    one: Spoken, reason: Reason, marking: Marking, text: str, remedy: str
) -> Difference:
    return Difference(
        reason=reason,
        kind=one.envelope.kind,
        about=(one.envelope.number,),
        text=text,
        remedy=remedy,
        stations=(one.station,) if one.station else (),
        markings=(marking.value,),
        written=one.envelope.written[marking].strip(),
    )


def _station(one: Spoken, index: UnitIndex) -> Iterator[Difference]:
    """Name the serials that belong to another station than is written."""
    strange = [marking for marking in SERIALS if _is_elsewhere(one, marking, index)]
    if strange:
        told = " and ".join(
            f"its {SERIAL_NAMES[marking]} {one.envelope.written[marking].strip()} is "
            f"of {index.station_of[one.sets(marking)[0]].title}"
            for marking in strange
        )
        written_for = index.stations[one.station].title
        yield _of_two(one, f"is written for {written_for}, but {told}.", index)
    elif one.by_control and one.by_paper and not {*one.by_control} & {*one.by_paper}:
        control, paper = index.name(one.by_control[0]), index.name(one.by_paper[0])
        yield _of_two(
            one,
            f"bears the control-unit serial of {control} and the paper-trail serial "
            f"of {paper}.",
            index,
        )


def _is_elsewhere(one: Spoken, marking: Marking, index: UnitIndex) -> bool:
    at = {index.station_of[ref].ref for ref in one.sets(marking)}
    return bool(one.station and at and one.station not in at)


def _of_two(one: Spoken, text: str, index: UnitIndex) -> Difference:
    at = {index.station_of[ref].ref for ref in (*one.by_control, *one.by_paper)}
    return Difference(
        reason=Reason.WRONG_STATION,
        kind=one.envelope.kind,
        about=(one.envelope.number,),
        text=f"{one.envelope.name} {text}",
        remedy=f"Compare it with the envelopes of both. {STATEMENT}",
        stations=tuple(sorted(at | ({one.station} - {""}))),
        markings=_OF_STATION,
    )
