"""What is seen by somebody who walks: a container in its place, or something strange.

The seal is read before the register tells its number, and nothing is ever put right
in the register by what was seen: what differs becomes a discrepancy with an owner.
"""

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from registry.models import (
    Box,
    Envelope,
    SealFinding,
    Shelf,
    Sighting,
    StrongRoom,
    Whereabouts,
)
from registry.queries.find import NotThere
from registry.rules.arrivals import DiscrepancyKind, Problem
from registry.rules.powers import Actor
from registry.usecases._door import Mistaken
from registry.usecases._recording import discrepancy, enter_not_there
from registry.usecases._records import enter, enter_many
from registry.usecases._seal_checks import Reading, record_reading, seals_in_force
from registry.usecases.boxes import container_of, place_of


@dataclass(frozen=True)
class Sight:
    """What somebody saw of one container.

    Attributes:
        scanned: its number, as scanned or typed.
        seal_read: the number on its seal, as read; empty for a plain wax seal.
        finding: one of ``SealFinding``; empty where it bears no seal.
        label_legible: its label can still be read.
        condition: what is not in order about it, in words; empty where nothing is.
        strange: it is not on the register, and the person says so.
    """

    scanned: str
    seal_read: str = ""
    finding: str = ""
    label_legible: bool = True
    condition: str = ""
    strange: bool = False


@dataclass(frozen=True)
class Seen:
    """What the register says once the person has said what was seen.

    Attributes:
        number: the container; empty where it is not on the register.
        agrees: everything is as the register has it.
        said: in plain words, one sentence for each thing that is worth knowing.
    """

    number: str
    agrees: bool
    said: tuple[str, ...]


def sight(
    seen: Sight,
    *,
    room: StrongRoom,
    shelf: Shelf | None,
    seen_at: datetime,
    actor: Actor,
    at: datetime,
    witness: str = "",
    **walk: Any,
) -> Seen:
    """Record what was seen; returns what the register says to it.

    Args:
        shelf: where it stands; None is the intake table.
        seen_at: when it was seen, for what was walked on paper.
        walk: the ``round``, ``stock_take`` or ``hand_over`` to which it belongs.

    Raises:
        Mistaken: the number is mistyped or unknown and nobody says that it is strange,
            or the seal was not looked at.
    """
    _check_lengths(seen)
    row = Sighting(
        room=room,
        shelf=shelf,
        scanned=seen.scanned.strip(),
        seal_read=seen.seal_read.strip(),
        label_legible=seen.label_legible,
        condition=seen.condition.strip(),
        seen_at=seen_at,
        recorded_at=at,
        recorded_by_id=actor.person_id,  # type: ignore[misc] # the door saw to it
        **walk,
    )
    if seen.strange:
        return _strange(row, room, shelf, at)
    try:
        of = container_of(actor, seen.scanned)
    except NotThere as missing:
        raise Mistaken(
            scanned=f"{missing} Scan it again. If it is really there and not on the "
            "register, say so below: it is recorded as found."
        ) from missing
    return _known(row, of, seen, witness, actor, at)


def _check_lengths(seen: Sight) -> None:
    problems = {}
    if not seen.scanned.strip():
        problems["scanned"] = ["Scan or type the number on the container."]
    for name, longest in (("scanned", 200), ("seal_read", 60), ("condition", 380)):
        if len(getattr(seen, name).strip()) > longest:
            problems[name] = [f"Shorten this to {longest} characters."]
    if seen.finding and seen.finding not in SealFinding.values:
        problems["finding"] = ["Say in which state the seal was found."]
    if problems:
        raise Mistaken(problems)


def _strange(
    row: Sighting, room: StrongRoom, shelf: Shelf | None, at: datetime
) -> Seen:
    """Failure mode 60: found, not on the register; another one may be missing."""
    row.in_order = False
    enter_many([row])
    where = str(shelf) if shelf else f"{room}, intake table"
    detail = f"Found on {where}, not on the register. {row.condition}".strip()
    problem = Problem(
        DiscrepancyKind.STRANGE,
        written=" ".join(filter(None, [row.scanned, row.seal_read])),
        detail=detail,
    )
    found = enter(discrepancy(room, problem, at))
    return Seen(
        "",
        False,
        (
            f"Recorded as found and not on the register: {found.number}. Put it on the "
            "quarantine shelf, unopened, and log it at intake as “nobody expected it”. "
            "Look whether another container is missing.",
        ),
    )


def _known(
    row: Sighting,
    of: Box | Envelope,
    seen: Sight,
    witness: str,
    actor: Actor,
    at: datetime,
) -> Seen:
    problems = [*_places(of, row), *_looks(of, row)]
    said = [problem.detail for problem in problems]
    row.box = of if isinstance(of, Box) else None
    row.envelope = of if isinstance(of, Envelope) else None
    agrees = not problems
    if seals_in_force(of):
        agrees_too, words = _seal(row, of, seen, witness, actor, at)
        agrees, said = agrees and agrees_too, [words, *said]
    elif seen.seal_read.strip() or seen.finding:
        agrees = False
        detail = "It bears a seal, and none is on record."
        said.append(detail)
        problem = Problem(
            DiscrepancyKind.OTHER, written=seen.seal_read.strip(), detail=detail
        )
        problems.append(problem)
    row.in_order = agrees
    enter_many([row])
    for problem in problems:
        if not _is_known(of, problem):
            enter(discrepancy(of, problem, at))
    return Seen(of.number, agrees, tuple(said))


def _seal(
    row: Sighting,
    of: Box | Envelope,
    seen: Sight,
    witness: str,
    actor: Actor,
    at: datetime,
) -> tuple[bool, str]:
    if not seen.finding:
        raise Mistaken(finding="Say in which state the seal was found.")
    note = row.condition
    reading = Reading(seen.seal_read, SealFinding(seen.finding), witness, note)
    event = record_reading(of, reading, row.seen_at, actor, at)
    found = SealFinding(event.finding)
    row.seal_event, row.finding = event, found
    on_record = event.seal.serial or "a wax seal without a number"
    if found is SealFinding.MATCHES:
        return True, f"The seal agrees with the record: {on_record}."
    read = seen.seal_read.strip() or "no number"
    return False, (
        f"The seal is recorded as “{found.label}”. Read: {read}. On record: "
        f"{on_record}. Nothing was corrected; a discrepancy is open."
    )


def _places(of: Box | Envelope, row: Sighting) -> list[Problem]:
    """Name where it stands against where the register has it."""
    here = str(row.shelf) if row.shelf else f"{row.room}, intake table"
    standing = of.whereabouts
    if standing == Whereabouts.SHELVED and isinstance(of, Box):
        right = of.shelf_id == row.shelf_id
    else:
        right = standing == Whereabouts.INTAKE and row.shelf_id is None
    if right and of.room_id == row.room_id:
        return []
    detail = f"Seen on {here}; the register says: {place_of(of)}."
    if standing == Whereabouts.MISSING:
        detail += " It was missing: record that it is found."
    return [
        Problem(
            DiscrepancyKind.WRONG_PLACE,
            written=here,
            expected=place_of(of),
            detail=detail,
        )
    ]


def _looks(of: Box | Envelope, row: Sighting) -> list[Problem]:
    problems = []
    if row.label_legible is False:
        detail = "The label can no longer be read: print a new one."
        problems.append(Problem(DiscrepancyKind.OTHER, detail=detail))
    if row.condition:
        problems.append(Problem(DiscrepancyKind.OTHER, detail=row.condition))
    return problems


def _is_known(of: Box | Envelope, problem: Problem) -> bool:
    """Tell whether the same is open already: one finding, one discrepancy."""
    same = of.discrepancies.filter(
        kind=problem.kind.value,
        written=problem.written,
        detail=problem.detail,
        resolved_at__isnull=True,
    )
    return same.exists()


def look_in_vain(
    of: Box | Envelope,
    *,
    room: StrongRoom,
    shelf: Shelf | None,
    note: str,
    seen_at: datetime,
    actor: Actor,
    at: datetime,
    **walk: Any,
) -> None:
    """Record that a container was looked for and is not there.

    It opens a discrepancy; it is not missing before the custodian says so.
    """
    if not note.strip():
        raise Mistaken(note="Say where it was looked for, and by whom.")
    if len(note.strip()) > 400:
        raise Mistaken(note="Shorten this to 400 characters.")
    enter_many(
        [
            Sighting(
                room=room,
                shelf=shelf,
                box=of if isinstance(of, Box) else None,
                envelope=of if isinstance(of, Envelope) else None,
                scanned=of.number,
                found=False,
                in_order=False,
                condition=note.strip(),
                seen_at=seen_at,
                recorded_at=at,
                recorded_by_id=actor.person_id,  # type: ignore[misc] # the door saw to it
                **walk,
            )
        ]
    )
    enter_not_there(of, note, at)
