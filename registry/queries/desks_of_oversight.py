"""The auditor's and the administrator's desks: what is odd, what is not set up yet."""

from collections.abc import Iterator
from datetime import date, datetime, timedelta

from django.db.models import Count, Q
from django.db.models.functions import TruncDate

from registry.models import (
    AccessEntry,
    CaseEvent,
    Contest,
    CourtCalendar,
    CustodyMovement,
    Discrepancy,
    DisposalBatch,
    Election,
    RetentionSchedule,
    StrongRoom,
    User,
)
from registry.queries.desks import (
    FEW,
    LATELY,
    Waiting,
    count,
    named_or_counted,
    open_stock_takes,
    recorded_late,
    refusals,
)
from registry.rules.powers import Actor, Role

# Beyond so many accesses in one day somebody reads more than a day's work.
MANY_ACCESSES = 300
# Log-ins refused this often from one address are no slips of the finger.
MANY_LOG_INS = 5


def auditors_desk(actor: Actor, on: date, at: datetime) -> Iterator[Waiting]:
    """What an auditor looks at first: refusals, the unusual, the late, the gone."""
    yield from _refusals(at)
    yield from open_stock_takes(actor, on)
    yield from _unusual(at)
    yield from _late(at)
    yield from _disposals(at)
    yield from _oldest_discrepancies(at)


def _refusals(at: datetime) -> Iterator[Waiting]:
    since = (at - timedelta(days=7)).date().isoformat()
    for outcome, what, tone in (
        (AccessEntry.Outcome.REFUSED, "refused", "wait"),
        (AccessEntry.Outcome.FAILED, "failed", "stop"),
    ):
        rows = refusals(at).filter(outcome=outcome)
        n = rows.count()
        if n:
            people = rows.exclude(person=None).values("person").distinct().count()
            yield Waiting(
                text=f"{count(n, 'act was', 'acts were')} {what} in the last 7 days",
                page="accesses",
                narrowed={"outcome": str(outcome), "first_day": since},
                word=what.capitalize(),
                tone=tone,
                note=f"To {count(people, 'person', 'people')} who were logged in.",
            )


def _unusual(at: datetime) -> Iterator[Waiting]:
    week = AccessEntry.objects.filter(at__gte=at - timedelta(days=7))
    since = (at - timedelta(days=7)).date().isoformat()
    night = week.filter(channel="web").filter(Q(at__hour__lt=5) | Q(at__hour__gte=22))
    n = night.count()
    if n:
        names = night.exclude(name="").order_by("name").values_list("name", flat=True)
        yield Waiting(
            text=f"{count(n, 'access', 'accesses')} between 22:00 and 05:00",
            page="accesses",
            narrowed={"first_day": since},
            word="Unusual",
            note=f"By {', '.join(names.distinct()[:FEW])}." if names else "",
        )
    busy = (
        week.exclude(person=None)
        .values("name", day=TruncDate("at"))
        .annotate(n=Count("pk"))
        .filter(n__gt=MANY_ACCESSES)
        .order_by("-n")
    )
    for row in busy[:FEW]:
        yield Waiting(
            text=f"{row['name']} made {row['n']:,} accesses on {row['day']:%-d %B}",
            page="accesses",
            narrowed={
                "person": row["name"],
                "first_day": row["day"].isoformat(),
                "last_day": row["day"].isoformat(),
            },
            word="Unusual",
        )
    guessed = (
        week.filter(act="session.log_in", outcome=AccessEntry.Outcome.REFUSED)
        .values("address")
        .annotate(n=Count("pk"))
        .filter(n__gte=MANY_LOG_INS)
        .order_by("-n")
    )
    for from_where in guessed[:FEW]:
        yield Waiting(
            text=f"{from_where['n']} log-ins were refused to {from_where['address']}",
            page="accesses",
            narrowed={"act": "session.log_in", "outcome": "refused"},
            word="Unusual",
            tone="stop",
        )


def _late(at: datetime) -> Iterator[Waiting]:
    yield from named_or_counted(
        recorded_late(CustodyMovement.objects.select_related("box", "envelope"), at),
        lambda row: Waiting(
            text=f"Movement {row.number}: {row.get_act_display()}, entered "
            f"{(row.recorded_at - row.occurred_at).days} days after it happened",
            number=(row.box or row.envelope).number,
            word="Late",
        ),
        lambda n: Waiting(
            text=f"{n} movements were entered more than a week after they happened",
            page="accesses",
            word="Late",
        ),
    )
    # A day has no hour, so the comparison is made here; events are few.
    events = CaseEvent.objects.filter(recorded_at__gte=at - LATELY, strikes=None)
    late = [
        row
        for row in events.select_related("case").order_by("-recorded_at")
        if _days_late(row) > 7
    ]
    for row in late[:FEW]:
        yield Waiting(
            text=f"{row.case}: {row.get_kind_display()} on "
            f"{row.occurred_on:%-d %B %Y}, entered {_days_late(row)} days later",
            number=row.case.number,
            word="Late",
        )
    if len(late) > FEW:
        yield Waiting(
            text=f"{len(late) - FEW} more events of cases were entered late",
            page="cases",
            word="Late",
        )


def _days_late(event: CaseEvent) -> int:
    return (event.recorded_at.date() - event.occurred_on).days


def _disposals(at: datetime) -> Iterator[Waiting]:
    rows = DisposalBatch.objects.filter(occurred_at__gte=at - LATELY)
    yield from named_or_counted(
        rows.annotate(n=Count("items")).order_by("-occurred_at", "-id"),
        lambda row: Waiting(
            text=f"Disposal {row.number}: {count(row.n, 'container', 'containers')}, "
            f"{row.occurred_at:%-d %B %Y}",
            number=row.number,
            word="Gone",
            tone="ended",
            note=f"{row.method}, {row.place}.",
        ),
        lambda n: Waiting(
            text=f"{n} disposals in the last 30 days",
            page="disposals",
            word="Gone",
            tone="ended",
        ),
    )


def _oldest_discrepancies(at: datetime) -> Iterator[Waiting]:
    rows = Discrepancy.objects.filter(resolved_at__isnull=True)
    for row in rows.select_related("box", "envelope").order_by("opened_at", "id")[:FEW]:
        days = (at - row.opened_at).days
        bearer = row.box or row.envelope
        yield Waiting(
            text=f"{row.number}: {row.get_kind_display()}, open for "
            f"{count(days, 'day', 'days')}",
            number=bearer.number if bearer else row.number,
            tone="stop" if days > 30 else "wait",
            note=row.detail,
        )
    more = rows.count() - FEW
    if more > 0:
        yield Waiting(
            text=f"{count(more, 'more open discrepancy', 'more open discrepancies')}",
            page="discrepancies",
        )


def administrators_desk(actor: Actor, on: date, at: datetime) -> Iterator[Waiting]:
    """What is not set up yet, in the order in which it is done."""
    yield from _foundations()
    yield from _elections()
    yield from _calendars(on)
    yield from _posts()


def _foundations() -> Iterator[Waiting]:
    for model, text, page in (
        (RetentionSchedule, "Adopt a retention schedule", "schedule-adopt"),
        (CourtCalendar, "Enter the calendar of the court's registry", "calendar-new"),
        (StrongRoom, "Enter a strong room with its shelves", "room-new"),
    ):
        if not model.objects.exists():
            yield Waiting(text=text, page=page, word="To set up")
    ready = RetentionSchedule.objects.exists() and CourtCalendar.objects.exists()
    if ready and not Election.objects.exists():
        yield Waiting(text="Enter an election", page="election-new", word="To set up")


def _elections() -> Iterator[Waiting]:
    for election in Election.objects.filter(contests=None).order_by("id"):
        yield Waiting(
            text=f"{election} has no contests yet",
            number=election.number,
            word="To set up",
        )
    lacking = (
        Contest.objects.filter(stations=None)
        .values("election__number", "election__name")
        .annotate(n=Count("pk"))
        .order_by("election__number")
    )
    for row in lacking:
        yield Waiting(
            text=f"{row['election__name']}: "
            f"{count(row['n'], 'contest has', 'contests have')} no polling stations "
            "yet",
            number=row["election__number"],
            word="To set up",
        )
    served = Q(desks__ended=False, desks__person__is_active=True)
    for election in Election.objects.exclude(
        pk__in=Election.objects.filter(served).values("pk")
    ).order_by("id"):
        yield Waiting(
            text=f"{election} has no legal officer", page="people", word="To appoint"
        )


def _calendars(on: date) -> Iterator[Waiting]:
    year = Q(closures__first_day__year=on.year) | Q(closures__last_day__year=on.year)
    known = CourtCalendar.objects.filter(year).values("pk")
    for row in CourtCalendar.objects.exclude(pk__in=known).order_by("id"):
        yield Waiting(
            text=f"{row.name}: no closed days are entered for {on.year}",
            number=row.number,
            word="To check",
            note="Windows that end on a closed day are computed from these.",
        )


def _posts() -> Iterator[Waiting]:
    kept = Q(charges__ended=False, charges__person__is_active=True)
    for room in StrongRoom.objects.exclude(
        pk__in=StrongRoom.objects.filter(kept).values("pk")
    ).order_by("id"):
        yield Waiting(
            text=f"{room} has no custodian", number=room.number, word="To appoint"
        )
    for role, least, why in (
        (Role.AUTHORITY, 2, "one records a permission, another countersigns it"),
        (Role.AUDITOR, 1, "somebody must read what everybody does"),
    ):
        there = User.objects.filter(role=role.value, is_active=True).count()
        if there < least:
            wanted = count(least - there, "person", "people")
            yield Waiting(
                text=f"Appoint {wanted} more as {role.value.replace('-', ' ')}: {why}",
                page="person-appoint",
                word="To appoint",
            )
