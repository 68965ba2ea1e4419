"""Dates written on envelopes against the days of the poll and of the count."""

from collections.abc import Iterator

from registry.rules.markings import Marking, same_marking
from registry.rules.reconciliation_facts import ContestFacts
from registry.rules.reconciliation_findings import STATEMENT, Difference, Reason
from registry.rules.reconciliation_serials import UnitIndex


def wrong_dates(facts: ContestFacts, index: UnitIndex) -> Iterator[Difference]:
    """Name each date that is written otherwise than the poll or the count was.

    An adjourned poll has a date of its own at its station.
    """
    agrees: dict[tuple[Marking, str, str], bool] = {}
    for envelope in facts.envelopes:
        if not envelope.is_live:
            continue
        station = index.stations.get(
            envelope.station or index.station_written(envelope)
        )
        polled_on = (station and station.polled_on) or facts.polled_on
        days = (
            (Marking.POLL_DATE, "date of poll", polled_on),
            (Marking.COUNTING_DATE, "date of counting", facts.counted_on),
        )
        for marking, title, day in days:
            written = envelope.written.get(marking, "").strip()
            if day is None or not written or marking in envelope.unreadable:
                continue
            key = (marking, written, day.isoformat())
            if key not in agrees:
                agrees[key] = same_marking(*key)
            if not agrees[key]:
                where = f" for {station.title}" if station else ""
                yield Difference(
                    reason=Reason.WRONG_DATE,
                    kind=envelope.kind,
                    about=(envelope.number,),
                    text=f"On {envelope.name} the {title} is written “{written}”; "
                    f"it was {day.isoformat()}{where}.",
                    remedy=STATEMENT,
                    stations=(station.ref,) if station else (),
                    markings=(marking.value,),
                    written=written,
                    expected=day.isoformat(),
                )
