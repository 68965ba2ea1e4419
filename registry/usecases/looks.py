"""Looking at boxes and envelopes: each look is entered, and so is each list."""

from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from django.db.models import Count, F, Q, QuerySet

from registry.models import (
    Box,
    ContainerState,
    Discrepancy,
    Envelope,
    SealState,
    Shelf,
    Whereabouts,
)
from registry.queries.containers import (
    TONES,
    ContainerFile,
    ContainerRow,
    DiscrepancyRow,
    container_rows,
    discrepancy_row,
    file_of,
    title_of,
)
from registry.queries.expected import near_unit_sets
from registry.queries.find import the
from registry.queries.keeping import Keeper, legal_date
from registry.queries.scope import (
    boxes_of,
    contests_of,
    envelopes_of,
    of_containers_in_scope,
)
from registry.rules.powers import Actor, Power
from registry.usecases._door import note_access, usecase
from registry.usecases.boxes import container_of, place_of

__all__ = [
    "ContainerBrief",
    "ContainerFile",
    "ContainerPage",
    "DiscrepancyPage",
    "ReleaseBrief",
    "Wanted",
    "list_boxes",
    "list_discrepancies",
    "list_envelopes",
    "look_at_box",
    "look_at_container_to_act",
    "look_at_discrepancy",
    "look_at_envelope",
    "look_at_quarantined",
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
    *, box: str, as_of: date | None = None, actor: Actor, at: datetime
) -> ContainerFile:
    """Open a box's page: everything known of it, history and looks included."""
    rows = boxes_of(actor).select_related(*_WITH_ALL, "shelf__bay__room")
    of = the(rows, box, "box")
    note_access(of.number)
    return file_of(of, as_of or legal_date(of.election, at))


@usecase("envelope.look", power=Power.LOOK, subject="envelope")
def look_at_envelope(
    *, envelope: str, as_of: date | None = None, actor: Actor, at: datetime
) -> ContainerFile:
    """Open an envelope's page."""
    rows = envelopes_of(actor).select_related(
        *_WITH_ALL, "box__shelf", "station", "unit_set"
    )
    of = the(rows, envelope, "envelope")
    note_access(of.number)
    return file_of(of, as_of or legal_date(of.election, at))


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


@dataclass(frozen=True)
class ReleaseBrief:
    """What must be known to release a container from quarantine.

    Attributes:
        open: what is still open; nothing may be.
        contests: what it may be said to stand for.
        candidates: unit sets whose serials come near to the written ones.
    """

    container: ContainerFile
    open: tuple[DiscrepancyRow, ...]
    contests: tuple[tuple[str, str], ...]
    candidates: tuple[tuple[str, str], ...]


@usecase("container.prepare_release", power=Power.RESOLVE, subject="container")
def look_at_quarantined(
    *, container: str, contest: str = "", actor: Actor, at: datetime
) -> ReleaseBrief:
    """Show what stands against the release of a container, and what it may be.

    Args:
        contest: number of the contest among whose unit sets candidates are sought;
            its own, if one is known, where this is empty.
    """
    of = container_of(actor, container)
    among = the(contests_of(actor), contest, "contest") if contest else of.contest
    near = near_unit_sets(of, among) if isinstance(of, Envelope) else []
    file = file_of(of, legal_date(of.election, at))
    note_access(of.number)
    return ReleaseBrief(
        container=file,
        open=file.open_discrepancies,
        contests=tuple(
            (c.number, f"{c} ({c.election.code})")
            for c in contests_of(actor).order_by("election_id", "id")
        ),
        candidates=tuple(
            (u.number, f"{u}, station {u.station}, {u.station.contest}") for u in near
        ),
    )


@dataclass(frozen=True)
class DiscrepancyPage:
    """One page of the list of discrepancies."""

    rows: tuple[DiscrepancyRow, ...]
    next_after: int | None


@usecase("discrepancy.list", power=Power.LOOK)
def list_discrepancies(
    *,
    show: str = "open",
    kind: str = "",
    after: int = 0,
    actor: Actor,
    at: datetime,
) -> DiscrepancyPage:
    """List discrepancies within the actor's scope, the oldest open one first.

    Args:
        show: ``open``, ``resolved`` or ``all``.
        kind: one of ``DiscrepancyKind``; empty means any.
    """
    rows = of_containers_in_scope(Discrepancy.objects.all(), actor)
    if show != "all":
        rows = rows.filter(resolved_at__isnull=show != "resolved")
    if kind:
        rows = rows.filter(kind=kind)
    found = list(
        rows.filter(id__gt=after)
        .select_related("box", "envelope", "resolved_by")
        .order_by("id")[: PAGE + 1]
    )
    shown = tuple(_discrepancy(row) for row in found[:PAGE])
    note_access(shown=sorted({row.container for row in shown}), show=show, kind=kind)
    return DiscrepancyPage(shown, found[PAGE - 1].pk if len(found) > PAGE else None)


@usecase("discrepancy.look", power=Power.LOOK, subject="discrepancy")
def look_at_discrepancy(
    *, discrepancy: str, actor: Actor, at: datetime
) -> DiscrepancyRow:
    """Show one discrepancy."""
    rows = of_containers_in_scope(Discrepancy.objects.all(), actor)
    rows = rows.select_related("box", "envelope", "resolved_by")
    row = _discrepancy(the(rows, discrepancy, "discrepancy"))
    note_access(row.number, shown=[row.container])
    return row


def _discrepancy(row: Discrepancy) -> DiscrepancyRow:
    return discrepancy_row(row, (row.box or row.envelope).number)  # type: ignore[union-attr]
