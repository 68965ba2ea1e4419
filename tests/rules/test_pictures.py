"""The time of keeping as a drawing: every bar says what the answer says."""

from datetime import date

from hypothesis import given
from hypothesis import strategies as st

from registry.rules.pictures import RIGHT, WIDTH, retention_picture
from registry.rules.retention import retention_of
from tests.rules.calvenna import HIGH_BENCH, SCHEDULE, case, day, event, slips
from tests.rules.case_strategies import cases, days


def drawn(*the_cases, on="2026-08-01"):
    facts = slips(cases=the_cases)
    retention = retention_of(facts, SCHEDULE, HIGH_BENCH, day(on))
    return retention, retention_picture(retention)


def test_one_bar_decides_and_what_has_no_end_is_an_arrow() -> None:
    retention, picture = drawn(case(event("filed", "2026-06-01")))
    (decides,) = [bar for bar in picture.bars if bar.governs]
    assert decides.endless
    assert decides.x + decides.width == RIGHT
    assert decides.through is retention.retain_through is None
    assert picture.text == retention.summary
    assert len(picture.bars) == len(retention.holds)


def test_nothing_dated_gives_no_drawing() -> None:
    assert retention_picture(None) is None


@given(st.lists(cases(), max_size=3, unique_by=lambda c: c.number), days)
def test_every_mark_lies_within_the_drawing(the_cases, on) -> None:
    facts = slips(cases=tuple(the_cases))
    retention = retention_of(facts, SCHEDULE, HIGH_BENCH, on)
    picture = retention_picture(retention)
    assert picture is not None
    for bar in picture.bars:
        assert 0 <= bar.x <= bar.x + bar.width <= WIDTH
        assert bar.line_to <= picture.height
    assert sum(bar.governs for bar in picture.bars) == 1
    assert 0 <= picture.today_x <= RIGHT
    assert all(0 <= tick.x <= RIGHT for tick in picture.ticks)
    places = [tick.x for tick in picture.ticks]
    assert places == sorted(set(places))


def test_later_ends_stand_further_to_the_right() -> None:
    _, picture = drawn(
        case(event("filed", "2026-06-01"), event("dismissed", "2026-07-01"))
    )
    ended = [bar for bar in picture.bars if bar.through]
    by_day = sorted(ended, key=lambda bar: bar.through or date.max)
    by_place = sorted(ended, key=lambda bar: bar.x + bar.width)
    assert [bar.label for bar in by_day] == [bar.label for bar in by_place]


def test_a_span_of_centuries_is_drawn_as_well() -> None:
    _, picture = drawn(on="2290-01-01")
    assert len(picture.ticks) <= 12
