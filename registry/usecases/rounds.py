"""Inspection rounds: begun, walked shelf by shelf, ended with nothing left unsaid."""

from collections.abc import Mapping, Sequence
from datetime import datetime

from django.db.models import Q

from registry.models import InspectionRound, Shelf, Sighting
from registry.queries.desk_day import day_at_desk
from registry.queries.find import the
from registry.queries.round_dues import round_due
from registry.queries.rounds import TABLE, rounds_of, walk_of
from registry.queries.scope import rooms_of
from registry.rules.numbers import NumberMistyped, read
from registry.rules.powers import Actor, Power
from registry.usecases._door import Mistaken, Refused, note_access, usecase
from registry.usecases._records import enter
from registry.usecases._seal_checks import seals_in_force
from registry.usecases._sightings import Seen, Sight, look_in_vain, sight
from registry.usecases.boxes import container_of

__all__ = [
    "Seen",
    "Sight",
    "begin_round",
    "end_round",
    "look_for",
    "see",
    "type_in",
]

LONGEST = 400


@usecase("round.begin", power=Power.KEEP, subject="room")
def begin_round(
    *,
    room: str,
    contested_only: bool = False,
    witness: str = "",
    on_paper: bool = False,
    walked_from: datetime | None = None,
    actor: Actor,
    at: datetime,
) -> str:
    """Begin to walk a room; returns the number of the round.

    Args:
        contested_only: only what a case or an order holds is to be seen.
        witness: the second person who walks along.
        on_paper: with a printed sheet that is typed in later.
        walked_from: when the walk began, where that was before it is entered.

    Raises:
        Refused: a round of the room is being walked already.
    """
    of = the(rooms_of(actor).select_for_update(), room, "strong room")
    began = walked_from or at
    if began > at:
        raise Mistaken(walked_from="This moment has not come yet.")
    if len(witness.strip()) > 160:
        raise Mistaken(witness="Shorten this to 160 characters.")
    running = of.rounds.filter(state=InspectionRound.State.WALKED).first()
    if running:
        raise Refused(
            f"{running.number} of this room is being walked already. Go on with it, or "
            "end it first."
        )
    due = round_due(of, actor, day_at_desk(actor, at))
    row = enter(
        InspectionRound(
            room=of,
            due_on=due.on if due else None,
            contested_only=contested_only,
            on_paper=on_paper,
            walked_from=began,
            begun_at=at,
            begun_by_id=actor.person_id,  # type: ignore[misc] # the door saw to it
            witness=witness.strip(),
        )
    )
    note_access(of.number, round=row.number)
    return row.number


@usecase("round.see", power=Power.KEEP, subject="inspection")
def see(
    *,
    inspection: str,
    shelf: str,
    seen: Sight,
    seen_at: datetime | None = None,
    actor: Actor,
    at: datetime,
) -> Seen:
    """Record what was seen on a round; returns what the register says to it.

    Args:
        inspection: number of the round.
        shelf: where it stands, scanned; ``table`` for the intake table.
        seen_at: when it was seen, where the round was walked on paper.

    Raises:
        Refused: the round has ended, or it was seen on this round already.
        Mistaken: the number is unknown and nobody says that it is strange, or the
            seal was not looked at.
    """
    row = _walked(inspection, actor)
    told = _see(row, _shelf(row, shelf), seen, seen_at, actor, at)
    note_access(row.number, shown=[told.number] if told.number else [])
    return told


@usecase("round.type_in", power=Power.KEEP, subject="inspection")
def type_in(
    *,
    inspection: str,
    shelf: str,
    lines: Sequence[Sight],
    in_vain: Mapping[str, str],
    seen_at: datetime,
    actor: Actor,
    at: datetime,
) -> tuple[Seen, ...]:
    """Type in what a printed sheet says of one shelf, in one go or not at all.

    Args:
        lines: what was seen.
        in_vain: what was looked for in vain, with the remark on the sheet.
        seen_at: when the shelf was walked, as the sheet says.
    """
    row = _walked(inspection, actor)
    place = _shelf(row, shelf)
    if not lines and not in_vain:
        raise Mistaken(seen_at="No line is filled in: type in what the sheet says.")
    told = []
    for line in lines:
        try:
            told.append(_see(row, place, line, seen_at, actor, at))
        except Mistaken as mistaken:
            raise Mistaken(_of_line(line.scanned, mistaken)) from mistaken
    for number, note in in_vain.items():
        _in_vain(row, place, number, note or "As on the sheet.", seen_at, actor, at)
    note_access(row.number, shown=[*(t.number for t in told if t.number), *in_vain])
    return tuple(told)


def _of_line(number: str, mistaken: Mistaken) -> dict[str, list[str]]:
    """Put the mistakes of one line beside the fields of that line."""
    return {
        name if name == "seen_at" else f"{name}-{number}": messages
        for name, messages in mistaken.errors.items()
    }


@usecase("round.look_in_vain", power=Power.KEEP, subject="inspection")
def look_for(
    *,
    inspection: str,
    shelf: str,
    container: str,
    note: str,
    seen_at: datetime | None = None,
    actor: Actor,
    at: datetime,
) -> None:
    """Record that a container was looked for in vain on its shelf.

    It is missing only once the custodian says so, on the container's own page.
    """
    row = _walked(inspection, actor)
    moment = _moment(row, seen_at, at)
    _in_vain(row, _shelf(row, shelf), container, note, moment, actor, at)
    note_access(row.number, shown=[container])


@usecase("round.end", power=Power.KEEP, subject="inspection")
def end_round(
    *, inspection: str, remarks: str = "", left_off: bool = False, actor: Actor,
    at: datetime,
) -> None:  # fmt: skip
    """End a round: everything was seen or is recorded as missing; else it is left off.

    Args:
        left_off: it ends although something was not seen; the remarks say why. A round
            that was left off does not count as walked.

    Raises:
        Refused: something was not seen, or was looked for in vain and not yet recorded
            as missing.
    """
    row = _walked(inspection, actor)
    if len(remarks.strip()) > LONGEST:
        raise Mistaken(remarks=f"Shorten this to {LONGEST} characters.")
    walk = walk_of(row, actor, day_at_desk(actor, at))
    if left_off:
        if not remarks.strip():
            raise Mistaken(remarks="Say why the round is left off.")
    else:
        open_ends = [f"{each.number} was not seen yet." for each in walk.unseen]
        open_ends += [
            f"{each.number} was looked for in vain: find it and scan it, or record on "
            "its page that it is missing."
            for each in walk.in_vain
        ]
        if open_ends:
            raise Refused(*open_ends)
    states = InspectionRound.State
    row.state = states.LEFT if left_off else states.DONE
    row.remarks = remarks.strip()
    row.ended_at = at
    row.ended_by_id = actor.person_id
    row.save()
    note_access(row.number, unseen=len(walk.unseen), in_vain=len(walk.in_vain))


def _walked(number: str, actor: Actor) -> InspectionRound:
    rows = rounds_of(actor).select_for_update(of=("self",)).select_related("room")
    row = the(rows, number, "inspection round")
    if row.state != InspectionRound.State.WALKED:
        raise Refused(f"{row.number} is {row.get_state_display()}: begin a new round.")
    return row


def _shelf(row: InspectionRound, shelf: str) -> Shelf | None:
    if shelf == TABLE:
        return None
    rows = Shelf.objects.filter(bay__room=row.room).select_related("bay__room")
    return the(rows, shelf, "shelf")


def _moment(row: InspectionRound, seen_at: datetime | None, at: datetime) -> datetime:
    moment = seen_at or at
    if moment > at:
        raise Mistaken(seen_at="This moment has not come yet.")
    if moment < row.walked_from:
        raise Mistaken(
            seen_at=f"The round was begun on {row.walked_from:%-d %B %Y at %H:%M} "
            "(UTC); this moment is before that."
        )
    return moment


def _see(
    row: InspectionRound,
    shelf: Shelf | None,
    seen: Sight,
    seen_at: datetime | None,
    actor: Actor,
    at: datetime,
) -> Seen:
    moment = _moment(row, seen_at, at)
    if not seen.strange:
        _refuse_seen(row, seen.scanned)
    return sight(
        seen,
        room=row.room,
        shelf=shelf,
        seen_at=moment,
        actor=actor,
        at=at,
        witness=row.witness,
        round=row,
    )


def _refuse_seen(row: InspectionRound, scanned: str) -> None:
    """Refuse a second look, unless the container has a seal that was not read yet."""
    try:
        number = read(scanned)
    except NumberMistyped:
        return  # the sight itself says what is wrong with it
    rows = Sighting.objects.filter(round=row, found=True)
    seen = list(rows.filter(Q(box__number=number) | Q(envelope__number=number)))
    if not seen:
        return
    live = len(seals_in_force(seen[0].box or seen[0].envelope))  # type: ignore[arg-type]
    if len({each.seal_event_id for each in seen if each.seal_event_id}) >= live:
        raise Refused(
            f"{number} was seen on this round already. What was recorded stays; report "
            "what else you see on its own page."
        )


def _in_vain(
    row: InspectionRound,
    shelf: Shelf | None,
    number: str,
    note: str,
    seen_at: datetime,
    actor: Actor,
    at: datetime,
) -> None:
    of = container_of(actor, number)
    last = Sighting.objects.filter(round=row, found=True)
    seen = last.filter(Q(box__number=of.number) | Q(envelope__number=of.number))
    if seen.exists():
        raise Refused(f"{of.number} was seen on this round.")
    look_in_vain(
        of,
        room=row.room,
        shelf=shelf,
        note=note,
        seen_at=_moment(row, seen_at, at),
        actor=actor,
        at=at,
        round=row,
    )
