"""Shelves: suggested, filled many at a time, changed."""

from dataclasses import replace

import pytest

from registry.models import AccessEntry, AccessShown, Box, PollingStation, Shelf
from registry.queries.find import NotThere
from registry.rules.powers import PowerMissing
from registry.usecases import Mistaken, Refused, boxes, cases, set_up_looks, setting_up
from registry.usecases.room_plans import look_at_plan
from registry.usecases.shelves import put_away, suggest_shelves
from tests import given

pytestmark = pytest.mark.django_db


@pytest.fixture
def scene():
    return given.a_scene()


def keeping(scene):
    return {"actor": scene.cast.custodian, "at": given.NOW}


def a_closed_box(scene, seal, label, constituency=("11", "Harbour Reach")):
    box = given.logged(scene, given.an_open_box(constituency, label=label)).number
    boxes.close_box(
        box=box,
        seals=[given.paper_seal(seal)],
        sealed_on=given.COUNTED,
        written_stations="001",
        empty=True,
        **keeping(scene),
    )
    return box


def test_a_box_is_led_to_where_its_contest_stands(scene):
    given.a_shelved_box(scene)  # on the first shelf, which takes two
    box = a_closed_box(scene, "PS-0009", "2 of 2")
    found = suggest_shelves(box=box, **keeping(scene))
    assert found.shelves[0].shelf == scene.shelves[0]
    assert "Next to 1 box of 11 Harbour Reach" in found.shelves[0].reasons[0]
    assert "free together from" in found.shelves[0].reasons[0]


def test_of_a_contest_with_a_case_the_boxes_stay_together_without_an_end(scene):
    given.a_shelved_box(scene)
    given.a_case(scene)
    box = a_closed_box(scene, "PS-0009", "2 of 2")
    found = suggest_shelves(box=box, **keeping(scene))
    assert "kept like this one without an end date" in found.shelves[0].reasons[0]


def test_many_boxes_are_put_away_each_by_itself(scene):
    first = a_closed_box(scene, "PS-1", "1 of 3")
    second = a_closed_box(scene, "PS-2", "2 of 3")
    third = a_closed_box(scene, "PS-3", "3 of 3")
    narrow, wide = scene.shelves
    lines = put_away(
        scanned=[first, second, third, "BX-000001-Z", narrow, third, wide],
        **keeping(scene),
    )
    assert [bool(line.refused) for line in lines] == [False, False, True, True, False]
    assert "is full" in lines[2].refused
    assert "check character" in lines[3].refused
    on = dict(Box.objects.values_list("number", "shelf__number"))
    assert on == {first: narrow, second: narrow, third: wide}
    acts = Box.objects.get(number=first).movements.values_list("act", flat=True)
    assert list(acts)[-1] == "shelved"
    entry = AccessEntry.objects.get(act="box.put_away_many")
    meant = AccessShown.objects.filter(entry=entry).values_list("number", flat=True)
    assert {first, second, third} <= set(meant)


@pytest.mark.parametrize(
    ("scanned", "said"),
    [
        (["BX-000001-Q"], "Scan the shelf"),
        (["SH-000001-D"], "No box was scanned before"),
        ([], "Scan the boxes"),
    ],
)
def test_half_a_scan_is_sent_back_with_what_is_lacking(scene, scanned, said):
    with pytest.raises(Mistaken) as mistaken:
        put_away(scanned=scanned, **keeping(scene))
    assert said in mistaken.value.errors["scanned"][0]


def test_where_nothing_can_be_put_away_every_reason_is_told(scene):
    box = given.a_shelved_box(scene)
    with pytest.raises(Refused) as refused:
        put_away(scanned=[box.number, scene.shelves[0]], **keeping(scene))
    assert "already" in refused.value.reasons[0]


def test_a_shelf_of_a_room_of_others_takes_nothing(scene):
    box = a_closed_box(scene, "PS-1", "1 of 1")
    elsewhere = Shelf.objects.filter(bay__room__number=scene.other_room).first()
    with pytest.raises(Refused, match="no shelf"):
        put_away(scanned=[box, elsewhere.number], **keeping(scene))


# What a shelf takes


def test_a_shelf_is_changed_but_never_below_what_stands_on_it(scene):
    admin = {"actor": scene.cast.administrator, "at": given.NOW}
    given.a_shelved_box(scene)
    box = a_closed_box(scene, "PS-2", "2 of 2")
    boxes.shelve_box(box=box, shelf=scene.shelves[0], **keeping(scene))
    with pytest.raises(Mistaken, match="More boxes stand on it"):
        setting_up.set_shelf(shelf=scene.shelves[0], capacity=1, level=1, **admin)
    setting_up.set_shelf(shelf=scene.shelves[0], capacity=3, level=2, **admin)
    shelf = Shelf.objects.get(number=scene.shelves[0])
    assert (shelf.capacity, shelf.level) == (3, 2)
    with pytest.raises(Mistaken, match="at least one"):
        setting_up.set_shelf(shelf=shelf.number, capacity=0, level=None, **admin)
    with pytest.raises(Mistaken, match="from the floor"):
        setting_up.set_shelf(shelf=shelf.number, capacity=3, level=0, **admin)
    with pytest.raises(PowerMissing):
        setting_up.set_shelf(shelf=shelf.number, capacity=3, level=1, **keeping(scene))


def test_how_high_shelves_are_is_entered_with_them(scene):
    admin = {"actor": scene.cast.administrator, "at": given.NOW}
    plan = setting_up.BayPlan("B", (("1", 5), ("2", 5)), (2, 1))
    setting_up.add_bays(room=scene.room, bays=[plan], **admin)
    levels = Shelf.objects.filter(bay__code="B", bay__room__number=scene.room)
    assert list(levels.order_by("id").values_list("level", flat=True)) == [2, 1]


# Pages of shelves and rooms


def test_who_sees_which_boxes_on_a_shelf(scene):
    box = given.a_shelved_box(scene)

    def seen(actor):
        file = set_up_looks.look_at_shelf(
            shelf=scene.shelves[0], actor=actor, at=given.NOW
        )
        return [row.number for row in file.rows], file.all_shown

    assert seen(scene.cast.custodian) == ([box.number], True)
    assert seen(scene.cast.auditor) == ([box.number], True)
    assert seen(scene.cast.legal) == ([box.number], False)
    assert seen(scene.cast.administrator) == ([], False)
    stranger = replace(scene.cast.legal, elections=frozenset())
    assert seen(stranger) == ([], False)
    keeper = replace(scene.cast.custodian, rooms=frozenset())
    with pytest.raises(NotThere):
        seen(keeper)


def test_a_plan_tells_what_is_held_kept_and_empty(scene):
    box = given.a_shelved_box(scene)
    given.a_shelved_box_of_station_two(scene)
    given.a_case(scene, parties="A v. B")
    before = look_at_plan(room=scene.room, **keeping(scene))
    assert {s.value: n for s, n in before.plan.counts.items()} == {
        "held": 2,
        "kept": 0,
        "free": 0,
        "quarantine": 0,
    }
    assert (before.plan.taken, before.plan.empty) == (2, 20)
    assert before.free.staying[0].why == "while a case is pending"
    assert before.free.staying[0].boxes == 2
    entry = AccessEntry.objects.get(act="room.look_at_plan")
    shown = AccessShown.objects.filter(entry=entry).values_list("number", flat=True)
    assert box.number in shown


def test_a_plan_answers_box_by_box_where_a_case_names_one_station(scene):
    """Failure mode 21: one station is named, on authority; the other box is not."""
    given.a_shelved_box(scene)
    other = given.a_shelved_box_of_station_two(scene)
    station = PollingStation.objects.get(
        contest__number=scene.contests["11"], station_number="002"
    )
    given.a_case(
        scene,
        covers=cases.Covers(
            stations=(station.number,),
            because="Only this station is challenged.",
            authority="HB/ORD/4",
        ),
    )
    plan = look_at_plan(room=scene.room, **keeping(scene)).plan
    held = [
        cell.title
        for bay in plan.bays
        for shelf in bay.shelves
        for cell in shelf.cells
        if cell.standing == "held"
    ]
    assert len(held) == 1
    assert other.number in held[0]


def test_a_plan_is_refused_for_days_that_are_none(scene):
    with pytest.raises(Mistaken, match="0 to 3650"):
        look_at_plan(room=scene.room, within_days=-1, **keeping(scene))


def test_a_box_is_not_led_to_the_shelf_on_which_it_stands(scene):
    box = given.a_shelved_box(scene)
    found = suggest_shelves(box=box.number, **keeping(scene))
    assert [one.shelf for one in found.shelves] == [scene.shelves[1]]
    assert "Nothing stands on it yet." in found.shelves[0].reasons
