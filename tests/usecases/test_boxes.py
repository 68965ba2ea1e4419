"""Boxes are filled, closed, sealed, shelved, checked, handed over and looked for.

How a box is closed, checked and moved is common practice, no published source; what
each act must leave behind is the project's own brief.
"""

from dataclasses import replace
from decimal import Decimal

import pytest

from registry.models import (
    AccessShown,
    Box,
    CustodyMovement,
    Discrepancy,
    Envelope,
    Seal,
    SealEvent,
)
from registry.rules.arrivals import SealEntry, SealKind
from registry.rules.markings import Marking
from registry.rules.powers import PowerMissing, Role
from registry.usecases import (
    Mistaken,
    NotThere,
    Refused,
    boxes,
    custody,
    intake,
    labels,
    looks,
)
from tests import given

pytestmark = pytest.mark.django_db


@pytest.fixture
def scene():
    return given.a_scene()


@pytest.fixture
def act(scene):
    return {"actor": scene.cast.custodian, "at": given.NOW}


@pytest.fixture
def box(scene):
    return given.logged(scene, given.an_open_box()).number


@pytest.fixture
def envelope(scene):
    return given.logged(scene, given.an_envelope_on_the_table()).number


def closed(box, act, *seals, **more):
    seals = seals or (given.paper_seal(),)
    more.setdefault("empty", not Envelope.objects.filter(box__number=box).exists())
    return boxes.close_box(box=box, seals=seals, sealed_on=given.COUNTED, **more, **act)


def kinds_on(number):
    return sorted(
        Discrepancy.objects.filter(box__number=number).values_list("kind", flat=True)
    )


# Filling


def test_an_envelope_lies_in_one_box(scene, act, box, envelope):
    boxes.put_into_box(envelope=envelope, box=box, **act)
    other = given.logged(scene, given.an_open_box(label="2 of 2")).number
    with pytest.raises(Refused, match=box):
        boxes.put_into_box(envelope=envelope, box=other, **act)
    assert Envelope.objects.get(number=envelope).box.number == box


def test_a_box_holds_one_constituency(scene, act, envelope):
    other = given.logged(scene, given.an_open_box(("12", "Quillmoor"))).number
    with pytest.raises(Refused, match="11 Harbour Reach"):
        boxes.put_into_box(envelope=envelope, box=other, **act)


def test_what_stands_in_quarantine_is_put_into_no_box(scene, act, box):
    odd = given.changed(given.an_envelope_on_the_table(), Marking.POLL_DATE, None)
    number = given.logged(scene, odd).number
    with pytest.raises(Refused, match="in quarantine"):
        boxes.put_into_box(envelope=number, box=box, **act)


def test_nothing_is_put_into_a_closed_box(act, box, envelope):
    closed(box, act)
    with pytest.raises(Refused, match="closed and sealed"):
        boxes.put_into_box(envelope=envelope, box=box, **act)


def test_a_mistyped_number_is_never_taken_for_another_box(act, box, envelope):
    """ISO/IEC 7064: the check character finds every swap of neighbours."""
    swapped = f"{box[:7]}{box[8]}{box[7]}{box[9:]}"
    with pytest.raises(NotThere):
        boxes.put_into_box(envelope=envelope, box=swapped, **act)


# Closing and sealing


def test_a_box_is_closed_with_several_signed_paper_seals(act, box, envelope):
    boxes.put_into_box(envelope=envelope, box=box, **act)
    seals = [given.paper_seal(f"PS-{n}") for n in (1, 2, 3)]
    assert closed(box, act, *seals, gross_weight_kg=Decimal("12.5")) == ()
    record = Box.objects.get(number=box)
    assert (record.state, record.closed_on) == ("held", given.COUNTED)
    assert record.gross_weight_kg == Decimal("12.5")
    assert {(s.serial, s.signed) for s in record.seals.all()} == {
        ("PS-1", True), ("PS-2", True), ("PS-3", True),
    }  # fmt: skip


@pytest.mark.parametrize(
    ("seals", "kind"),
    [
        ((given.paper_seal(signed=False),), "seal-unsigned"),
        ((SealEntry(SealKind.WAX, "RO 11"),), "seal-missing"),
        ((given.paper_seal(), given.paper_seal()), "duplicate-seal"),
    ],
    ids=["unsigned", "wax alone", "one number twice"],
)
def test_a_box_sealed_badly_goes_into_quarantine(act, box, seals, kind):
    assert closed(box, act, *seals)
    assert Box.objects.get(number=box).state == "quarantined"
    assert kinds_on(box) == [kind]


def test_a_seal_number_that_is_on_another_box_marks_both(scene, act, box):
    closed(box, act)
    other = given.logged(scene, given.an_open_box(label="2 of 2")).number
    closed(other, act, given.paper_seal("ps 0001"))
    assert kinds_on(other) == kinds_on(box) == ["duplicate-seal"]


def test_failure_mode_49_both_stand_as_seen_and_lots_of_two_makers_may_repeat(
    scene, act, box
):
    """The number of a seal counts with its maker and kind: two lots may repeat it."""
    other = given.logged(scene, given.an_open_box()).number
    third = given.logged(scene, given.an_open_box()).number
    closed(box, act, given.paper_seal("PS-7"))
    closed(other, act, replace(given.paper_seal("PS-7"), maker="Tarn Press"))
    assert kinds_on(box) == kinds_on(other) == []
    closed(third, act, given.paper_seal("PS-7"))
    assert kinds_on(box) == kinds_on(third) == ["duplicate-seal"]
    assert kinds_on(other) == []
    assert Seal.objects.filter(serial="PS-7").count() == 3
    assert Box.objects.get(number=third).state == "quarantined"


def test_failure_mode_53_a_plain_wax_seal_never_gets_a_number(scene, act):
    """Wax without number: the die is named, and what is read of it stays empty."""
    wax = SealEntry(SealKind.WAX, "Returning Officer 11", "")
    arrival = replace(given.an_envelope_on_the_table(), seals=(wax,))
    sealed = given.logged(scene, arrival).number
    seal = Seal.objects.get(envelope__number=sealed)
    assert (seal.serial, seal.serial_plain) == ("", "")
    assert seal.maker == "Returning Officer 11"
    found = boxes.check_seal(
        container=sealed, number_read="", finding="intact-matches", **act
    )
    assert found.value == "intact-matches"
    event = SealEvent.objects.get(seal=seal, act="checked")
    assert event.number_read == ""
    invented = boxes.check_seal(
        container=sealed, number_read="W-1", finding="intact-matches", **act
    )
    assert invented.value == "intact-differs"
    seal.refresh_from_db()
    assert seal.serial == ""


def test_the_stations_on_the_label_are_compared_with_what_lies_in_it(
    act, box, envelope
):
    boxes.put_into_box(envelope=envelope, box=box, **act)
    closed(box, act, written_stations="1-2")
    found = Discrepancy.objects.get(box__number=box)
    assert (found.kind, found.written, found.expected) == (
        "marking-differs",
        "1-2",
        "1",
    )


def test_a_box_without_any_station_on_it_is_named_when_it_is_closed(scene, act):
    bare = given.changed(given.an_open_box(), Marking.STATION_NUMBER, None)
    box = given.logged(scene, bare).number
    closed(box, act)
    assert kinds_on(box) == ["marking-missing"]


def test_a_box_is_closed_once_and_not_in_the_future(act, box):
    with pytest.raises(Mistaken, match="not come yet"):
        boxes.close_box(
            box=box,
            seals=[given.paper_seal()],
            sealed_on=given.TODAY.replace(year=given.TODAY.year + 1),
            empty=True,
            **act,
        )
    closed(box, act)
    with pytest.raises(Refused, match="authority's permission"):
        closed(box, act, given.paper_seal("PS-2"))


# Shelves


def test_a_shelf_takes_no_more_than_it_has_room_for(scene, act):
    shelf = scene.shelves[0]  # it takes two
    for index in range(2):
        number = given.logged(scene, given.an_open_box(label=str(index))).number
        boxes.shelve_box(box=number, shelf=shelf, **act)
    third = given.logged(scene, given.an_open_box(label="3")).number
    with pytest.raises(Refused, match="full"):
        boxes.shelve_box(box=third, shelf=shelf, **act)
    assert "bay A, shelf 2" in boxes.shelve_box(
        box=third, shelf=scene.shelves[1], **act
    )


def test_a_move_tells_from_where_to_where(scene, act, box):
    for shelf in scene.shelves[:2]:
        boxes.shelve_box(box=box, shelf=shelf, **act)
    last = CustodyMovement.objects.filter(box__number=box).latest("id")
    assert last.act == "moved"
    assert last.from_place.endswith("shelf 1")
    assert last.to_place.endswith("shelf 2")


# Checking seals


def checked(box, act, read="PS-0001", finding="intact-matches", **more):
    return boxes.check_seal(
        container=box, number_read=read, finding=finding, **more, **act
    )


def test_a_seal_that_reads_as_recorded_opens_nothing(act, box):
    closed(box, act)
    assert checked(box, act, "ps 0001").value == "intact-matches"
    assert not Discrepancy.objects.exists()
    assert SealEvent.objects.filter(act="checked").get().number_read == "ps 0001"


def test_another_number_is_recorded_as_differing_whatever_was_ticked(act, box):
    closed(box, act)
    assert checked(box, act, "PS-0007").value == "intact-differs"
    found = Discrepancy.objects.get()
    assert (found.written, found.expected) == ("PS-0007", "PS-0001")


@pytest.mark.parametrize("finding", ["damaged", "open", "absent", "intact-illegible"])
def test_anything_but_intact_and_matching_opens_a_discrepancy(act, box, finding):
    closed(box, act)
    checked(box, act, finding=finding)
    assert kinds_on(box) == ["seal-broken"]


def test_each_of_several_seals_is_checked_by_its_number(act, box):
    closed(box, act, given.paper_seal("PS-1"), given.paper_seal("PS-2"))
    for read in ("PS-2", "PS-1"):
        checked(box, act, read)
    seals = Seal.objects.filter(box__number=box, events__act="checked")
    assert sorted(seals.values_list("serial", flat=True)) == ["PS-1", "PS-2"]


def test_a_finding_must_be_one_of_the_trade(act, box):
    closed(box, act)
    with pytest.raises(Mistaken, match="in which state"):
        checked(box, act, finding="fine")


def test_an_open_box_has_no_seal_to_check(act, box):
    with pytest.raises(Refused, match="No live seal"):
        checked(box, act)


# Hand-over, missing, found


def test_a_hand_over_is_between_two_people(scene, act, box):
    with pytest.raises(Mistaken, match="two people"):
        custody.hand_over(container=box, to_person=scene.cast.custodian.name, **act)
    custody.hand_over(container=box, to_person="Gil Keeper", **act)
    last = CustodyMovement.objects.filter(box__number=box).latest("id")
    assert (last.from_person, last.to_person) == ("Cora Keeper", "Gil Keeper")


def test_a_container_that_is_not_found_is_a_discrepancy_even_when_found(act, box):
    custody.report_not_found(container=box, note="Bay A, both keepers.", **act)
    assert Box.objects.get(number=box).whereabouts == "missing"
    with pytest.raises(Refused, match="not found already"):
        custody.report_not_found(container=box, note="Again.", **act)
    custody.report_found(container=box, note="Bay B.", **act)
    assert Box.objects.get(number=box).whereabouts == "intake"
    assert Discrepancy.objects.get(resolved_at=None).kind == "not-found"


def test_anything_odd_can_be_reported(act, box, envelope):
    for number in (box, envelope):
        custody.report_discrepancy(container=number, detail="Damp.", **act)
    assert set(Discrepancy.objects.values_list("kind", flat=True)) == {"other"}


@pytest.mark.parametrize(
    "doing",
    [
        lambda box, who: boxes.close_box(
            box=box, seals=[], sealed_on=given.COUNTED, empty=True, **who
        ),
        lambda box, who: custody.hand_over(container=box, to_person="X Y", **who),
        lambda box, who: custody.report_not_found(container=box, note="x", **who),
        lambda box, who: custody.report_discrepancy(container=box, detail="x", **who),
    ],
    ids=["close", "hand over", "not found", "report"],
)
def test_who_may_act_and_on_what(scene, box, doing):
    for name in ("legal", "authority", "auditor", "administrator"):
        with pytest.raises(PowerMissing):
            doing(box, {"actor": getattr(scene.cast, name), "at": given.NOW})
    stranger = replace(scene.cast.custodian, rooms=frozenset())
    with pytest.raises(NotThere):
        doing(box, {"actor": stranger, "at": given.NOW})


def test_what_is_not_in_the_room_is_put_into_no_box(act, box, envelope):
    """Common practice, no published source: found first, then put away."""
    custody.report_not_found(container=envelope, note="Not on the table.", **act)
    with pytest.raises(Refused, match="not found"):
        boxes.put_into_box(envelope=envelope, box=box, **act)
    custody.report_found(container=envelope, note="Under the table.", **act)
    boxes.put_into_box(envelope=envelope, box=box, **act)


def test_an_envelope_is_put_into_no_box_of_another_room(scene, box):
    """Moving between rooms is a hand-over; common practice, no published source."""
    both = given.appointed(
        scene.cast.administrator,
        "both.keeper",
        Role.CUSTODIAN,
        rooms=(scene.room, scene.other_room),
    )
    act = {"actor": both, "at": given.NOW}
    there = intake.log_container(
        arrival=given.an_envelope_on_the_table(),
        election=scene.election,
        room=scene.other_room,
        box=box,
        **act,
    )
    assert "Old Granary" in there.not_boxed[0]
    with pytest.raises(Refused, match="Old Granary"):
        boxes.put_into_box(envelope=there.number, box=box, **act)


def test_a_look_at_a_box_is_entered_for_what_lies_in_it(scene, act, box, envelope):
    """Brief, point 7: an access entry for every look at a record, by list too."""
    boxes.put_into_box(envelope=envelope, box=box, **act)
    looks.look_at_box(box=box, **act)
    labels.print_labels(things=[box], with_contents=True, **act)
    seen = AccessShown.objects.filter(number=envelope)
    acts = seen.values_list("entry__act", flat=True)
    assert {"box.look", "label.print"} <= set(acts)
