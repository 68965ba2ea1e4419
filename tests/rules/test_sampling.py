"""Sample sizes and statements, against scipy and against published sizes.

Sources: scipy.stats.hypergeom. The sample sizes that EZ-Quant 2.0.6, the statistical
sampling program of the US Defense Contract Audit Agency, gives for attributes with no
error expected; and those of the R package RSurveillance: both looked up, the first as
it stands in the tests of the R package jfa (koenderks/jfa, "Benchmark against EZ-quant
software"), the second in the package's printed example of n.hypergeo. FSaudit's and
AuditSampler's published sizes with errors allowed: from the tests of the R packages
FSaudit and jfa. The improved approximation of J. L. Jaech: Kim, "A comparison of
sample size calculation algorithms" (KAERI); its form was looked up in public code that
cites Lane et al. 2018. The table of this project's own reference (desks.md, B.3) was
computed by its author: a second reckoning, no publication.
"""

from decimal import Decimal
from fractions import Fraction
from itertools import product
from math import ceil

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import hypergeom

from registry.rules.sampling import (
    SampleError,
    at_most,
    bits_of_chance,
    probability_of_at_most,
    probability_of_finding,
    sample_size,
)

P = {90: Decimal("0.90"), 95: Decimal("0.95"), 99: Decimal("0.99")}


@st.composite
def cases(draw, largest=400):
    """A population, a loss and a number looked at."""
    population = draw(st.integers(1, largest))
    lost = draw(st.integers(0, population))
    return population, lost, draw(st.integers(0, population))


@given(cases())
def test_the_chance_of_finding_a_loss_is_that_of_scipy(case):
    population, lost, looked_at = case
    theirs = 1 - hypergeom.pmf(0, population, lost, looked_at)
    assert float(probability_of_finding(*case)) == pytest.approx(theirs, abs=1e-9)


@given(cases(), st.integers(0, 20))
def test_the_chance_of_finding_so_many_at_most_is_that_of_scipy(case, found):
    population, lost, looked_at = case
    ours = probability_of_at_most(found, population, lost, looked_at)
    theirs = hypergeom.cdf(found, population, lost, looked_at)
    assert float(ours) == pytest.approx(theirs, abs=1e-9)


@given(
    st.integers(1, 3000),
    st.data(),
    st.sampled_from(["0.5", "0.8", "0.9", "0.95", "0.99", "0.999"]),
)
def test_the_sample_is_the_smallest_that_scipy_would_take(population, data, wanted):
    lost = data.draw(st.integers(1, population))
    size = sample_size(population, lost, Decimal(wanted))
    missed = 1 - float(wanted)
    assert hypergeom.pmf(0, population, lost, size) <= missed + 1e-9
    if size:
        assert hypergeom.pmf(0, population, lost, size - 1) > missed - 1e-9


@given(cases(200), st.sampled_from(sorted(P)))
def test_the_bound_is_the_largest_loss_that_scipy_does_not_exclude(case, confidence):
    population, found, looked_at = case
    found = min(found, looked_at)
    bound = at_most(population, looked_at, found, P[confidence])
    doubt = 1 - confidence / 100
    assert hypergeom.cdf(found, population, bound, looked_at) > doubt - 1e-9
    if bound < population - (looked_at - found):
        larger = hypergeom.cdf(found, population, bound + 1, looked_at)
        assert larger <= doubt + 1e-9


# EZ-Quant: populations 500, 1,000 and 5,000; 8, 6, 4 and 2 per cent not in order.
EZ_QUANT = {
    90: (27, 36, 54, 102, 28, 37, 55, 108, 28, 38, 57, 113),
    95: (35, 47, 69, 129, 36, 48, 71, 138, 36, 49, 73, 147),
    99: (53, 70, 101, 183, 54, 72, 107, 204, 55, 74, 112, 223),
}


@pytest.mark.parametrize("confidence", sorted(EZ_QUANT))
def test_sample_sizes_of_a_government_auditors_published_program(confidence):
    strata = product((500, 1000, 5000), (8, 6, 4, 2))
    ours = [
        sample_size(population, population * share // 100, P[confidence])
        for population, share in strata
    ]
    assert ours == list(EZ_QUANT[confidence])


def test_a_published_size_with_one_error_allowed_bounds_the_loss():
    # FSaudit: to conclude with 90 % that fewer than 5,000 of 100,000 are in error,
    # 45 are looked at where none may be, and 77 where one may be.
    assert sample_size(100_000, 5_000, P[90]) == 45
    assert at_most(100_000, 77, 1, P[90]) < 5_000 <= at_most(100_000, 76, 1, P[90])


def test_published_sizes_with_several_errors_allowed_bound_the_loss():
    # AuditSampler, hypergeometric: population, tolerable rate, errors allowed (the
    # expected rate times the size, rounded up), confidence, size.
    for population, rate, allowed, confidence, size in (
        (500, 8, 1, 90, 46),
        (500, 6, 1, 90, 61),
        (500, 8, 1, 95, 55),
        (500, 6, 1, 95, 73),
        (5000, 8, 1, 95, 58),
        (5000, 4, 2, 95, 154),
        (36_000, 4, 2, 95, 156),
    ):
        tolerable = population * rate // 100
        stated = at_most(population, size, allowed, P[confidence])
        assert stated < tolerable, (population, rate)
        one_less = at_most(population, size - 1, allowed, P[confidence])
        assert one_less >= tolerable, (population, rate)


def test_the_published_example_of_an_approximation_is_close_and_never_below():
    # RSurveillance, n.hypergeo: 1 % of 100 to 10,000 at 95 %: 95 156 226 259 296; it
    # uses the approximation of MacDiarmid and rounds up, so ours may be a little less.
    theirs = dict(zip((100, 200, 500, 1000, 10_000), (95, 156, 226, 259, 296),
                      strict=True))  # fmt: skip
    for population, published in theirs.items():
        ours = sample_size(population, population // 100, P[95])
        assert published - 2 <= ours <= published


# desks.md, B.3: a second reckoning by the author of this project's reference.
REFERENCE = """
50 48 45 48 50 45 48 50 34 39 45
100 95 90 95 99 69 78 90 37 45 59
250 238 171 194 225 92 112 150 43 55 78
500 475 184 225 300 102 129 183 43 56 83
1000 950 205 258 368 108 138 204 44 57 86
2500 2375 219 281 419 112 144 218 45 58 89
5000 4750 224 290 438 113 147 223 45 59 89
10000 9500 227 294 448 114 148 226 45 59 90
"""


@pytest.mark.parametrize("line", REFERENCE.split("\n")[1:-1])
def test_the_table_of_the_reference(line):
    population, one_at_95, *sizes = map(int, line.split())
    assert sample_size(population, 1, P[95]) == one_at_95
    shares = product((1, 2, 5), (90, 95, 99))
    for (share, confidence), size in zip(shares, sizes, strict=True):
        lost = max(1, population * share // 100)
        assert sample_size(population, lost, P[confidence]) == size, (share, confidence)


@given(st.integers(50, 5000), st.data(), st.sampled_from(sorted(P)))
def test_the_improved_approximation_is_hardly_ever_off(population, data, confidence):
    lost = data.draw(st.integers(1, max(1, population // 20)))
    missed = 1 - confidence / 100
    about = (1 - missed ** (1 / lost)) * (population - (lost - 1) / 2)
    assert abs(sample_size(population, lost, P[confidence]) - ceil(about - 1e-9)) <= 1


def test_a_flat_tenth_finds_little():
    # desks.md, B.3: a tenth of 300 finds one missing with 0.10, three with 0.27, ten
    # with 0.66.
    for lost, chance in ((1, 0.10), (3, 0.27), (10, 0.66)):
        assert float(probability_of_finding(300, lost, 30)) == pytest.approx(
            chance, abs=0.005
        )


def test_who_looks_at_everything_knows():
    assert probability_of_finding(40, 1, 40) == 1
    assert at_most(40, 40, 3, P[99]) == 3
    assert sample_size(40, 1, Decimal(1)) == 40
    assert sample_size(40, 40, Decimal(1)) == 1


def test_who_looks_at_nothing_excludes_nothing():
    assert probability_of_finding(40, 7, 0) == 0
    assert at_most(40, 0, 0, P[95]) == 40


@given(cases(120), st.sampled_from(sorted(P)))
def test_a_planned_sample_without_a_find_excludes_the_loss_it_was_planned_for(
    case, confidence
):
    population, lost, _ = case
    lost = max(1, lost)
    size = sample_size(population, lost, P[confidence])
    assert at_most(population, size, 0, P[confidence]) < lost
    assert probability_of_finding(population, lost, size) >= Fraction(P[confidence])


def test_what_has_no_answer_is_refused_in_words():
    for question, words in (
        (lambda: sample_size(0, 1, P[95]), "no container"),
        (lambda: sample_size(10, 0, P[95]), "at least 1"),
        (lambda: sample_size(10, 11, P[95]), "cannot be lost"),
        (lambda: sample_size(10, 1, Decimal("1.1")), "above 0"),
        (lambda: sample_size(10, 1, Decimal(0)), "above 0"),
        (lambda: probability_of_finding(10, 1, 11), "cannot be drawn"),
        (lambda: at_most(10, 2, 3, P[95]), "than were looked at"),
    ):
        with pytest.raises(SampleError, match=words):
            question()


def test_the_bits_of_chance_of_the_rfc():
    # RFC 3797, section 3.3: selecting 10 from a pool of so many (as quoted in public
    # code that tests itself against that table).
    table = {20: 18, 25: 22, 30: 25, 35: 28, 40: 30, 50: 34, 60: 37, 75: 40,
             100: 44, 120: 47}  # fmt: skip
    for pool, bits in table.items():
        assert ceil(bits_of_chance(pool, 10)) == bits, pool
    assert bits_of_chance(25, 25) == 0
