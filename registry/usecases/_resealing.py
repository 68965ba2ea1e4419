"""New seals on a container that was opened: the old ones superseded, both linked."""

from collections.abc import Sequence
from datetime import date, datetime

from registry.models import (
    Box,
    ContainerState,
    Envelope,
    Seal,
    SealAct,
    SealEvent,
    SealState,
)
from registry.rules.arrivals import Arrival, Problem, SealEntry, problems_with
from registry.rules.powers import Actor
from registry.rules.schedules import ContentKind
from registry.usecases._recording import (
    TakenMarks,
    enter_problems,
    enter_seals,
    lock_intake,
    mark_the_other,
)
from registry.usecases._records import enter_many


def end_seals(seals: Sequence[Seal]) -> None:
    """Let seals be superseded; what bears their numbers is free of them from now on."""
    for seal in seals:
        seal.state = SealState.SUPERSEDED
        seal.save()


def link_seals(
    old: Sequence[Seal],
    new: Sequence[Seal],
    on: date,
    actor: Actor,
    at: datetime,
    note: str = "",
) -> None:
    """Link new seals to those in whose place they stand, and these to them.

    Args:
        note: by whom or under what, where an event before this one does not say so.
    """
    for seal in new:
        seal.supersedes = old[0] if old else None
        seal.save()
    by = "By " + ", ".join(one.number for one in new)
    enter_many(
        [
            SealEvent(
                seal=seal,
                act=SealAct.SUPERSEDED,
                occurred_on=on,
                recorded_at=at,
                recorded_by_id=actor.person_id,
                note=f"{by}. {note}".strip() if note else by,
            )
            for seal in old
        ]
    )


def reseal(
    of: Box | Envelope,
    entries: Sequence[SealEntry],
    on: date,
    actor: Actor,
    at: datetime,
    note: str = "",
) -> list[Problem]:
    """Put new seals on a container in place of those that it bore.

    Anything wrong with them puts it into quarantine, as at intake; returns it.
    """
    lock_intake()
    old = list(of.seals.not_superseded().order_by("id"))
    end_seals(old)
    arrival = Arrival(
        noun="box" if isinstance(of, Box) else "envelope",
        kind=ContentKind(of.kind),
        received_on=on,
        seals=tuple(entries),
    )
    problems = problems_with(
        arrival,
        (),
        is_expected=True,
        same_seal_on=TakenMarks.for_arrivals([arrival]).seals,
    )
    of.sealed_on = on
    if problems:
        of.state = ContainerState.QUARANTINED
    of.save()
    link_seals(old, enter_seals([(of, arrival)], actor, at), on, actor, at, note)
    enter_problems([(of, problems)], at)
    mark_the_other(problems, at)
    return list(problems)
