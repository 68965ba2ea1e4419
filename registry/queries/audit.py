"""Accesses as an auditor reads them: newest first, by key, narrowed."""

from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from django.db.models import Q, QuerySet

from registry.models import AccessEntry
from registry.queries.timeline import words_for

PAGE = 50


@dataclass(frozen=True)
class AccessesWanted:
    """What the list of accesses is narrowed to; empty means any.

    Attributes:
        person: log-in name or part of a name, as entered with the access.
        number: the register number looked at, or shown in a list.
        before: the key of the last entry of the page before.
    """

    person: str = ""
    act: str = ""
    outcome: str = ""
    number: str = ""
    first_day: date | None = None
    last_day: date | None = None
    before: int = 0


@dataclass(frozen=True)
class AccessRow:
    """One access: who, when, what, from where, and how it ended."""

    at: datetime
    name: str
    role: str
    act: str
    words: str
    subject: str
    outcome: str
    outcome_title: str
    reason: str
    address: str
    channel: str
    detail: dict[str, Any]
    shown: int


@dataclass(frozen=True)
class AccessPage:
    """One page of accesses."""

    rows: tuple[AccessRow, ...]
    next_before: int | None
    acts: tuple[tuple[str, str], ...] = field(default=())


def accesses(wanted: AccessesWanted, zone: ZoneInfo) -> AccessPage:
    """Return a page of accesses, newest first.

    Args:
        zone: in which the days asked for begin and end.
    """
    rows = narrowed(AccessEntry.objects.all(), wanted, zone)
    if wanted.before:
        rows = rows.filter(id__lt=wanted.before)
    found = list(rows.order_by("-id").prefetch_related("shown")[: PAGE + 1])
    acts = AccessEntry.objects.order_by("act").values_list("act", flat=True).distinct()
    return AccessPage(
        rows=tuple(access_row(entry) for entry in found[:PAGE]),
        next_before=found[PAGE - 1].pk if len(found) > PAGE else None,
        acts=tuple((act, words_for(act)) for act in acts),
    )


def narrowed(
    rows: QuerySet[AccessEntry], wanted: AccessesWanted, zone: ZoneInfo
) -> QuerySet[AccessEntry]:
    """Narrow accesses to what is wanted."""
    if wanted.person:
        rows = rows.filter(
            Q(name__icontains=wanted.person)
            | Q(person__username__iexact=wanted.person)
            | Q(person__number__iexact=wanted.person)
        )
    if wanted.act:
        rows = rows.filter(act=wanted.act)
    if wanted.outcome:
        rows = rows.filter(outcome=wanted.outcome)
    if wanted.number:
        shown = AccessEntry.objects.filter(shown__number=wanted.number).values("pk")
        rows = rows.filter(Q(subject=wanted.number) | Q(pk__in=shown))
    if wanted.first_day:
        rows = rows.filter(at__gte=day_begins(wanted.first_day, zone))
    if wanted.last_day and wanted.last_day < date.max:
        rows = rows.filter(at__lt=day_begins(wanted.last_day + timedelta(days=1), zone))
    return rows


def day_begins(day: date, zone: ZoneInfo) -> datetime:
    """Return the first moment of a day; nothing was entered before 1900."""
    day = max(day, date(1900, 1, 1))
    return datetime(day.year, day.month, day.day, tzinfo=zone)


def access_row(entry: AccessEntry) -> AccessRow:
    """Return an access as pages show it."""
    return AccessRow(
        at=entry.at,
        name=entry.name or "somebody not logged in",
        role=entry.role,
        act=entry.act,
        words=words_for(entry.act),
        subject=entry.subject,
        outcome=entry.outcome,
        outcome_title=entry.get_outcome_display(),
        reason=entry.reason,
        address=entry.address,
        channel=entry.channel,
        detail=entry.detail,
        shown=len(entry.shown.all()),
    )
