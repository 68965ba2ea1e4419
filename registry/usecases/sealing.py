"""The sealing table: one station at a time, answer by answer, to sealed envelopes."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime

from registry.models import StationSealing
from registry.queries.find import the
from registry.queries.scope import contests_of, rooms_of, sealings_of
from registry.queries.sealing_pages import (
    AskedQuestion,
    SealingPage,
    Section,
    answers_shown,
    sealing_page,
)
from registry.queries.sealing_progress import SealingList, sealing_list
from registry.queries.sealings import AtTable, OtherPerson, at_table, others_at
from registry.rules.keeping_parts import ABSENT
from registry.rules.powers import Actor, Power
from registry.rules.sealing import field_of, lacking, questions, wrong_with
from registry.usecases._door import Mistaken, Refused, note_access, usecase
from registry.usecases._happened import Happened, moment, note_use
from registry.usecases._recording import lock_intake
from registry.usecases._records import enter
from registry.usecases._sealing_answers import a_person, enter_answer
from registry.usecases._sealing_finish import Sealed, enter_what_was_sealed
from registry.usecases._sealing_station import Scanned, read_scan
from registry.usecases.intake import intake_of

__all__ = [
    "AskedQuestion",
    "Kept",
    "Sealed",
    "SealingList",
    "SealingPage",
    "Section",
    "begin_sealing",
    "finish_sealing",
    "keep_answers",
    "leave_off",
    "look_at_sealing",
    "look_at_sealing_table",
]

LONGEST = 400


@dataclass(frozen=True)
class Begun:
    """A station at the table; ``joined``: somebody else had begun it."""

    number: str
    joined: bool


@dataclass(frozen=True)
class Kept:
    """What became of the answers that were sent.

    Attributes:
        seen: the newest answer on record; to be sent with the next ones.
        left: how many questions must still be answered.
        told: what to tell the custodian, by field.
        conflicts: by field, what another person had entered meanwhile. Nothing of
            these was kept; sent again, they count.
        answers: the answers that count, by field, others' included.
    """

    at: datetime
    seen: int
    left: int
    told: dict[str, str]
    conflicts: dict[str, str]
    answers: dict[str, str]
    others: tuple[OtherPerson, ...] = field(default=())


@usecase("sealing.list", power=Power.LOOK)
def look_at_sealing_table(*, actor: Actor, at: datetime) -> SealingList:
    """Show how far each contest is sealed, and which stations are in hand."""
    found = sealing_list(contests_of(actor), sealings_of(actor), rooms_of(actor))
    note_access(open=len(found.open))
    return found


@usecase("sealing.look", power=Power.LOOK, subject="sealing")
def look_at_sealing(*, sealing: str, actor: Actor, at: datetime) -> SealingPage:
    """Show one station at the table."""
    of = the(sealings_of(actor), sealing, "sealing of a station")
    page = sealing_page(at_table(of), actor)
    note_access(of.number, shown=[number for _, number in page.made])
    return page


@usecase("sealing.begin", power=Power.KEEP)
def begin_sealing(
    *,
    scanned: str,
    room: str,
    contest: str = "",
    intake: str = "",
    actor: Actor,
    at: datetime,
) -> Begun:
    """Bring a station to the table, or go on with it where it is there already.

    Args:
        scanned: the unit's tag: a station's number, a register number of ours, or the
            serial of a unit. What was read counts as the answer to that question.
        room: number of the strong room at whose table it is.
        contest: number of the contest being sealed; a station's number needs it.
        intake: number of the intake on whose receipt it is to stand, if any.

    Raises:
        Mistaken: the tag leads to no station, or all of it is sealed; or the intake
            came into another room.
    """
    into = the(rooms_of(actor), room, "strong room")
    of = the(contests_of(actor), contest, "contest") if contest else None
    came_with = intake_of(actor, intake) if intake else None
    if came_with and came_with.room_id != into.pk:
        raise Mistaken(intake=f"Intake {came_with.number} came into {came_with.room}.")
    found = read_scan(scanned, of, contests_of(actor))
    in_hand = StationSealing.objects.filter(
        station=found.station, state=StationSealing.State.OPEN
    ).first()
    if in_hand and in_hand.room_id != into.pk:
        raise Mistaken(
            scanned=f"Station {found.station} is being sealed at {in_hand.room}."
        )
    if in_hand:
        note_access(in_hand.number, joined=True)
        return Begun(in_hand.number, joined=in_hand.begun_by_id != actor.person_id)
    begun = StationSealing(
        station=found.station,
        room=into,
        intake=came_with,
        begun_at=at,
        begun_by_id=a_person(actor),
    )
    enter(begun)
    table = at_table(begun)
    _refuse_what_is_sealed(table)
    _keep_what_was_scanned(table, found, actor, at)
    note_access(begun.number)
    return Begun(begun.number, joined=False)


def _refuse_what_is_sealed(table: AtTable) -> None:
    if not table.station.units:
        raise Mistaken(
            scanned=f"No unit set of station {table.sealing.station} is on record: "
            "have the list of stations mended, or take its envelope in at intake."
        )
    if not any(question.unit for question in table.asked):
        raise Mistaken(
            scanned=f"Every unit set of station {table.sealing.station} has its "
            "envelope on record. A further envelope is taken in at intake."
        )


def _keep_what_was_scanned(
    table: AtTable, found: Scanned, actor: Actor, at: datetime
) -> None:
    """Let the scan that brought the station here answer the question it answers."""
    waiting = dict.fromkeys(q.unit for q in table.asked if q.unit)
    unit = found.unit_set.number if found.unit_set else ""
    if not unit and len(waiting) == 1:
        unit = next(iter(waiting))
    for question in table.asked:
        if question.unit == unit and question.step.records is found.tells:
            enter_answer(table, question.about, found.text, actor, at)


@usecase("sealing.keep", power=Power.KEEP, subject="sealing")
def keep_answers(
    *,
    sealing: str,
    answers: Mapping[str, str],
    seen: int = 0,
    actor: Actor,
    at: datetime,
) -> Kept:
    """Keep answers as they are given: one row for each, and none is ever lost.

    Args:
        answers: by field, as typed or scanned. What stands there already is not kept
            twice; an empty one empties only what the person had seen.
        seen: the newest answer that the person's page showed.

    Raises:
        Mistaken: an answer is too long, or to a question that is not asked.
        Refused: the station is finished or was left off.
    """
    of = _in_hand(sealing, actor)
    table = at_table(of)
    conflicts = _keep_each(table, answers, seen, actor, at)
    table = at_table(of)
    note_access(of.number, conflicts=len(conflicts) or None)
    return Kept(
        at=at,
        seen=table.seen,
        left=len(lacking(table.asked, table.answers)),
        told=table.told,
        conflicts=conflicts,
        answers=answers_shown(table),
        others=others_at(of, actor),
    )


def _keep_each(
    table: AtTable, answers: Mapping[str, str], seen: int, actor: Actor, at: datetime
) -> dict[str, str]:
    abouts = {q.field: q.about for q in questions(table.steps, table.station, {})}
    for unit in table.station.units:
        abouts[field_of(unit.number, ABSENT)] = (unit.number, ABSENT)
    conflicts = {}
    for name, text in answers.items():
        answer = " ".join(text.split())
        if name not in abouts:
            raise Mistaken({name: ["This is not asked at this station. Load it anew."]})
        if len(answer) > LONGEST:
            raise Mistaken({name: [f"Shorten this to {LONGEST} characters."]})
        last = table.latest.get(abouts[name])
        if answer == (last.answer if last else ""):
            continue
        is_new_to_them = last is not None and last.pk > seen
        if is_new_to_them and not answer:
            continue
        if last and is_new_to_them and last.answered_by_id != actor.person_id:
            conflicts[name] = (
                f"{last.answered_by.name} entered “{last.answer}” meanwhile; you "
                f"have “{answer}”. Enter what is right."
            )
            continue
        enter_answer(table, abouts[name], answer, actor, at)
    return conflicts


@usecase("sealing.finish", power=Power.KEEP, subject="sealing")
def finish_sealing(
    *,
    sealing: str,
    happened: Happened | None = None,
    actor: Actor,
    at: datetime,
) -> Sealed:
    """Finish a station: its envelopes are taken in, put into their boxes, counted.

    What contradicts is recorded as it was read; its envelope goes into quarantine and
    a discrepancy is opened for each point.

    Args:
        happened: where it was taken down on a paper form and is entered later.

    Raises:
        Mistaken: a question is still to be answered, or a box that was named is none.
        Refused: it is finished already, or was left off.
    """
    of = _in_hand(sealing, actor)
    lock_intake()
    table = at_table(of)
    left = lacking(table.asked, table.answers)
    if left:
        raise Mistaken({q.field: [_lacks(q.field, table)] for q in left})
    sealed_at = moment(happened, of.room, actor=actor, at=at)
    sealed = enter_what_was_sealed(table, sealed_at, actor=actor, at=at)
    of.state = StationSealing.State.DONE
    of.ended_at = at
    of.ended_by_id = actor.person_id
    of.save()
    note_use(happened, "sealing.finish", of.number, actor=actor, at=at)
    note_access(of.number, shown=[e.number for e in sealed.envelopes])
    return sealed


def _lacks(name: str, table: AtTable) -> str:
    question = next(q for q in table.asked if q.field == name)
    return wrong_with(question, table.answers.get(question.about, ""))


@usecase("sealing.leave", power=Power.KEEP, subject="sealing")
def leave_off(*, sealing: str, because: str, actor: Actor, at: datetime) -> None:
    """Take a station off the table unsealed, with a reason; its answers stay."""
    of = _in_hand(sealing, actor)
    if not because.strip():
        raise Mistaken(because="Say why this station is not sealed now.")
    if len(because.strip()) > LONGEST:
        raise Mistaken(because=f"Shorten this to {LONGEST} characters.")
    of.state = StationSealing.State.LEFT
    of.left_because = because.strip()
    of.ended_at = at
    of.ended_by_id = actor.person_id
    of.save()


def _in_hand(number: str, actor: Actor) -> StationSealing:
    """Return a sealing that is open, and keep others from ending it meanwhile."""
    rows = sealings_of(actor).select_for_update(of=("self",))
    of = the(rows, number, "sealing of a station")
    if of.state != StationSealing.State.OPEN:
        by = of.ended_by.name if of.ended_by else "nobody"
        raise Refused(
            f"Station {of.station} is no longer at the table: it was "
            f"{of.get_state_display()} by {by} on {of.ended_at:%-d %B %Y}."
        )
    return of
