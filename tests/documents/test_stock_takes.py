"""The sheet to walk with and the report of a stock-take, read back from the PDF."""

import pytest

from registry.documents.stock_takes import stops_of
from registry.models import StockTake
from registry.usecases.stock_take_looks import (
    look_at_stock_take,
    print_report,
    print_sheet,
)
from tests import given
from tests.documents.papers import text_of
from tests.usecases.test_stock_takes import (
    SEED_DAY,
    drawn,
    frozen,
    looked_at,
    numbers_drawn,
    packets,
)

pytestmark = pytest.mark.django_db


@pytest.fixture
def scene():
    return given.a_scene()


def test_no_recorded_seal_stands_on_the_sheet(scene):
    packets(scene, 12)
    take = drawn(scene)
    act = {"actor": scene.cast.custodian, "at": SEED_DAY}
    text = text_of(print_sheet(stock_take=take.number, **act).content)
    assert "Nothing is opened." in text
    assert all(number in text for number in numbers_drawn(take))
    assert "W-10" not in text


def test_the_report_tells_population_seed_method_and_what_was_found(scene):
    packets(scene, 12)
    take = drawn(scene)
    numbers = numbers_drawn(take)
    looked_at(scene, take, numbers[0])
    looked_at(scene, take, numbers[1], seal_read="W-7")
    act = {"actor": scene.cast.auditor, "at": SEED_DAY}
    text = text_of(print_report(stock_take=take.number, **act).content)
    for words in (
        "12 envelopes",
        "9319./2.5.8.10.12./9.18.26.34.41.45./",
        "RFC 3797",
        "repeat-draw",
        take.list_digest[:20],
        "intact, number differs",
        "not looked at",
        "Not concluded yet",
        "With 90 % confidence at most",
    ):
        assert words in text, words


def test_a_sealed_box_is_one_stop_of_the_walk(scene):
    box = given.a_shelved_box(scene)
    packets(scene, 2)
    take = StockTake.objects.get(pk=frozen(scene, whole=True).pk)
    page = look_at_stock_take(
        stock_take=take.number, actor=scene.cast.custodian, at=given.NOW
    )
    stops = stops_of(page.file.items)
    assert [len(stop.items) for stop in stops] == [1, 1, 1]
    assert box.number in {stop.look_at for stop in stops}
