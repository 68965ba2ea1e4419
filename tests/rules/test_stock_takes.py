"""What a stock-take states is no more than what its sample shows."""

from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import hypergeom

from registry.rules.stock_takes import (
    Outcome,
    percent,
    statements,
    weight_differs,
)

# A loss of 6 % of 500 is found by 47 with 95 %: EZ-Quant (see
# tests/rules/test_sampling.py).
PLANNED = Outcome(500, 30, Decimal("0.95"), 47, 47, 0, 0)


def test_a_planned_sample_that_finds_nothing_excludes_the_loss():
    assert PLANNED.missing_at_most < 30
    assert float(PLANNED.achieved) == pytest.approx(
        1 - hypergeom.pmf(0, 500, 30, 47), abs=1e-12
    )
    said = " ".join(statements(PLANNED, "envelopes"))
    assert "47 were drawn and 47 of these were looked at" in said
    assert "planned was 95 %" in said
    assert "None of those looked for were missing." in said
    assert "at most 29 of the 500 are missing" in said
    assert "count the whole" not in said


def test_what_was_not_looked_at_lowers_the_probability_and_counts_as_missing():
    # desks.md, B.3: hard-to-reach items are not replaced; the probability actually
    # achieved is reported, including those drawn and not inspected.
    left = replace(PLANNED, looked_at=40)
    assert left.not_looked_at == 7
    assert float(left.achieved) == pytest.approx(
        1 - hypergeom.pmf(0, 500, 30, 40), abs=1e-12
    )
    assert left.achieved < PLANNED.achieved
    bound = left.missing_at_most
    assert (
        hypergeom.cdf(7, 500, bound, 47) > 0.05 >= hypergeom.cdf(7, 500, bound + 1, 47)
    )
    said = " ".join(statements(left, "envelopes"))
    assert "7 were not looked at. Nothing was put in their place" in said


def test_one_failure_asks_for_a_full_count():
    found = replace(PLANNED, not_in_order=1)
    assert found.wants_full_count
    assert "count the whole" in statements(found, "envelopes")[-1]
    assert found.not_in_order_at_most > found.missing_at_most


def test_a_full_count_states_what_it_counted():
    whole = Outcome(12, 1, Decimal(1), 12, 12, 1, 2)
    assert (whole.missing_at_most, whole.not_in_order_at_most) == (1, 2)
    assert statements(whole, "boxes") == (
        "All 12 boxes were to be looked at; 12 were.",
        "1 was missing; 2 were missing or not in order.",
    )


@given(st.integers(1, 200), st.data())
def test_no_statement_bounds_less_than_what_was_found(population, data):
    drawn = data.draw(st.integers(0, population))
    looked_at = data.draw(st.integers(0, drawn))
    not_in_order = data.draw(st.integers(0, looked_at))
    missing = data.draw(st.integers(0, not_in_order))
    lost = data.draw(st.integers(1, population))
    outcome = Outcome(
        population, lost, Decimal("0.9"), drawn, looked_at, missing, not_in_order
    )
    assert missing <= outcome.missing_at_most <= outcome.not_in_order_at_most
    assert outcome.not_in_order_at_most <= population
    assert statements(outcome, "boxes")


def test_a_percentage_is_never_rounded_up():
    assert percent(Fraction(9499, 10000)) == "94.9 %"
    assert percent(Fraction(95, 100)) == "95 %"
    assert percent(Fraction(9999, 10000)) == "99.9 %"
    assert percent(Fraction(1)) == "100 %"
    assert percent(Fraction(0)) == "0 %"


@pytest.mark.parametrize(
    ("recorded", "weighed", "differs"),
    [
        ("8.00", "8.15", False),
        ("8.00", "8.17", True),
        ("2.00", "2.10", False),
        ("2.00", "1.89", True),
        (None, "2.00", False),
        ("2.00", None, False),
    ],
)
def test_a_weight_differs_beyond_what_scales_and_damp_explain(
    recorded, weighed, differs
):
    # Common practice, no published source.
    given_ = (recorded and Decimal(recorded), weighed and Decimal(weighed))
    assert weight_differs(*given_) is differs
