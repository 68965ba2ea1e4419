"""Images at risk: slips on paper that fades, of contests on which a case is pending."""

from collections import defaultdict
from dataclasses import dataclass
from datetime import date

from registry.models import (
    ContainerState,
    Contest,
    Envelope,
    Paper,
    StrongRoom,
)
from registry.queries.climate import limits_of, was_out_of_limits
from registry.queries.keeping import Keeper
from registry.queries.scope import contests_of, envelopes_of
from registry.rules.contents import ContentKind
from registry.rules.images import ImageRisk, image_risk
from registry.rules.powers import Actor
from registry.rules.retention import Reason

_LIVE = (ContainerState.HELD, ContainerState.QUARANTINED)
_PENDING = (Reason.CASE_PENDING, Reason.APPEAL_WINDOW)


@dataclass(frozen=True)
class AtRisk:
    """The envelopes of one contest and one paper whose images fade.

    Attributes:
        stands: ``at-risk``, ``warned`` or ``sound`` as of the day.
        cases: (register number, name) of those that are pending; empty where none is.
    """

    contest: str
    contest_number: str
    paper: str
    envelopes: int
    numbers: tuple[str, ...]
    risk: ImageRisk
    stands: str
    cases: tuple[tuple[str, str], ...]


def images_at_risk(
    actor: Actor, on: date, *, contest: Contest | None = None
) -> tuple[AtRisk, ...]:
    """Return what fades, the earliest day first; what a case holds stands before."""
    contests = contests_of(actor).select_related(
        "election__schedule", "election__calendar"
    )
    if contest is not None:
        contests = contests.filter(pk=contest.pk)
    keeper = Keeper(on)
    out = _RoomsOutOfLimits()
    found: list[AtRisk] = []
    for row in contests.order_by("id"):
        found += _of_contest(row, actor, keeper, out, on)
    return tuple(sorted(found, key=lambda one: (not one.cases, one.risk.at_risk_on)))


class _RoomsOutOfLimits:
    """Which rooms were out of limits; each is asked once."""

    def __init__(self) -> None:
        self._known: dict[int, bool] = {}

    def __call__(self, room: StrongRoom) -> bool:
        if room.pk not in self._known:
            self._known[room.pk] = was_out_of_limits(room, limits_of(room))
        return self._known[room.pk]


def _of_contest(
    contest: Contest,
    actor: Actor,
    keeper: Keeper,
    out: _RoomsOutOfLimits,
    on: date,
) -> list[AtRisk]:
    slips = (
        envelopes_of(actor)
        .filter(contest=contest, state__in=_LIVE)
        .exclude(kind=ContentKind.STATUTORY_PACKET.value)
    )
    groups: dict[tuple[str, ImageRisk], list[Envelope]] = defaultdict(list)
    papers = keeper.schedule(contest.election).keeping.papers
    for envelope in slips.select_related("room", "station").order_by("id"):
        polled = envelope.station.polled_on if envelope.station else None
        printed = polled or contest.polled_on
        if printed is None:
            continue
        risk = image_risk(
            envelope.paper, printed, papers, out_of_limits=out(envelope.room)
        )
        if risk is not None:
            groups[envelope.paper, risk].append(envelope)
    if not groups:
        return []
    return [
        AtRisk(
            contest=str(contest),
            contest_number=contest.number,
            paper=Paper(paper).label,
            envelopes=len(envelopes),
            numbers=tuple(envelope.number for envelope in envelopes),
            risk=risk,
            stands=risk.stands(on),
            cases=_pending(contest, envelopes, keeper),
        )
        for (paper, risk), envelopes in groups.items()
    ]


def _pending(
    contest: Contest, envelopes: list[Envelope], keeper: Keeper
) -> tuple[tuple[str, str], ...]:
    """Return the cases that hold any of these envelopes."""
    held: set[str] = set()
    for envelope in envelopes:
        retention = keeper.envelope(envelope)
        held |= {
            hold.governed_by
            for hold in (retention.running if retention else ())
            if hold.reason in _PENDING
        }
    stations = frozenset(e.station_id for e in envelopes if e.station_id)
    bearing = keeper.cases(contest.election).bearing(contest.pk, stations)
    return tuple(
        (case.number, case.title)
        for case in bearing
        if any(case.number in text for text in held)
    )
