"""Discrepancies: resolved one by one, each with a reason; then quarantine ends."""

from dataclasses import dataclass
from datetime import date, datetime

from django.db.models import F

from registry.models import (
    Box,
    ContainerState,
    Discrepancy,
    Envelope,
    Permission,
    PollingStation,
    SealState,
    UnitSet,
)
from registry.queries.containers import (
    DISCREPANCY_RELATED,
    ContainerFile,
    DiscrepancyRow,
    discrepancy_row,
    file_of,
)
from registry.queries.desk_day import day_at_desk
from registry.queries.expected import Match, bearers_of_units, near_unit_sets
from registry.queries.find import the
from registry.queries.keeping import legal_date
from registry.queries.scope import contests_of, discrepancies_of
from registry.rules.powers import Actor, Power
from registry.rules.schedules import ContentKind
from registry.usecases._arrivals import attribute
from registry.usecases._door import Mistaken, Refused, note_access, usecase
from registry.usecases._recording import lock_intake
from registry.usecases.boxes import container_of, locked_container_of

# How many stand on one page of the list.
PAGE = 50


@usecase("discrepancy.resolve", power=Power.RESOLVE, subject="discrepancy")
def resolve_discrepancy(
    *, discrepancy: str, resolution: str, actor: Actor, at: datetime
) -> None:
    """Resolve a discrepancy with a reason; what was written stays as it is."""
    rows = discrepancies_of(actor)
    of = the(rows, discrepancy, "discrepancy")
    if of.resolved_at:
        raise Refused(f"{of.number} was resolved on {of.resolved_at:%-d %B %Y}.")
    if len(resolution.strip()) < 5:
        raise Mistaken(
            resolution="Say how it was resolved and on whose word: a statement, an "
            "order, a look at the paper."
        )
    of.resolution = resolution.strip()
    of.resolved_at = at
    of.resolved_by_id = actor.person_id
    of.save()
    note_access(of.number, container=of.about.number)


@usecase("container.release", power=Power.RESOLVE, subject="container")
def release_from_quarantine(
    *,
    container: str,
    contest: str = "",
    station: str = "",
    unit_set: str = "",
    reason: str,
    actor: Actor,
    at: datetime,
) -> None:
    """Take a container out of quarantine once everything wrong with it is resolved.

    What is written on it stays as it was recorded; the station or unit set for which
    it stands may be named anew, with the reason.

    Args:
        contest, station, unit_set: register numbers of what it stands for, where
            that was not recognised on arrival or was recognised wrongly.

    Raises:
        Refused: a discrepancy is open, its units already have a live envelope of the
            kind, its seal number is on another live container, or it would stand for
            another contest or station than when a permission in force was signed.
    """
    of = locked_container_of(actor, container)
    if of.state != ContainerState.QUARANTINED:
        raise Refused(f"{of.number} is not in quarantine.")
    if not reason.strip():
        raise Mistaken(reason="Say why it may leave quarantine.")
    lock_intake()
    signed_for = _stands_for(of)
    _name_anew(of, actor, contest, station, unit_set)
    obstacles = _signed_otherwise(of, signed_for, at)
    obstacles += [
        f"{d.number} is open: {d.get_kind_display()}."
        for d in of.discrepancies.filter(resolved_at__isnull=True).order_by("id")
    ]
    obstacles += _lacking(of)
    if obstacles:
        raise Refused(*obstacles)
    of.state = ContainerState.HELD
    of.remarks = f"{of.remarks} Released: {reason.strip()}".strip()
    if len(of.remarks) > 400:
        raise Mistaken(reason="The remarks of this container are full: be shorter.")
    of.save()
    for seal in of.seals.filter(state=SealState.APPLIED):
        seal.quarantined = False
        seal.save()
    note_access(of.number)


def _name_anew(
    of: Box | Envelope, actor: Actor, contest: str, station: str, unit_set: str
) -> None:
    """Let a container stand for what its keeper found out that it stands for."""
    if isinstance(of, Box):
        if station or unit_set:
            raise Mistaken(contest="A box stands for a contest: name that alone.")
        match = Match(the(contests_of(actor), contest, "contest")) if contest else None
    else:
        match = _envelope_match(actor, contest, station, unit_set)
    if match is None:
        return
    of.contest = match.contest
    of.election = match.contest.election if match.contest else None
    if isinstance(of, Envelope):
        attribute(of, match, written=of.written)


def _stands_for(of: Box | Envelope) -> tuple[int | None, int | None]:
    return of.contest_id, of.station_id if isinstance(of, Envelope) else None


def _signed_otherwise(
    of: Box | Envelope, signed_for: tuple[int | None, int | None], at: datetime
) -> list[str]:
    """Name each permission that was signed for what it would no longer stand for."""
    if _stands_for(of) == signed_for:
        return []
    signed = Permission.objects.filter(
        items__in=of.permission_items.all(),
        countersigned_at__isnull=False,
        revoked_at__isnull=True,
        valid_until__gte=legal_date(of.election, at),
    )
    return [
        f"{permission.number} was countersigned while {of.number} stood for something "
        "else. Have it revoked first; the authority can permit it anew."
        for permission in signed.order_by("id")
    ]


def _envelope_match(
    actor: Actor, contest: str, station: str, unit_set: str
) -> Match | None:
    """Return what was named, each with what it belongs to."""
    if unit_set:
        rows = UnitSet.objects.select_related("station__contest__election")
        units = the(rows, unit_set, "unit set")
        return Match(units.station.contest, units.station, units)
    if station:
        stations = PollingStation.objects.select_related("contest__election")
        at_station = the(stations, station, "polling station")
        sets = list(at_station.unit_sets.all()[:2])
        only = sets[0] if len(sets) == 1 else None
        return Match(at_station.contest, at_station, only)
    if contest:
        return Match(the(contests_of(actor), contest, "contest"))
    return None


def _lacking(of: Box | Envelope) -> list[str]:
    """Return what is not known of a container that must be known outside quarantine."""
    if of.contest is None:
        return ["Name the contest it stands for."]
    if isinstance(of, Box):
        return []
    slips = of.kind != ContentKind.STATUTORY_PACKET.value
    if of.station is None:
        return ["Name the polling station it stands for."]
    if slips and of.unit_set is None:
        return ["Name the unit set it stands for."]
    live = bearers_of_units(
        of.election,
        ContentKind(of.kind),
        Match(of.contest, of.station, of.unit_set),
        states=[ContainerState.HELD],
    )
    return [
        f"{other.number} stands for the same units and is live."
        for other in live
        if other.pk != of.pk
    ]


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
    whose: str = "",
    after: int = 0,
    actor: Actor,
    at: datetime,
) -> DiscrepancyPage:
    """List discrepancies within the actor's scope, the earliest due first.

    Args:
        show: ``open``, ``overdue``, ``resolved`` or ``all``.
        kind: one of ``DiscrepancyKind``; empty means any.
        whose: ``mine`` for those that the actor owns, ``nobody`` for those without
            an owner; empty means any.
        after: how many stand on the pages before this one.
    """
    on = day_at_desk(actor, at)
    rows = discrepancies_of(actor)
    if show != "all":
        rows = rows.filter(resolved_at__isnull=show != "resolved")
    if show == "overdue":
        rows = rows.filter(due_on__lt=on)
    if kind:
        rows = rows.filter(kind=kind)
    if whose:
        rows = rows.filter(owner=actor.person_id if whose == "mine" else None)
    found = list(
        rows.select_related("owner", "resolved_by", *DISCREPANCY_RELATED).order_by(
            F("due_on").asc(nulls_last=True), "id"
        )[after : after + PAGE + 1]
    )
    shown = tuple(_discrepancy(row, on) for row in found[:PAGE])
    note_access(
        shown=sorted({row.container for row in shown}),
        show=show,
        kind=kind,
        whose=whose,
    )
    return DiscrepancyPage(shown, after + PAGE if len(found) > PAGE else None)


@usecase("discrepancy.look", power=Power.LOOK, subject="discrepancy")
def look_at_discrepancy(
    *, discrepancy: str, actor: Actor, at: datetime
) -> DiscrepancyRow:
    """Show one discrepancy."""
    rows = discrepancies_of(actor)
    rows = rows.select_related("owner", "resolved_by", *DISCREPANCY_RELATED)
    row = _discrepancy(the(rows, discrepancy, "discrepancy"), day_at_desk(actor, at))
    note_access(row.number, shown=[row.container])
    return row


def _discrepancy(row: Discrepancy, on: date) -> DiscrepancyRow:
    return discrepancy_row(row, row.about.number, on)
