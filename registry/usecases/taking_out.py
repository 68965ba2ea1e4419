"""Containers handed out under an order: called back, seals read, then out."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal

from registry.models import (
    Box,
    CustodyMovement,
    Envelope,
    Permission,
    Production,
    SealFinding,
    SealState,
    Whereabouts,
)
from registry.queries.openings import judge_opening
from registry.rules.disposal_facts import Act
from registry.rules.powers import Actor, Power
from registry.usecases._door import Mistaken, Refused, note_access, usecase
from registry.usecases._outside import check_texts
from registry.usecases._records import enter
from registry.usecases._seal_checks import Reading, record_reading, seals_in_force
from registry.usecases._seen import refuse_if_moved
from registry.usecases._under_permission import (
    locked_containers,
    locked_permission,
)
from registry.usecases.boxes import container_of, enter_movement, place_of

# What a reading of the seals at this very moment answers.
_ANSWERED_BY_READING = frozenset({"seal-not-checked", "seal-check-too-old"})


@dataclass(frozen=True)
class Going:
    """One container that is to be handed out.

    Attributes:
        readings: the number of each live seal, read before the record is shown; empty
            text for a plain wax seal.
        as_seen: number of its last movement, as the mover saw it.
    """

    container: str
    readings: tuple[str, ...]
    weight_kg: Decimal | None = None
    as_seen: str = ""


@dataclass(frozen=True)
class Handing:
    """To whom containers are handed, and how the order was found to be genuine.

    Attributes:
        confirmed_with: who was called back, under a number found elsewhere than on
            the order; with ``confirmed_at``, before anything leaves.
        second_person: who saw the seals read and the things leave.
        receipt: number of the receipt they gave, if it is known already.
        expected_back_on: None where no day is named.
    """

    to_person: str
    to_place: str
    second_person: str
    confirmed_with: str
    confirmed_at: datetime | None
    receipt: str = ""
    expected_back_on: date | None = None
    note: str = ""


@dataclass(frozen=True)
class TakenOut:
    """What went, by its production, and what stayed since its seal was not in order."""

    productions: tuple[str, ...]
    stayed: tuple[str, ...]


@usecase("container.take_out", power=Power.OPEN, subject="permission")
def take_out(
    *,
    going: Sequence[Going],
    permission: str,
    handing: Handing,
    conditions_met: Sequence[str] = (),
    actor: Actor,
    at: datetime,
) -> TakenOut:
    """Hand containers out, to a court or elsewhere, under one permission.

    Each stays on the register, and nothing disposes of it while it is out. One whose
    seal does not read as recorded stays here, with an open discrepancy; the others go.

    Raises:
        Mistaken: something that must be known before they leave is not said.
        Refused: with every obstacle of every container; nothing was recorded.
    """
    _check_handing(handing, actor, at)
    by_number = {container_of(actor, one.container).number: one for one in going}
    if not by_number:
        raise Mistaken(going="Name what is taken out.")
    note_access(meant=list(by_number))
    found = locked_containers(actor, list(by_number))
    relied_on = locked_permission(permission, actor)
    pairs = [(of, by_number[of.number]) for of in found]
    _refuse_before_reading(pairs, relied_on, conditions_met, at)
    stayed = [of.number for of, one in pairs if not _reads_as_recorded(of, one,
              handing, actor, at)]  # fmt: skip
    leaving = [(of, one) for of, one in pairs if of.number not in stayed]
    for of, _ in leaving:
        obstacles = judge_opening(of, Act.TAKE_OUT, relied_on, conditions_met, at)
        if obstacles:
            raise Refused(*obstacles)
    entered = [
        _hand_out(of, one.weight_kg, relied_on, handing, actor, at)
        for of, one in leaving
    ]
    note_access(relied_on.number, shown=[of.number for of in found])
    return TakenOut(tuple(p.number for p in entered), tuple(stayed))


def _check_handing(handing: Handing, actor: Actor, at: datetime) -> None:
    asked = {
        "to_person": "Name the person who receives it, with the post.",
        "to_place": "Say where it goes.",
        "second_person": "Name the second person who is there: nobody hands out alone.",
        "confirmed_with": "Call the court or authority back and name who confirmed the "
        "order, before anything leaves.",
    }
    problems = check_texts(handing, asked)
    second = handing.second_person.strip().casefold()
    if second and second in (actor.name.casefold(), handing.to_person.casefold()):
        problems["second_person"] = ["The second person is somebody else."]
    if handing.confirmed_at is None:
        problems["confirmed_at"] = ["Say when the order was confirmed."]
    elif handing.confirmed_at > at:
        problems["confirmed_at"] = ["This moment has not come yet: call back first."]
    if handing.expected_back_on and handing.expected_back_on < at.date():
        problems["expected_back_on"] = ["This day is over."]
    if problems:
        raise Mistaken(problems)


def _refuse_before_reading(
    pairs: Sequence[tuple[Box | Envelope, Going]],
    permission: Permission,
    conditions_met: Sequence[str],
    at: datetime,
) -> None:
    """Refuse all that no reading answers, before one is recorded and rolled back."""
    reasons = []
    for of, one in pairs:
        refuse_if_moved(of, one.as_seen)
        reasons += [
            obstacle
            for obstacle in judge_opening(
                of, Act.TAKE_OUT, permission, conditions_met, at
            )
            if obstacle.code not in _ANSWERED_BY_READING
        ]
    if reasons:
        raise Refused(*{o.text: o for o in reasons}.values())
    unread = [of.number for of, one in pairs if _lacks_readings(of, one.readings)]
    if unread:
        raise Mistaken(
            readings=f"Read every seal of {', '.join(unread)} and enter its number, "
            "before the recorded one is shown."
        )


def _lacks_readings(of: Box | Envelope, readings: Sequence[str]) -> bool:
    live = [s for s in seals_in_force(of) if s.state == SealState.APPLIED]
    numbered = sum(1 for seal in live if seal.serial_plain)
    return len(readings) < len(live) or numbered > sum(
        1 for one in readings if one.strip()
    )


def _reads_as_recorded(
    of: Box | Envelope, one: Going, handing: Handing, actor: Actor, at: datetime
) -> bool:
    events = [
        record_reading(
            of,
            Reading(
                number,
                SealFinding.MATCHES,
                handing.second_person,
                "Read before it was handed out.",
            ),
            at,
            actor,
            at,
        )
        for number in one.readings
    ]
    return all(event.finding == SealFinding.MATCHES for event in events)


def _hand_out(
    of: Box | Envelope,
    weight_kg: Decimal | None,
    permission: Permission,
    handing: Handing,
    actor: Actor,
    at: datetime,
) -> Production:
    from_place = place_of(of)
    of.whereabouts = Whereabouts.OUT
    if isinstance(of, Box):
        of.shelf = None
    else:
        of.box = None  # it came out of its box, opened today
    of.save()
    movement = enter_movement(
        of,
        CustodyMovement.Act.TAKEN_OUT,
        actor,
        at,
        from_place=from_place,
        to_place=handing.to_place.strip(),
        from_person=actor.name,
        to_person=handing.to_person.strip(),
        permission=permission,
        note=handing.note.strip(),
    )
    return enter(
        Production(
            box=of if isinstance(of, Box) else None,
            envelope=of if isinstance(of, Envelope) else None,
            permission=permission,
            taken_out=movement,
            received_by=handing.to_person.strip(),
            received_at_place=handing.to_place.strip(),
            receipt=handing.receipt.strip(),
            expected_back_on=handing.expected_back_on,
            second_person=handing.second_person.strip(),
            confirmed_with=handing.confirmed_with.strip(),
            confirmed_at=handing.confirmed_at,
            weight_out_kg=weight_kg,
        )
    )
