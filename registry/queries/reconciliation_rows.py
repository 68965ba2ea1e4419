"""A reconciliation as its page and its report show it."""

from dataclasses import dataclass
from datetime import date, datetime

from registry.models import CONTENT_TITLES, Contest, Election
from registry.queries.reconciliation import contest_facts
from registry.queries.scope import discrepancies_of
from registry.rules.powers import Actor
from registry.rules.reconciliation import Reconciliation, reconcile
from registry.rules.reconciliation_accounted import Accounted, accounted_for
from registry.rules.reconciliation_facts import ContestFacts
from registry.rules.reconciliation_findings import Difference, State
from registry.rules.reconciliation_stages import Stages

TONES = {State.UNEXPLAINED: "stop", State.IN_HAND: "wait", State.EXPLAINED: "clear"}


@dataclass(frozen=True)
class Answer:
    """A discrepancy that answers for a difference.

    Attributes:
        is_visible: whether the asker may open its page.
    """

    number: str
    is_visible: bool
    owner: str
    due_on: date | None
    resolved_at: datetime | None
    resolution: str


@dataclass(frozen=True)
class DifferenceRow:
    """One difference.

    Attributes:
        key: what names it in an address; empty where the asker may not open a
            discrepancy for it, since it is about containers in another room.
        containers: register numbers of those it is about that the asker may see.
    """

    key: str
    reason: str
    title: str
    content: str
    text: str
    remedy: str
    state: str
    tone: str
    containers: tuple[str, ...]
    answers: tuple[Answer, ...]


@dataclass(frozen=True)
class StageRow:
    """How many envelopes of one content came how far; see the rule's ``Stages``."""

    content: str
    stages: Stages


@dataclass(frozen=True)
class ReconciliationFile:
    """Everything that the page of a reconciliation shows.

    Attributes:
        open: what nothing explains yet, those that nobody has in hand first.
        compared: how many control units' votes were held against slips; of how many.
        slips_less_votes: of all of these together.
    """

    number: str
    title: str
    election: str
    election_number: str
    stations: int
    unit_sets: int
    stages: tuple[StageRow, ...]
    open: tuple[DifferenceRow, ...]
    explained: tuple[DifferenceRow, ...]
    accounted: tuple[Accounted, ...]
    compared: int
    countable: int
    slips_less_votes: int

    @property
    def unexplained(self) -> int:
        """How many differences nobody has in hand."""
        return sum(row.state == State.UNEXPLAINED for row in self.open)

    @property
    def in_hand(self) -> int:
        """For how many a discrepancy is open."""
        return len(self.open) - self.unexplained

    @property
    def signed_difference(self) -> str:
        """Slips less votes, with its sign."""
        return f"{self.slips_less_votes:+,}" if self.slips_less_votes else "0"

    @property
    def is_at_zero(self) -> bool:
        """Whether no difference is left that is not explained."""
        return not self.open

    @property
    def containers(self) -> list[str]:
        """The register numbers that it shows."""
        rows = (*self.open, *self.explained)
        named = [number for row in rows for number in row.containers]
        return [*named, *(each.number for each in self.accounted if each.number)]


@dataclass(frozen=True)
class ContestStanding:
    """How far a contest is reconciled."""

    number: str
    title: str
    stations: int
    expected: int
    registered: int
    unexplained: int
    in_hand: int
    explained: int


def reconciliation_file(contest: Contest, actor: Actor) -> ReconciliationFile:
    """Reconcile a contest, for its page and its report."""
    facts = contest_facts(contest.election, [contest], actor)[contest.number]
    found = reconcile(facts)
    rows = _rows(facts, found, actor)
    return ReconciliationFile(
        number=contest.number,
        title=str(contest),
        election=str(contest.election),
        election_number=contest.election.number,
        stations=len(facts.stations),
        unit_sets=sum(len(station.units) for station in facts.stations),
        stages=tuple(
            StageRow(CONTENT_TITLES[each.kind], each) for each in found.stages
        ),
        open=tuple(row for row in rows if row.state != State.EXPLAINED),
        explained=tuple(row for row in rows if row.state == State.EXPLAINED),
        accounted=_accounted(facts),
        compared=len(found.counts),
        countable=found.countable,
        slips_less_votes=sum(each.amount for each in found.counts),
    )


def standings(election: Election, actor: Actor) -> tuple[ContestStanding, ...]:
    """Reconcile every contest of an election, read at once."""
    contests = list(election.contests.order_by("id"))
    facts = contest_facts(election, contests, actor)
    found = []
    for contest in contests:
        of = reconcile(facts[contest.number])
        foretold = [each for each in of.stages if each.expected is not None]
        found.append(
            ContestStanding(
                number=contest.number,
                title=str(contest),
                stations=len(facts[contest.number].stations),
                expected=sum(each.expected or 0 for each in foretold),
                registered=sum(each.registered for each in foretold),
                unexplained=len(of.of(State.UNEXPLAINED)),
                in_hand=len(of.of(State.IN_HAND)),
                explained=len(of.explained),
            )
        )
    return tuple(found)


def _rows(
    facts: ContestFacts, found: Reconciliation, actor: Actor
) -> list[DifferenceRow]:
    hidden = {each.number for each in (*facts.envelopes, *facts.boxes) if each.called}
    numbers = {of.number for each in found.differences for of in each.answers}
    visible = set(
        discrepancies_of(actor)
        .filter(number__in=numbers)
        .values_list("number", flat=True)
    )
    containers = {each.number for each in (*facts.envelopes, *facts.boxes)}
    return [
        _row(each, hidden, containers - hidden, visible) for each in found.differences
    ]


def _row(
    one: Difference, hidden: set[str], shown: set[str], visible: set[str]
) -> DifferenceRow:
    return DifferenceRow(
        key="" if hidden.intersection(one.about) else one.key,
        reason=one.reason.value,
        title=one.title,
        content=CONTENT_TITLES[one.kind],
        text=one.text[:1].upper() + one.text[1:],
        remedy=one.remedy,
        state=one.state.value,
        tone=TONES[one.state],
        containers=tuple(about for about in one.about if about in shown),
        answers=tuple(
            Answer(
                number=each.number,
                is_visible=each.number in visible,
                owner=each.owner,
                due_on=each.due_on,
                resolved_at=each.resolved_at,
                resolution=each.resolution,
            )
            for each in one.answers
        ),
    )


def _accounted(facts: ContestFacts) -> tuple[Accounted, ...]:
    hidden = {each.number for each in (*facts.envelopes, *facts.boxes) if each.called}
    return tuple(
        Accounted("", each.name, each.content, each.where, each.envelopes)
        if each.number in hidden
        else each
        for each in accounted_for(facts)
    )
