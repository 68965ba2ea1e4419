"""What wants doing today, desk by desk. (What each desk does: common practice.)"""

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from typing import Any

from django.db.models import Exists, F, OuterRef, Q, QuerySet

from registry.models import (
    AccessEntry,
    Box,
    ContainerState,
    InspectionRound,
    Permission,
    PermissionItem,
    StationSealing,
    Whereabouts,
)
from registry.queries.incidents import incidents_of
from registry.queries.round_dues import round_due, round_rules_of
from registry.queries.rounds import to_be_seen
from registry.queries.scope import (
    boxes_of,
    discrepancies_of,
    envelopes_of,
    of_elections_in_scope,
    rooms_of,
    sealings_of,
)
from registry.queries.stock_takes import looked_at_in, stock_takes_of
from registry.rules.acts import Act
from registry.rules.powers import Actor

# So many of a kind are named one by one; the rest is a count with a link to the list.
FEW = 4
SOON = timedelta(days=14)
LATELY = timedelta(days=30)


@dataclass(frozen=True)
class Waiting:
    """One thing that wants doing, or wants knowing.

    Attributes:
        page: the name of the page where it is done, unless ``number`` has its own.
        number: the register number it is about; empty for a list.
        narrowed: what the list is narrowed to.
        word, tone: how pressing it is.
        due: by when, where there is a day.
    """

    text: str
    page: str = ""
    number: str = ""
    narrowed: dict[str, str] = field(default_factory=dict)
    word: str = "Open"
    tone: str = "wait"
    due: date | None = None
    note: str = ""


def count(n: int, one: str, many: str) -> str:
    """Write a count with its noun."""
    return f"{n:,} {one if n == 1 else many}"


def named_or_counted(
    rows: QuerySet[Any],
    one: Callable[[Any], Waiting],
    rest: Callable[[int], Waiting],
) -> Iterator[Waiting]:
    """Name a few one by one; where there are more, say how many and where."""
    found = list(rows[: FEW + 1])
    if len(found) <= FEW:
        yield from (one(row) for row in found)
    else:
        yield rest(rows.count())


def open_discrepancies(actor: Actor) -> Iterator[Waiting]:
    """The discrepancies that nobody has resolved, the oldest first."""
    rows = discrepancies_of(actor).filter(resolved_at__isnull=True)
    oldest = rows.order_by("opened_at", "id").first()
    if oldest is None:
        return
    n = rows.count()
    yield Waiting(
        text=count(n, "open discrepancy", "open discrepancies"),
        page="discrepancies",
        tone="stop",
        note=f"The oldest, {oldest.number}, has been open since "
        f"{oldest.opened_at:%-d %B %Y}: {oldest.get_kind_display()}.",
    )


def open_incidents(actor: Actor, on: date) -> Iterator[Waiting]:
    """The open incidents within the actor's scope, the earliest due first."""
    rows = incidents_of(actor).filter(closed_at__isnull=True)
    yield from named_or_counted(
        rows.order_by("due_on", "id"),
        lambda row: Waiting(
            text=f"Incident {row.number}: {row.get_kind_display()}",
            number=row.number,
            word="Overdue" if row.due_on < on else "Held",
            tone="stop",
            due=row.due_on,
            note="Everything that it touches is held until it is closed.",
        ),
        lambda n: Waiting(
            text=f"{n} incidents are open", page="incidents", word="Held", tone="stop"
        ),
    )


def rounds_due(actor: Actor, on: date) -> Iterator[Waiting]:
    """The rounds that are being walked, are due soon or are overdue."""
    for room in rooms_of(actor).order_by("id"):
        running = room.rounds.filter(state=InspectionRound.State.WALKED).first()
        if running:
            yield Waiting(
                text=f"Round {running.number} of {room} is being walked",
                number=running.number,
                word="Walked",
                note="Go on with it, or end it.",
            )
            continue
        due = round_due(room, actor, on)
        if due is None or due.on > on + timedelta(days=7):
            continue
        what = "what a case holds is walked" if due.contested_only else "it is walked"
        yield Waiting(
            text=f"{room}: {what} by {due.on:%-d %B %Y}",
            page="rounds",
            word="Overdue" if due.on < on else "To walk",
            tone="stop" if due.on < on else "wait",
            due=due.on,
        )


def climate_due(actor: Actor, on: date) -> Iterator[Waiting]:
    """The rooms whose climate was not read in time."""
    for room in rooms_of(actor).order_by("id"):
        last = room.climate_readings.order_by("-taken_at").first()
        if last is None and not to_be_seen(room, actor, on):
            continue  # nothing stands there yet
        days = timedelta(days=round_rules_of(room).climate_every_days)
        due = last.taken_at.date() + days if last else on
        if due <= on:
            yield Waiting(
                text=f"{room}: read the climate",
                page="climate",
                word="Overdue" if due < on else "Today",
                tone="wait",
                due=due,
            )


def own_discrepancies_overdue(actor: Actor, on: date) -> Iterator[Waiting]:
    """The open discrepancies that the actor owns and that are past their day."""
    rows = discrepancies_of(actor).filter(
        resolved_at__isnull=True, owner=actor.person_id, due_on__lt=on
    )
    yield from named_or_counted(
        rows.order_by("due_on", "id"),
        lambda row: Waiting(
            text=f"Discrepancy {row.number}: {row.get_kind_display()}",
            number=row.number,
            word="Overdue",
            tone="stop",
            due=row.due_on,
            note="It is yours. Settle it, or give it another owner or day.",
        ),
        lambda n: Waiting(
            text=f"{n} discrepancies of yours are overdue",
            page="discrepancies",
            narrowed={"show": "overdue", "whose": "mine"},
            word="Overdue",
            tone="stop",
        ),
    )


def permissions_of(actor: Actor) -> QuerySet[Permission]:
    """The permissions within the actor's scope."""
    return of_elections_in_scope(Permission.objects.all(), actor)


def in_force(rows: QuerySet[Permission], on: date) -> QuerySet[Permission]:
    """Narrow permissions to those in force on a day."""
    return (
        rows.filter(
            countersigned_at__isnull=False,
            revoked_at__isnull=True,
            valid_from__lte=on,
            valid_until__gte=on,
        )
        .exclude(_all_gone())
        .order_by("valid_until", "id")
    )


def _all_gone() -> Q:
    """Permissions to destroy of which nothing is left to destroy."""
    left = PermissionItem.objects.filter(permission=OuterRef("pk")).exclude(
        Q(box__state=ContainerState.DISPOSED)
        | Q(envelope__state=ContainerState.DISPOSED)
    )
    return Q(act=Act.DESTROY.value) & Q(~Exists(left))


def permission_in_force(row: Permission, on: date) -> Waiting:
    """A permission in force, with the day on which it ends."""
    soon = row.valid_until <= on + timedelta(days=7)
    return Waiting(
        text=f"Permission {row.number}: {row.get_act_display()}",
        number=row.number,
        word="Ends soon" if soon else "In force",
        tone="wait" if soon else "clear",
        due=row.valid_until,
        note=f"{row}.",
    )


def custodians_desk(actor: Actor, on: date, at: datetime) -> Iterator[Waiting]:
    """What a custodian's rooms ask for."""
    yield from open_incidents(actor, on)
    yield from _missing(actor)
    yield from own_discrepancies_overdue(actor, on)
    yield from open_discrepancies(actor)
    yield from rounds_due(actor, on)
    yield from climate_due(actor, on)
    yield from _quarantined(actor)
    yield from _left_on_the_table(actor)
    yield from _not_put_away(actor)
    yield from open_stock_takes(actor, on)
    rows = in_force(permissions_of(actor), on).filter(
        Q(items__box__in=boxes_of(actor))
        | Q(items__envelope__in=envelopes_of(actor))
        | Q(items__room_id__in=actor.rooms)
    )
    yield from named_or_counted(
        rows.distinct(),
        lambda row: permission_in_force(row, on),
        lambda n: Waiting(
            text=f"{n} permissions in force name what you keep",
            page="permissions",
            word="In force",
            tone="clear",
        ),
    )


def _missing(actor: Actor) -> Iterator[Waiting]:
    for rows, page, noun in _containers(actor):
        yield from named_or_counted(
            rows.filter(whereabouts=Whereabouts.MISSING).order_by("id"),
            lambda row, noun=noun: Waiting(  # type: ignore[misc]
                text=f"{noun} {row.number} was not found",
                number=row.number,
                word="Missing",
                tone="stop",
            ),
            lambda n, page=page: Waiting(  # type: ignore[misc]
                text=f"{n} {page} were not found",
                page=page,
                narrowed={"whereabouts": "missing"},
                word="Missing",
                tone="stop",
            ),
        )


def _containers(actor: Actor) -> Iterable[tuple[QuerySet[Any], str, str]]:
    return (
        (boxes_of(actor), "boxes", "Box"),
        (envelopes_of(actor), "envelopes", "Envelope"),
    )


def _quarantined(actor: Actor) -> Iterator[Waiting]:
    for rows, page, noun in _containers(actor):
        n = rows.filter(state="quarantined").count()
        if n:
            yield Waiting(
                text=f"{count(n, noun.lower(), page)} in quarantine",
                page=page,
                narrowed={"state": "quarantined"},
                word="Quarantine",
                tone="stop",
                note="Resolve what is wrong with each; then it can be released.",
            )


def _left_on_the_table(actor: Actor) -> Iterator[Waiting]:
    rows = sealings_of(actor).filter(state=StationSealing.State.OPEN)
    yield from named_or_counted(
        rows.select_related("begun_by").order_by("begun_at", "id"),
        lambda row: Waiting(
            text=f"Station {row.station} is at the sealing table, not finished",
            number=row.number,
            word="To seal",
            note=f"{row.station.contest}; begun by {row.begun_by.name}.",
        ),
        lambda n: Waiting(
            text=f"{n} stations are at the sealing table, not finished",
            page="sealing",
            word="To seal",
            note="Finish each, or leave it off with a reason.",
        ),
    )


def _not_put_away(actor: Actor) -> Iterator[Waiting]:
    on_table = boxes_of(actor).filter(whereabouts=Whereabouts.INTAKE, state="held")
    yield from named_or_counted(
        on_table.filter(closed_on__isnull=False).order_by("id"),
        lambda row: _box(row, "is closed and stands at the intake table: shelve it"),
        lambda n: Waiting(
            text=f"{n} closed boxes stand at the intake table",
            page="boxes",
            narrowed={"whereabouts": "intake"},
            word="To shelve",
            note="Put each on a shelf.",
        ),
    )
    yield from named_or_counted(
        on_table.filter(closed_on__isnull=True).order_by("id"),
        lambda row: _box(row, "is still open: fill it, close it and seal it"),
        lambda n: Waiting(
            text=f"{n} boxes are still open",
            page="boxes",
            narrowed={"whereabouts": "intake"},
            word="To close",
            note="Fill, close and seal each.",
        ),
    )
    loose = envelopes_of(actor).filter(
        whereabouts=Whereabouts.INTAKE, state="held", box__isnull=True
    )
    n = loose.count()
    if n:
        yield Waiting(
            text=f"{count(n, 'envelope lies', 'envelopes lie')} at the intake table",
            page="envelopes",
            narrowed={"whereabouts": "intake"},
            word="To box",
            note="Put each into a box of its own constituency and content.",
        )


def _box(row: Box, what: str) -> Waiting:
    label = f" ({row.label})" if row.label else ""
    return Waiting(text=f"Box {row.number}{label} {what}", number=row.number)


def authoritys_desk(actor: Actor, on: date, at: datetime) -> Iterator[Waiting]:
    """Permissions that wait for the other person, are in force, or were revoked."""
    yield from open_incidents(actor, on)
    rows = permissions_of(actor)
    unsigned = rows.filter(
        countersigned_at__isnull=True, revoked_at__isnull=True
    ).order_by("valid_until", "id")
    for row in unsigned.filter(valid_until__gte=on).select_related("recorded_by"):
        mine = row.recorded_by_id == actor.person_id
        yield Waiting(
            text=f"Permission {row.number}: {row.get_act_display()}",
            number=row.number,
            word="Not yours" if mine else "To sign",
            tone="plain" if mine else "wait",
            due=row.valid_until,
            note=f"{row}; recorded by "
            + ("you: another person countersigns." if mine else f"{row.recorded_by}."),
        )
    lapsed = unsigned.filter(valid_until__lt=on, valid_until__gte=on - LATELY).count()
    if lapsed:
        yield Waiting(
            text=f"{count(lapsed, 'permission', 'permissions')} ran out without a "
            "countersignature",
            page="permissions",
            word="Lapsed",
            tone="ended",
        )
    for row in in_force(rows, on):
        yield permission_in_force(row, on)
    for row in rows.filter(revoked_at__gte=at - LATELY).order_by("-revoked_at"):
        yield Waiting(
            text=f"Permission {row.number}: {row.get_act_display()}",
            number=row.number,
            word="Revoked",
            tone="ended",
            note=f"Revoked on {row.revoked_at:%-d %B %Y}: {row.revoked_because}",
        )


def refusals(at: datetime, days: int = 7) -> QuerySet[AccessEntry]:
    """What was refused or failed in the last days."""
    return AccessEntry.objects.filter(at__gte=at - timedelta(days=days)).exclude(
        outcome=AccessEntry.Outcome.DONE
    )


def recorded_late(rows: QuerySet[Any], at: datetime) -> QuerySet[Any]:
    """Narrow what happened and was recorded to what was recorded a week late."""
    return rows.filter(
        recorded_at__gte=at - LATELY,
        recorded_at__gt=F("occurred_at") + timedelta(days=7),
    ).order_by("-recorded_at")


def open_stock_takes(actor: Actor, on: date) -> Iterator[Waiting]:
    """Stock-takes whose numbers are known, or that are being looked at."""
    rows = stock_takes_of(actor).filter(ended_at__isnull=True).order_by("id")
    for take in rows.filter(state="frozen", seed_on__lte=on):
        yield Waiting(
            text=f"Stock-take {take.number}: enter the public numbers",
            number=take.number,
            word="To draw",
            due=take.seed_on,
            note=take.seed_announced,
        )
    for take in rows.filter(state="drawn"):
        left = take.sample_size - looked_at_in(take)
        what = f"{left:,} to be looked at" if left else "conclude it"
        yield Waiting(
            text=f"Stock-take {take.number}: {what}",
            number=take.number,
            word="To look at" if left else "To conclude",
            note=take.purpose,
        )
