"""A drawn or handed-over container, looked at by sight: what was seen is entered."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from registry.models import (
    Box,
    ChargeHandOver,
    Discrepancy,
    Envelope,
    SealEvent,
    SealFinding,
    Shelf,
    Sighting,
    StockTake,
)
from registry.rules.arrivals import DiscrepancyKind, Problem
from registry.rules.powers import Actor
from registry.rules.stock_takes import weight_differs
from registry.usecases._door import Mistaken
from registry.usecases._recording import discrepancy, enter_not_there
from registry.usecases._records import enter_many
from registry.usecases._seal_checks import Reading, record_reading, seals_in_force
from registry.usecases.boxes import place_of


@dataclass(frozen=True)
class Look:
    """What somebody saw, before the register showed what it should be.

    Attributes:
        scanned: the number on the label, as scanned or typed.
        found: False where it was looked for and is not there.
        seal_read: the number on the seal, as read from it.
        finding: how the seal was found, one of ``SealFinding``; empty for a container
            that bears no seal.
        shelf: where it stands, where the shelf was scanned.
        label_legible: None where nobody said.
    """

    scanned: str
    found: bool = True
    seal_read: str = ""
    finding: str = ""
    shelf: Shelf | None = None
    label_legible: bool | None = None
    weight_kg: Decimal | None = None
    note: str = ""


@dataclass(frozen=True)
class Seen:
    """What came of a look.

    Attributes:
        problems: what is not as it must be, in words; empty where all is in order.
    """

    number: str
    finding: SealFinding | None
    problems: tuple[str, ...]


def check_look(of: Box | Envelope, look: Look) -> None:
    """Raise Mistaken where a look leaves out what it must say."""
    problems: dict[str, list[str]] = {}
    if not look.found and not look.note.strip():
        problems["note"] = ["Say where it was looked for, and by whom."]
    if look.found and look.finding and look.finding not in SealFinding.values:
        problems["finding"] = ["Say in which state the seal was found."]
    if look.found and not look.finding and seals_in_force(of):
        problems["finding"] = ["Read the seal, and say in which state it was found."]
    for name, text, longest in (
        ("note", look.note, 400),
        ("seal_read", look.seal_read, 60),
    ):
        if len(text.strip()) > longest:
            problems[name] = [f"Shorten this to {longest} characters."]
    if problems:
        raise Mistaken(problems)


def enter_look(
    of: Box | Envelope,
    look: Look,
    seen_at: datetime,
    actor: Actor,
    at: datetime,
    *,
    stands_for: Sequence[Box | Envelope] = (),
    stock_take: StockTake | None = None,
    hand_over: ChargeHandOver | None = None,
) -> Seen:
    """Enter a look at a container, and a discrepancy for each thing not in order.

    One that was looked for in vain stays where the register has it: it is missing
    once a custodian of its room says so.

    Args:
        of: what was looked at; the caller holds its lock.
        stands_for: the containers for which it answers, such as the envelopes in a
            sealed box; itself where left out.
        stock_take, hand_over: in the course of which it was looked at.

    Raises:
        Mistaken: the look leaves out what it must say.
    """
    check_look(of, look)
    problems: list[Problem] = []
    event = None
    if not look.found:
        enter_not_there(of, look.note, at)
    else:
        event = _seal_read(of, look, seen_at, actor, at)
        problems = _problems(of, look)
        enter_many(_discrepancies(of, problems, at))
    told = _told(look, event, problems)
    for place, seen in enumerate(stands_for or (of,)):
        row = Sighting(
            room=of.room,
            stock_take=stock_take,
            hand_over=hand_over,
            box=seen if isinstance(seen, Box) else None,
            envelope=seen if isinstance(seen, Envelope) else None,
            scanned=look.scanned.strip(),
            found=look.found,
            shelf=look.shelf,
            seal_read=look.seal_read.strip(),
            finding=event.finding if event else "",
            label_legible=look.label_legible,
            weight_kg=look.weight_kg,
            condition=_condition(of, seen, look, problems),
            in_order=not told,
            seal_event=event if place == 0 else None,
            seen_at=seen_at,
            recorded_at=at,
            recorded_by_id=actor.person_id,  # type: ignore[misc] # a person looks
        )
        row.save()
    return Seen(of.number, SealFinding(event.finding) if event else None, told)


def _seal_read(
    of: Box | Envelope, look: Look, seen_at: datetime, actor: Actor, at: datetime
) -> SealEvent | None:
    if not look.finding or not seals_in_force(of):
        return None
    reading = Reading(look.seal_read, SealFinding(look.finding), note=look.note)
    return record_reading(of, reading, seen_at, actor, at)


def _problems(of: Box | Envelope, look: Look) -> list[Problem]:
    """Return what is not in order beside the seal, which has its own entry."""
    found = []
    recorded = of.shelf if isinstance(of, Box) else None
    if look.shelf is not None and isinstance(of, Box) and look.shelf != recorded:
        found.append(
            Problem(
                DiscrepancyKind.WRONG_PLACE,
                written=str(look.shelf),
                expected=place_of(of),
                detail=f"Seen on {look.shelf}; the register says {place_of(of)}.",
            )
        )
    if look.label_legible is False:
        detail = "Its label cannot be read: print and fix a new one."
        found.append(Problem(DiscrepancyKind.OTHER, detail=detail))
    weight = of.gross_weight_kg if isinstance(of, Box) else None
    if weight_differs(weight, look.weight_kg):
        detail = f"It weighs {look.weight_kg} kg; {weight} kg was recorded."
        found.append(
            Problem(
                DiscrepancyKind.OTHER,
                written=f"{look.weight_kg} kg",
                expected=f"{weight} kg",
                detail=detail,
            )
        )
    return found


def _discrepancies(
    of: Box | Envelope, problems: Sequence[Problem], at: datetime
) -> list[Discrepancy]:
    return [discrepancy(of, problem, at) for problem in problems]


def _told(
    look: Look, event: SealEvent | None, problems: Sequence[Problem]
) -> tuple[str, ...]:
    if not look.found:
        return (f"It was not found: {look.note.strip()}",)
    told = [problem.detail for problem in problems]
    if event and event.finding != SealFinding.MATCHES:
        told.insert(0, f"The seal: {event.get_finding_display()}.")
    return tuple(told)


def _condition(
    of: Box | Envelope, seen: Box | Envelope, look: Look, problems: Sequence[Problem]
) -> str:
    parts = [
        look.note.strip(),
        *(problem.detail for problem in problems),
        "" if seen is of else f"by its box {of.number}",
    ]
    return "; ".join(part for part in parts if part)[:400]
