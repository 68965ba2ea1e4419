"""Things that changed places among themselves."""

from hypothesis import given as generated
from hypothesis import strategies as st

from registry.rules.swaps import Misplaced, cycles


def misplaced(*pairs):
    return [Misplaced(f"{a}{b}", a, b) for a, b in pairs]


def things(rings):
    return [[one.thing for one in ring] for ring in rings]


def test_two_that_were_swapped_are_one_ring():
    assert things(cycles(misplaced("AB", "BA"))) == [["AB", "BA"]]


def test_three_that_went_round_are_one_ring():
    assert things(cycles(misplaced("AB", "BC", "CA"))) == [["AB", "BC", "CA"]]


def test_two_swaps_are_two_rings():
    assert things(cycles(misplaced("AB", "CD", "BA", "DC"))) == [
        ["AB", "BA"],
        ["CD", "DC"],
    ]


def test_what_leads_nowhere_is_no_ring():
    assert cycles(misplaced("AB", "BC")) == ()


def test_a_place_that_two_claim_is_in_no_ring():
    assert cycles(misplaced("AB", "BA", "CB")) == ()
    assert cycles([*misplaced("AB", "BA"), Misplaced("x", "A", "C")]) == ()


@generated(st.permutations(range(8)))
def test_every_permutation_falls_apart_into_its_cycles(order):
    # Whatever changed places: each that moved is in one ring, and no other is.
    given = [Misplaced(n, n, to) for n, to in enumerate(order) if n != to]
    found = things(cycles(given))
    assert sorted(thing for ring in found for thing in ring) == sorted(
        one.thing for one in given
    )
    for ring in found:
        for one, following in zip(ring, [*ring[1:], ring[0]], strict=True):
            assert order[one] == following
