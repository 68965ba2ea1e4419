"""Looking at boxes and envelopes: each look is entered, and so is each list."""

from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from django.db.models import Q, QuerySet

from registry.models import Box, Envelope
from registry.queries.containers import (
    ContainerFile,
    ContainerRow,
    container_rows,
    file_of,
)
from registry.queries.find import the
from registry.queries.keeping import Keeper, legal_date
from registry.queries.scope import boxes_of, envelopes_of
from registry.rules.powers import Actor, Power
from registry.usecases._door import note_access, usecase

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
    keeper = Keeper(legal_date(None, at))
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
