"""Looking at boxes and envelopes: each look is entered, and so is each list."""

from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import Any

from django.db.models import Count, F, Q, QuerySet

from registry.models import (
    Box,
    ContainerState,
    Envelope,
    SealState,
    Shelf,
    Whereabouts,
)
from registry.queries.containers import (
    TONES,
    ContainerFile,
    ContainerRow,
    container_rows,
    file_of,
    title_of,
)
from registry.queries.custody import chain
from registry.queries.find import the
from registry.queries.keeping import Keeper
from registry.queries.scope import boxes_of, envelopes_of
from registry.rules.keeping_parts import SealingStep
from registry.rules.powers import Actor, Power
from registry.usecases._box_checks import (
    field_of_check,
    is_asked_apart,
    steps_at_closing,
)
from registry.usecases._door import note_access, usecase
from registry.usecases._seen import seen_of
from registry.usecases.boxes import container_of, place_of
from registry.usecases.two_clocks import settle

__all__ = [
    "ContainerBrief",
    "ContainerFile",
    "ContainerPage",
    "Wanted",
    "list_boxes",
    "list_envelopes",
    "look_at_box",
    "look_at_container_to_act",
    "look_at_envelope",
]

PAGE = 50

_WITH_ALL = (
    "election__schedule",
    "election__calendar",
    "contest__election__schedule",
    "contest__election__calendar",
    "room",
    "intake",
)


@usecase("box.look", power=Power.LOOK, subject="box")
def look_at_box(
    *,
    box: str,
    as_of: date | None = None,
    known_at: datetime | None = None,
    actor: Actor,
    at: datetime,
) -> ContainerFile:
    """Open a box's page: everything known of it, history and looks included.

    Args:
        as_of: the day for which its keeping is reckoned; today if left out.
        known_at: reckon with what the register knew at that moment.
    """
    rows = boxes_of(actor).select_related(*_WITH_ALL, "shelf__bay__room")
    of = the(rows, box, "box")
    file = file_of(of, *settle(of.election, as_of, known_at, at))
    note_access(of.number, shown=[row.number for row in file.contents])
    return replace(file, custody=chain(of, at))


@usecase("envelope.look", power=Power.LOOK, subject="envelope")
def look_at_envelope(
    *,
    envelope: str,
    as_of: date | None = None,
    known_at: datetime | None = None,
    actor: Actor,
    at: datetime,
) -> ContainerFile:
    """Open an envelope's page."""
    rows = envelopes_of(actor).select_related(
        *_WITH_ALL, "box__shelf", "station", "unit_set"
    )
    of = the(rows, envelope, "envelope")
    note_access(of.number)
    file = file_of(of, *settle(of.election, as_of, known_at, at))
    return replace(file, custody=chain(of, at))


@dataclass(frozen=True)
class Wanted:
    """What a list of containers is asked for; empty means any."""

    contest: str = ""
    election: str = ""
    kind: str = ""
    state: str = ""
    room: str = ""
    whereabouts: str = ""
    box: str = ""
    after: int = 0


@dataclass(frozen=True)
class ContainerPage:
    """One page of a list, by key and not by offset."""

    rows: tuple[ContainerRow, ...]
    next_after: int | None


@usecase("box.list", power=Power.LOOK)
def list_boxes(*, wanted: Wanted, actor: Actor, at: datetime) -> ContainerPage:
    """List boxes within the actor's scope, a page at a time."""
    return _page(boxes_of(actor), wanted, at)


@usecase("envelope.list", power=Power.LOOK)
def list_envelopes(*, wanted: Wanted, actor: Actor, at: datetime) -> ContainerPage:
    """List envelopes within the actor's scope, a page at a time."""
    rows = envelopes_of(actor)
    if wanted.box:
        rows = rows.filter(box__number=wanted.box)
    return _page(rows, wanted, at)


def _page(
    rows: QuerySet[Box] | QuerySet[Envelope], wanted: Wanted, at: datetime
) -> ContainerPage:
    rows = _narrowed(rows, wanted)
    ids = list(
        rows.filter(id__gt=wanted.after)
        .order_by("id")
        .values_list("id", flat=True)[: PAGE + 1]
    )
    page = rows.model.objects.filter(id__in=ids[:PAGE]).order_by("id")
    keeper = Keeper(at)
    found = container_rows(page, keeper)
    note_access(
        shown=[row.number for row in found],
        **{k: v for k, v in vars(wanted).items() if v},
    )
    return ContainerPage(tuple(found), ids[PAGE - 1] if len(ids) > PAGE else None)


def _narrowed(rows: Any, wanted: Wanted) -> Any:
    if wanted.contest:
        rows = rows.filter(contest__number=wanted.contest)
    if wanted.election:
        rows = rows.filter(
            Q(election__number=wanted.election) | Q(election__code=wanted.election)
        )
    if wanted.room:
        rows = rows.filter(room__number=wanted.room)
    for name in ("kind", "state", "whereabouts"):
        if getattr(wanted, name):
            rows = rows.filter(**{name: getattr(wanted, name)})
    return rows


@dataclass(frozen=True)
class ContainerBrief:
    """A container as the form of an act shows it.

    Attributes:
        shelves: number and name of each shelf of its room that has a place left.
        seals: how many live seals are on record; their numbers are not told, since
            an inspector reads before comparing.
        seen: number of the last movement, which the form carries back, so that the
            act can tell whether it was moved meanwhile.
        steps: what the checklist asks of an open box when it is closed.
    """

    number: str
    noun: str
    title: str
    content: str
    state: str
    state_title: str
    tone: str
    place: str
    label: str
    is_closed: bool
    written_stations: str
    envelopes: int
    seals: int
    shelves: tuple[tuple[str, str], ...]
    seen: str
    steps: tuple[SealingStep, ...] = ()

    @property
    def cautions(self) -> str:
        """What to take care of while it is closed, as its checklist says."""
        asked = [step.caution for step in self.steps if step.caution]
        return " ".join(dict.fromkeys(["sealing", "lifting", *asked]))

    @property
    def checks(self) -> tuple[tuple[str, SealingStep], ...]:
        """The steps that are answered by themselves, each with its field."""
        apart = (step for step in self.steps if is_asked_apart(step))
        return tuple((field_of_check(step), step) for step in apart)


@usecase("container.prepare", power=Power.KEEP, subject="container")
def look_at_container_to_act(
    *, container: str, actor: Actor, at: datetime
) -> ContainerBrief:
    """Show a container to the person who is about to act on it."""
    of = container_of(actor, container)
    note_access(of.number)
    is_box = isinstance(of, Box)
    return ContainerBrief(
        number=of.number,
        noun="box" if is_box else "envelope",
        title=title_of(of),
        content=of.get_kind_display(),
        state=of.state,
        state_title=of.get_state_display(),
        tone=TONES[ContainerState(of.state)],
        place=place_of(of),
        label=getattr(of, "label", ""),
        is_closed=not isinstance(of, Box) or of.closed_on is not None,
        written_stations=of.written_station_number,
        envelopes=of.envelopes.count() if isinstance(of, Box) else 0,
        seals=of.seals.filter(state=SealState.APPLIED).count(),
        shelves=_shelves_with_room(of) if isinstance(of, Box) else (),
        seen=seen_of(of),
        steps=steps_at_closing(of) if isinstance(of, Box) and not of.closed_on else (),
    )


def _shelves_with_room(box: Box) -> tuple[tuple[str, str], ...]:
    on_it = Count("boxes", filter=Q(boxes__whereabouts=Whereabouts.SHELVED))
    shelves = (
        Shelf.objects.filter(bay__room=box.room)
        .annotate(taken=on_it)
        .filter(taken__lt=F("capacity"))
        .select_related("bay__room")
        .order_by("id")
    )
    return tuple(
        (shelf.number, f"{shelf} ({shelf.capacity - shelf.taken} free)")
        for shelf in shelves
    )
