"""What a scan means (the steps: common practice, no published source)."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from registry.rules.numbers import KINDS
from registry.rules.scans import Scanned, Step, meaning_of

OPEN_BOX = Scanned("BX-000001-Q", is_open=True)
BOX = Scanned("BX-000002-O")
ENVELOPE = Scanned("EN-000001-0")
SHELF = Scanned("SH-000001-D")
OTHER_SHELF = Scanned("SH-000002-B")
CASE = Scanned("CA-000001-1")


@pytest.mark.parametrize(
    ("hand", "scanned", "step", "in_hand"),
    [
        (None, BOX, Step.TAKE_UP, BOX),
        (None, ENVELOPE, Step.TAKE_UP, ENVELOPE),
        (None, SHELF, Step.TAKE_UP, SHELF),
        (None, CASE, Step.OPEN, None),
        (BOX, CASE, Step.OPEN, BOX),
        (BOX, SHELF, Step.SHELVE, None),
        (OPEN_BOX, SHELF, Step.SHELVE, None),
        (SHELF, BOX, Step.SHELVE, SHELF),
        (OPEN_BOX, ENVELOPE, Step.PUT_IN, OPEN_BOX),
        (ENVELOPE, OPEN_BOX, Step.PUT_IN, None),
        (BOX, ENVELOPE, Step.TAKE_UP, ENVELOPE),
        (ENVELOPE, BOX, Step.TAKE_UP, BOX),
        (ENVELOPE, SHELF, Step.NOTHING, ENVELOPE),
        (SHELF, ENVELOPE, Step.NOTHING, SHELF),
        (BOX, BOX, Step.NOTHING, BOX),
        (SHELF, OTHER_SHELF, Step.TAKE_UP, OTHER_SHELF),
        (BOX, OPEN_BOX, Step.TAKE_UP, OPEN_BOX),
    ],
)
def test_two_scans_make_a_step(hand, scanned, step, in_hand):
    meaning = meaning_of(hand, scanned)
    assert meaning.step is step
    assert meaning.in_hand == (in_hand.number if in_hand else "")


def test_a_step_names_what_goes_where_whichever_was_scanned_first():
    for first, second in ((BOX, SHELF), (SHELF, BOX)):
        meaning = meaning_of(first, second)
        assert (meaning.container, meaning.place) == (BOX.number, SHELF.number)
    for first, second in ((OPEN_BOX, ENVELOPE), (ENVELOPE, OPEN_BOX)):
        meaning = meaning_of(first, second)
        assert (meaning.container, meaning.place) == (ENVELOPE.number, OPEN_BOX.number)


def test_where_nothing_is_done_the_person_is_told_why():
    assert "goes into a box" in meaning_of(ENVELOPE, SHELF).told
    assert "closed and sealed" in meaning_of(BOX, ENVELOPE).told
    assert "nothing was done" in meaning_of(BOX, OPEN_BOX).told


def things():
    return st.builds(
        lambda kind, serial, is_open: Scanned(f"{kind}-{serial:06d}-X", is_open),
        st.sampled_from(sorted(KINDS)),
        st.integers(1, 3),
        st.booleans(),
    )


@given(st.none() | things(), things())
def test_nothing_moves_unless_box_and_shelf_or_envelope_and_open_box_meet(
    hand, scanned
):
    meaning = meaning_of(hand, scanned)
    moves = meaning.step in (Step.SHELVE, Step.PUT_IN)
    assert moves == bool(meaning.container and meaning.place)
    if moves:
        assert hand is not None
        kinds = {hand.kind, scanned.kind}
        assert kinds in ({"BX", "SH"}, {"BX", "EN"})
        assert {meaning.container, meaning.place} == {hand.number, scanned.number}
