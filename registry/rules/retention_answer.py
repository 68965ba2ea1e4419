"""The answer to "held until when, why, by which rule"."""

from dataclasses import dataclass
from datetime import date, datetime
from enum import StrEnum

from registry.rules.acts import KeepingState
from registry.rules.steps import Fact, Step
from registry.rules.wording import say


class Reason(StrEnum):
    """What governs the answer; what has no end stands before what has one."""

    CASE_PENDING = "case-pending"
    PRESERVATION_ORDER = "preservation-order"
    UNKNOWN_INPUT = "unknown-input"
    APPEAL_WINDOW = "appeal-window"
    TERM = "term"
    PERIOD_OVER = "period-over"


@dataclass(frozen=True)
class Hold:
    """One term, case or order, and the last day on which it holds (None: no end).

    Attributes:
        governed_by: the term's name, the case's or the order's number.
        steps: the last one is its conclusion.
    """

    reason: Reason
    governed_by: str
    title: str
    through: date | None
    steps: tuple[Step, ...]

    @property
    def called(self) -> str:
        """How it is called in a sentence: a number says more than a title."""
        if self.reason in (Reason.CASE_PENDING, Reason.APPEAL_WINDOW):
            return f"case {self.governed_by} ({self.title})"
        if self.reason is Reason.PRESERVATION_ORDER:
            return f"preservation order {self.governed_by} ({self.title})"
        return f"“{self.title}”"

    def holds_on(self, on: date) -> bool:
        """Tell whether it still holds on this day."""
        return self.through is None or self.through >= on


@dataclass(frozen=True)
class Retention:
    """How long a container is kept, as of a day, with the reasoning.

    Attributes:
        retain_through: the last day it must be kept; None for no end.
        may_be_disposed_from: the day after; None for no end.
        is_over: whether the last day lies before ``as_of``.
        governed_by: the name of the term, or the number of the case or order.
        steps: the reasoning; exactly one step decides.
        governing: the term, case or order that governs.
        holds: every term, case and order that was weighed, running or over.
        confirm_through: the day past which a no-petition confirmation must reach:
            the latest end of the petition windows and of the windows after a
            decision; None while one of them has no end.
        known_at: the moment whose knowledge counts; None for now.
    """

    retain_through: date | None
    may_be_disposed_from: date | None
    is_over: bool
    reason: Reason
    governed_by: str
    steps: tuple[Step, ...]
    as_of: date
    contest: str
    governing: Hold
    holds: tuple[Hold, ...]
    confirm_through: date | None
    known_at: datetime | None = None

    @property
    def running(self) -> tuple[Hold, ...]:
        """Everything that still holds on the day, not only what governs."""
        return tuple(hold for hold in self.holds if hold.holds_on(self.as_of))

    @property
    def state(self) -> KeepingState:
        """Why it is kept on the day, as far as it bears on who may permit an act."""
        reasons = {hold.reason for hold in self.running}
        if reasons & {Reason.CASE_PENDING, Reason.APPEAL_WINDOW}:
            return KeepingState.CASE_PENDING
        if Reason.PRESERVATION_ORDER in reasons:
            return KeepingState.UNDER_ORDER
        return KeepingState.STILL_KEPT if reasons else KeepingState.FREE

    @property
    def deciding_step(self) -> Step:
        """The step that decides."""
        return next(step for step in self.steps if step.decides)

    @property
    def summary(self) -> str:
        """The answer in one plain sentence."""
        ending = "no-end" if self.retain_through is None else "ends"
        code = "over" if self.is_over else f"{self.reason}-{ending}"
        facts: dict[str, Fact] = {"governing": self.governing.called}
        if self.retain_through and self.may_be_disposed_from:
            facts["through"] = self.retain_through
            facts["free_from"] = self.may_be_disposed_from
        return say(f"retention.{code}", facts)
