"""Stock-takes as their pages and papers show them."""

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from django.db.models import Q, QuerySet

from registry.models import (
    CONTENT_TITLES,
    Box,
    Contest,
    Election,
    Envelope,
    Sighting,
    StockTake,
    StockTakeItem,
    StrongRoom,
    Whereabouts,
)
from registry.queries.scope import containers_in_scope
from registry.queries.timeline import TimelineEntry, timeline_of
from registry.rules.powers import Actor, Power, Role
from registry.rules.schedules import ContentKind
from registry.rules.stock_takes import Outcome

_THERE = (Whereabouts.INTAKE, Whereabouts.SHELVED)
_ENDED = ("disposed", "superseded")
TONES = {"frozen": "wait", "drawn": "wait", "concluded": "clear", "abandoned": "ended"}
Container = Box | Envelope


def stock_takes_of(actor: Actor) -> QuerySet[StockTake]:
    """The stock-takes the actor may see: of own rooms, of own elections, or all."""
    rows = StockTake.objects.all()
    if not actor.may(Power.LOOK):
        return rows.none()
    if actor.role is Role.CUSTODIAN:
        return rows.filter(room_id__in=actor.rooms)
    if actor.role is Role.LEGAL:
        return rows.filter(election_id__in=actor.elections)
    return rows


@dataclass(frozen=True)
class Stratum:
    """What a stock-take is of; what is None or empty does not narrow it."""

    noun: str
    room: StrongRoom | None = None
    election: Election | None = None
    contest: Contest | None = None
    kind: str = ""

    @property
    def nouns(self) -> str:
        """The noun in the plural."""
        return "boxes" if self.noun == "box" else "envelopes"

    def __str__(self) -> str:
        parts = [
            self.nouns,
            CONTENT_TITLES[ContentKind(self.kind)].lower() if self.kind else "",
            str(self.contest) if self.contest else "",
            str(self.election) if self.election else "",
            f"in {self.room}" if self.room else "in every strong room",
        ]
        return ", ".join(part for part in parts if part)


def stratum_of(take: StockTake) -> Stratum:
    """Return what a stock-take is of."""
    return Stratum(take.noun, take.room, take.election, take.contest, take.kind)


def population(stratum: Stratum, actor: Actor) -> QuerySet[Any]:
    """Return the containers that must be in their room, in the order of entry."""
    return _stock(stratum, actor).filter(_there(stratum.noun)).order_by("id")


def away(stratum: Stratum, actor: Actor) -> tuple[tuple[str, int], ...]:
    """Return what belongs to the stock and is not in its room: where, how many."""
    rows = _stock(stratum, actor).exclude(_there(stratum.noun))
    if stratum.noun == "envelope":
        rows = rows.select_related("box")
    counted = Counter(_where(row) for row in rows.order_by("id"))
    return tuple(sorted(counted.items()))


def _stock(stratum: Stratum, actor: Actor) -> QuerySet[Any]:
    model: Any = Box if stratum.noun == "box" else Envelope
    rows = containers_in_scope(model.objects.exclude(state__in=_ENDED), actor)
    wanted = {
        "room": stratum.room,
        "election": stratum.election,
        "contest": stratum.contest,
        "kind": stratum.kind,
    }
    return rows.filter(**{name: value for name, value in wanted.items() if value})


def _there(noun: str) -> Q:
    there = Q(whereabouts__in=_THERE)
    if noun == "envelope":
        there |= Q(whereabouts=Whereabouts.IN_BOX, box__whereabouts__in=_THERE)
    return there


def _where(row: Container) -> str:
    in_box = isinstance(row, Envelope) and row.whereabouts == Whereabouts.IN_BOX
    of = row.box if in_box and isinstance(row, Envelope) and row.box else row
    return str(of.get_whereabouts_display())


def with_places(rows: QuerySet[Any]) -> QuerySet[Any]:
    """Fetch with containers what ``line_of`` says of each."""
    if rows.model is Box:
        return rows.select_related("contest", "room", "shelf__bay__room")
    return rows.select_related(
        "contest", "room", "station", "box__shelf__bay__room", "box__room"
    )


@dataclass(frozen=True)
class ListedContainer:
    """A container as the frozen list names it: no seal stands on it."""

    number: str
    content: str
    constituency: str
    station: str
    box: str
    place: str


def line_of(of: Container) -> ListedContainer:
    """Return what the list says of a container."""
    box = of.box if isinstance(of, Envelope) else of
    return ListedContainer(
        number=of.number,
        content=of.get_kind_display(),
        constituency=str(of.contest or "not known"),
        station=str(of.station or "") if isinstance(of, Envelope) else "",
        box=box.number if isinstance(of, Envelope) and box else "",
        place=_place(box if box is not None else of),
    )


def _place(of: Container) -> str:
    if isinstance(of, Box) and of.shelf:
        return str(of.shelf)
    if of.whereabouts == Whereabouts.INTAKE:
        return f"{of.room}, intake table"
    return of.get_whereabouts_display()


@dataclass(frozen=True)
class SeenRow:
    """One look at a drawn container, or for it in vain."""

    found: bool
    in_order: bool
    said: str
    seen_at: datetime
    by: str


@dataclass(frozen=True)
class ItemRow:
    """A drawn container, where to look for it, and what was seen.

    Attributes:
        look_at: what is scanned: the container, or the sealed box in which it lies,
            whose seal answers for it.
        seen: every look at it, the newest last.
    """

    position: int
    line: int
    container: ListedContainer
    look_at: str
    by_its_box: bool
    seen: tuple[SeenRow, ...]

    @property
    def looked_at(self) -> bool:
        """Whether anybody looked for it."""
        return bool(self.seen)

    @property
    def missing(self) -> bool:
        """Whether it was last looked for in vain."""
        return bool(self.seen) and not self.seen[-1].found

    @property
    def in_order(self) -> bool:
        """Whether every look at it found it as it must be."""
        return bool(self.seen) and all(look.in_order for look in self.seen)


def items_of(take: StockTake) -> tuple[ItemRow, ...]:
    """Return the drawn containers in the order of the draw."""
    place = (
        ("box__contest", "box__room", "box__shelf__bay__room")
        if take.noun == "box"
        else (
            "envelope__contest",
            "envelope__room",
            "envelope__station",
            "envelope__box__shelf__bay__room",
            "envelope__box__room",
        )
    )
    items = list(take.items.select_related(*place).order_by("position"))
    looks = _looks(take)
    return tuple(_item(item, looks) for item in items)


def container_in(item: StockTakeItem) -> Container:
    """Return the container that was drawn."""
    return item.box or item.envelope  # type: ignore[return-value] # one of them is


def looked_at_by(of: Container) -> Container:
    """Return what is looked at for a container: itself, or its sealed box."""
    if isinstance(of, Envelope) and of.box and of.box.closed_on:
        return of.box
    return of


def _item(item: StockTakeItem, looks: dict[str, list[SeenRow]]) -> ItemRow:
    of = container_in(item)
    by = looked_at_by(of)
    return ItemRow(
        position=item.position,
        line=item.line,
        container=line_of(of),
        look_at=by.number,
        by_its_box=by is not of,
        seen=tuple(looks.get(of.number, ())),
    )


def _looks(take: StockTake) -> dict[str, list[SeenRow]]:
    found: dict[str, list[SeenRow]] = {}
    rows = Sighting.objects.filter(stock_take=take).select_related(
        "box", "envelope", "recorded_by", "shelf"
    )
    for row in rows.order_by("id"):
        of = row.box or row.envelope
        if of is not None:
            found.setdefault(of.number, []).append(seen_row(row))
    return found


def seen_row(row: Sighting) -> SeenRow:
    """Return a look in words."""
    parts = [
        "" if row.found else "not found",
        row.get_finding_display() if row.finding else "",
        "label not legible" if row.label_legible is False else "",
        f"{row.weight_kg} kg" if row.weight_kg is not None else "",
        row.condition,
    ]
    return SeenRow(
        found=row.found,
        in_order=row.in_order,
        said="; ".join(part for part in parts if part) or "seen",
        seen_at=row.seen_at,
        by=row.recorded_by.name,
    )


def outcome_of(take: StockTake, items: Sequence[ItemRow]) -> Outcome:
    """Return what a stock-take has shown so far."""
    looked_at = [item for item in items if item.looked_at]
    return Outcome(
        population=take.population,
        lost_supposed=take.lost_supposed,
        confidence=Decimal(take.probability),
        drawn=take.sample_size,
        looked_at=len(looked_at),
        missing=sum(item.missing for item in looked_at),
        not_in_order=sum(not item.in_order for item in looked_at),
    )


@dataclass(frozen=True)
class StockTakeRow:
    """A stock-take in a list."""

    number: str
    of: str
    state: str
    state_title: str
    tone: str
    purpose: str
    population: int
    sample_size: int
    looked_at: int
    whole: bool
    seed_on: date | None
    frozen_at: datetime


def stock_take_rows(rows: QuerySet[StockTake]) -> Iterator[StockTakeRow]:
    """Yield stock-takes, the newest first."""
    related = rows.select_related("room", "election", "contest__election")
    for take in related.order_by("-id"):
        yield stock_take_row(take)


def stock_take_row(take: StockTake) -> StockTakeRow:
    """Return a stock-take as lists show it."""
    return StockTakeRow(
        number=take.number,
        of=str(stratum_of(take)),
        state=take.state,
        state_title=take.get_state_display(),
        tone=TONES[take.state],
        purpose=take.purpose,
        population=take.population,
        sample_size=take.sample_size,
        looked_at=looked_at_in(take),
        whole=take.whole,
        seed_on=take.seed_on,
        frozen_at=take.frozen_at,
    )


def looked_at_in(take: StockTake) -> int:
    """How many of the drawn containers somebody has looked for."""
    looks = take.sightings.filter(Q(box__isnull=False) | Q(envelope__isnull=False))
    return looks.order_by().values("box", "envelope").distinct().count()


@dataclass(frozen=True)
class StockTakeFile:
    """Everything that the page and the papers of a stock-take show.

    Attributes:
        given_up_before: how many stock-takes of the same stratum were abandoned
            before this one: a draw that does not please must not be drawn again.
    """

    row: StockTakeRow
    nouns: str
    room: str
    lost_supposed: int
    probability: Decimal
    list_document: str
    list_digest: str
    seed_announced: str
    seed: str
    frozen_by: str
    drawn_at: datetime | None
    drawn_by: str
    ended_at: datetime | None
    ended_by: str
    conclusion: str
    items: tuple[ItemRow, ...]
    outcome: Outcome
    given_up_before: int
    timeline: tuple[TimelineEntry, ...]


def stock_take_file(take: StockTake) -> StockTakeFile:
    """Gather what is known of a stock-take."""
    items = items_of(take)
    return StockTakeFile(
        row=stock_take_row(take),
        nouns=stratum_of(take).nouns,
        room=take.room.number if take.room else "",
        lost_supposed=take.lost_supposed,
        probability=Decimal(take.probability),
        list_document=take.list_document.number,
        list_digest=take.list_digest,
        seed_announced=take.seed_announced,
        seed=take.seed,
        frozen_by=take.frozen_by.name,
        drawn_at=take.drawn_at,
        drawn_by=take.drawn_by.name if take.drawn_by else "",
        ended_at=take.ended_at,
        ended_by=take.ended_by.name if take.ended_by else "",
        conclusion=take.conclusion,
        items=items,
        outcome=outcome_of(take, items),
        given_up_before=StockTake.objects.filter(
            noun=take.noun,
            room=take.room,
            election=take.election,
            contest=take.contest,
            kind=take.kind,
            state=StockTake.State.ABANDONED,
            pk__lt=take.pk,
        ).count(),
        timeline=tuple(timeline_of(take)),
    )
