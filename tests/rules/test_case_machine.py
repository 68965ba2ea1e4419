"""A register of one contest that anything may happen to, in any order.

The machine enters events, strikes, orders, closed days and extensions as they come, and
after each entry asks the engine on many days. It keeps a model of its own that is
cruder than the engine and errs on no side it checks: whether any case is pending by
the plain reading of its courts.
"""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from random import Random

from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, rule

from registry.rules.calendars import Calendar, Closure, ClosureKind, Extension
from registry.rules.case_events import DECISIONS, height
from registry.rules.cases import CaseEventFact, CaseEventKind, CaseFact, CourtLevel
from registry.rules.retention import (
    ContestDates,
    DateEntry,
    OrderFact,
    Retention,
    RetentionFacts,
    retention_of,
)
from registry.rules.schedules import ContentKind, Trigger
from tests.rules.calvenna import SCHEDULE
from tests.rules.case_strategies import calls_back, close_days, days, kinds, levels

START = datetime(2026, 5, 1, 9, tzinfo=UTC)
ASKED = [date(2026, 5, 1) + timedelta(days=step) for step in range(0, 1100, 73)]
NUMBERS = st.sampled_from(["CA-000001", "CA-000002", "CA-000003"])


class OneContest(RuleBasedStateMachine):
    """What was entered so far, and what the register answered after each entry."""

    def __init__(self) -> None:
        super().__init__()
        self.events: dict[str, list[CaseEventFact]] = {}
        self.dates: list[DateEntry] = []
        self.orders: list[OrderFact] = []
        self.closures: list[Closure] = []
        self.extensions: list[Extension] = []
        self.moment = START
        self.said: list[tuple[datetime, date, date | None]] = []

    # --- the state, as facts -------------------------------------------------------

    def facts(self) -> RetentionFacts:
        return RetentionFacts(
            ContentKind.POLL_SLIPS,
            ContestDates("CT-000011", "11 Harbour Reach", {}, tuple(self.dates)),
            tuple(CaseFact(n, n, tuple(made)) for n, made in self.events.items()),
            tuple(self.orders),
        )

    def calendar(self) -> Calendar:
        return Calendar(frozenset({6}), tuple(self.closures), tuple(self.extensions))

    def answer(self, on: date, known_at: datetime | None = None) -> Retention:
        return retention_of(self.facts(), SCHEDULE, self.calendar(), on, known_at)

    def ends(self) -> dict[date, date]:
        """Return the end of keeping for each day asked about; no end is the latest."""
        return {on: self.answer(on).retain_through or date.max for on in ASKED}

    def ticked(self) -> datetime:
        """Remember what was said, and go on to the next moment."""
        for on in ASKED[::5]:
            self.said.append((self.moment, on, self.answer(on).retain_through))
        self.moment += timedelta(hours=7)
        return self.moment

    def never_sooner(self, before: dict[date, date]) -> None:
        after = self.ends()
        assert all(after[on] >= before[on] for on in ASKED)

    # --- what may be entered -------------------------------------------------------

    @initialize(declared=close_days)
    def declare(self, declared: date) -> None:
        self.dates.append(DateEntry(Trigger.RESULT_DECLARED, declared, self.moment))

    @rule(declared=close_days)
    def correct_the_declaration(self, declared: date) -> None:
        at = self.ticked()
        self.dates.append(DateEntry(Trigger.RESULT_DECLARED, declared, at))

    @rule(number=NUMBERS, kind=kinds, on=st.one_of(days, close_days), level=levels)
    def something_happens(
        self, number: str, kind: CaseEventKind, on: date, level: CourtLevel
    ) -> None:
        at = self.ticked()
        fact = CaseEventFact(kind, on, level, recorded_at=at, reason="named")
        self.events.setdefault(number, []).append(fact)

    @rule(number=NUMBERS, kind=calls_back, on=close_days, level=levels)
    def what_is_no_decision_never_shortens(
        self, number: str, kind: CaseEventKind, on: date, level: CourtLevel
    ) -> None:
        at = self.ticked()
        before = self.ends()
        fact = CaseEventFact(kind, on, level, recorded_at=at)
        self.events.setdefault(number, []).append(fact)
        self.never_sooner(before)

    @rule(on=days, until=st.none() | days, made=st.none() | days)
    def an_order_never_shortens(
        self, on: date, until: date | None, made: date | None
    ) -> None:
        at = self.ticked()
        before = self.ends()
        number = f"PO-{len(self.orders):06d}"
        order = OrderFact(number, "order", on, until, None, made, recorded_at=at)
        self.orders.append(order)
        self.never_sooner(before)

    @rule(on=days)
    def an_order_is_lifted(self, on: date) -> None:
        if self.orders and self.orders[-1].lifted_on is None:
            at = self.ticked()
            self.orders[-1] = replace(
                self.orders[-1], lifted_on=on, lift_recorded_at=at
            )

    @rule(
        first=close_days, length=st.integers(0, 40), kind=st.sampled_from(ClosureKind)
    )
    def a_closed_day_never_shortens(
        self, first: date, length: int, kind: ClosureKind
    ) -> None:
        at = self.ticked()
        before = self.ends()
        last = first + timedelta(days=length)
        self.closures.append(
            Closure(first, last, "closed", "N 1", kind, recorded_at=at)
        )
        self.never_sooner(before)

    @rule(
        first=close_days, length=st.none() | st.integers(0, 60), excludes=st.booleans()
    )
    def an_extension_never_shortens(
        self, first: date, length: int | None, excludes: bool
    ) -> None:
        at = self.ticked()
        before = self.ends()
        until = None if length is None else first + timedelta(days=length)
        order = Extension(first, until, "order", 5, excludes, recorded_at=at)
        self.extensions.append(order)
        self.never_sooner(before)

    @rule(number=NUMBERS, chance=st.randoms(use_true_random=False))
    def an_entry_is_struck(self, number: str, chance: Random) -> None:
        live = [e for e in self.events.get(number, []) if not e.struck]
        if live:
            at = self.ticked()
            wrong = chance.choice(live)
            place = self.events[number].index(wrong)
            self.events[number][place] = replace(wrong, struck=True, struck_at=at)

    # --- what always holds ---------------------------------------------------------

    @invariant()
    def nothing_is_released_while_a_case_is_pending(self) -> None:
        for on in ASKED:
            if any(_is_pending(made, on) for made in self.events.values()):
                answer = self.answer(on)
                assert answer.retain_through is None
                assert not answer.is_over

    @invariant()
    def the_order_of_entry_never_matters(self) -> None:
        facts = self.facts()
        turned = replace(
            facts,
            cases=tuple(
                replace(case, events=tuple(reversed(case.events)))
                for case in reversed(facts.cases)
            ),
            orders=tuple(reversed(facts.orders)),
            contest=replace(
                facts.contest, entries=tuple(reversed(facts.contest.entries))
            ),
        )
        calendar = self.calendar()
        back = replace(
            calendar,
            closures=tuple(reversed(calendar.closures)),
            extensions=tuple(reversed(calendar.extensions)),
        )
        for on in ASKED[::4]:
            one, other = self.answer(on), retention_of(turned, SCHEDULE, back, on)
            assert one.retain_through == other.retain_through
            assert one.deciding_step.text == other.deciding_step.text

    @invariant()
    def exactly_one_step_decides_and_all_can_be_said(self) -> None:
        answer = self.answer(ASKED[7])
        assert sum(step.decides for step in answer.steps) == 1
        assert all(step.text and "{" not in step.text for step in answer.steps)

    def teardown(self) -> None:
        """As known at each earlier moment is what was said at that moment."""
        for moment, on, through in self.said:
            assert self.answer(on, moment).retain_through == through


def _is_pending(events: list[CaseEventFact], on: date) -> bool:
    """Tell, by a plain reading, whether a case is surely alive on the day.

    Something calls it alive on a later day than every decision, whatever the court, so
    that no order within one day and no rule about courts can tell otherwise.
    """
    happened = [e for e in events if e.on <= on and not e.struck]
    alive = [
        e
        for e in happened
        if e.kind
        in {
            CaseEventKind.FILED,
            CaseEventKind.APPEALED,
            CaseEventKind.REVIEW_SOUGHT,
            CaseEventKind.RESTORED,
            CaseEventKind.REMANDED,
            CaseEventKind.SUBSTITUTED,
        }
    ]
    return any(
        all(
            end.on < begun.on
            or (
                height(end.level) < height(begun.level)
                and end.kind is not CaseEventKind.FINALLY_DISPOSED
            )
            for end in happened
            if end.kind in DECISIONS
        )
        for begun in alive
    )


TestOneContest = OneContest.TestCase
TestOneContest.settings = settings(
    max_examples=40,
    stateful_step_count=14,
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow],
)
