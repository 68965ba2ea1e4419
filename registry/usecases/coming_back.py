"""Containers that come back: seals read at once, weighed, what the court kept."""

from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from registry.models import (
    Box,
    CustodyMovement,
    Envelope,
    Production,
    SealFinding,
    SealState,
    Whereabouts,
)
from registry.queries.find import the
from registry.queries.keeping import legal_date
from registry.rules.arrivals import DiscrepancyKind, Problem, SealEntry
from registry.rules.powers import Actor, Power
from registry.rules.productions import weight_differs
from registry.usecases._door import Mistaken, Refused, note_access, usecase
from registry.usecases._outside import OUTSIDE, check_texts
from registry.usecases._recording import enter_problems
from registry.usecases._records import enter
from registry.usecases._resealing import reseal
from registry.usecases._seal_checks import Reading, record_reading, seals_in_force
from registry.usecases._seen import refuse_if_moved
from registry.usecases._under_permission import locked_container
from registry.usecases.boxes import enter_movement, place_of


@dataclass(frozen=True)
class Return:
    """How a container came back.

    Attributes:
        readings: the number of each live seal, read before the record is shown; empty
            text for a plain wax seal.
        finding: how its seals look, one of ``SealFinding``.
        court_seals: where the court sealed it anew, its own seals, in place of ours.
        content_kept: what the court kept of what lies loose in it.
        kept_envelopes: numbers of envelopes of a box that the court kept.
        kept_by, kept_order: which court, under which order.
    """

    from_person: str
    readings: tuple[str, ...] = ()
    finding: str = SealFinding.MATCHES.value
    weight_kg: Decimal | None = None
    court_seals: tuple[SealEntry, ...] = ()
    content_kept: str = ""
    kept_envelopes: tuple[str, ...] = ()
    kept_by: str = ""
    kept_order: str = ""
    witness: str = ""
    note: str = ""


@dataclass(frozen=True)
class CameBack:
    """A container that is back, with all that is not as it went."""

    number: str
    differences: tuple[str, ...]


@usecase("container.take_back", power=Power.KEEP, subject="container")
def take_back(
    *, container: str, back: Return, as_seen: str = "", actor: Actor, at: datetime
) -> CameBack:
    """Record that a container came back, its seals read before the record is shown.

    It is never refused for what is wrong with it: every difference of seal, weight or
    content opens a discrepancy.

    Raises:
        Mistaken: nobody is named, or the seals were neither read nor found wanting.
        Refused: it is not out, or was moved meanwhile.
    """
    of = locked_container(actor, container)
    refuse_if_moved(of, as_seen)
    if of.whereabouts not in OUTSIDE:
        raise Refused(f"{of.number} is not out: it is {place_of(of)}.")
    _check(of, back)
    production = of.productions.filter(returned__isnull=True).first()
    # What the court kept stayed behind, so it never was in the hands of who takes back.
    _leave_with_court(of, production, back, actor, at)
    of.whereabouts = Whereabouts.INTAKE
    of.save()
    movement = enter_movement(
        of,
        CustodyMovement.Act.RETURNED,
        actor,
        at,
        from_person=back.from_person.strip(),
        to_person=actor.name,
        to_place=place_of(of),
        note=back.note.strip(),
    )
    other = [*_weight(of, production, back), *_content(of, back)]
    enter_problems([(of, other)], at)
    problems = [*_seals(of, back, actor, at), *other]
    if production:
        production.returned = movement
        production.weight_back_kg = back.weight_kg
        production.content_kept = back.content_kept.strip()
        production.save()
    note_access(of.number, shown=back.kept_envelopes)
    return CameBack(of.number, tuple(problem.detail for problem in problems))


def _check(of: Box | Envelope, back: Return) -> None:
    problems = check_texts(
        back, {"from_person": "Name the person who brought it back."}
    )
    if back.finding not in SealFinding.values:
        problems["finding"] = ["Say in which state the seals were found."]
    if back.court_seals and not all(seal.maker.strip() for seal in back.court_seals):
        problems["court_seals"] = ["Name the court whose seal it is."]
    if (back.content_kept.strip() or back.kept_envelopes) and not (
        back.kept_by.strip() and back.kept_order.strip()
    ):
        problems["kept_by"] = ["Name the court that kept it, and its order."]
    if _unread(of, back):
        problems["readings"] = [
            f"Read every seal of {of.number} and enter its number before the recorded "
            "one is shown; or say how it was found."
        ]
    if problems:
        raise Mistaken(problems)


def _unread(of: Box | Envelope, back: Return) -> bool:
    if back.court_seals or back.finding != SealFinding.MATCHES:
        return False
    live = [s for s in seals_in_force(of) if s.state == SealState.APPLIED]
    numbered = sum(1 for seal in live if seal.serial_plain)
    read = sum(1 for reading in back.readings if reading.strip())
    return len(back.readings) < len(live) or read < numbered


def _seals(
    of: Box | Envelope, back: Return, actor: Actor, at: datetime
) -> list[Problem]:
    """Let the court's seals supersede ours, or compare ours as they were read."""
    if back.court_seals:
        on = legal_date(of.election, at)
        owner = back.court_seals[0].maker.strip()
        return reseal(of, back.court_seals, on, actor, at, f"Sealed anew by {owner}")
    if not seals_in_force(of):
        return []
    finding = SealFinding(back.finding)
    found = [
        record_reading(
            of,
            Reading(number, finding, back.witness, "Read when it came back."),
            at,
            actor,
            at,
        )
        for number in back.readings or ("",)
    ]
    return [
        Problem(
            DiscrepancyKind.SEAL_BROKEN, detail=f"Seal: {each.get_finding_display()}."
        )
        for each in found
        if each.finding != SealFinding.MATCHES
    ]


def _weight(
    of: Box | Envelope, production: Production | None, back: Return
) -> list[Problem]:
    went = production.weight_out_kg if production else None
    if went is None and isinstance(of, Box):
        went = of.gross_weight_kg
    if not weight_differs(went, back.weight_kg):
        return []
    return [
        Problem(
            DiscrepancyKind.OTHER,
            written=f"{back.weight_kg} kg",
            expected=f"{went} kg",
            detail=f"It weighs {back.weight_kg} kg; it weighed {went} kg when it went.",
        )
    ]


def _content(of: Box | Envelope, back: Return) -> list[Problem]:
    """Name what stayed with the court: it is missing here until that is settled."""
    if not back.content_kept.strip():
        return []
    by = f"{back.kept_by.strip()} under {back.kept_order.strip()}"
    detail = f"Part of the content was kept by {by}: {back.content_kept.strip()}"
    return [Problem(DiscrepancyKind.OTHER, detail=detail)]


def _leave_with_court(
    of: Box | Envelope,
    production: Production | None,
    back: Return,
    actor: Actor,
    at: datetime,
) -> None:
    """Let envelopes of a box stay with the court that kept them, each on its own."""
    if not back.kept_envelopes:
        return
    if not isinstance(of, Box) or production is None:
        raise Refused(f"No envelope is recorded as having gone with {of.number}.")
    court, order = back.kept_by.strip(), back.kept_order.strip()
    for number in dict.fromkeys(back.kept_envelopes):
        envelope = the(of.envelopes.select_for_update(), number, "envelope in this box")
        envelope.box = None
        envelope.whereabouts = Whereabouts.KEPT
        envelope.save()
        movement = enter_movement(
            envelope,
            CustodyMovement.Act.KEPT,
            actor,
            at,
            from_person=production.kept_by or production.received_by,
            to_person=court,
            from_place=f"box {of.number}",
            to_place=court,
            permission=production.permission,
            note=f"Under {order}"[:400],
        )
        enter(
            Production(
                envelope=envelope,
                permission=production.permission,
                taken_out=movement,
                received_by=court,
                received_at_place=court,
                second_person=production.second_person,
                confirmed_with=production.confirmed_with,
                confirmed_at=production.confirmed_at,
                kept_on=legal_date(of.election, at),
                kept_by=court,
                kept_order=order,
            )
        )
