"""The plan of a room as numbers: nothing overlaps, nothing is lost, both sizes."""

from collections import Counter
from datetime import date

import pytest
from hypothesis import given as supposed
from hypothesis import strategies as st

from registry.rules.coming_free import (
    MOST_ROWS,
    ComingFree,
    MonthFree,
    Stay,
    coming_free,
    free_picture,
)
from registry.rules.retention_answer import Hold, Reason, Retention
from registry.rules.room_plans import (
    BAY_WIDTH,
    PlanBay,
    PlanBox,
    PlanShelf,
    Standing,
    room_plan,
)

ON = date(2026, 11, 2)


@st.composite
def some_bays(draw, most_bays=15):
    bays = []
    for b in range(draw(st.integers(1, most_bays))):
        shelves = []
        for s in range(draw(st.integers(1, 4))):
            capacity = draw(st.integers(1, 60))
            boxes = tuple(
                PlanBox(f"BX-{b}-{s}-{n}", "11", "11 Harbour Reach",
                        draw(st.sampled_from(Standing)))
                for n in range(draw(st.integers(0, min(capacity, 8))))
            )  # fmt: skip
            level = draw(st.none() | st.integers(1, 5))
            shelves.append(PlanShelf(f"SH-{b}-{s}", str(s), level, capacity, boxes))
        bays.append(PlanBay(f"BY-{b}", str(b), tuple(shelves)))
    return bays


@supposed(some_bays())
def test_every_shelf_is_drawn_once_and_cells_neither_overlap_nor_leave_their_bay(bays):
    plan = room_plan(bays)
    for bay, drawn in zip(bays, plan.bays, strict=True):
        assert {s.number for s in bay.shelves} == {s.number for s in drawn.shelves}
        below = 0
        for shelf in drawn.shelves:
            assert shelf.y >= below
            below = shelf.y + shelf.height
            assert shelf.height >= 24  # WCAG 2.2, 2.5.8: a target of 24 by 24
            spots = [(cell.x, cell.y) for cell in shelf.cells]
            assert len(set(spots)) == len(spots)
            for cell in shelf.cells:
                assert cell.x >= 0
                assert cell.right <= BAY_WIDTH + 2
                assert shelf.y <= cell.y
                assert cell.bottom <= below
        assert below <= drawn.height


@supposed(some_bays())
def test_picture_and_table_count_the_same(bays):
    plan = room_plan(bays)
    boxes = [box for bay in bays for shelf in bay.shelves for box in shelf.boxes]
    assert plan.counts == {s: Counter(b.standing for b in boxes)[s] for s in Standing}
    assert plan.taken == len(boxes)
    assert plan.taken + plan.empty == plan.capacity
    if not plan.in_bars:
        for bay, drawn in zip(bays, plan.bays, strict=True):
            by_number = {shelf.number: shelf for shelf in bay.shelves}
            for shelf in drawn.shelves:
                of = by_number[shelf.number]
                if of.capacity <= 24:
                    filled = [cell for cell in shelf.cells if cell.standing]
                    assert len(filled) == len(of.boxes)
                    assert len(shelf.cells) == of.capacity


def test_the_lowest_shelf_is_drawn_lowest():
    shelves = tuple(PlanShelf(f"SH-{n}", str(n), n, 2) for n in (1, 2, 3))
    drawn = room_plan([PlanBay("BY-1", "A", shelves)]).bays[0].shelves
    assert [shelf.code for shelf in drawn] == ["3", "2", "1"]


def test_a_room_of_sixty_bays_is_drawn_in_bars_and_one_of_one_bay_box_by_box():
    full = PlanShelf("SH-1", "1", 1, 20, (PlanBox("BX-1", "11", "x", Standing.HELD),))
    assert room_plan([PlanBay(f"BY-{n}", str(n), (full,)) for n in range(60)]).in_bars
    one = room_plan([PlanBay("BY-1", "A", (full,))])
    assert not one.in_bars
    cells = one.bays[0].shelves[0].cells
    assert len(cells) == 20
    assert "BX-1" in next(c for c in cells if c.standing).title


def test_who_sees_only_some_boxes_is_shown_no_empty_place():
    shelf = PlanShelf("SH-1", "1", 1, 9, (PlanBox("BX-1", "11", "x", Standing.KEPT),))
    bay = room_plan([PlanBay("BY-1", "A", (shelf,))], all_shown=False).bays[0]
    assert [cell.title for cell in bay.shelves[0].cells] == [
        "BX-1, x: kept, its time runs"
    ]
    assert "9" not in bay.shelves[0].words


# When places come free


def kept(through: date | None, reason=Reason.TERM) -> Retention:
    hold = Hold(reason, "x", "x", through, ())
    free_from = date.fromordinal(through.toordinal() + 1) if through else None
    return Retention(
        retain_through=through,
        may_be_disposed_from=free_from,
        is_over=bool(through and through < ON),
        reason=reason,
        governed_by="x",
        steps=(),
        as_of=ON,
        contest="CT-1",
        governing=hold,
        holds=(hold,),
        confirm_through=None,
    )


def test_places_come_free_when_permission_is_given_and_used():
    told = coming_free(
        [
            Stay(kept(date(2026, 1, 1)), False),  # over: waits for a permission only
            Stay(kept(date(2027, 2, 28)), False, 2),
            Stay(kept(date(2027, 3, 9)), False),
        ],
        empty_now=5,
        on=ON,
        within_days=30,
    )
    # 2 November and 30 days: 2 December; 1 March and 30 days: 31 March; 10 March
    # and 30 days: 9 April. Counted by hand.
    assert told.months == (
        MonthFree(date(2026, 12, 1), 1, 6),
        MonthFree(date(2027, 3, 1), 2, 8),
        MonthFree(date(2027, 4, 1), 1, 9),
    )
    assert told.staying == ()


def test_what_has_no_end_is_told_with_its_reason():
    told = coming_free(
        [
            Stay(kept(None, Reason.CASE_PENDING), False, 4),
            Stay(kept(None, Reason.PRESERVATION_ORDER), False),
            Stay(kept(date(2026, 1, 1)), True),
            Stay(None, False),
        ],
        0,
        ON,
        0,
    )
    assert told.months == ()
    assert {(s.boxes, s.why) for s in told.staying} == {
        (4, "while a case is pending"),
        (1, "while an order preserves them"),
        (1, "in quarantine, until what is wrong with them is resolved"),
        (1, "while a date or the contest is not known"),
    }


_stays = st.lists(
    st.builds(
        Stay,
        st.none() | st.builds(kept, st.none() | st.dates(max_value=date(9999, 12, 30))),
        st.booleans(),
        st.integers(1, 9),
    )
)


@supposed(_stays, st.integers(0, 50), st.integers(0, 3650))
def test_every_box_either_leaves_or_stays(stays, empty, within):
    told = coming_free(stays, empty, ON, within)
    leaving = sum(month.places for month in told.months)
    staying = sum(stay.boxes for stay in told.staying)
    assert leaving + staying == sum(stay.boxes for stay in stays)
    days = [month.first_day for month in told.months]
    assert days == sorted(set(days))
    if told.months:
        assert told.months[-1].empty_after == empty + leaving


@pytest.mark.parametrize("days", [-1, 3651])
def test_days_that_are_none_are_refused(days):
    with pytest.raises(ValueError, match="0 to 3650"):
        coming_free([], 0, ON, days)


def test_many_months_are_drawn_as_years():
    months = [MonthFree(date(2027 + n // 12, n % 12 + 1, 1), 2, 0) for n in range(36)]
    few = free_picture(ComingFree(ON, 0, 0, tuple(months[:3]), ()))
    many = free_picture(ComingFree(ON, 0, 0, tuple(months), ()))
    assert [bar.label for bar in few.bars] == [
        "January 2027",
        "February 2027",
        "March 2027",
    ]
    assert len(months) > MOST_ROWS
    assert [(bar.label, bar.places) for bar in many.bars] == [
        ("2027", 24),
        ("2028", 24),
        ("2029", 24),
    ]
    assert free_picture(ComingFree(ON, 0, 0, (), ())) is None
