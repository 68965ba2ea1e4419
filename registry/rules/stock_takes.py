"""What a stock-take by sample shows, and with which confidence."""

from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from math import floor

from registry.rules.sampling import at_most, probability_of_finding

# What two scales, or paper in damp and in dry air, differ by (common practice, no
# published source).
WEIGHT_TOLERANCE_KG = Decimal("0.10")
WEIGHT_TOLERANCE_SHARE = Decimal("0.02")


@dataclass(frozen=True)
class Outcome:
    """What was planned, and what was seen.

    Attributes:
        population: how many containers the frozen list names.
        lost_supposed: the loss that was to be found.
        confidence: with which probability.
        drawn: how many were to be looked at.
        looked_at: how many of them really were.
        missing: how many of those looked for were not there.
        not_in_order: how many were missing or otherwise not as they must be.
    """

    population: int
    lost_supposed: int
    confidence: Decimal
    drawn: int
    looked_at: int
    missing: int
    not_in_order: int

    @property
    def not_looked_at(self) -> int:
        """Drawn and never looked at: nothing takes their place."""
        return self.drawn - self.looked_at

    @property
    def achieved(self) -> Fraction:
        """The probability with which those looked at would have shown the loss."""
        return probability_of_finding(
            self.population, self.lost_supposed, self.looked_at
        )

    @property
    def missing_at_most(self) -> int:
        """How many of all can be missing at most, with that confidence."""
        return self._at_most(self.missing)

    @property
    def not_in_order_at_most(self) -> int:
        """How many of all can be not in order at most, with that confidence."""
        return self._at_most(self.not_in_order)

    def _at_most(self, found: int) -> int:
        # What could not be reached may be just what is lost: it counts as if it were.
        supposed = found + self.not_looked_at
        return at_most(self.population, self.drawn, supposed, self.confidence)

    @property
    def wants_full_count(self) -> bool:
        """One failure in a sample asks for the whole stratum to be counted."""
        return self.not_in_order > 0 and self.drawn < self.population


def statements(outcome: Outcome, noun: str) -> tuple[str, ...]:
    """Return what the stock-take shows, sentence by sentence.

    Args:
        noun: what was counted, in the plural.
    """
    of = outcome
    if of.drawn == of.population:
        return _count_stated(of, noun)
    sure = percent(Fraction(of.confidence))
    return (
        f"Of {of.population:,} {noun}, {of.drawn:,} were drawn and {of.looked_at:,} of "
        "these were looked at.",
        f"If {of.lost_supposed:,} of the {of.population:,} were lost, this would have "
        f"shown at least one of them with a probability of {percent(of.achieved)}; "
        f"planned was {sure}.",
        *_rest_stated(of),
        f"{_so_many(of.missing)} of those looked for {_was(of.missing)} missing. With "
        f"{sure} confidence at most {of.missing_at_most:,} of the "
        f"{of.population:,} are missing.",
        f"{_so_many(of.not_in_order)} {_was(of.not_in_order)} missing or not in "
        f"order. With {sure} confidence at most {of.not_in_order_at_most:,} of the "
        f"{of.population:,} are.",
        *(
            [
                "One failure is enough: count the whole of what this sample stands "
                "for, and look for the cause."
            ]
            if of.wants_full_count
            else []
        ),
    )


def _count_stated(of: Outcome, noun: str) -> tuple[str, ...]:
    return (
        f"All {of.population:,} {noun} were to be looked at; {of.looked_at:,} were.",
        *_rest_stated(of),
        f"{_so_many(of.missing)} {_was(of.missing)} missing; "
        f"{_so_many(of.not_in_order).lower()} {_was(of.not_in_order)} missing or not "
        "in order.",
        *(
            [f"So at most {of.missing_at_most:,} of {of.population:,} are missing."]
            if of.not_looked_at
            else []
        ),
    )


def _rest_stated(of: Outcome) -> tuple[str, ...]:
    if not of.not_looked_at:
        return ()
    return (
        f"{of.not_looked_at:,} {_was(of.not_looked_at)} not looked at. Nothing was "
        "put in their place; below they count as if they were missing.",
    )


def _so_many(n: int) -> str:
    return f"{n:,}" if n else "None"


def _was(n: int) -> str:
    return "was" if n == 1 else "were"


def percent(share: Fraction) -> str:
    """Write a probability as a percentage, never rounded up: 94.99… is 94.9 %."""
    tenths = floor(share * 1000)
    return f"{tenths // 10}.{tenths % 10} %" if tenths % 10 else f"{tenths // 10} %"


def weight_differs(recorded: Decimal | None, weighed: Decimal | None) -> bool:
    """Tell whether a container weighs something else than was recorded.

    False where either is not known.
    """
    if recorded is None or weighed is None:
        return False
    allowed = max(WEIGHT_TOLERANCE_KG, recorded * WEIGHT_TOLERANCE_SHARE)
    return abs(recorded - weighed) > allowed
