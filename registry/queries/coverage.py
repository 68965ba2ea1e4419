"""What a case or an order covers, in words and in numbers of containers."""

from collections.abc import Sequence
from dataclasses import dataclass

from django.db.models import Q, QuerySet

from registry.models import (
    Box,
    Case,
    CaseScope,
    ContainerState,
    Contest,
    Envelope,
    OrderScope,
    PreservationOrder,
)
from registry.queries.scope import containers_in_scope
from registry.rules.powers import Actor

Scopes = Sequence[CaseScope] | Sequence[OrderScope]


@dataclass(frozen=True)
class CoverRow:
    """A contest, or one station of it (``11/003``), that is covered."""

    contest: str
    contest_number: str
    station: str
    station_ref: str = ""
    because: str = ""
    authority: str = ""


@dataclass(frozen=True)
class Counted:
    """How many containers within the asker's charge something covers."""

    boxes: int
    envelopes: int
    contests: tuple[tuple[str, str], ...]


def covers_text(*, whole: bool, scopes: Scopes) -> str:
    """Say in a few words what is covered."""
    if whole:
        return "the whole election"
    if not scopes:
        return "not known yet: the whole election is held"
    names = [
        f"{s.contest}, station {s.station}" if s.station else str(s.contest)
        for s in scopes
    ]
    if len(names) > 4:
        return f"{'; '.join(names[:3])} and {len(names) - 3} more"
    return "; ".join(names)


def cover_rows(scopes: Scopes) -> tuple[CoverRow, ...]:
    """Return what is covered, a row for each contest or station."""
    return tuple(
        CoverRow(
            contest=str(scope.contest),
            contest_number=scope.contest.number,
            station=str(scope.station or ""),
            station_ref=f"{scope.contest.constituency_number}/"
            f"{scope.station.station_number}"
            if scope.station
            else "",
            because=getattr(scope, "narrowed_because", ""),
            authority=getattr(scope, "narrowed_by_authority", ""),
        )
        for scope in scopes
    )


def counted(
    of: Case | PreservationOrder,
    scopes: Scopes,
    whole: bool,
    actor: Actor,
) -> Counted:
    """Count the containers, not yet disposed of, that a case or an order covers.

    Only those within the asker's charge are counted. A box is covered with the
    stations of its envelopes; one whose contents are not known is covered whole.
    """
    if whole or not scopes:
        boxes = envelopes = Q(contest__election=of.election_id)
        contests = list(Contest.objects.filter(election=of.election_id).order_by("id"))
    else:
        boxes, envelopes = _narrowed(scopes)
        contests = list({s.contest_id: s.contest for s in scopes}.values())
    return Counted(
        boxes=_count(Box.objects.filter(boxes), actor),
        envelopes=_count(Envelope.objects.filter(envelopes), actor),
        contests=tuple((str(contest), contest.number) for contest in contests),
    )


def _narrowed(scopes: Scopes) -> tuple[Q, Q]:
    """Return which boxes and which envelopes contests and stations cover."""
    whole = {scope.contest_id for scope in scopes if scope.station_id is None}
    parted = {scope.contest_id for scope in scopes} - whole
    stations = {scope.station_id for scope in scopes if scope.station_id}
    of_unknown = Q(station__isnull=True)
    inside = Envelope.objects.filter(box__isnull=False)
    touched = inside.filter(Q(station__in=stations) | of_unknown).values("box_id")
    filled = inside.filter(box__contest__in=parted).values("box_id")
    boxes = Q(contest__in=whole) | (
        Q(contest__in=parted) & (Q(pk__in=touched) | ~Q(pk__in=filled))
    )
    envelopes = Q(contest__in=whole) | (
        Q(contest__in=parted) & (Q(station__in=stations) | of_unknown)
    )
    return boxes, envelopes


def _count(rows: QuerySet, actor: Actor) -> int:  # type: ignore[type-arg]
    live = rows.exclude(state=ContainerState.DISPOSED)
    return containers_in_scope(live, actor).count()
