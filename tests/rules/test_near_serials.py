"""Serials nearly right, against published examples of the distance."""

import pytest
from hypothesis import given as generated
from hypothesis import strategies as st

from registry.rules.near_serials import (
    SLIP,
    NearSerials,
    distance,
    looks_like,
)


# The first two and the last two are the examples of the article "Damerau-Levenshtein
# distance" and of "Levenshtein distance" in Wikipedia (kitten, saturday; CA to ABC is
# its example of how the unrestricted form, 2, parts from the restricted one, 3); the
# others are worked by hand. From memory; counted again by hand.
@pytest.mark.parametrize(
    ("one", "other", "slips"),
    [
        ("KITTEN", "SITTING", 3),
        ("SATURDAY", "SUNDAY", 3),
        ("CA", "ABC", 2),
        ("AB", "BA", 1),
        ("", "ABC", 3),
        ("FLAW", "LAWN", 2),
        ("SAME", "SAME", 0),
        ("CU11001", "CU11010", 1),
        ("CU11001", "CU1101", 1),
        ("CU11001", "CU111001", 1),
        ("CU11001", "CU12001", 1),
    ],
)
def test_the_distance_of_published_examples(one, other, slips):
    assert distance(one, other, look_alike=SLIP) == slips * SLIP
    assert distance(other, one, look_alike=SLIP) == slips * SLIP


def plain_definition(one, other):
    """Levenshtein's distance by its definition, without neighbours changed over."""
    if not one or not other:
        return len(one) + len(other)
    return min(
        plain_definition(one[1:], other) + 1,
        plain_definition(one, other[1:]) + 1,
        plain_definition(one[1:], other[1:]) + (one[0] != other[0]),
    )


short = st.text(alphabet="AB1", max_size=5)


@generated(short, short)
def test_it_is_never_more_than_levenshteins_and_at_least_half_of_it(one, other):
    # A change of neighbours costs one slip here and two there.
    levenshtein = plain_definition(one, other)
    slips = distance(one, other, look_alike=SLIP) / SLIP
    assert levenshtein / 2 <= slips <= levenshtein


@generated(short, short, short)
def test_it_is_a_distance(one, other, third):
    assert (distance(one, other) == 0) == (one == other)
    assert distance(one, other) == distance(other, one)
    assert distance(one, third) <= distance(one, other) + distance(other, third)


# C.2 of the data dictionary names these four pairs.
@pytest.mark.parametrize("pair", ["O0", "I1", "B8", "S5"])
def test_look_alikes_cost_half(pair):
    assert looks_like(*pair)
    assert distance(f"PT{pair[0]}44", f"PT{pair[1]}44") == SLIP // 2
    assert distance("PTX44", "PTY44") == SLIP


def test_the_serial_that_was_meant_is_named():
    serials = NearSerials.of(["PTAA11001", "PTAA22002", "CU900"])
    assert serials.nearest("PTAA11O01") == "PTAA11001"
    assert serials.nearest("PTAAII0OI") == "PTAA11001"
    assert serials.nearest("PTAA1101") == "PTAA11001"
    assert serials.nearest("PTAA10101") == "PTAA11001"
    assert serials.nearest("PTBB33003") is None


def test_of_two_that_are_as_near_neither_is_named():
    serials = NearSerials.of(["PTAA11001", "PTAA11003"])
    assert serials.nearest("PTAA11002") is None
    # A look-alike is nearer than any other slip.
    assert serials.nearest("PTAA1100I") == "PTAA11001"


def test_a_short_serial_says_too_little():
    assert NearSerials.of(["123"]).nearest("124") is None


@generated(
    st.lists(st.text(alphabet="AB018", min_size=6, max_size=8), max_size=8),
    st.text(alphabet="AB018", min_size=6, max_size=8),
)
def test_what_is_named_is_the_nearest_of_all_one_slip_away(serials, written):
    found = NearSerials.of(serials).nearest(written)
    ranked = sorted((distance(written, each), each) for each in set(serials))
    one_slip = [each for far, each in ranked if far <= SLIP]
    if len(one_slip) == 1:
        assert found == one_slip[0]
    if found:
        assert distance(written, found) == ranked[0][0]
