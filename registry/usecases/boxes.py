"""Boxes: filled, closed and sealed, shelved; and the check of any seal."""

from collections.abc import Mapping, Sequence
from datetime import date, datetime

from django.db.models import QuerySet

from registry.models import (
    Box,
    ContainerState,
    CustodyMovement,
    Envelope,
    SealFinding,
    Shelf,
    Whereabouts,
)
from registry.queries.find import the
from registry.queries.keeping import legal_date
from registry.queries.scope import boxes_of, envelopes_of
from registry.rules.arrivals import (
    Arrival,
    SealEntry,
    problems_with,
)
from registry.rules.numbers import kind_of, read
from registry.rules.powers import Actor, Power
from registry.rules.schedules import ContentKind
from registry.usecases._arrivals import too_long
from registry.usecases._box_checks import keep_checks
from registry.usecases._box_labels import station_list_problems
from registry.usecases._door import Mistaken, Refused, note_access, usecase
from registry.usecases._happened import (
    Happened,
    moment_of,
    moved_since,
    note_use,
    place_then,
)
from registry.usecases._recording import (
    TakenMarks,
    enter_problems,
    enter_seals,
    lock_intake,
    mark_the_other,
    refuse_a_closed_box,
    refuse_what_does_not_belong,
)
from registry.usecases._records import enter
from registry.usecases._seal_checks import Reading, record_reading
from registry.usecases._seen import refuse_if_moved


def container_of(actor: Actor, number: str) -> Box | Envelope:
    """Return the box or envelope of this number, if the actor may see it."""
    try:
        prefix = kind_of(read(number))
    except ValueError:
        prefix = ""
    if prefix == "EN":
        return the(envelopes_of(actor), number, "envelope")
    return the(boxes_of(actor), number, "box")


def locked_container_of(actor: Actor, number: str) -> Box | Envelope:
    """Return it as it is now, and keep others from changing it meanwhile.

    A record is saved whole: what was read before another act ended would undo it.
    """
    of = container_of(actor, number)
    rows: QuerySet[Box] | QuerySet[Envelope] = type(of).objects.all()
    return rows.select_for_update(of=("self",)).get(pk=of.pk)


def enter_movement(
    container: Box | Envelope,
    act: CustodyMovement.Act,
    actor: Actor,
    at: datetime,
    **more: object,
) -> CustodyMovement:
    """Enter one change of place or charge of a container."""
    return enter(
        CustodyMovement(
            act=act,
            box=container if isinstance(container, Box) else None,
            envelope=container if isinstance(container, Envelope) else None,
            recorded_at=at,
            recorded_by_id=actor.person_id,
            **{"occurred_at": at, **more},
        )
    )


def place_of(container: Box | Envelope) -> str:
    """Return in plain words where a container is."""
    if isinstance(container, Box) and container.whereabouts == Whereabouts.SHELVED:
        return str(container.shelf)
    if isinstance(container, Envelope) and container.box:
        return f"box {container.box.number}"
    if container.whereabouts == Whereabouts.INTAKE:
        return f"{container.room}, intake table"
    return container.get_whereabouts_display()


@usecase("box.put_in", power=Power.KEEP, subject="box")
def put_into_box(
    *,
    envelope: str,
    box: str,
    as_seen: str = "",
    happened: Happened | None = None,
    actor: Actor,
    at: datetime,
) -> None:
    """Put an envelope into an open box of its own contest and content.

    Args:
        as_seen: number of the envelope's last movement, as the mover saw it.

    Raises:
        Refused: the box is closed, or the envelope does not belong into it, stands
            in quarantine, lies in another box, or was moved meanwhile.
    """
    into = the(boxes_of(actor).select_for_update(), box, "box")
    what = the(envelopes_of(actor).select_for_update(), envelope, "envelope")
    refuse_if_moved(what, as_seen)
    refuse_a_closed_box(into)
    if what.state != ContainerState.HELD:
        raise Refused(f"Envelope {what.number} is {what.get_state_display()}.")
    if what.box:
        if what.box == into:
            raise Refused(f"Envelope {what.number} is in box {into.number} already.")
        raise Refused(f"Envelope {what.number} lies in box {what.box.number}.")
    refuse_absent(what)
    refuse_absent(into)
    refuse_what_does_not_belong(what, into)
    from_place = place_of(what)
    what.box = into
    what.whereabouts = Whereabouts.IN_BOX
    what.save()
    enter_movement(
        what,
        CustodyMovement.Act.BOXED,
        actor,
        at,
        from_place=from_place,
        to_place=f"box {into.number}",
        occurred_at=moment_of(what, happened, actor=actor, at=at),
    )
    note_use(happened, "box.put_in", what.number, actor=actor, at=at)
    note_access(into.number, envelope=what.number)


@usecase("box.close", power=Power.KEEP, subject="box")
def close_box(
    *,
    box: str,
    seals: Sequence[SealEntry],
    sealed_on: date,
    written_stations: str = "",
    gross_weight_kg: object = None,
    empty: bool = False,
    checks: Mapping[str, str] | None = None,
    as_seen: str = "",
    actor: Actor,
    at: datetime,
) -> tuple[str, ...]:
    """Close a box and record its seals; returns what is wrong with it, if anything.

    Args:
        seals: its seals as applied; a box needs a numbered one, signed.
        sealed_on: the day of sealing.
        written_stations: the stations as written on its label.
        gross_weight_kg: as weighed, for the lifting caution and later comparison.
        empty: said expressly, where nothing lies in it.
        checks: what the checklist asks of a box, answered by the step's short name;
            None where a record that is taken over tells nothing of it.
        as_seen: number of the last movement of the box or of what lies in it, as the
            person saw it who closes it.

    Raises:
        Mistaken: nothing lies in it and nobody said so, or the day has not come; or
            the checklist is not answered.
        Refused: it is closed, or it or its content was moved meanwhile.
    """
    of = the(boxes_of(actor).select_for_update(), box, "box")
    refuse_if_moved(of, as_seen, with_contents=True)
    refuse_a_closed_box(of)
    if not empty and not of.envelopes.exists():
        raise Mistaken(
            empty=f"Nothing is recorded as lying in {of.number}. Scan what is in it "
            "first; if it is empty indeed, say so here."
        )
    if empty and of.envelopes.exists():
        raise Mistaken(
            empty=f"{of.envelopes.count()} envelopes are recorded as lying in it."
        )
    if sealed_on > legal_date(of.election, at):
        raise Mistaken(sealed_on="The day of sealing has not come yet.")
    if len(written_stations.strip()) > 400:
        raise Mistaken(written_stations="Shorten this to 400 characters: 1-40, 52.")
    lock_intake()
    if written_stations.strip():
        of.written_station_number = written_stations.strip()
    of.closed_on = of.sealed_on = sealed_on
    if gross_weight_kg is not None:
        of.gross_weight_kg = gross_weight_kg  # type: ignore[assignment]
    arrival = Arrival(
        noun="box",
        kind=ContentKind(of.kind),
        received_on=of.received_on,
        seals=tuple(seals),
    )
    excess = too_long(arrival)
    if excess:
        raise Mistaken({name: [message] for name, message in excess.items()})
    problems = [
        *problems_with(
            arrival,
            (),
            is_expected=True,
            same_seal_on=TakenMarks.for_arrivals([arrival]).seals,
        ),
        *station_list_problems(of),
    ]
    if checks is not None:
        problems += keep_checks(of, checks, seals, gross_weight_kg)
    if problems:
        of.state = ContainerState.QUARANTINED
    of.save()
    enter_seals([(of, arrival)], actor, at)
    enter_problems([(of, problems)], at)
    mark_the_other(problems, at)
    return tuple(problem.detail for problem in problems)


@usecase("box.shelve", power=Power.KEEP, subject="box")
def shelve_box(
    *,
    box: str,
    shelf: str,
    as_seen: str = "",
    happened: Happened | None = None,
    actor: Actor,
    at: datetime,
) -> str:
    """Put a box on a shelf of its room; returns the shelf in words.

    What is entered late and was overtaken since is kept as a movement of its time;
    where the box stands now stays as it is.

    Args:
        as_seen: number of the box's last movement, as the mover saw it.

    Raises:
        Refused: the shelf is full or in another room, or the box is not there or was
            moved meanwhile.
    """
    of = the(boxes_of(actor).select_for_update(), box, "box")
    refuse_if_moved(of, as_seen)
    return put_on_shelf(of, shelf_of(actor, shelf), happened, actor, at)


def shelf_of(actor: Actor, number: str) -> Shelf:
    """Return a shelf of the actor's rooms, and let nobody else fill it meanwhile."""
    rows = Shelf.objects.select_for_update(of=("self",))
    return the(rows.filter(bay__room_id__in=actor.rooms), number, "shelf")


def put_on_shelf(
    of: Box, onto: Shelf, happened: Happened | None, actor: Actor, at: datetime
) -> str:
    """Put a locked box on a locked shelf; returns the shelf in words.

    Raises:
        Refused: as ``shelve_box``; nothing was written then.
    """
    if onto.bay.room_id != of.room_id:
        raise Refused(
            f"{onto} is in another room than the box. Moving between rooms is a "
            "hand-over, by two people."
        )
    occurred_at = moment_of(of, happened, actor=actor, at=at)
    stands, now = str(onto), place_of(of)
    was_shelved = of.whereabouts == Whereabouts.SHELVED
    overtaken = happened is not None and moved_since(of, occurred_at)
    if overtaken:
        stands = f"{onto}, as it was then; by now its place is: {now}"
    else:
        _stand_on(of, onto)
    enter_movement(
        of,
        CustodyMovement.Act.MOVED if was_shelved else CustodyMovement.Act.SHELVED,
        actor,
        at,
        from_place=place_then(of, occurred_at) if overtaken else now,
        to_place=str(onto),
        occurred_at=occurred_at,
    )
    note_use(happened, "box.shelve", of.number, actor=actor, at=at)
    return stands


def _stand_on(box: Box, shelf: Shelf) -> None:
    """Let a box stand on a shelf from now on, if it is there and the shelf has room."""
    refuse_absent(box)
    if box.shelf_id == shelf.pk and box.whereabouts == Whereabouts.SHELVED:
        raise Refused(f"Box {box.number} is on {shelf} already.")
    on_it = shelf.boxes.filter(whereabouts=Whereabouts.SHELVED).count()
    if on_it >= shelf.capacity:
        raise Refused(f"{shelf} is full: it takes {shelf.capacity} boxes.")
    box.shelf = shelf
    box.whereabouts = Whereabouts.SHELVED
    box.save()


_NOT_IN_THE_ROOM = (
    Whereabouts.OUT,
    Whereabouts.KEPT,
    Whereabouts.ON_WAY,
    Whereabouts.REPLACED,
    Whereabouts.MISSING,
    Whereabouts.GONE,
)


def refuse_absent(container: Box | Envelope) -> None:
    """Raise Refused for a container that is not in the room, alone or in its box."""
    if container.whereabouts in _NOT_IN_THE_ROOM:
        where = container.get_whereabouts_display()
        raise Refused(f"{container.number} is {where}, so it cannot be moved here.")
    if isinstance(container, Envelope) and container.box:
        refuse_absent(container.box)


@usecase("seal.check", power=Power.KEEP, subject="container")
def check_seal(
    *,
    container: str,
    number_read: str,
    finding: str,
    witness: str = "",
    note: str = "",
    happened: Happened | None = None,
    actor: Actor,
    at: datetime,
) -> SealFinding:
    """Record a check of a container's seal, read before the number is shown.

    Args:
        number_read: what the inspector read; empty for a plain wax seal.
        finding: what the inspector saw, one of ``SealFinding``. An intact seal whose
            number is not the recorded one is recorded as such, whatever was ticked.

    Returns:
        The finding that was recorded. Anything but intact and matching opens a
        discrepancy at once.
    """
    of = container_of(actor, container)
    if finding not in SealFinding.values:
        raise Mistaken(finding="Say in which state the seal was found.")
    event = record_reading(
        of,
        Reading(number_read, SealFinding(finding), witness, note),
        moment_of(of, happened, actor=actor, at=at),
        actor,
        at,
    )
    note_use(happened, "seal.check", of.number, actor=actor, at=at)
    note_access(of.number, finding=event.finding)
    return SealFinding(event.finding)
