"""Whether the authority that permits an act is one that the schedule entitles to it."""

from collections.abc import Iterator

from registry.rules.acts import ACT_TITLES, STATE_TITLES, Act
from registry.rules.disposal_facts import (
    ContainerFact,
    Obstacle,
    PermissionFact,
    as_compared,
)
from registry.rules.schedules import Schedule


def not_entitled(
    container: ContainerFact,
    act: Act,
    permission: PermissionFact | None,
    schedule: Schedule,
) -> Iterator[Obstacle]:
    """Yield an obstacle where the schedule names other authorities for the act.

    A schedule that names none leaves it to the order itself.
    """
    if permission is None or container.kind is None or container.retention is None:
        return
    state = container.retention.state
    rules = schedule.authorities_for(act, container.kind, state)
    entitled = {as_compared(rule.authority): rule for rule in rules}
    if entitled and as_compared(permission.authority) not in entitled:
        named = " or ".join(rule.authority for rule in entitled.values())
        clauses = ", ".join(dict.fromkeys(rule.clause for rule in entitled.values()))
        yield Obstacle(
            "another-authority",
            {
                "permission": permission.number,
                "authority": permission.authority,
                "entitled": named,
                "act": ACT_TITLES[act],
                "state": STATE_TITLES[state],
                "clause": clauses,
            },
        )
