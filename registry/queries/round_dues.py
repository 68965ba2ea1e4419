"""When a room is next walked, by the schedules of what stands in it."""

from datetime import date

from django.db.models import Min

from registry.models import (
    Box,
    ContainerState,
    Election,
    Envelope,
    InspectionRound,
    RetentionSchedule,
    StrongRoom,
)
from registry.queries.keeping import legal_date, schedule_of
from registry.queries.rounds import contested, to_be_seen
from registry.rules.keeping_parts import RoundRules
from registry.rules.powers import Actor
from registry.rules.rounds import RoundDue, RoundsDone, next_round, strictest

_LIVE = (ContainerState.HELD, ContainerState.QUARANTINED)


def round_rules_of(room: StrongRoom) -> RoundRules:
    """Return how often a room is walked and its climate read, by what stands in it."""
    elections: set[int | None] = set()
    for model in (Box, Envelope):
        rows = model._default_manager.filter(room=room, state__in=_LIVE)
        elections |= set(rows.values_list("election_id", flat=True).distinct())
    schedules = RetentionSchedule.objects.filter(
        election__in=[e for e in elections if e]
    )
    return strictest(schedule_of(row).keeping.rounds for row in schedules.distinct())


def round_due(room: StrongRoom, actor: Actor, on: date) -> RoundDue | None:
    """Return the next round of a room; None where nothing stands in it."""
    things = to_be_seen(room, actor, on)
    if not things:
        return None
    first = things[0].election
    ended = {
        flag: _last_day(room, first, contested_only=flag) for flag in (False, True)
    }
    done = RoundsDone(
        since=_since(room),
        whole=ended[False],
        contested=ended[True],
        holds_contested=any(contested(things, on)),
    )
    return next_round(done, round_rules_of(room))


def _last_day(
    room: StrongRoom, election: Election | None, *, contested_only: bool
) -> date | None:
    row = (
        room.rounds.filter(
            state=InspectionRound.State.DONE, contested_only=contested_only
        )
        .order_by("-walked_from")
        .first()
    )
    return legal_date(election, row.walked_from) if row else None


def _since(room: StrongRoom) -> date | None:
    days = []
    for model in (Box, Envelope):
        rows = model._default_manager.filter(room=room, state__in=_LIVE)
        days.append(rows.aggregate(first=Min("received_on"))["first"])
    return min((day for day in days if day), default=None)
