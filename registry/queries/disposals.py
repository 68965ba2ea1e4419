"""What stands against disposals, and those that were carried out."""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime

from django.db.models import Count, QuerySet

from registry.models import (
    CONTENT_TITLES,
    Box,
    ContainerState,
    Contest,
    DisposalBatch,
    Election,
    Envelope,
    Permission,
)
from registry.queries.containers import (
    ContainerRow,
    RetentionShown,
    container_rows,
    shown,
    title_of,
)
from registry.queries.keeping import Keeper, confirmation_for, legal_date, schedule_of
from registry.queries.standing import conditions_of, container_facts, permission_fact
from registry.rules.disposal_facts import ConfirmationFact, ContainerFact, Obstacle
from registry.rules.disposals import obstacles_to_disposal
from registry.rules.schedules import ContentKind

# What nobody can know before the day: who will see it, and how it is done.
OF_THE_DAY = frozenset(
    {"too-few-witnesses", "witness-is-custodian", "no-custodian", "no-method",
     "no-level", "condition-unmet"}
)  # fmt: skip

# What stands in the way may have a page of its own.
_NUMBER = re.compile(r"\b(?:CA|PO)-\d{6,9}-[0-9A-Z]\b")
NUMBERED = ("incident", "discrepancy", "confirmation", "permission", "box")


@dataclass(frozen=True)
class DisposalPlan:
    """How containers are to be disposed of.

    Attributes:
        containers: register numbers of boxes, or of envelopes outside boxes.
        method: in words, such as cross-cut shredding.
        level: particle level of ISO/IEC 21964, ``P-1`` to ``P-7``.
        witnesses: two names, each with its post after a comma; neither is the one
            who disposes.
        conditions_met: the permission's conditions, ticked off one by one.
    """

    containers: tuple[str, ...]
    method: str = ""
    level: str = ""
    place: str = ""
    witnesses: tuple[str, ...] = ()
    conditions_met: tuple[str, ...] = ()
    remarks: str = ""

    @property
    def witness_names(self) -> tuple[str, ...]:
        """The witnesses' names, without their posts."""
        return tuple(witness.partition(",")[0] for witness in self.witnesses)


@dataclass(frozen=True)
class Judged:
    """A container, its facts, and all that stands against its disposal."""

    container: Box | Envelope
    facts: ContainerFact
    obstacles: tuple[Obstacle, ...]


@dataclass(frozen=True)
class ObstacleShown:
    """One obstacle as a page shows it."""

    code: str
    text: str
    remedy: str
    number: str


@dataclass(frozen=True)
class Standing:
    """What stands against the disposal of one container, as a page shows it."""

    number: str
    noun: str
    title: str
    state: str
    obstacles: tuple[ObstacleShown, ...]
    retention: RetentionShown
    permission: str
    conditions: tuple[str, ...]
    contents: int
    as_of: date

    @property
    def is_free(self) -> bool:
        """Whether nothing stands against it but what belongs to the day itself."""
        return not self.obstacles


def judge_disposal(
    containers: Sequence[Box | Envelope],
    permission: Permission | None,
    plan: DisposalPlan,
    custodian: str,
    at: datetime,
) -> list[Judged]:
    """Ask the rules about each container, with the facts as they are now."""
    keepers: dict[date, Keeper] = {}
    confirmations: dict[int, ConfirmationFact | None] = {}
    relied_on = permission_fact(permission, plan.conditions_met) if permission else None
    facts = _facts(containers, keepers, at)
    judged = []
    for of in containers:
        on = legal_date(of.election, at)
        if of.election is None:
            unknown = Obstacle("quarantined", {"container": facts[of.number].called})
            judged.append(Judged(of, facts[of.number], (unknown,)))
            continue
        if of.contest and of.contest.pk not in confirmations:
            confirmations[of.contest.pk] = confirmation_for(of.contest, on)
        found = obstacles_to_disposal(
            container=facts[of.number],
            permission=relied_on,
            confirmation=confirmations.get(of.contest_id or 0),
            schedule=keepers[on].schedule(of.election),
            kind=ContentKind(of.kind),
            witnesses=plan.witness_names,
            custodian=custodian,
            method=plan.method,
            level=plan.level,
            on=on,
        )
        judged.append(Judged(of, facts[of.number], found))
    return judged


def _facts(
    containers: Sequence[Box | Envelope], keepers: dict[date, Keeper], at: datetime
) -> dict[str, ContainerFact]:
    """Return the facts of each container as of the day it is where its law holds."""
    by_day: dict[date, list[Box | Envelope]] = {}
    for of in containers:
        by_day.setdefault(legal_date(of.election, at), []).append(of)
    facts = {}
    for on, alike in by_day.items():
        keepers[on] = Keeper(on)
        for fact in container_facts(alike, keepers[on]):
            facts[fact.number] = fact
    return facts


def outermost(
    permission: Permission, boxes: QuerySet[Box], envelopes: QuerySet[Envelope]
) -> list[Box | Envelope]:
    """Return what a permission names and still stands, envelopes in its boxes not.

    Args:
        boxes, envelopes: those the actor may see.
    """
    named = permission.items
    live_boxes = boxes.filter(pk__in=named.values("box")).exclude(
        state=ContainerState.DISPOSED
    )
    live_envelopes = (
        envelopes.filter(pk__in=named.exclude(envelope=None).values("envelope"))
        .exclude(state=ContainerState.DISPOSED)
        .exclude(box__in=live_boxes)
    )
    found: list[Box | Envelope] = []
    for rows in (live_boxes, live_envelopes):
        found += rows.select_related("election", "contest__election").order_by("id")
    return found


def levels_asked(election: Election, kinds: set[str]) -> tuple[tuple[str, str], ...]:
    """Return the particle level that the schedule asks for each class of content."""
    classes = schedule_of(election.schedule).classes
    return tuple(
        (CONTENT_TITLES[ContentKind(kind)], rules.destruction_level.value)
        for kind in sorted(kinds)
        if (rules := classes.get(ContentKind(kind)))
    )


def standings(
    containers: Sequence[Box | Envelope],
    permission: Permission | None,
    actor_name: str,
    at: datetime,
) -> list[Standing]:
    """Say of each container what stands against disposing of it, before the day."""
    plan = DisposalPlan(containers=())
    return [
        _standing(judged, permission, at)
        for judged in judge_disposal(containers, permission, plan, actor_name, at)
    ]


def _standing(judged: Judged, permission: Permission | None, at: datetime) -> Standing:
    of, facts = judged.container, judged.facts
    on = legal_date(of.election, at)
    return Standing(
        number=of.number,
        noun=facts.noun,
        title=title_of(of),
        state=of.get_state_display(),
        obstacles=tuple(
            obstacle_shown(o) for o in judged.obstacles if o.code not in OF_THE_DAY
        ),
        retention=shown(facts.retention, on),
        permission=permission.number if permission else "",
        conditions=tuple(conditions_of(permission)) if permission else (),
        contents=len(facts.contents),
        as_of=on,
    )


def obstacle_shown(obstacle: Obstacle) -> ObstacleShown:
    """Return an obstacle with its remedy and the number of what stands in the way."""
    number = next((str(obstacle.facts[n]) for n in NUMBERED if n in obstacle.facts), "")
    if "governing" in obstacle.facts:
        named = _NUMBER.search(str(obstacle.facts["governing"]))
        number = named[0] if named else ""
    return ObstacleShown(obstacle.code, obstacle.text, obstacle.remedy, number)


@dataclass(frozen=True)
class DisposalRow:
    """A disposal in a list."""

    number: str
    election: str
    permission: str
    occurred_at: datetime
    place: str
    disposed_by: str
    items: int
    certificate: str
    document: str


def disposal_rows(batches: QuerySet[DisposalBatch]) -> list[DisposalRow]:
    """Return disposals as rows of a list, newest first."""
    rows = batches.select_related(
        "election", "permission", "disposed_by", "certificate__document"
    ).annotate(things=Count("items"))
    return [_disposal_row(batch) for batch in rows.order_by("-id")]


def _disposal_row(batch: DisposalBatch) -> DisposalRow:
    return DisposalRow(
        number=batch.number,
        election=str(batch.election),
        permission=batch.permission.number,
        occurred_at=batch.occurred_at,
        place=batch.place,
        disposed_by=str(batch.disposed_by),
        items=batch.things,  # type: ignore[attr-defined]
        certificate=batch.certificate.number,
        document=batch.certificate.document.number,
    )


def over_and_still_here(
    boxes: QuerySet[Box], envelopes: QuerySet[Envelope], at: datetime
) -> list[ContainerRow]:
    """Return the boxes and loose envelopes whose time of keeping is over.

    Over says only that no term, case or order runs on this day.
    """
    loose = envelopes.filter(box__isnull=True)
    found: list[ContainerRow] = []
    for rows in (boxes, loose):
        live = rows.exclude(state=ContainerState.DISPOSED).filter(contest__isnull=False)
        ids = live.values_list("contest__election", flat=True).distinct()
        for contest in Contest.objects.filter(election__in=set(ids)).select_related(
            "election"
        ):
            on = legal_date(contest.election, at)
            of_contest = live.filter(contest=contest).order_by("id")
            found += [
                row
                for row in container_rows(of_contest, Keeper(on))
                if row.held_until is not None and row.held_until < on
            ]
    return found
