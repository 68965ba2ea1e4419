"""How many containers to look at so that a loss is found, by the exact chances.

A sample is drawn without putting back, so the chances are those of the hypergeometric
distribution, reckoned here in whole numbers and fractions: nothing is rounded before
it is printed. (Checked against scipy, against published sample sizes and against the
improved approximation of J. L. Jaech in tests/rules/test_sampling.py.)
"""

from decimal import Decimal
from fractions import Fraction
from math import comb, lgamma, log


class SampleError(ValueError):
    """The question has no answer; the message says why."""


def probability_of_finding(population: int, lost: int, looked_at: int) -> Fraction:
    """Return the chance that at least one of the lost is among those looked at.

    Args:
        population: how many containers there are.
        lost: how many of them are supposed to be lost, or not in order.
        looked_at: how many are drawn and really looked at.

    Raises:
        SampleError: more are lost or looked at than there are.
    """
    return 1 - probability_of_at_most(0, population, lost, looked_at)


def probability_of_at_most(
    found: int, population: int, lost: int, looked_at: int
) -> Fraction:
    """Return the chance that no more than ``found`` of the lost are looked at."""
    _check(population, lost, looked_at)
    # The two are alike in the formula; the smaller one makes the smaller numbers.
    few, many = sorted((lost, looked_at))
    ways = sum(
        comb(few, i) * comb(population - few, many - i)
        for i in range(min(found, few) + 1)
        if many >= i
    )
    return Fraction(ways, comb(population, many))


def sample_size(population: int, lost: int, probability: Decimal | Fraction) -> int:
    """Return the smallest sample that finds such a loss with this probability.

    Args:
        population: how many containers there are.
        lost: the loss that is to be found, at least 1.
        probability: above 0, at most 1.

    Raises:
        SampleError: more are lost than there are, or none, or no such probability.
    """
    wanted = _probability(probability)
    if lost < 1:
        raise SampleError("Say how many lost containers are to be found: at least 1.")
    _check(population, lost, 0)
    few, enough = 0, population
    while few < enough:
        half = (few + enough) // 2
        if probability_of_finding(population, lost, half) >= wanted:
            enough = half
        else:
            few = half + 1
    return enough


def at_most(
    population: int, looked_at: int, found: int, confidence: Decimal | Fraction
) -> int:
    """Return how many can be lost at most, after so many were found, with confidence.

    It is the largest loss of which so few would still be found with a chance above
    1 - confidence. With everything looked at it is what was found.

    Args:
        found: how many of those looked at were lost.

    Raises:
        SampleError: more were looked at than there are, or found than looked at.
    """
    doubt = 1 - _probability(confidence)
    _check(population, found, looked_at)
    if found > looked_at:
        raise SampleError("More were found lost than were looked at.")
    # Those that were looked at and found in order are not lost.
    few, most = found, population - (looked_at - found)
    while few < most:
        half = (few + most + 1) // 2
        if probability_of_at_most(found, population, half, looked_at) > doubt:
            few = half
        else:
            most = half - 1
    return few


def bits_of_chance(population: int, size: int) -> float:
    """Return how many bits of chance it takes to draw any sample of this size.

    That is the base-2 logarithm of the number of samples (RFC 3797, section 3.3).
    """
    _check(population, 0, size)
    logs = lgamma(population + 1) - lgamma(size + 1) - lgamma(population - size + 1)
    return max(0.0, logs / log(2))


def _probability(given: Decimal | Fraction) -> Fraction:
    exact = Fraction(given)
    if not 0 < exact <= 1:
        raise SampleError("A probability lies above 0 and is at most 1: write 0.95.")
    return exact


def _check(population: int, lost: int, looked_at: int) -> None:
    if population < 1:
        raise SampleError("There is no container to choose from.")
    if not 0 <= lost <= population:
        raise SampleError(f"Of {population} containers, {lost} cannot be lost.")
    if not 0 <= looked_at <= population:
        raise SampleError(f"Of {population} containers, {looked_at} cannot be drawn.")
