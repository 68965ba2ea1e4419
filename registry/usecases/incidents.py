"""Incidents: reported with an immediate hold, followed up, closed with a reason."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from registry.models import (
    Box,
    ContainerState,
    Contest,
    Envelope,
    Incident,
    IncidentItem,
    IncidentKind,
    IncidentStep,
    StrongRoom,
    Whereabouts,
)
from registry.queries.desk_day import day_at_desk
from registry.queries.find import NotThere, the
from registry.queries.incidents import incidents_of
from registry.queries.people import may_answer_for_room
from registry.queries.scope import rooms_of
from registry.rules.powers import Actor, Power, require
from registry.usecases._answerable import answerable
from registry.usecases._covers import lock_contests
from registry.usecases._door import Mistaken, Refused, note_access, usecase
from registry.usecases._records import enter, enter_many
from registry.usecases.boxes import container_of
from registry.usecases.documents import Upload, keep_document

LONGEST = 400


@dataclass(frozen=True)
class Touched:
    """One container that an incident touches, with the state it was found in."""

    number: str
    condition: str = ""


@usecase("incident.report", power=Power.KEEP, subject="room")
def report_incident(
    *,
    room: str,
    kind: str,
    what: str,
    noticed_at: datetime,
    noticed_by: str,
    containers: Sequence[Touched] = (),
    whole_room: bool = False,
    occurred_at: datetime | None = None,
    owner: str = "",
    due_on: date | None = None,
    actor: Actor,
    at: datetime,
) -> str:
    """Record that something went wrong; what it touches is held from this moment.

    A disposal that is being confirmed at the same moment waits for this, or this for
    it: both lock the contests of what they touch.

    Args:
        containers: those that are touched by name.
        whole_room: every container of the room is touched: those there now stay held
            wherever they are taken; those that come in later while they stand there.
        noticed_at: when it was noticed; ``occurred_at`` when it happened, where known.
        owner: number of the person who follows it up; by default who reports it.
        due_on: by when; by default as for any finding.

    Raises:
        Mistaken: nothing is named, or a moment or a day cannot be.
    """
    of = the(rooms_of(actor), room, "strong room")
    _check(kind, what, noticed_by, noticed_at, occurred_at, at)
    if not containers and not whole_room and kind not in _OF_A_ROOM:
        raise Mistaken(
            containers="Name what it touches, or say that it touches the whole room."
        )
    touched = _touched(containers, actor)
    _lock([thing for thing, _ in touched], of if whole_room else None)
    _refuse_gone([thing for thing, _ in touched])
    whole = list(_standing_in(of)) if whole_room else []
    answers = answerable(of, at)
    incident = enter(
        Incident(
            room=of,
            kind=kind,
            what=what.strip(),
            whole_room=whole_room,
            occurred_at=occurred_at,
            noticed_at=noticed_at,
            noticed_by=noticed_by.strip(),
            recorded_at=at,
            recorded_by_id=actor.person_id,
            owner_id=_owner(owner, of) or actor.person_id,  # type: ignore[misc]
            due_on=due_on or answers.due_on,
        )
    )
    if incident.due_on < day_at_desk(actor, at):
        raise Mistaken(due_on="This day is over: choose one that is still to come.")
    _enter_items(incident, touched, whole)
    note_access(of.number, shown=[t.number for t, _ in touched], incident=str(incident))
    return incident.number


# What may happen without a container being touched.
_OF_A_ROOM = (IncidentKind.KEY, IncidentKind.DOOR, IncidentKind.STRANGE)


def _check(
    kind: str,
    what: str,
    noticed_by: str,
    noticed_at: datetime,
    occurred_at: datetime | None,
    at: datetime,
) -> None:
    problems = {}
    if kind not in IncidentKind.values:
        problems["kind"] = ["Say what went wrong."]
    if not what.strip():
        problems["what"] = ["Say what was found, where, and in which state."]
    if not noticed_by.strip():
        problems["noticed_by"] = ["Name the person who noticed it, with the post."]
    if len(noticed_by.strip()) > 160:
        problems["noticed_by"] = ["Shorten this to 160 characters."]
    if noticed_at > at:
        problems["noticed_at"] = ["This moment has not come yet."]
    if occurred_at and occurred_at > noticed_at:
        problems["occurred_at"] = ["It cannot have happened after it was noticed."]
    if problems:
        raise Mistaken(problems)


def _touched(
    containers: Sequence[Touched], actor: Actor
) -> list[tuple[Box | Envelope, str]]:
    found: dict[str, tuple[Box | Envelope, str]] = {}
    problems = []
    for each in containers:
        try:
            thing = container_of(actor, each.number)
        except NotThere as missing:
            problems.append(str(missing))
            continue
        if len(each.condition.strip()) > LONGEST:
            problems.append(f"{thing.number}: shorten its state to {LONGEST} letters.")
        found[thing.number] = (thing, each.condition.strip())
    if problems:
        raise Mistaken({"containers": problems})
    return list(found.values())


_HERE = (Whereabouts.INTAKE, Whereabouts.SHELVED, Whereabouts.IN_BOX)


def _standing_in(room: StrongRoom) -> Iterator[Box | Envelope]:
    """Yield every container that stands in the room, what lies in boxes included."""
    gone = (ContainerState.DISPOSED, ContainerState.SUPERSEDED)
    for model in (Box, Envelope):
        rows = model._default_manager.filter(room=room, whereabouts__in=_HERE)
        yield from rows.exclude(state__in=gone).order_by("id")


def _lock(things: Sequence[Box | Envelope], room: StrongRoom | None = None) -> None:
    """Lock the contests of what is touched, as a disposal of it would."""
    ids = {thing.contest_id for thing in things if thing.contest_id}
    if room is not None:
        ids |= {thing.contest_id for thing in _standing_in(room) if thing.contest_id}
    lock_contests(list(Contest.objects.filter(pk__in=ids)))


def _refuse_gone(things: Sequence[Box | Envelope]) -> None:
    """Raise Mistaken for what was disposed of before the lock was there."""
    problems = []
    for thing in things:
        thing.refresh_from_db(fields=["state"])
        if thing.state == ContainerState.DISPOSED:
            problems.append(f"{thing.number} is disposed of.")
    if problems:
        raise Mistaken({"containers": problems})


def _owner(number: str, room: StrongRoom) -> int | None:
    if not number:
        return None
    person = may_answer_for_room(room).filter(number=number.strip().upper()).first()
    if person is None:
        raise Mistaken(owner="Choose a custodian who has charge of the room.")
    return person.pk


def _enter_items(
    incident: Incident,
    touched: Sequence[tuple[Box | Envelope, str]],
    whole: Sequence[Box | Envelope] = (),
) -> None:
    named = {thing.number for thing, _ in touched}
    pairs = [*touched, *((thing, "") for thing in whole if thing.number not in named)]
    enter_many(
        [
            IncidentItem(
                incident=incident,
                box=thing if isinstance(thing, Box) else None,
                envelope=thing if isinstance(thing, Envelope) else None,
                condition=condition,
            )
            for thing, condition in pairs
        ]
    )


def _open_incident(number: str, actor: Actor) -> Incident:
    rows = incidents_of(actor).select_for_update(of=("self",))
    of = the(rows.select_related("room"), number, "incident")
    if of.closed_at:
        raise Refused(
            f"{of.number} was closed on {of.closed_at:%-d %B %Y}. Report a new one "
            "where something more was found."
        )
    return of


@usecase("incident.add", power=Power.KEEP, subject="incident")
def add_containers(
    *, incident: str, containers: Sequence[Touched], actor: Actor, at: datetime
) -> None:
    """Name further containers that an open incident touches; they are held at once."""
    touched = _touched(containers, actor)
    if not touched:
        raise Mistaken(containers="Name the containers that it touches as well.")
    _lock([thing for thing, _ in touched])
    _refuse_gone([thing for thing, _ in touched])
    of = _open_incident(incident, actor)
    known = {
        number
        for row in of.items.values_list("box__number", "envelope__number")
        for number in row
        if number
    }
    new = [(thing, text) for thing, text in touched if thing.number not in known]
    if not new:
        raise Refused("All of these are named already.")
    _enter_items(of, new)
    note_access(of.number, shown=[thing.number for thing, _ in new])


# Who enters which step: the direction is the authority's own or comes on paper.
_STEP_POWERS = {
    IncidentStep.Act.REPORTED: (Power.KEEP,),
    IncidentStep.Act.DIRECTED: (Power.KEEP, Power.RECORD_PERMISSION),
    IncidentStep.Act.DONE: (Power.KEEP,),
    IncidentStep.Act.NOTED: (Power.KEEP, Power.RECORD_PERMISSION, Power.ENTER_CASES),
}


@usecase("incident.step", power=Power.LOOK, subject="incident")
def record_step(
    *,
    incident: str,
    act: str,
    text: str,
    occurred_on: date,
    reference: str = "",
    document: Upload | None = None,
    actor: Actor,
    at: datetime,
) -> None:
    """Record one step of the follow-up of an open incident.

    Args:
        act: reported, directed, done or noted.
        reference: the number of the paper; a direction needs it.
    """
    powers = _STEP_POWERS.get(act)  # type: ignore[call-overload]
    if powers is None:
        raise Mistaken(act="Choose which step was taken.")
    require(actor, next((p for p in powers if actor.may(p)), powers[0]))
    of = _open_incident(incident, actor)
    problems = {}
    if not text.strip():
        problems["text"] = ["Say what was done, by whom."]
    if len(text.strip()) > LONGEST:
        problems["text"] = [f"Shorten this to {LONGEST} characters."]
    if act == IncidentStep.Act.DIRECTED and not reference.strip():
        problems["reference"] = ["Give the number and date of the direction."]
    if len(reference.strip()) > 200:
        problems["reference"] = ["Shorten this to 200 characters."]
    if occurred_on > day_at_desk(actor, at):
        problems["occurred_on"] = ["This day has not come yet."]
    if occurred_on < day_at_desk(actor, of.noticed_at):
        problems["occurred_on"] = ["This day is before the incident was noticed."]
    if problems:
        raise Mistaken(problems)
    enter_many(
        [
            IncidentStep(
                incident=of,
                act=act,
                text=text.strip(),
                reference=reference.strip(),
                document=keep_document(document) if document else None,
                occurred_on=occurred_on,
                recorded_at=at,
                recorded_by_id=actor.person_id,  # type: ignore[misc]
            )
        ]
    )
    note_access(of.number, step=act)


@usecase("incident.close", power=Power.RESOLVE, subject="incident")
def close_incident(*, incident: str, because: str, actor: Actor, at: datetime) -> None:
    """Close an incident with a reason; what it touches is no longer held by it.

    Raises:
        Refused: neither a report to the authority nor its direction is on record.
    """
    of = _open_incident(incident, actor)
    if len(because.strip()) < 5:
        raise Mistaken(because="Say why it can be closed, and on whose word.")
    if len(because.strip()) > LONGEST:
        raise Mistaken(because=f"Shorten this to {LONGEST} characters.")
    known = (IncidentStep.Act.REPORTED, IncidentStep.Act.DIRECTED)
    if not of.steps.filter(act__in=known).exists():
        raise Refused(
            f"{of.number} was not reported to the authority, and no direction is on "
            "record. Record one of these first."
        )
    of.closed_at, of.closed_because = at, because.strip()
    of.closed_by_id = actor.person_id
    of.save()
    enter_many(
        [
            IncidentStep(
                incident=of,
                act=IncidentStep.Act.CLOSED,
                text=of.closed_because,
                occurred_on=day_at_desk(actor, at),
                recorded_at=at,
                recorded_by_id=actor.person_id,  # type: ignore[misc]
            )
        ]
    )
    note_access(of.number)
