"""Inspection rounds: the seal is read blind, and what differs is never put right.

What a round is: desks.md B.1; the numbers of failure modes are those of
failure_modes.md; reading blind: standards.md A.4.2 (published seal guidance).
"""

from dataclasses import replace
from datetime import timedelta

import pytest

from registry.models import (
    Box,
    Discrepancy,
    InspectionRound,
    Seal,
    SealEvent,
    Sighting,
)
from registry.rules.powers import PowerMissing
from registry.usecases import (
    Mistaken,
    NotThere,
    Refused,
    boxes,
    custody,
    desks,
    round_looks,
    rounds,
)
from registry.usecases.rounds import Sight
from tests import given
from tests.documents.papers import codes_on, text_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def scene():
    return given.a_scene()


@pytest.fixture
def act(scene):
    return {"actor": scene.cast.custodian, "at": given.NOW}


@pytest.fixture
def box(scene):
    return given.a_shelved_box(scene)


@pytest.fixture
def walk(scene, act, box):
    """The number of a round of the room, begun, with one box on its first shelf."""
    return rounds.begin_round(room=scene.room, witness="Gil Keeper", **act)


def seen(scene, walk, number, read="PS-0001", finding="intact-matches", **more):
    at = more.pop("at", given.NOW)
    shelf = more.pop("shelf", scene.shelves[0])
    seen_at = more.pop("seen_at", None)
    return rounds.see(
        inspection=walk,
        shelf=shelf,
        seen=Sight(number, read, finding, **more),
        seen_at=seen_at,
        actor=scene.cast.custodian,
        at=at,
    )


def test_a_box_in_its_place_with_its_seal_agrees(scene, act, walk, box):
    told = seen(scene, walk, box.number)
    assert told.agrees
    assert told.said == ("The seal agrees with the record: PS-0001.",)
    sighting = Sighting.objects.get()
    event = SealEvent.objects.get(sighting=sighting)
    assert (event.act, event.finding) == ("checked", "intact-matches")
    assert (event.number_read, event.witness) == ("PS-0001", "Gil Keeper")
    assert not Discrepancy.objects.exists()
    rounds.end_round(inspection=walk, **act)
    assert InspectionRound.objects.get().state == "done"


def test_a_seal_that_differs_by_one_digit_is_never_put_right(scene, walk, box):
    """Failure mode 50: blind entry, outcome "differs", never auto-corrected."""
    told = seen(scene, walk, box.number, read="PS-0007")
    assert not told.agrees
    assert "intact, number differs" in told.said[0]
    assert Seal.objects.get(box=box).serial == "PS-0001"
    found = Discrepancy.objects.get()
    assert (found.kind, found.written, found.expected) == (
        "seal-broken",
        "PS-0007",
        "PS-0001",
    )
    assert found.owner.name == scene.cast.custodian.name
    assert found.due_on == given.TODAY + timedelta(days=7)


def test_the_page_of_a_shelf_and_the_sheet_do_not_tell_the_number(
    scene, act, walk, box
):
    """Whoever knows the number reads what is expected (standards.md A.4.2)."""
    file = round_looks.look_at_shelf(inspection=walk, shelf=scene.shelves[0], **act)
    assert "PS-0001" not in repr(file)
    assert file.shelf.containers[0].seals == 1
    sheet = round_looks.print_round_sheet(inspection=walk, **act)
    text = text_of(sheet.content)
    assert "PS-0001" not in text
    assert "0001" not in text.replace(box.number, "").replace(walk, "").replace(
        scene.shelves[0], ""
    )
    assert "Number READ on the seal" in text
    assert box.number in codes_on(sheet.content)


def test_the_seal_must_be_looked_at(scene, walk, box):
    with pytest.raises(Mistaken, match="in which state"):
        seen(scene, walk, box.number, finding="")
    assert not Sighting.objects.exists()


def test_something_not_on_the_register_is_recorded_as_found(scene, walk, box):
    """Failure mode 60: found in stock, not on the register."""
    with pytest.raises(Mistaken, match="say so below"):
        seen(scene, walk, "TRUNK 4, NO LABEL")
    told = seen(scene, walk, "TRUNK 4, NO LABEL", read="X-9", strange=True)
    assert "quarantine shelf" in told.said[0]
    found = Discrepancy.objects.get()
    assert (found.kind, found.room.number) == ("strange", scene.room)
    assert "TRUNK 4, NO LABEL" in found.written
    assert Sighting.objects.get().box is None
    walked = round_looks.look_at_round(
        inspection=walk, actor=scene.cast.custodian, at=given.NOW
    ).walk
    assert [other.scanned for other in walked.others] == ["TRUNK 4, NO LABEL"]


def test_a_box_on_another_shelf_is_not_moved_by_looking(scene, walk, box):
    told = seen(scene, walk, box.number, shelf=scene.shelves[1])
    assert not told.agrees
    found = Discrepancy.objects.get()
    assert found.kind == "wrong-place"
    assert "shelf 2" in found.written
    assert "shelf 1" in found.expected
    assert Box.objects.get().shelf.number == scene.shelves[0]


def test_a_missing_box_that_is_seen_is_told_and_stays_missing(scene, act, walk, box):
    custody.report_not_found(container=box.number, note="Looked on A/1.", **act)
    told = seen(scene, walk, box.number)
    assert any("record that it is found" in said for said in told.said)
    assert Box.objects.get().whereabouts == "missing"


def test_a_label_that_fades_and_a_damp_lid_are_findings(scene, walk, box):
    seen(scene, walk, box.number, label_legible=False, condition="lid is damp")
    details = set(Discrepancy.objects.values_list("detail", flat=True))
    assert details == {
        "The label can no longer be read: print a new one.",
        "lid is damp",
    }


def test_what_is_not_there_is_missing_only_when_the_custodian_says_so(
    scene, act, walk, box
):
    """Failure mode 61: state missing, with a log of the search."""
    call = {"inspection": walk, **act}
    with pytest.raises(Refused, match="was not seen yet"):
        rounds.end_round(**call)
    rounds.look_for(
        shelf=scene.shelves[0], container=box.number, note="A/1 and A/2.", **call
    )
    assert Box.objects.get().whereabouts == "shelved"
    assert Discrepancy.objects.get().kind == "not-found"
    with pytest.raises(Refused, match="looked for in vain"):
        rounds.end_round(**call)
    custody.report_not_found(container=box.number, note="A/1 and A/2.", **act)
    rounds.end_round(**call)
    assert Discrepancy.objects.get().kind == "not-found"


def test_what_was_looked_for_in_vain_may_still_be_found(scene, act, walk, box):
    rounds.look_for(
        inspection=walk,
        shelf=scene.shelves[0],
        container=box.number,
        note="Not on A/1.",
        **act,
    )
    told = seen(scene, walk, box.number, shelf=scene.shelves[1])
    assert not told.agrees
    rounds.end_round(inspection=walk, **act)
    with pytest.raises(Refused, match="begin a new round"):
        seen(scene, walk, box.number)


def test_a_round_is_left_off_only_with_a_reason_and_does_not_count(
    scene, act, walk, box
):
    with pytest.raises(Mistaken, match="Say why"):
        rounds.end_round(inspection=walk, left_off=True, **act)
    rounds.end_round(
        inspection=walk, left_off=True, remarks="Called to the court.", **act
    )
    room = round_looks.list_rounds(**act).rooms[0]
    assert room.is_overdue
    assert InspectionRound.objects.get().state == "left"


def test_a_container_is_seen_once_but_each_of_its_seals_is_read(scene, act):
    number = given.logged(scene, given.an_open_box()).number
    given.logged(scene, given.an_envelope_on_the_table(), box=number)
    boxes.close_box(
        box=number,
        seals=[given.paper_seal(), given.paper_seal("PS-0002")],
        sealed_on=given.COUNTED,
        **act,
    )
    boxes.shelve_box(box=number, shelf=scene.shelves[0], **act)
    walk = rounds.begin_round(room=scene.room, **act)
    seen(scene, walk, number)
    with pytest.raises(Refused, match="was not seen yet"):
        rounds.end_round(inspection=walk, **act)
    seen(scene, walk, number.lower(), read="PS-0002")
    with pytest.raises(Refused, match="seen on this round already"):
        seen(scene, walk, number)
    rounds.end_round(inspection=walk, **act)


def test_one_round_of_a_room_is_walked_at_a_time(scene, act, walk):
    with pytest.raises(Refused, match=walk):
        rounds.begin_round(room=scene.room, **act)


def test_a_round_of_what_a_case_holds_leaves_the_rest_out(scene, act, box):
    given.a_shelved_box_of_station_two(scene)
    given.a_case(scene, covers=case_of_station_one(scene))
    walk = rounds.begin_round(room=scene.room, contested_only=True, **act)
    file = round_looks.look_at_round(inspection=walk, **act)
    numbers = [c.number for s in file.walk.shelves for c in s.containers]
    assert numbers == [box.number]


def case_of_station_one(scene):
    from registry.models import PollingStation
    from registry.usecases import cases

    station = PollingStation.objects.get(
        contest__number=scene.contests["11"], station_number="001"
    )
    return cases.Covers(
        stations=(station.number,),
        because="The petition names this station alone.",
        authority="ESC/DIR/7",
    )


def test_a_sheet_is_typed_in_with_the_moment_at_which_it_was_walked(scene, act, box):
    """Failure mode 90: paper first, entered later, with both moments."""
    other = given.a_shelved_box_of_station_two(scene)
    walk = rounds.begin_round(room=scene.room, on_paper=True, **act)
    walked_at, typed_at = (given.NOW + timedelta(hours=n) for n in (1, 5))
    rounds.type_in(
        inspection=walk,
        shelf=scene.shelves[0],
        lines=[Sight(box.number, "PS-0001", "intact-matches")],
        in_vain={},
        seen_at=walked_at,
        actor=scene.cast.custodian,
        at=typed_at,
    )
    sighting = Sighting.objects.get()
    assert (sighting.seen_at, sighting.recorded_at) == (walked_at, typed_at)
    late = {"actor": scene.cast.custodian, "at": typed_at}
    rounds.type_in(
        inspection=walk,
        shelf=scene.shelves[1],
        lines=[],
        in_vain={other.number: "shelf is empty"},
        seen_at=walked_at,
        **late,
    )
    assert not Sighting.objects.get(box=other).found


@pytest.mark.parametrize("hours", [-1, 6])
def test_a_moment_outside_the_walk_is_not_taken(scene, act, box, hours):
    walk = rounds.begin_round(room=scene.room, on_paper=True, **act)
    with pytest.raises(Mistaken, match="moment"):
        seen(
            scene,
            walk,
            box.number,
            seen_at=given.NOW + timedelta(hours=hours),
            at=given.NOW + timedelta(hours=5),
        )


def test_one_wrong_line_of_a_sheet_enters_none_of_them(scene, act, box):
    other = given.a_shelved_box_of_station_two(scene)
    walk = rounds.begin_round(room=scene.room, on_paper=True, **act)
    with pytest.raises(Mistaken) as mistaken:
        rounds.type_in(
            inspection=walk,
            shelf=scene.shelves[0],
            lines=[
                Sight(box.number, "PS-0001", "intact-matches"),
                Sight(other.number, "x" * 61, "intact-matches"),
            ],
            in_vain={},
            seen_at=given.NOW,
            **act,
        )
    assert set(mistaken.value.errors) == {f"seal_read-{other.number}"}
    assert not Sighting.objects.exists()


def test_the_next_round_stands_on_the_desk_and_moves_once_it_is_walked(
    scene, act, walk, box
):
    seen(scene, walk, box.number)
    rounds.end_round(inspection=walk, **act)
    room = round_looks.list_rounds(**act).rooms[0]
    assert room.due_on == given.TODAY + timedelta(days=room.every_days)
    late = {"actor": scene.cast.custodian, "at": given.NOW + timedelta(days=200)}
    waiting = [one for one in desks.look_at_desk(**late) if one.page == "rounds"]
    assert [one.word for one in waiting] == ["Overdue"]


@pytest.mark.parametrize("who", ["legal", "authority", "auditor", "administrator"])
def test_only_the_custodian_walks(scene, act, walk, box, who):
    call = {"actor": getattr(scene.cast, who), "at": given.NOW}
    with pytest.raises(PowerMissing):
        rounds.begin_round(room=scene.room, **call)
    with pytest.raises(PowerMissing):
        rounds.see(
            inspection=walk, shelf=scene.shelves[0], seen=Sight(box.number), **call
        )
    with pytest.raises(PowerMissing):
        rounds.end_round(inspection=walk, **call)


def test_a_round_of_another_room_is_not_there(scene, walk, box):
    stranger = replace(scene.cast.custodian, rooms=frozenset())
    with pytest.raises(NotThere):
        round_looks.look_at_round(inspection=walk, actor=stranger, at=given.NOW)
