"""A seal read before its recorded number is shown: what was found, and what follows."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from registry.models import (
    Box,
    Envelope,
    Seal,
    SealAct,
    SealEvent,
    SealFinding,
    SealState,
)
from registry.queries.keeping import legal_date
from registry.rules.arrivals import DiscrepancyKind, Problem
from registry.rules.numbers import plain_serial
from registry.rules.powers import Actor
from registry.usecases._door import Refused
from registry.usecases._recording import discrepancy
from registry.usecases._records import enter

NO_LONGER_WHOLE = (SealFinding.OPEN, SealFinding.ABSENT)


@dataclass(frozen=True)
class Reading:
    """What an inspector read on a seal and how it looked.

    Attributes:
        number: as read; empty for a plain wax seal.
    """

    number: str
    finding: SealFinding
    witness: str = ""
    note: str = ""


def seals_in_force(of: Box | Envelope) -> list[Seal]:
    """Return the seals that a container relies on now, whole or found broken."""
    return list(
        Seal.objects.not_superseded()
        .filter(
            box=of if isinstance(of, Box) else None,
            envelope=of if isinstance(of, Envelope) else None,
        )
        .order_by("id")
    )


def record_reading(
    of: Box | Envelope, reading: Reading, seen_at: datetime, actor: Actor, at: datetime
) -> SealEvent:
    """Record a reading; returns the event, with the finding that holds.

    An intact seal whose number is not the recorded one is recorded as such, whatever
    was ticked. Anything but intact and matching opens a discrepancy.

    Raises:
        Refused: no live seal is on record, or one found broken is said to be whole.
    """
    seals = seals_in_force(of)
    if not seals:
        raise Refused(
            f"No live seal of {of.number} is on record. Log the missing seal as a "
            "discrepancy."
        )
    seen, seal = _compare_reading(reading, seals)
    if seal.state == SealState.BROKEN and seen not in NO_LONGER_WHOLE:
        raise Refused(
            f"Seal {seal.number} was found broken before and is not whole again. It is "
            "made good by a new one, under the authority's permission to open."
        )
    event = SealEvent(
        seal=seal,
        act=SealAct.CHECKED,
        finding=seen,
        number_read=reading.number.strip(),
        occurred_on=legal_date(of.election, seen_at),
        recorded_at=at,
        recorded_by_id=actor.person_id,
        witness=reading.witness.strip(),
        note=reading.note.strip(),
    )
    event.save()
    if seen in NO_LONGER_WHOLE and seal.state == SealState.APPLIED:
        seal.state = SealState.BROKEN
        seal.save()
    if seen is not SealFinding.MATCHES:
        problem = Problem(
            DiscrepancyKind.SEAL_BROKEN,
            written=reading.number.strip(),
            expected=seal.serial,
            detail=f"Seal check: {seen.label}. {reading.note}".strip(),
        )
        enter(discrepancy(of, problem, at))
    return event


def _compare_reading(
    reading: Reading, seals: Sequence[Seal]
) -> tuple[SealFinding, Seal]:
    """Return the finding that holds and the seal it speaks of."""
    read_plain = plain_serial(reading.number)
    same = [seal for seal in seals if seal.serial_plain == read_plain]
    if reading.finding is SealFinding.MATCHES and not same:
        return SealFinding.DIFFERS, seals[0]
    return reading.finding, same[0] if same else seals[0]
