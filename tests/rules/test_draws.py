"""The draw, against RFC 3797 and against draws that were held in public.

The text of RFC 3797 could be looked up only in part. Its worked example (section 6:
key, hashes, divisors and selected numbers) was looked up as three independent programs
quote it in their own tests: the Perl module Algorithm::Voting, the Go program
kleroterion and the Python library votelib. The draw of 2012 is the output of the
RFC's own program for the committee of that year, published in mcr/rfc3797.
"""

import hashlib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from registry.rules.draws import LARGEST_POPULATION, SeedUnclear, draw, key_of

KEY = "9319./2.5.8.10.12./9.18.26.34.41.45./"
# RFC 3797, section 6: hash, divisor, remainder for the first four.
WORKED = (
    ("990DD0A5692A029A98B5E01AA28F3459", 25, 16),
    ("3691E55CB63FCC37914430B2F70B5EC6", 24, 6),
    ("FE814EDF564C190AC1D25753979990FA", 23, 1),
    ("1863CCACEB568C31D7DDBDF1D4E91387", 22, 13),
)


def test_the_key_of_the_rfcs_example():
    assert key_of("9319 / 2 5 12 8 10 / 9 18 26 34 41 45") == KEY
    assert key_of("9319\n2, 5, 12, 8, 10\n9, 18, 26, 34, 41, 45\n") == KEY
    assert key_of("09319/02 05 12 08 10/45 41 34 26 18 9") == KEY


def test_a_key_comes_back_as_it_is():
    assert key_of(KEY) == KEY


def test_sources_of_other_shapes():
    # votelib's tests: a name is reduced to capitals, a decimal keeps its point.
    assert key_of("1.25 / 5 3 / 8") == "1.25/3.5./8./"
    assert key_of("MAZNAK / 0.1 / 4 6 9") == "MAZNAK/0.1/4.6.9./"
    assert key_of("w 4-1 / 7.00 / 007.50") == "W41/7./7.5/"


@pytest.mark.parametrize("unclear", ["", "   ", "soon", "1.5 2", "7 .. 8", "Mažňák 4"])
def test_what_can_be_read_in_two_ways_is_not_taken(unclear):
    with pytest.raises(SeedUnclear):
        key_of(unclear)


def test_the_rfcs_example_selects_the_rfcs_numbers():
    assert draw(KEY, 25, 11) == (17, 7, 2, 16, 25, 23, 8, 24, 19, 13, 22)


def test_the_hashes_of_the_rfcs_example():
    for place, (published, divisor, remainder) in enumerate(WORKED):
        counter = bytes([0, place])
        assert hashlib.md5(counter + KEY.encode() + counter).hexdigest() == (
            published.lower()
        )
        assert int(published, 16) % divisor == remainder
    left = list(range(1, 26))
    assert draw(KEY, 25, 4) == tuple(left.pop(found) for _, _, found in WORKED)


def test_a_draw_that_was_held_in_public():
    key = key_of("17 20 22 35 38 48 36 / 90193202 / 55598744 / 11 17 21 48 50 9 10")
    assert key == "17.20.22.35.36.38.48./90193202./55598744./9.10.11.17.21.48.50./"
    drawn = (90, 25, 92, 126, 24, 31, 122, 96, 81, 132, 2, 41)
    assert draw(key, 134, 12) == drawn


@given(st.integers(1, 300), st.integers(1, 10**9))
def test_whoever_draws_all_draws_each_once(population, seed):
    drawn = draw(key_of(str(seed)), population, population)
    assert sorted(drawn) == list(range(1, population + 1))


@given(st.integers(2, 300), st.integers(1, 10**9), st.data())
def test_a_larger_sample_begins_with_the_smaller_one(population, seed, data):
    size = data.draw(st.integers(0, population - 1))
    key = key_of(str(seed))
    assert draw(key, population, size + 1)[:size] == draw(key, population, size)


def test_the_counter_goes_beyond_one_byte():
    # The 257th is hashed between 01 00, as the RFC's program does it.
    key = key_of("1 2 3")
    counter = bytes([1, 0])
    left = list(range(1, 301))
    for line in draw(key, 300, 256):
        left.remove(line)
    number = int(hashlib.md5(counter + key.encode() + counter).hexdigest(), 16)
    assert draw(key, 300, 257)[256] == left[number % len(left)]


def test_what_cannot_be_drawn_is_refused():
    for population, size in ((3, 4), (LARGEST_POPULATION + 1, 1), (3, -1)):
        with pytest.raises(ValueError, match="no more than there are"):
            draw(KEY, population, size)
