"""When a strong room is next walked, and in which order its shelves are walked.

A schedule may say how often. Where it does not, the house walks a room every quarter
and what a case or an order holds every month, and settles a finding within a week:
common practice, no published source.
"""

import re
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta

from registry.rules.keeping_parts import RoundRules

HOUSE_ROUNDS = RoundRules(
    every_days=91,
    contested_every_days=30,
    climate_every_days=7,
    finding_due_days=7,
    clause="rule of the house: common practice, no published source",
)


@dataclass(frozen=True)
class RoundsDone:
    """What was walked of a room so far.

    Attributes:
        since: the day on which the first of what stands there came in.
        whole: the last day on which the whole room was walked.
        contested: the last day on which what a case holds was walked, alone or in a
            round of the whole room.
        holds_contested: a case or an order holds something that stands there.
    """

    since: date | None
    whole: date | None = None
    contested: date | None = None
    holds_contested: bool = False


@dataclass(frozen=True)
class RoundDue:
    """The next round of a room.

    Attributes:
        on: the day by which it is walked.
        contested_only: only what a case or an order holds has to be seen by then.
    """

    on: date
    contested_only: bool
    clause: str


def strictest(rules: Iterable[RoundRules | None]) -> RoundRules:
    """Return the rules for a room that holds things under several schedules.

    The shortest time counts for each; a schedule that says nothing leaves the rule of
    the house.
    """
    said = [each or HOUSE_ROUNDS for each in rules] or [HOUSE_ROUNDS]
    return RoundRules(
        every_days=min(each.every_days for each in said),
        contested_every_days=min(each.contested_every_days for each in said),
        climate_every_days=min(each.climate_every_days for each in said),
        finding_due_days=min(each.finding_due_days for each in said),
        clause="; ".join(dict.fromkeys(each.clause for each in said if each.clause)),
    )


def next_round(done: RoundsDone, rules: RoundRules) -> RoundDue | None:
    """Return the next round; None where nothing stands in the room.

    A round of the whole room counts for what a case holds as well. Where both are due
    on one day, the whole room is walked.
    """
    if done.since is None:
        return None
    whole = (done.whole or done.since) + timedelta(days=rules.every_days)
    if not done.holds_contested:
        return RoundDue(whole, False, rules.clause)
    seen = max(filter(None, [done.whole, done.contested]), default=done.since)
    contested = seen + timedelta(days=rules.contested_every_days)
    if contested < whole:
        return RoundDue(contested, True, rules.clause)
    return RoundDue(whole, False, rules.clause)


def walking_order(bay: str, level: int | None, shelf: str) -> tuple[object, ...]:
    """Return what shelves are sorted by: bay by bay, in each from the floor up.

    Codes are read as people read them: shelf 9 comes before shelf 10.
    """
    return (_natural(bay), level if level is not None else 0, _natural(shelf))


def _natural(code: str) -> tuple[tuple[int, int, str], ...]:
    parts = re.findall(r"\d+|\D+", code.casefold())
    return tuple(
        (0, int(part), "") if part.isdigit() else (1, 0, part) for part in parts
    )
