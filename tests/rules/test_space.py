"""Suggested shelves: what they keep together, apart and low; and that they are steady.

What belongs together and apart is common practice, no published source. The weight
above which two people lift is from memory of HSE L23 and INDG143 (16 kg).
"""

from datetime import date
from decimal import Decimal
from random import Random

from hypothesis import given as supposed
from hypothesis import strategies as st

from registry.rules.schedules import ContentKind
from registry.rules.space import (
    LOW_LEVELS,
    TWO_PERSONS_ABOVE_KG,
    BoxToShelve,
    Lot,
    ShelfFact,
    in_runs,
    suggest,
)

SLIPS, MOCK, PACKET = (
    ContentKind.POLL_SLIPS,
    ContentKind.MOCK_POLL_SLIPS,
    ContentKind.STATUTORY_PACKET,
)
MARCH = date(2027, 3, 14)


def lot(contest="CT-1", free_from=MARCH, kind=SLIPS, boxes=1, quarantined=False):
    return Lot(contest, f"contest {contest}", kind, quarantined, free_from, boxes)


def shelf(number, *lots, bay="A", place=0, level=None, capacity=10, room="RM-1"):
    return ShelfFact(number, f"shelf {number}", room, bay, place, level, capacity, lots)


def box(of=None, weight=None, waiting=1, room="RM-1"):
    return BoxToShelve(room, of or lot(), weight, waiting)


def shelves_of(found):
    return [one.shelf for one in found]


def test_a_contest_is_kept_together_and_the_reason_says_so():
    found = suggest(
        box(Lot("CT-1", "11 Harbour Reach", SLIPS, False, MARCH)),
        [
            shelf("1", place=0),
            shelf("2", lot("CT-2"), place=1),
            shelf("3", Lot("CT-1", "11 Harbour Reach", SLIPS, False, MARCH, 3),
                  place=2),
        ],
    )  # fmt: skip
    assert found[0].shelf == "3"
    assert found[0].reasons == (
        "Next to 3 boxes of 11 Harbour Reach, free together from March 2027.",
    )


def test_of_one_contest_what_is_released_together_stands_together():
    later = lot(free_from=date(2029, 1, 1), boxes=5)
    found = suggest(box(), [shelf("1", later), shelf("2", lot(boxes=1), place=1)])
    assert shelves_of(found) == ["2", "1"]
    assert "released at another time" in found[1].reasons[0]


def test_where_no_contest_stands_yet_what_leaves_in_the_same_month_is_next_to_it():
    same_month = lot("CT-2", date(2027, 3, 1))
    found = suggest(
        box(), [shelf("1", lot("CT-3", None)), shelf("2", same_month, place=1)]
    )
    assert found[0].shelf == "2"
    assert found[0].reasons[0] == (
        "Next to 1 box of other contests, free together from March 2027."
    )


def test_a_full_shelf_is_never_suggested():
    full = shelf("1", lot(boxes=10))
    assert suggest(box(), [full]) == ()


def test_mock_poll_stands_apart_from_poll_slips_and_packets_from_neither():
    mock = shelf("1", lot(kind=MOCK))
    assert suggest(box(), [mock]) == ()
    assert shelves_of(suggest(box(lot(kind=PACKET)), [mock])) == ["1"]
    assert suggest(box(lot(kind=MOCK)), [shelf("1", lot())]) == ()


def test_quarantine_stands_apart_from_all_else():
    clean, set_apart = shelf("1", lot()), shelf("2", lot(quarantined=True))
    suspect = box(lot(quarantined=True))
    assert shelves_of(suggest(box(), [clean, set_apart])) == ["1"]
    assert shelves_of(suggest(suspect, [clean, set_apart])) == ["2"]


def test_a_heavy_box_goes_low_even_away_from_its_contest():
    with_it = shelf("top", lot(boxes=3), level=5)
    low = shelf("low", place=4, level=1)
    heavy = box(weight=TWO_PERSONS_ABOVE_KG + 1)
    assert shelves_of(suggest(heavy, [with_it, low])) == ["low", "top"]
    assert shelves_of(suggest(box(weight=TWO_PERSONS_ABOVE_KG), [with_it, low])) == [
        "top",
        "low",
    ]
    told = suggest(heavy, [with_it])[0].reasons[-1]
    assert told.startswith("Too high for 17 kg")
    assert "two people" in told
    assert "look, 17 kg" in suggest(heavy, [shelf("1")])[0].reasons[-1]


def test_a_contest_that_waits_is_led_to_where_all_of_it_finds_room():
    tight, roomy = shelf("1", capacity=2), shelf("2", capacity=4, place=1)
    found = suggest(box(waiting=4), [tight, roomy])
    assert shelves_of(found) == ["2", "1"]
    assert "Takes all 4 boxes of this contest that wait for a shelf." in (
        found[0].reasons
    )


# Whatever stands where

_lots = st.builds(
    lot,
    contest=st.sampled_from(["", "CT-1", "CT-2", "CT-3"]),
    free_from=st.sampled_from([None, MARCH, date(2027, 3, 1), date(2028, 1, 1)]),
    kind=st.sampled_from(ContentKind),
    boxes=st.integers(1, 6),
    quarantined=st.booleans(),
)


@st.composite
def rooms(draw):
    count = draw(st.integers(0, 12))
    return [
        shelf(
            f"SH-{n}",
            *draw(st.lists(_lots, max_size=3)),
            bay=f"BY-{n // 3}",
            place=n,
            level=draw(st.none() | st.integers(1, 6)),
            capacity=draw(st.integers(1, 12)),
            room=draw(st.sampled_from(["RM-1", "RM-2"])),
        )
        for n in range(count)
    ]


_boxes = st.builds(
    BoxToShelve,
    room=st.just("RM-1"),
    lot=_lots,
    weight_kg=st.none() | st.decimals(1, 40, places=1),
    waiting=st.integers(1, 6),
)


@supposed(_boxes, rooms())
def test_a_suggestion_is_never_full_never_in_another_room_and_never_mixes(what, room):
    by_number = {one.number: one for one in room}
    found = suggest(what, room)
    assert len(found) <= 3
    assert len(set(shelves_of(found))) == len(found)
    for one in found:
        at = by_number[one.shelf]
        assert at.room == what.room
        assert sum(other.boxes for other in at.lots) < at.capacity
        assert one.free == at.capacity - sum(other.boxes for other in at.lots) > 0
        kinds = {other.kind for other in at.lots} | {what.lot.kind}
        if what.lot.kind is not PACKET:
            assert not {SLIPS, MOCK} <= kinds
        assert {other.quarantined for other in at.lots} <= {what.lot.quarantined}
        assert one.reasons


@supposed(_boxes, rooms(), st.randoms(use_true_random=False))
def test_the_same_facts_in_any_order_give_the_same_suggestions(
    what, room, shuffler: Random
):
    first = suggest(what, room)
    shuffled = room.copy()
    shuffler.shuffle(shuffled)
    assert suggest(what, shuffled) == first


@supposed(_boxes, rooms())
def test_a_heavy_box_is_led_high_only_where_nothing_low_can_take_it(what, room):
    found = suggest(what, room)
    if not found or what.weight_kg is None or what.weight_kg <= Decimal(16):
        return
    by_number = {one.number: one for one in room}
    best = by_number[found[0].shelf]
    if best.level is not None and best.level > LOW_LEVELS:
        low = [s for s in room if s.level in (1, 2) and suggest(what, [s])]
        assert not low


def test_what_is_scanned_falls_into_boxes_with_their_shelf():
    scanned = ["BX-1", " BX-2 ", "BX-2", "SH-1", "", "BX-3", "sh-2", "BX-4"]
    runs, left = in_runs(scanned)
    assert runs == [(["BX-1", "BX-2"], "SH-1"), (["BX-3"], "sh-2")]
    assert left == ["BX-4"]
