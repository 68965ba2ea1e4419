"""What stands in the way of opening or disposing of a container: all of it.

Every obstacle is listed, never the first alone, so that a refusal says all that has
to be put right. Nothing implies anything else: a permission to open permits no
destruction, one for a box names each envelope in it before these may be taken out or
destroyed. The caller asks inside the transaction that acts.
"""

from collections.abc import Iterator, Mapping, Sequence
from datetime import date

from registry.rules.authority import not_entitled
from registry.rules.disposal_facts import (
    ACT_TITLES,
    DISPOSED,
    HELD,
    QUARANTINED,
    Act,
    ConfirmationFact,
    ContainerFact,
    IncidentFact,
    Obstacle,
    PermissionFact,
    as_compared,
)
from registry.rules.retention import Hold, Reason
from registry.rules.schedules import ContentKind, DestructionLevel, Schedule
from registry.rules.steps import Fact

__all__ = [
    "ACT_TITLES",
    "Act",
    "ConfirmationFact",
    "ContainerFact",
    "IncidentFact",
    "Obstacle",
    "PermissionFact",
    "obstacles_to_disposal",
    "obstacles_to_opening",
]

WITNESSES_NEEDED = 2


# These reach what is inside: each thing inside must be free and named as well.
_REACHING_INSIDE = frozenset({Act.TAKE_OUT, Act.DESTROY})


def obstacles_to_disposal(
    *,
    container: ContainerFact,
    permission: PermissionFact | None,
    confirmation: ConfirmationFact | None,
    schedule: Schedule,
    kind: ContentKind,
    witnesses: Sequence[str],
    custodian: str,
    method: str,
    level: str,
    on: date,
) -> tuple[Obstacle, ...]:
    """Return everything that stands in the way of destroying the container.

    Args:
        container: as it stands, with what lies in it.
        permission: the one relied on, in force or not.
        confirmation: the latest on file for the contest.
        schedule: the version to which the election is pinned.
        kind: what the container holds.
        witnesses: the names of those who will see it.
        custodian: the name of the one who disposes.
        method: how it will be destroyed.
        level: ``P-1`` to ``P-7``.
        on: the day of the act.

    Raises:
        ValueError: a retention was worked out as of another day than ``on``.
    """
    act = Act.DESTROY
    return (
        *_still_kept(container, act, on),
        *_confirmation(container, act, confirmation, schedule, permission, on),
        *_permission(container, act, permission, on),
        *not_entitled(container, act, permission, schedule),
        *_condition(container, act, schedule, on),
        *_people(witnesses, custodian),
        *_destruction(schedule, kind, method, level),
    )


def obstacles_to_opening(
    *,
    act: Act,
    container: ContainerFact,
    permission: PermissionFact | None,
    confirmation: ConfirmationFact | None,
    schedule: Schedule,
    on: date,
) -> tuple[Obstacle, ...]:
    """Return everything that stands in the way of entering, opening or taking out.

    The time of keeping, orders and the confirmation stand in the way unless the
    permission expressly allows the act while the container is still kept. Entering
    a strong room needs the permission alone.

    Args:
        act: any but ``DESTROY``.
        container: the box or envelope; for ``ENTER_ROOM`` the strong room.
        permission: the one relied on, in force or not.
        confirmation: the latest on file for the contest.
        schedule: the version to which the election is pinned.
        on: the day of the act.

    Raises:
        ValueError: the act is ``DESTROY``, which ``obstacles_to_disposal`` judges, or
            a retention was worked out as of another day than ``on``.
    """
    if act is Act.DESTROY:
        raise ValueError("Destruction is judged by obstacles_to_disposal.")
    permitted = _permission(container, act, permission, on)
    if act is Act.ENTER_ROOM:
        return tuple(permitted)
    kept: list[Obstacle] = []
    if not _lifts_the_keeping(permission, act, on):
        kept += _still_kept(container, act, on)
        kept += _confirmation(container, act, confirmation, schedule, permission, on)
    entitled = not_entitled(container, act, permission, schedule)
    condition = _condition(container, act, schedule, on)
    return (*kept, *permitted, *entitled, *condition)


def _reached(container: ContainerFact, act: Act) -> Iterator[ContainerFact]:
    """Yield the container, and what lies in it where the act reaches that."""
    yield container
    if act in _REACHING_INSIDE:
        for inner in container.contents:
            yield from _reached(inner, act)


def _still_kept(container: ContainerFact, act: Act, on: date) -> Iterator[Obstacle]:
    """Name each term, case and order that holds, once for a box and its contents."""
    seen: set[tuple[Reason, str, date | None]] = set()
    for each in _reached(container, act):
        if each.retention is None:
            yield Obstacle("retention-not-worked-out", {"container": each.called})
            continue
        if each.retention.as_of != on:
            raise ValueError(
                f"Retention of {each.number} is as of {each.retention.as_of}, "
                f"the act is on {on}: work it out again."
            )
        for hold in each.retention.running:
            same = (hold.reason, hold.governed_by, hold.through)
            if same not in seen:
                seen.add(same)
                yield _held(each, hold)


_HELD_WITHOUT_END = {
    Reason.CASE_PENDING: "held-by-case",
    Reason.APPEAL_WINDOW: "held-by-unsettled-case",
    Reason.PRESERVATION_ORDER: "held-by-order",
    Reason.UNKNOWN_INPUT: "held-by-unknown",
}
_HELD_THROUGH = {
    Reason.APPEAL_WINDOW: "held-by-window",
    Reason.PRESERVATION_ORDER: "held-by-order-until",
    Reason.TERM: "held-by-term",
}


def _held(container: ContainerFact, hold: Hold) -> Obstacle:
    facts: dict[str, Fact] = {"container": container.called, "governing": hold.called}
    if hold.through is None:
        return Obstacle(_HELD_WITHOUT_END[hold.reason], facts)
    return Obstacle(_HELD_THROUGH[hold.reason], {**facts, "through": hold.through})


def _confirmation(
    container: ContainerFact,
    act: Act,
    confirmation: ConfirmationFact | None,
    schedule: Schedule,
    permission: PermissionFact | None,
    on: date,
) -> Iterator[Obstacle]:
    if not schedule.confirmation_required:
        return
    if schedule.express_order_suffices and _stands_in(permission, act, on):
        return
    clause = schedule.confirmation_clause
    if confirmation is None:
        yield Obstacle("no-confirmation", {"clause": clause})
        return
    facts: dict[str, Fact] = {
        "confirmation": confirmation.number,
        "dated": confirmation.dated,
        "covers_through": confirmation.covers_through,
        "clause": clause,
    }
    if confirmation.dated > on:
        yield Obstacle("confirmation-dated-ahead", {**facts, "on": on})
    kept = [each.retention for each in _reached(container, act) if each.retention]
    for wanted in sorted({retention.contest for retention in kept}):
        if confirmation.contest != wanted:
            told = {**facts, "contest": confirmation.contest, "wanted": wanted}
            yield Obstacle("confirmation-of-another-contest", told)
    needed = max((r.confirm_through for r in kept if r.confirm_through), default=None)
    # Given on the window's last day it could not know what was filed later that day.
    if needed and (
        confirmation.dated <= needed or confirmation.covers_through < needed
    ):
        yield Obstacle("confirmation-too-old", {**facts, "needed": needed})


def _permission(
    container: ContainerFact, act: Act, permission: PermissionFact | None, on: date
) -> list[Obstacle]:
    if permission is None:
        return [Obstacle("no-permission", {})]
    facts: dict[str, Fact] = {"permission": permission.number}
    found = list(_force(permission, facts, on))
    if permission.act is not act:
        titles = {"permitted": ACT_TITLES[permission.act], "wanted": ACT_TITLES[act]}
        found.append(Obstacle("another-act", {**facts, **titles}))
    found += [
        Obstacle("not-covered", {**facts, "container": each.called})
        for each in _reached(container, act)
        if each.number not in permission.covers
    ]
    found += [
        Obstacle("condition-unmet", {**facts, "condition": condition.rstrip(".")})
        for condition in permission.conditions_unmet
    ]
    return found


def _force(
    permission: PermissionFact, facts: Mapping[str, Fact], on: date
) -> Iterator[Obstacle]:
    """Name each reason for which a permission has no force on the day."""
    countersigned, revoked = permission.countersigned_at, permission.revoked_at
    if countersigned is None:
        yield Obstacle("not-countersigned", facts)
    elif countersigned.date() > on:
        told = {**facts, "countersigned_on": countersigned.date(), "on": on}
        yield Obstacle("countersigned-later", told)
    valid_from = max(permission.valid_from, permission.dated)
    if valid_from > on:
        yield Obstacle("not-yet-valid", {**facts, "valid_from": valid_from})
    if permission.valid_until < on:
        yield Obstacle("expired", {**facts, "valid_until": permission.valid_until})
    # Whenever it was revoked: an act dated back before that is refused as well.
    if revoked is not None:
        yield Obstacle("revoked", {**facts, "revoked_on": revoked.date()})


def _lifts_the_keeping(permission: PermissionFact | None, act: Act, on: date) -> bool:
    """Tell whether it has force and expressly allows the act on what is still kept."""
    if permission is None or not permission.while_still_kept:
        return False
    return permission.act is act and not any(_force(permission, {}, on))


def _stands_in(permission: PermissionFact | None, act: Act, on: date) -> bool:
    """Tell whether it has force and expressly stands in for the confirmation."""
    if permission is None or not permission.instead_of_confirmation:
        return False
    return permission.act is act and not any(_force(permission, {}, on))


def _condition(
    container: ContainerFact, act: Act, schedule: Schedule, on: date
) -> Iterator[Obstacle]:
    """Name what is wrong with the things themselves, and with the outer seal."""
    yield from _incidents(container, act)
    for each in _reached(container, act):
        facts: dict[str, Fact] = {"container": each.called}
        for discrepancy in each.open_discrepancies:
            yield Obstacle("discrepancy-open", {**facts, "discrepancy": discrepancy})
        if each.state == QUARANTINED:
            yield Obstacle("quarantined", facts)
        elif each.state == DISPOSED:
            yield Obstacle("already-disposed", facts)
        elif each.state != HELD:
            yield Obstacle("not-held", {**facts, "state": each.state})
        if not each.whereabouts_present:
            yield Obstacle("not-present", {**facts, "whereabouts": each.whereabouts})
    yield from _in_a_box(container, act, on)
    # Seals inside cannot be seen before the outer one is broken.
    yield from _seal(container, act, schedule.seal_check_within_days, on)


def _incidents(container: ContainerFact, act: Act) -> Iterator[Obstacle]:
    """Name each open incident that touches the container or anything in it.

    Nothing is destroyed before the incident is closed. It is opened or taken out only
    once the authority has given its direction, for a broken seal is made good by
    opening and sealing anew. (Common practice, no published source.)
    """
    code = "incident-open" if act is Act.DESTROY else "incident-without-direction"
    for each in _with_contents(container):
        for incident in each.incidents:
            if act is Act.DESTROY or not incident.directed:
                facts: dict[str, Fact] = {
                    "container": each.called,
                    "incident": incident.number,
                    "title": incident.title,
                }
                yield Obstacle(code, facts)


def _with_contents(container: ContainerFact) -> Iterator[ContainerFact]:
    yield container
    for inner in container.contents:
        yield from _with_contents(inner)


def _in_a_box(container: ContainerFact, act: Act, on: date) -> Iterator[Obstacle]:
    """Nobody reaches an envelope but through its box, which has a seal of its own."""
    facts: dict[str, Fact] = {"container": container.called, "box": container.lies_in}
    if container.lies_in and act is Act.DESTROY:
        yield Obstacle("lies-in-box", facts)
    elif container.lies_in and container.box_opened_on != on:
        yield Obstacle("box-not-opened", facts)


# A broken seal is made good by opening under the authority's order and sealing anew.
_MAKES_SEALS_GOOD = frozenset({Act.OPEN_BOX, Act.OPEN_ENVELOPE})


def _seal(
    container: ContainerFact, act: Act, within: int, on: date
) -> Iterator[Obstacle]:
    facts: dict[str, Fact] = {"container": container.called}
    checked_on = container.seal_checked_on
    if container.seal_intact is None or checked_on is None:
        yield Obstacle("seal-not-checked", facts)
    elif checked_on > on:
        yield Obstacle(
            "seal-check-ahead", {**facts, "checked_on": checked_on, "on": on}
        )
    elif (on - checked_on).days > within:
        days = f"{within} day" if within == 1 else f"{within} days"
        told = {**facts, "checked_on": checked_on, "days": days}
        yield Obstacle("seal-check-too-old", told)
    if container.seal_intact is False and act not in _MAKES_SEALS_GOOD:
        yield Obstacle("seal-not-intact", facts)


def _people(witnesses: Sequence[str], custodian: str) -> Iterator[Obstacle]:
    keeper = as_compared(custodian)
    names = {as_compared(name): name.strip() for name in witnesses if as_compared(name)}
    if len(names) < WITNESSES_NEEDED:
        yield Obstacle("too-few-witnesses", {"found": len(names) or "none"})
    if keeper in names:
        yield Obstacle("witness-is-custodian", {"witness": names[keeper]})
    if not keeper:
        yield Obstacle("no-custodian", {})


def _destruction(
    schedule: Schedule, kind: ContentKind, method: str, level: str
) -> Iterator[Obstacle]:
    if not method.strip():
        yield Obstacle("no-method", {})
    rules = schedule.classes.get(kind)
    if rules is None:
        facts: dict[str, Fact] = {"schedule": schedule.title, "kind": kind.value}
        facts["version"] = schedule.version
        yield Obstacle("kind-without-rules", facts)
        return
    asked = rules.destruction_level
    facts = {"kind": kind.value, "asked": asked.value, "level": level.strip()}
    fineness = list(DestructionLevel)
    if not level.strip():
        yield Obstacle("no-level", facts)
    elif level.strip() not in fineness:
        yield Obstacle("unknown-level", facts)
    elif fineness.index(DestructionLevel(level.strip())) < fineness.index(asked):
        yield Obstacle("level-too-coarse", facts)
