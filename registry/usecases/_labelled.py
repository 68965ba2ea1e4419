"""What may bear a label, and what stands on it."""

from collections.abc import Iterable, Sequence
from datetime import date

from django.db.models import QuerySet

from registry.documents.labels import AnyLabel, Label, PlainLabel
from registry.models import (
    Bay,
    Box,
    Contest,
    Envelope,
    Intake,
    PollingStation,
    Seal,
    SealState,
    Shelf,
    StrongRoom,
    UnitSet,
)
from registry.queries.find import NotThere, the
from registry.queries.intakes import containers_of
from registry.queries.keeping import schedule_of
from registry.queries.scope import boxes_of, contests_of, envelopes_of, rooms_of
from registry.rules.numbers import NumberMistyped, kind_of, read
from registry.rules.powers import Actor
from registry.rules.retention import TRIGGER_TITLES
from registry.rules.schedules import ContentKind, Term
from registry.rules.wording import UNIT_NAMES

Thing = Box | Envelope | StrongRoom | Bay | Shelf | UnitSet

# Where a seal is put (common practice, no published source): a label under wax can
# neither be read nor scanned.
_SEAL_PLACES = {
    "Envelope": "across the flap, clear of this label",
    "Box": "across lid and body, clear of this label",
}


def chosen_things(
    numbers: Sequence[str], with_contents: bool, actor: Actor
) -> list[Thing]:
    """Return what these numbers stand for, each once, in the order given.

    Raises NotThere where one of them is not within the actor's scope, or is of a kind
    that bears no label.
    """
    chosen: dict[str, Thing] = {}
    for number in numbers:
        for thing in _behind(number, with_contents, actor):
            chosen.setdefault(thing.number, thing)
    return list(chosen.values())


def _behind(number: str, with_contents: bool, actor: Actor) -> Iterable[Thing]:
    try:
        prefix = kind_of(read(number))
    except NumberMistyped as error:
        raise NotThere(str(error), number) from error
    match prefix:
        case "BX":
            box = the(boxes_of(actor), number, "box")
            return [box, *(_envelopes(box.envelopes.all()) if with_contents else ())]
        case "EN":
            return [the(_envelopes(envelopes_of(actor)), number, "envelope")]
        case "IN":
            intakes = Intake.objects.filter(room__in=rooms_of(actor))
            boxes, envelopes = containers_of(the(intakes, number, "intake"))
            return [*boxes, *_envelopes(envelopes)]
        case "CT":
            contest = the(contests_of(actor), number, "contest")
            return _of_contest(contest, actor)
        case "ST" | "US":
            return _units(number, prefix, actor)
    return _places(number, prefix, with_contents, actor)


def _envelopes(rows: QuerySet[Envelope]) -> QuerySet[Envelope]:
    return rows.select_related("station", "unit_set", "contest").order_by("id")


def _of_contest(contest: Contest, actor: Actor) -> list[Thing]:
    boxes = boxes_of(actor).filter(contest=contest).order_by("id")
    envelopes = _envelopes(envelopes_of(actor).filter(contest=contest))
    gone = ("disposed", "superseded")
    return [*boxes.exclude(state__in=gone), *envelopes.exclude(state__in=gone)]


def _units(number: str, prefix: str, actor: Actor) -> list[Thing]:
    rows = UnitSet.objects.filter(station__contest__in=contests_of(actor))
    rows = rows.select_related("station__contest").order_by("sequence")
    if prefix == "US":
        return [the(rows, number, "unit set")]
    stations = PollingStation.objects.filter(contest__in=contests_of(actor))
    return list(rows.filter(station=the(stations, number, "polling station")))


def _places(number: str, prefix: str, with_contents: bool, actor: Actor) -> list[Thing]:
    rooms = rooms_of(actor)
    bays = Bay.objects.filter(room__in=rooms).select_related("room").order_by("id")
    shelves = Shelf.objects.filter(bay__room__in=rooms).order_by("bay_id", "id")
    shelves = shelves.select_related("bay__room")
    match prefix:
        case "SH":
            return [the(shelves, number, "shelf")]
        case "BY":
            bay = the(bays, number, "bay")
            return [bay, *(shelves.filter(bay=bay) if with_contents else ())]
        case "RM":
            room = the(rooms, number, "strong room")
            inside = shelves.filter(bay__room=room) if with_contents else ()
            return [room, *(bays.filter(room=room) if with_contents else ()), *inside]
    raise NotThere(
        f"{number} bears no label. Labels are printed for boxes, envelopes, intakes, "
        "contests, rooms, bays, shelves, stations and unit sets.",
        number,
    )


def label_for(thing: Thing) -> AnyLabel:
    """Return the label of anything that bears one."""
    match thing:
        case Shelf():
            name = f"{thing.bay.code} / {thing.code}"
            lines = (thing.bay.room.name, f"Bay {thing.bay.code}, shelf {thing.code}")
            return PlainLabel(thing.number, "Shelf", name, lines)
        case Bay():
            return PlainLabel(thing.number, "Bay", thing.code, (thing.room.name,))
        case StrongRoom():
            site = (thing.site,) if thing.site else ()
            return PlainLabel(thing.number, "Strong room", thing.name, site)
        case UnitSet():
            units = (
                f"Control unit {thing.control_unit_serial}",
                f"Paper-trail unit {thing.paper_trail_serial}",
                str(thing.station.contest),
                *(("replacement",) if thing.replaced else ()),
            )
            return PlainLabel(thing.number, "Units", str(thing.station), units)
    return label_of(thing)


def label_of(container: Box | Envelope) -> Label:
    """Return what stands on a container's label.

    What it stands for is printed where it is known, else what is written on it; the
    code holds the register number alone.
    """
    contest, units = container.contest, getattr(container, "unit_set", None)
    packet = container.kind == ContentKind.STATUTORY_PACKET.value
    bears_units = isinstance(container, Envelope) and not packet
    written_constituency = (
        f"{container.written_constituency_number} {container.written_constituency_name}"
    )
    return Label(
        number=container.number,
        noun=noun_of(container),
        content_title=content_of(container),
        election=str(container.election or container.written_election),
        constituency=str(contest or written_constituency.strip()),
        station=station_of(container),
        control_unit=(units.control_unit_serial if units else
                      container.written_control_unit) if bears_units else None,
        paper_trail_unit=(units.paper_trail_serial if units else
                          container.written_paper_trail_unit) if bears_units else None,
        polled_on=_polled_on(container),
        counted_on=contest.counted_on if contest else None,
        sealed_on=container.sealed_on,
        seal_text=_seal_text(container),
        keep_rule_text=keep_rule(container),
        keep_rule_short=keep_rule_short(container),
        seal_place=_SEAL_PLACES[noun_of(container)],
    )  # fmt: skip


def keep_rule(container: Box | Envelope) -> str:
    """Return the rule of keeping in words, without a date, which a case may move."""
    if container.election is None:
        return "Keep until it is known what this is."
    said = (
        "; ".join(_term(term) for term in _terms(container))
        or "no term is on file: keep"
    )
    return f"{said}; longer while a case or an order holds it. Ask the register."


def keep_rule_short(container: Box | Envelope) -> str:
    """Return the clauses of keeping alone, for labels with little room."""
    clauses = [term.clause for term in _terms(container)]
    return "; ".join([*dict.fromkeys(filter(None, clauses)), "ask the register"])


def _terms(container: Box | Envelope) -> Sequence[Term]:
    if container.election is None:
        return ()
    schedule = schedule_of(container.election.schedule)
    rules = schedule.classes.get(ContentKind(container.kind))
    return rules.terms if rules else ()


def _term(term: Term) -> str:
    one, many = UNIT_NAMES[term.period.unit.value]
    length = term.period.length
    events = " or ".join(TRIGGER_TITLES[trigger] for trigger in term.triggers)
    return f"{length} {one if length == 1 else many} after {events} ({term.clause})"


def noun_of(container: Box | Envelope) -> str:
    """Return what a container is called on paper."""
    return "Box" if isinstance(container, Box) else "Envelope"


def content_of(container: Box | Envelope) -> str:
    """Return the class of its content, with its own label or what the packet is."""
    more = container.label if isinstance(container, Box) else container.description
    title = container.get_kind_display()
    return f"{title}, {more}" if more else title


def station_of(container: Box | Envelope) -> str:
    """Return the station it stands for, or what is written on it."""
    if isinstance(container, Envelope) and container.station:
        return str(container.station)
    number, name = container.written_station_number, container.written_station_name
    return f"{number} {name}".strip()


def _seal_text(container: Box | Envelope) -> str:
    live = [s for s in container.seals.all() if s.state == SealState.APPLIED]
    return ", ".join(seal_in_words(seal) for seal in live)


def seal_in_words(seal: Seal) -> str:
    """Return a seal as papers name it: kind, number, maker, signatures."""
    signed = {True: ", signed", False: ", not signed", None: ""}[seal.signed]
    name = " ".join(filter(None, [seal.get_kind_display(), seal.serial]))
    return f"{name}{f' ({seal.maker})' if seal.maker else ''}{signed}"


def _polled_on(container: Box | Envelope) -> date | None:
    station = container.station if isinstance(container, Envelope) else None
    if station and station.polled_on:
        return station.polled_on
    return container.contest.polled_on if container.contest else None
