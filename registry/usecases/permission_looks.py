"""Looking at permissions: the list, one's own page, and what a new one could name."""

from dataclasses import dataclass, replace
from datetime import date, datetime

from registry.models import ContainerState, Permission
from registry.queries.containers import container_rows
from registry.queries.disposals import ObstacleShown, Standing, outermost, standings
from registry.queries.find import the
from registry.queries.keeping import Keeper, legal_date, schedule_of
from registry.queries.permissions import (
    PermissionRow,
    ThingRow,
    list_digest,
    permission_row,
    permission_rows,
    thing_row,
    things_of,
    used_things,
)
from registry.queries.scope import (
    boxes_of,
    contests_of,
    elections_of,
    envelopes_of,
    of_elections_in_scope,
)
from registry.queries.timeline import TimelineEntry, timeline_of
from registry.rules.disposal_facts import Act
from registry.rules.powers import Actor, Power
from registry.usecases._door import note_access, usecase
from registry.usecases.boxes import container_of

# What the day itself settles is no news to the countersigner.
_SETTLED_LATER = frozenset({"seal-not-checked", "seal-check-too-old"})


@dataclass(frozen=True)
class DoneUnder:
    """One thing that was done under a permission."""

    at: datetime
    what: str
    number: str
    who: str


@dataclass(frozen=True)
class PermissionFile:
    """Everything that a permission's page shows.

    Attributes:
        order_may_stand_in: the election's schedule lets an express order stand in for
            the confirmation of the court's registry.
    """

    row: PermissionRow
    authority: str
    order_ref: str
    while_still_kept: bool
    instead_of_confirmation: bool
    order_may_stand_in: bool
    document: str
    digest: str
    countersigned_at: datetime | None
    countersigned_by: str
    revoked_at: datetime | None
    revoked_by: str
    revoked_because: str
    things: tuple[ThingRow, ...]
    standings: tuple[Standing, ...]
    done: tuple[DoneUnder, ...]
    recorded_by_reader: bool
    entries: tuple[TimelineEntry, ...]

    @property
    def hindered(self) -> tuple[Standing, ...]:
        """The containers against whose destruction something stands today."""
        return tuple(
            s
            for s in self.standings
            if any(o.code not in _SETTLED_LATER for o in s.obstacles)
        )


@usecase("permission.list", power=Power.LOOK_AT_PERMISSIONS)
def list_permissions(
    *, state: str = "", actor: Actor, at: datetime
) -> tuple[PermissionRow, ...]:
    """List permissions: those that wait for a countersignature first."""
    rows = permission_rows(of_elections_in_scope(Permission.objects.all(), actor), at)
    found = [row for row in rows if not state or row.state == state]
    note_access(shown=[row.number for row in found], permissions=len(found))
    return tuple(found)


@usecase("permission.look", power=Power.LOOK_AT_PERMISSIONS, subject="permission")
def look_at_permission(
    *, permission: str, actor: Actor, at: datetime
) -> PermissionFile:
    """Open a permission's page, with what stands against each thing it names."""
    return _file(permission, actor, at)


@usecase("permission.read_to_sign", power=Power.RECORD_PERMISSION, subject="permission")
def read_before_signing(
    *, permission: str, actor: Actor, at: datetime
) -> PermissionFile:
    """Read all that is countersigned or revoked, as those may who do it."""
    return _file(permission, actor, at)


def _file(permission: str, actor: Actor, at: datetime) -> PermissionFile:
    rows = of_elections_in_scope(
        Permission.objects.select_related(
            "election__schedule",
            "recorded_by",
            "countersigned_by",
            "revoked_by",
            "document",
        ),
        actor,
    )
    of = the(rows, permission, "permission")
    items = things_of(of)
    used = used_things(of)
    note_access(of.number, shown=[item.thing.number for item in items])
    return PermissionFile(
        row=permission_row(of, at),
        authority=of.authority,
        order_ref=of.order_ref,
        while_still_kept=of.while_still_kept,
        instead_of_confirmation=of.instead_of_confirmation,
        order_may_stand_in=schedule_of(of.election.schedule).express_order_suffices,
        document=of.document.number if of.document else "",
        digest=of.list_digest or list_digest(of, [i.thing.number for i in items]),
        countersigned_at=of.countersigned_at,
        countersigned_by=str(of.countersigned_by or ""),
        revoked_at=of.revoked_at,
        revoked_by=str(of.revoked_by or ""),
        revoked_because=of.revoked_because,
        things=tuple(
            thing_row(item.box or item.envelope or item.room, used)  # type: ignore[arg-type]
            for item in items
        ),
        standings=_standings(of, actor, at),
        done=tuple(_done_under(of)),
        recorded_by_reader=of.recorded_by_id == actor.person_id,
        entries=tuple(timeline_of(of)),
    )


def _standings(of: Permission, actor: Actor, at: datetime) -> tuple[Standing, ...]:
    """Return how each outermost container of an order to destroy stands today."""
    if of.act != Act.DESTROY:
        return ()
    live = outermost(of, boxes_of(actor), envelopes_of(actor))
    found = standings(live, of, actor.name, at)
    # That it lacks the second signature is what the page is about.
    return tuple(replace(s, obstacles=_but_the_signature(s)) for s in found)


def _but_the_signature(standing: Standing) -> tuple[ObstacleShown, ...]:
    return tuple(o for o in standing.obstacles if o.code != "not-countersigned")


def _done_under(of: Permission) -> list[DoneUnder]:
    done = [
        DoneUnder(o.occurred_at, o.done, _thing(o), str(o.opened_by))
        for o in of.openings.select_related("box", "envelope", "room", "opened_by")
    ]
    done += [
        DoneUnder(m.occurred_at, m.get_act_display(), _thing(m), str(m.recorded_by))
        for m in of.movements.select_related("box", "envelope", "recorded_by")
    ]
    return sorted(done, key=lambda each: each.at, reverse=True)


def _thing(of: object) -> str:
    for name in ("box", "envelope", "room"):
        thing = getattr(of, name, None)
        if thing is not None:
            return str(thing.number)
    return ""


@dataclass(frozen=True)
class Proposed:
    """What a new permission could name, for the form to begin with."""

    elections: tuple[tuple[str, str], ...]
    authorities: tuple[str, ...]
    election: str
    things: tuple[str, ...]
    note: str


@usecase("permission.propose", power=Power.RECORD_PERMISSION)
def propose_permission(
    *,
    container: str = "",
    contest: str = "",
    kind: str = "",
    actor: Actor,
    at: datetime,
) -> Proposed:
    """Say what a new permission can be recorded for.

    Args:
        container: the box or envelope that it is to name.
        contest, kind: instead, all containers of this contest and content whose time
            of keeping is over on this day.
    """
    elections = tuple(
        (election.number, election.name)
        for election in elections_of(actor).order_by("id")
    )
    authorities = tuple(
        Permission.objects.order_by("authority")
        .values_list("authority", flat=True)
        .distinct()
    )
    election, things, note = elections[-1][0] if elections else "", [], ""
    if container:
        of = container_of(actor, container)
        things = [of.number]
        election = of.election.number if of.election else election
    elif contest:
        in_contest = the(contests_of(actor), contest, "contest")
        election = in_contest.election.number
        on = legal_date(in_contest.election, at)
        rows = {"contest": in_contest, **({"kind": kind} if kind else {})}
        things, kept = _free(boxes_of(actor).filter(**rows), on)
        loose, kept_loose = _free(
            envelopes_of(actor).filter(box__isnull=True, **rows), on
        )
        things += loose
        note = _note(len(things), kept + kept_loose)
    note_access(shown=things)
    return Proposed(elections, authorities, election, tuple(things), note)


def _free(rows: object, on: date) -> tuple[list[str], int]:
    """Return the numbers of those whose time is over, and how many must be kept."""
    live = rows.exclude(state=ContainerState.DISPOSED).order_by("id")  # type: ignore[attr-defined]
    found = container_rows(live, Keeper(on))
    free = [r.number for r in found if r.held_until and r.held_until < on]
    return free, len(found) - len(free)


def _note(free: int, kept: int) -> str:
    if not kept and not free:
        return "There is nothing of this contest and content that could be named."
    if kept and not free:
        return "None is listed: the time of keeping of none of them is over."
    if kept:
        return f"{kept} more must still be kept and are not listed."
    return ""
