"""What is to be seen on a round, shelf by shelf in walking order, and what was."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from django.db.models import QuerySet

from registry.models import (
    Box,
    ContainerState,
    Envelope,
    InspectionRound,
    Seal,
    SealFinding,
    Shelf,
    Sighting,
    StrongRoom,
    Whereabouts,
)
from registry.queries.keeping import Keeper
from registry.queries.scope import boxes_of, envelopes_of, rooms_of
from registry.rules.powers import Actor, Power
from registry.rules.retention import Reason, Retention
from registry.rules.rounds import (
    walking_order,
)

# The intake table is walked last, as if it were a shelf.
TABLE = "table"
_LIVE = (ContainerState.HELD, ContainerState.QUARANTINED)
_CONTESTED = (
    Reason.CASE_PENDING,
    Reason.APPEAL_WINDOW,
    Reason.PRESERVATION_ORDER,
)


def rounds_of(actor: Actor) -> QuerySet[InspectionRound]:
    """Return the rounds of the rooms that the actor may see."""
    if not actor.may(Power.LOOK):
        return InspectionRound.objects.none()
    return InspectionRound.objects.filter(room__in=rooms_of(actor))


@dataclass(frozen=True)
class ToSee:
    """A container that is to be seen, and how far that is.

    Attributes:
        seals: how many live seals are on record; each is read. No number is told.
        read: how many of them were read on this round.
        in_vain: it was looked for on this round and not found.
        words: how the last look at it ended, in plain words.
    """

    number: str
    noun: str
    title: str
    label: str
    weight: str
    seals: int
    read: int = 0
    seen: bool = False
    in_vain: bool = False
    words: str = ""
    in_order: bool = True

    @property
    def done(self) -> bool:
        """Whether nothing is left to do with it on this round."""
        return self.seen and self.read >= self.seals


@dataclass(frozen=True)
class ShelfToWalk:
    """A shelf, or the intake table, with what is to be seen on it."""

    number: str
    name: str
    containers: tuple[ToSee, ...]

    @property
    def left(self) -> int:
        """How many are still to be seen."""
        return sum(not (each.done or each.in_vain) for each in self.containers)

    @property
    def seen(self) -> int:
        """How many are done, found or not."""
        return len(self.containers) - self.left


@dataclass(frozen=True)
class OtherSight:
    """Something seen that was not to be seen there."""

    scanned: str
    where: str
    words: str
    seen_at: datetime


@dataclass(frozen=True)
class Walk:
    """A round as far as it was walked."""

    shelves: tuple[ShelfToWalk, ...]
    others: tuple[OtherSight, ...]

    @property
    def unseen(self) -> tuple[ToSee, ...]:
        """What was neither seen to the end nor looked for in vain."""
        every = (each for shelf in self.shelves for each in shelf.containers)
        return tuple(each for each in every if not each.done and not each.in_vain)

    @property
    def in_vain(self) -> tuple[ToSee, ...]:
        """What was looked for and not found, and not found since."""
        every = (each for shelf in self.shelves for each in shelf.containers)
        return tuple(each for each in every if each.in_vain and not each.seen)


def walk_of(row: InspectionRound, actor: Actor, on: date) -> Walk:
    """Return what is to be seen on a round and what was, in walking order."""
    sightings = list(
        row.sightings.select_related("box", "envelope", "shelf__bay").order_by("id")
    )
    places: dict[str, list[Box | Envelope]] = {}
    names = {TABLE: "Intake table"}
    for shelf in shelves_of(row.room):
        names[shelf.number] = f"Bay {shelf.bay.code}, shelf {shelf.code}"
        places[shelf.number] = []
    places[TABLE] = []
    expected = to_be_seen(row.room, actor, on, contested_only=row.contested_only)
    for thing in expected:
        on_shelf = thing.shelf if isinstance(thing, Box) else None
        places[on_shelf.number if on_shelf else TABLE].append(thing)
    seen = _by_container(sightings)
    seals = _live_seals(expected)
    walked = (
        ShelfToWalk(
            number,
            names[number],
            tuple(
                _to_see(thing, seen.get(_key(thing), ()), seals.get(_key(thing), 0))
                for thing in things
            ),
        )
        for number, things in places.items()
    )
    known = {_key(thing) for thing in expected}
    return Walk(
        tuple(shelf for shelf in walked if shelf.containers or not row.contested_only),
        tuple(_other(s) for s in sightings if _sighted(s) not in known),
    )


def shelves_of(room: StrongRoom) -> list[Shelf]:
    """Return the shelves of a room in walking order."""
    rows = Shelf.objects.filter(bay__room=room).select_related("bay")
    return sorted(rows, key=lambda s: walking_order(s.bay.code, s.level, s.code))


def to_be_seen(
    room: StrongRoom, actor: Actor, on: date, *, contested_only: bool = False
) -> list[Box | Envelope]:
    """Return what stands in a room and can be seen without opening anything.

    Boxes on shelves and at the intake table, and envelopes that lie outside boxes.
    """
    related = (
        "election__schedule", "election__calendar", "contest__election__schedule",
        "contest__election__calendar",
    )  # fmt: skip
    here = (Whereabouts.SHELVED, Whereabouts.INTAKE)
    boxes = boxes_of(actor).filter(room=room, state__in=_LIVE, whereabouts__in=here)
    loose = envelopes_of(actor).filter(
        room=room, state__in=_LIVE, whereabouts=Whereabouts.INTAKE, box__isnull=True
    )
    found: list[Box | Envelope] = [
        *boxes.select_related(*related, "shelf__bay").order_by("id"),
        *loose.select_related(*related, "station").order_by("id"),
    ]
    if not contested_only:
        return found
    return list(contested(found, on))


def contested(things: Sequence[Box | Envelope], on: date) -> Iterator[Box | Envelope]:
    """Yield those that a case or an order holds, with a fixed number of queries."""
    keeper = Keeper(on)
    stations: dict[int, list[int | None]] = {}
    inside = Envelope.objects.filter(box__in=[t.pk for t in things if _is_box(t)])
    for box, station in inside.values_list("box_id", "station_id"):
        stations.setdefault(box or 0, []).append(station)
    for thing in things:
        if isinstance(thing, Box):
            retention = keeper.box(thing, stations.get(thing.pk, ()))
        else:
            retention = keeper.envelope(thing)
        if _is_contested(retention):
            yield thing


def _is_box(thing: Box | Envelope) -> bool:
    return isinstance(thing, Box)


def _is_contested(retention: Retention | None) -> bool:
    """Tell whether a case or an order holds it; what is not known counts as held."""
    if retention is None:
        return True
    return any(hold.reason in _CONTESTED for hold in retention.running)


def _key(thing: Box | Envelope) -> tuple[str, int]:
    return ("box" if isinstance(thing, Box) else "envelope", thing.pk)


def _sighted(sighting: Sighting) -> tuple[str, int] | None:
    if sighting.box_id:
        return ("box", sighting.box_id)
    return ("envelope", sighting.envelope_id) if sighting.envelope_id else None


def _by_container(
    sightings: Iterable[Sighting],
) -> dict[tuple[str, int], list[Sighting]]:
    found: dict[tuple[str, int], list[Sighting]] = {}
    for each in sightings:
        key = _sighted(each)
        if key:
            found.setdefault(key, []).append(each)
    return found


def _live_seals(things: Sequence[Box | Envelope]) -> dict[tuple[str, int], int]:
    live = Seal.objects.not_superseded()
    rows = live.filter(
        box__in=[t.pk for t in things if isinstance(t, Box)]
    ) | live.filter(envelope__in=[t.pk for t in things if isinstance(t, Envelope)])
    counts: dict[tuple[str, int], int] = {}
    for box, envelope in rows.values_list("box_id", "envelope_id"):
        key = ("box", box) if box else ("envelope", envelope or 0)
        counts[key] = counts.get(key, 0) + 1
    return counts


def _to_see(thing: Box | Envelope, sightings: Sequence[Sighting], seals: int) -> ToSee:
    found = [each for each in sightings if each.found]
    last = sightings[-1] if sightings else None
    is_box = isinstance(thing, Box)
    station = "" if isinstance(thing, Box) else str(thing.station or "")
    weight = getattr(thing, "gross_weight_kg", None)
    return ToSee(
        number=thing.number,
        noun="box" if is_box else "envelope",
        title=", ".join(
            filter(None, [str(thing.contest or ""), station, thing.get_kind_display()])
        ),
        label=getattr(thing, "label", "") or thing.description,
        weight=f"{weight} kg" if weight is not None else "",
        seals=seals,
        read=len({each.seal_event_id for each in found if each.seal_event_id}),
        seen=bool(found),
        in_vain=bool(last and not last.found),
        words=sight_in_words(last) if last else "",
        in_order=all(each.in_order for each in found),
    )


def sight_in_words(sighting: Sighting) -> str:
    """Say how a look at something ended."""
    if not sighting.found:
        return f"looked for in vain. {sighting.condition}".strip()
    said = []
    if sighting.finding:
        said.append(SealFinding(sighting.finding).label)
    if sighting.label_legible is False:
        said.append("label not legible")
    if sighting.condition:
        said.append(sighting.condition)
    return "; ".join(said) or "seen"


def _other(sighting: Sighting) -> OtherSight:
    container = sighting.box or sighting.envelope
    where = f"Bay {sighting.shelf.bay.code}, shelf {sighting.shelf.code}" if (
        sighting.shelf
    ) else "Intake table"  # fmt: skip
    words = sight_in_words(sighting)
    if container is None:
        words = f"found, not on the register. {sighting.condition}".strip()
    return OtherSight(sighting.scanned, where, words, sighting.seen_at)
