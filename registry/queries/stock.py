"""The stock of rooms at any two moments and what changed between, from the history.

Nothing is kept for this: every version of every box and envelope is on record, so the
account of any period can be drawn up at any time, and comes out the same.
"""

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db.models import Count, Max, QuerySet

from registry.models import Box, ContainerState, Envelope
from registry.queries.scope import containers_in_scope
from registry.rules.powers import Actor, Role
from registry.rules.stock import AWAY, Class, Flow, Held, Line, account, flows_between

_ENDED = {
    ContainerState.DISPOSED.value: Flow.DISPOSED,
    ContainerState.SUPERSEDED.value: Flow.SUPERSEDED,
}
_NOUNS = ((Box, "box"), (Envelope, "envelope"))


@dataclass(frozen=True)
class Period:
    """From one moment up to another, which does not belong to it."""

    begins: datetime
    ends: datetime


def stock_account(
    rooms: Sequence[int], actor: Actor, period: Period
) -> tuple[Line, ...]:
    """Return the account of these rooms, of what the actor may see."""
    opening: Counter[Class] = Counter()
    counted: Counter[Class] = Counter()
    flows: Counter[tuple[Class, Flow]] = Counter()
    away: Counter[tuple[Class, str]] = Counter()
    for model, noun in _NOUNS:
        versions = _versions(model, rooms, actor)
        opening += _stock(versions, noun, period.begins)
        counted += _stock(versions, noun, period.ends)
        away += _away(versions, noun, period.ends)
        flows += _flows(versions, noun, period)
    lines = account(opening, flows, counted, away)
    return tuple(line for line in lines if line.of.room in rooms)


def _versions(model: Any, rooms: Sequence[int], actor: Actor) -> QuerySet[Any]:
    """Return every version of what was ever in one of the rooms."""
    rows: QuerySet[Any] = model.history.filter(
        id__in=model.history.filter(room_id__in=rooms).values("id")
    )
    if actor.role is Role.LEGAL:
        seen = containers_in_scope(model.objects.all(), actor)
        rows = rows.filter(id__in=seen.values("id"))
    return rows


def _standing_at(versions: QuerySet[Any], at: datetime) -> QuerySet[Any]:
    """Narrow versions to the last one of each container before a moment."""
    last = (
        versions.filter(history_date__lt=at)
        .order_by()
        .values("id")
        .annotate(last=Max("history_id"))
        .values("last")
    )
    return versions.filter(history_id__in=last)


def _stock(versions: QuerySet[Any], noun: str, at: datetime) -> Counter[Class]:
    rows = (
        _standing_at(versions, at)
        .exclude(state__in=_ENDED)
        .order_by()
        .values_list("room_id", "kind")
        .annotate(n=Count("history_id"))
    )
    return Counter({Class(room, noun, kind): n for room, kind, n in rows})


def _away(
    versions: QuerySet[Any], noun: str, at: datetime
) -> Counter[tuple[Class, str]]:
    rows = (
        _standing_at(versions, at)
        .exclude(state__in=_ENDED)
        .filter(whereabouts__in=tuple(AWAY))
        .order_by()
        .values_list("room_id", "kind", "whereabouts")
        .annotate(n=Count("history_id"))
    )
    return Counter(
        {(Class(room, noun, kind), where): n for room, kind, where, n in rows}
    )


def _flows(
    versions: QuerySet[Any], noun: str, period: Period
) -> Counter[tuple[Class, Flow]]:
    changed = versions.filter(
        history_date__gte=period.begins, history_date__lt=period.ends
    )
    touched = versions.filter(id__in=changed.order_by().values("id"))
    before = _standing_at(touched, period.begins)
    was = {held.container: held for held in _held(before, noun)}
    return flows_between(was, _held(changed.order_by("id", "history_id"), noun))


def _held(versions: QuerySet[Any], noun: str) -> Iterator[Held]:
    rows = versions.values_list("id", "room_id", "kind", "state", "supersedes_id")
    for container, room, kind, state, old in rows.iterator(chunk_size=5000):
        ended = _ENDED.get(state)
        yield Held(container, room, noun, kind, ended, succeeds=old is not None)
