"""A new envelope or box in place of one that was opened: both linked for ever.

What is recorded of an opening: common practice, no published source.
"""

from dataclasses import replace

import pytest
from django.db import DatabaseError, connection, transaction

from registry.models import Box, Certificate, Discrepancy, Envelope, Opening
from registry.rules.markings import Marking
from registry.usecases import Mistaken, Refused, boxes, looks, openings, preservation
from registry.usecases.cases import Covers
from tests import given, stock

pytestmark = pytest.mark.django_db


@pytest.fixture
def scene():
    return given.a_scene()


@pytest.fixture
def box(scene):
    box = given.a_shelved_box(scene)
    given.a_checked_seal(scene, box.number)
    given.a_confirmation(scene)
    return box


def a_new_box(seal="PS-0900", **more):
    closed = replace(given.an_open_box(), closed=True, seals=(given.paper_seal(seal),))
    return replace(closed, label="", **more)


def opened_into(scene, container, new, act="open-box", ref="ESC/ORD/7", **more):
    permission = given.a_permission(scene, [container], act=act, ref=ref)
    return openings.open_container(
        container=container,
        permission=permission,
        present="Cora Keeper; Ida Rill, party agent",
        done="The cover was torn.",
        new_container=new,
        fragments_kept_in="a marked bag with the new one",
        actor=scene.cast.custodian,
        at=given.NOW,
        **more,
    )


def an_opened_envelope(scene, box, new=None, **more):
    """The box is opened, then its envelope, whose content goes into a new one."""
    envelope = given.an_envelope_in(box)
    given.a_checked_seal(scene, envelope.number, "W-0001")
    openings.open_container(
        container=box.number,
        permission=given.a_permission(scene, [box.number], "open-box", ref="ESC/ORD/5"),
        present="Cora Keeper; Ida Rill, party agent",
        done="An envelope was taken up.",
        new_seals=[given.paper_seal("PS-0800")],
        fragments_kept_in="a marked bag in the box",
        actor=scene.cast.custodian,
        at=given.NOW,
    )
    arrival = new or given.an_envelope_on_the_table(seal="W-0900")
    return envelope, opened_into(
        scene, envelope.number, arrival, "open-envelope", "ESC/ORD/6", **more
    )


def test_a_new_box_takes_the_place_the_content_and_the_marks_of_the_old(scene, box):
    envelope = given.an_envelope_in(box)
    done = opened_into(scene, box.number, a_new_box())
    old, new = Box.objects.get(pk=box.pk), Box.objects.get(number=done.successor)
    assert (old.state, old.whereabouts, old.shelf) == ("superseded", "replaced", None)
    assert (new.state, new.whereabouts, new.shelf) == ("held", "shelved", box.shelf)
    assert (new.supersedes, new.contest, new.label) == (old, box.contest, box.label)
    envelope.refresh_from_db()
    assert envelope.box == new
    assert envelope.movements.latest("id").to_place == f"box {new.number}"
    assert [old.movements.latest("id").act, new.movements.get().act] == ["replaced"] * 2
    assert old.seals.get().state == "superseded"
    assert new.seals.get().supersedes == old.seals.get()
    assert Opening.objects.get().fragments_kept_in == "a marked bag with the new one"
    stock.must_add_up()


def test_a_new_envelope_may_bear_the_serials_of_the_old(scene, box):
    old, done = an_opened_envelope(scene, box)
    new = Envelope.objects.get(number=done.successor)
    old.refresh_from_db()
    assert done.problems == ()
    assert (old.state, new.state, old.box) == ("superseded", "held", None)
    assert (new.box, new.unit_set, new.slip_count) == (box, old.unit_set, 612)
    stock.must_add_up()


def test_both_pages_show_each_other(scene, box):
    old, done = an_opened_envelope(scene, box)
    for number in (old.number, done.successor):
        file = looks.look_at_envelope(
            envelope=number, actor=scene.cast.auditor, at=given.NOW
        )
        assert [row.number for row in file.covers] == [old.number, done.successor]
        other = done.successor if number == old.number else old.number
        assert any(other in entry.what for entry in file.timeline)


def test_it_is_superseded_twice(scene, box):
    first = opened_into(scene, box.number, a_new_box("PS-0900")).successor
    given.a_checked_seal(scene, first, "PS-0900")
    second = opened_into(scene, first, a_new_box("PS-0901"), ref="ESC/ORD/8").successor
    file = looks.look_at_box(box=second, actor=scene.cast.custodian, at=given.NOW)
    assert [row.number for row in file.covers] == [box.number, first, second]
    assert file.successor == ""
    stock.must_add_up()


def test_markings_of_the_new_one_are_looked_at_as_at_intake(scene, box):
    new = given.changed(
        given.an_envelope_on_the_table(seal="W-0900"), Marking.STATION_NUMBER, "002"
    )
    _, done = an_opened_envelope(scene, box, new)
    held = Envelope.objects.get(number=done.successor)
    assert held.state == "quarantined"
    assert held.discrepancies.get().kind == "marking-differs"
    assert held.station.station_number == "001"


def test_what_does_not_belong_is_recorded_and_not_sorted(scene, box):
    """Failure mode 58: mock-poll slips found in a poll envelope."""
    _, done = an_opened_envelope(scene, box, found="Three mock-poll slips among them.")
    found = Discrepancy.objects.get(envelope__number=done.successor)
    assert "Three mock-poll slips" in found.detail
    assert Opening.objects.latest("id").found.startswith("Three")


def test_an_empty_envelope_stays_on_the_register(scene, box):
    """Failure mode 59: empty is a content as well."""
    new = replace(given.an_envelope_on_the_table(seal="W-0900"), slip_count=0)
    _, done = an_opened_envelope(scene, box, new)
    held = Envelope.objects.get(number=done.successor)
    assert (held.slip_count, held.state) == (0, "quarantined")
    assert held.discrepancies.get().kind == "count-differs"


def test_an_order_covers_the_new_one_and_a_permission_does_not(scene, box):
    destroys = given.a_permission(scene, [box.number], ref="ESC/ORD/1")
    new = opened_into(scene, box.number, a_new_box()).successor
    given.a_checked_seal(scene, new, "PS-0900")
    with pytest.raises(Refused, match=f"does not name Box {new}"):
        given.disposed_of(scene, new, destroys)
    preservation.enter_preservation_order(
        election=scene.election,
        issued_by="High Bench of Calvenna",
        order_ref="HB/PO/3",
        dated=given.TODAY,
        from_on=given.TODAY,
        until_on=None,
        covers=Covers(contests=(scene.contests["11"],)),
        actor=scene.cast.legal,
        at=given.NOW,
    )
    again = given.a_permission(scene, [new], ref="ESC/ORD/9")
    with pytest.raises(Refused, match="HB/PO/3"):
        given.disposed_of(scene, new, again)


def test_the_old_cover_goes_with_the_new_one_and_the_certificate_says_so(scene, box):
    new = opened_into(scene, box.number, a_new_box()).successor
    given.a_checked_seal(scene, new, "PS-0900")
    given.disposed_of(scene, new, given.a_permission(scene, [new]))
    assert Box.objects.get(number=new).state == "disposed"
    assert Box.objects.get(pk=box.pk).state == "superseded"
    assert Certificate.objects.count() == 1
    stock.must_add_up()


def test_nothing_more_is_done_with_a_superseded_box(scene, box):
    opened_into(scene, box.number, a_new_box())
    act = {"actor": scene.cast.custodian, "at": given.NOW}
    with pytest.raises(Refused):
        boxes.shelve_box(box=box.number, shelf=scene.shelves[1], **act)
    with pytest.raises(Refused):
        given.a_checked_seal(scene, box.number)
    with pytest.raises(Refused):
        opened_into(scene, box.number, a_new_box("PS-1"), ref="ESC/ORD/8")


def test_where_the_old_seal_lies_must_be_said(scene, box):
    with pytest.raises(Mistaken) as mistaken:
        openings.open_container(
            container=box.number,
            permission=given.a_permission(scene, [box.number], act="open-box"),
            present="Cora Keeper",
            done="Looked",
            new_seals=[given.paper_seal("PS-0900")],
            actor=scene.cast.custodian,
            at=given.NOW,
        )
    assert set(mistaken.value.errors) == {"fragments_kept_in"}


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ("state = 'held', whereabouts = 'intake'", "stays superseded"),
        ("state = 'superseded', whereabouts = 'replaced'", "without an opening"),
    ],
)
def test_the_database_keeps_what_is_superseded(scene, box, change, words):
    old = given.logged(scene, given.an_open_box(label="empty")).number
    if "stays" in words:
        old = box.number
        opened_into(scene, old, a_new_box())
    with (
        pytest.raises(DatabaseError, match=words),
        transaction.atomic(),
        connection.cursor() as cursor,
    ):
        cursor.execute(
            f"UPDATE registry_box SET {change}, shelf_id = NULL WHERE number = %s",
            [old],
        )


def test_the_database_lets_nothing_lie_in_a_superseded_box(scene, box):
    opened_into(scene, box.number, a_new_box())
    with (
        pytest.raises(DatabaseError, match="nothing lies in a superseded box"),
        transaction.atomic(),
        connection.cursor() as cursor,
    ):
        cursor.execute("UPDATE registry_envelope SET box_id = %s", [box.pk])
