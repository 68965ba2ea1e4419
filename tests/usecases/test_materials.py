"""Material for sealing, from the issue to the account that agrees."""

import csv
import io
from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from registry.models import Discrepancy, Envelope, MaterialEnd, MaterialIssue
from registry.usecases import (
    Mistaken,
    NotThere,
    Refused,
    desks,
    discrepancies,
    material_looks,
    materials,
)
from registry.usecases.materials import Pieces
from tests import given

pytestmark = pytest.mark.django_db
MAKER = "Calvenna Print Works"
DAY = given.COUNTED - timedelta(days=10)


@pytest.fixture
def scene():
    return given.a_scene()


def act(scene, who="custodian"):
    return {"actor": getattr(scene.cast, who), "at": given.NOW}


def issued(scene, first="PS-0001", last="PS-0006", contest="11", **more):
    return materials.issue_material(
        **{
            "contest": scene.contests[contest],
            "kind": "paper",
            "pieces": Pieces(first, last),
            "maker": MAKER,
            "issued_on": DAY,
            "issued_to": "Isolde Tarn, returning officer",
            **act(scene),
            **more,
        }
    )


def look(scene, contest="11", who="custodian"):
    return material_looks.look_at_materials(
        contest=scene.contests[contest], **act(scene, who)
    )


def told(file):
    return [(d.trouble.value, d.written) for d in file.account.differences]


def test_each_seal_is_applied_spoilt_returned_or_lost_and_then_nothing_is_open(scene):
    lot = issued(scene)
    given.a_shelved_box(scene, seal="PS-0001")
    assert told(look(scene)) == [("gap", "PS-0002 to PS-0006")]
    on = {"on": given.COUNTED, **act(scene)}
    materials.record_spoilt(
        lot=lot, pieces=Pieces("PS-0002"), kept_in="Envelope S 1", **on
    )
    materials.record_returned(lot=lot, pieces=Pieces("PS-0003", "PS-0005"), **on)
    assert told(look(scene)) == [("gap", "PS-0006")]
    materials.record_lost(
        lot=lot, pieces=Pieces("PS 0006"), note="Fell into the harbour", **on
    )
    file = look(scene)
    assert told(file) == []
    (row,) = file.lots
    assert row.fates == {
        "applied": 1,
        "spoilt": 1,
        "returned": 3,
        "lost": 1,
        "unaccounted": 0,
    }


def test_a_seal_that_was_never_issued_does_not_stop_intake_and_stands_out(scene):
    issued(scene)
    box = given.a_shelved_box(scene, seal="PS-0999")
    assert box.state == "held"
    assert ("never-issued", "PS-0999") in told(look(scene))


def test_a_seal_issued_for_another_contest_stands_out(scene):
    issued(scene, contest="12")
    box = given.a_shelved_box(scene)
    assert box.state == "held"
    assert told(look(scene)) == [("issued-elsewhere", "PS-0001")]


def test_49_the_same_number_on_two_boxes_is_in_quarantine_and_named_as_reuse(scene):
    issued(scene, last="PS-0001")
    given.a_shelved_box(scene)
    again = given.logged(
        scene,
        given.replace(
            given.an_open_box(label="2 of 2"),
            closed=True,
            seals=(given.paper_seal("PS-0001"),),
        ),
    )
    assert again.problems
    file = look(scene)
    assert told(file) == [("applied-twice", "PS-0001")]
    assert again.number in file.account.differences[0].text


def test_a_custodian_of_another_room_reads_no_number_of_a_box_there(scene):
    box = given.a_shelved_box(scene, seal="XX-1")
    stranger = given.appointed(
        scene.cast.administrator,
        "gil.keeper",
        given.Role.CUSTODIAN,
        rooms=(scene.other_room,),
    )
    file = material_looks.look_at_materials(
        contest=scene.contests["11"], actor=stranger, at=given.NOW
    )
    assert told(file) == [("never-issued", "XX-1")]
    assert box.number not in repr(file)
    assert "a box in Customs House strong room" in repr(file)


def test_envelopes_are_accounted_for_by_count(scene):
    lot = issued(scene, kind="envelope", pieces=Pieces(count=5), maker="")
    given.a_shelved_box(scene)
    assert Envelope.objects.count() == 1
    materials.record_spoilt(
        lot=lot, pieces=Pieces(count=2), kept_in="Bag 1", on=DAY, **act(scene)
    )
    assert told(look(scene))[-1] == ("pieces-differ", "2 envelopes not accounted for")
    with pytest.raises(Mistaken, match="3 are left"):
        materials.record_returned(lot=lot, pieces=Pieces(count=4), on=DAY, **act(scene))
    materials.record_returned(lot=lot, pieces=Pieces(count=2), on=DAY, **act(scene))
    assert [d for d in told(look(scene)) if d[0] == "pieces-differ"] == []


@pytest.mark.parametrize(
    ("more", "field"),
    [
        ({"pieces": Pieces("PS-0001", "PT-0004")}, "last_serial"),
        ({"pieces": Pieces("", "")}, "first_serial"),
        ({"pieces": Pieces("PS-0001", "PS-0004", 5)}, "count"),
        ({"kind": "envelope", "pieces": Pieces("PS-0001")}, "first_serial"),
        ({"kind": "envelope", "pieces": Pieces()}, "count"),
        ({"kind": "wax", "pieces": Pieces(count=5)}, "kind"),
        ({"issued_to": " "}, "issued_to"),
        ({"issued_on": given.TODAY + timedelta(days=1)}, "issued_on"),
    ],
)
def test_what_cannot_be_right_is_told_at_its_field(scene, more, field):
    with pytest.raises(Mistaken) as mistaken:
        issued(scene, **more)
    assert list(mistaken.value.errors) == [field]
    assert not MaterialIssue.objects.exists()


def test_the_same_lot_is_not_recorded_twice(scene):
    first = issued(scene)
    with pytest.raises(Mistaken, match=first):
        issued(scene)
    assert issued(scene, contest="12")
    assert ("issued-twice", "PS-0001 to PS-0006") in told(look(scene, "12"))


@pytest.mark.parametrize(
    ("ending", "more", "field"),
    [
        ("spoilt", {"pieces": Pieces("PS-0009"), "kept_in": "Bag"}, "first_serial"),
        ("spoilt", {"pieces": Pieces("PS-0002"), "kept_in": ""}, "kept_in"),
        ("lost", {"pieces": Pieces("PS-0002"), "note": " "}, "note"),
        ("returned", {"pieces": Pieces("PS-0002"), "on": DAY - timedelta(1)}, "on"),
        ("returned", {"pieces": Pieces("PS-0002"), "on": given.TODAY + timedelta(1)},
         "on"),
        ("returned", {"pieces": Pieces("PS-0003", "PS-0004")}, "first_serial"),
    ],
)  # fmt: skip
def test_what_became_of_pieces_is_checked(scene, ending, more, field):
    lot = issued(scene)
    materials.record_returned(lot=lot, pieces=Pieces("PS-0004"), on=DAY, **act(scene))
    with pytest.raises(Mistaken) as mistaken:
        materials.ENDINGS[ending](**{"lot": lot, "on": DAY, **act(scene), **more})
    assert list(mistaken.value.errors) == [field]
    assert MaterialEnd.objects.count() == 1


def test_a_lot_of_no_such_number_is_not_there(scene):
    with pytest.raises(NotThere):
        materials.record_returned(
            lot="MI-000009-1", pieces=Pieces("PS-1"), on=DAY, **act(scene)
        )


def test_a_gap_is_taken_in_hand_and_explained(scene):
    issued(scene)
    given.a_shelved_box(scene)
    (gap,) = look(scene).account.open
    opened = material_looks.open_material_difference(
        contest=scene.contests["11"], difference=gap.key, **act(scene)
    )
    found = Discrepancy.objects.get(number=opened)
    assert (found.kind, found.written) == ("material", "PS-0002 to PS-0006")
    assert found.owner_id == scene.cast.custodian.person_id
    assert found.room.number == scene.room
    assert [d.state for d in look(scene).account.open] == ["in hand"]
    with pytest.raises(Refused, match="open for this difference already"):
        material_looks.open_material_difference(
            contest=scene.contests["11"], difference=gap.key, **act(scene)
        )
    discrepancies.resolve_discrepancy(
        discrepancy=opened, resolution="Burnt in the stove, two saw it", **act(scene)
    )
    assert look(scene).account.open == ()
    with pytest.raises(Refused, match="no longer there"):
        material_looks.open_material_difference(
            contest=scene.contests["11"], difference="gap~paper~PS-9", **act(scene)
        )


def test_the_paper_and_the_table_tell_the_same(scene):
    issued(scene)
    given.a_shelved_box(scene)

    def made(form):
        return material_looks.make_material_report(
            contest=scene.contests["11"], form=form, **act(scene, "auditor")
        ).content

    lines = list(csv.DictReader(io.StringIO(made("csv").decode("utf-8-sig"))))
    assert [line["part"] for line in lines] == ["issued", "difference"]
    assert lines[0]["unaccounted"] == "5"
    assert lines[1]["serials"] == "PS-0002 to PS-0006"
    assert made("pdf")[:5] == b"%PDF-"
    with pytest.raises(Mistaken, match="pdf or csv"):
        made("docx")


def test_the_desk_asks_for_seals_that_are_nowhere_a_week_after_the_count(scene):
    issued(scene)

    def asked(at):
        found = desks.look_at_desk(actor=scene.cast.custodian, at=at)
        return [w.text for w in found if "not accounted for" in w.text]

    week = given.NOW.replace(
        year=given.COUNTED.year, month=given.COUNTED.month, day=given.COUNTED.day
    ) + timedelta(days=7)
    assert asked(week) == []
    assert asked(week + timedelta(days=1)) == ["6 seals are not accounted for"]


def test_the_desk_counts_contests_with_differences_that_nobody_has_in_hand(scene):
    def asked():
        found = desks.look_at_desk(**act(scene))
        return [w.text for w in found if "in hand" in w.text]

    assert asked() == [], "nothing of any contest is kept here"
    given.a_shelved_box(scene)
    assert asked() == ["1 contest has 10 differences that nobody has in hand"]


def test_it_takes_as_many_queries_for_many_lots_as_for_one(scene):
    def queries():
        with CaptureQueriesContext(connection) as caught:
            look(scene)
        return len(caught)

    issued(scene)
    few = queries()
    for n in range(1, 12):
        lot = issued(scene, f"PS-{n}001", f"PS-{n}400")
        materials.record_returned(
            lot=lot, pieces=Pieces(f"PS-{n}002"), on=DAY, **act(scene)
        )
    assert queries() == few


def test_the_overview_adds_up(scene):
    issued(scene)
    given.a_shelved_box(scene)
    (election,) = material_looks.list_materials(**act(scene))
    first = election.contests[0]
    assert (first.issued, first.applied, first.ended, first.unaccounted) == (6, 1, 0, 5)
