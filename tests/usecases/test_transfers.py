"""Between rooms: somebody answers for each container at every moment.

Failure modes 64 (emergency) and 65 (both registers agree or show in transit); that a
hand-over takes two people, and that two days are too long, is common practice.
"""

from datetime import timedelta

import pytest
from django.db import IntegrityError, connection, transaction

from registry.models import Box, Envelope, Transfer
from registry.queries.find import NotThere
from registry.queries.scope import boxes_of, discrepancies_of, envelopes_of
from registry.rules.powers import PowerMissing
from registry.usecases import Mistaken, Refused, boxes, custody, openings
from registry.usecases.desks import look_at_desk
from registry.usecases.transfer_looks import look_at_transfer
from registry.usecases.transfers import (
    Arrived,
    Journey,
    Sent,
    came_back,
    confirm_emergency_order,
    hand_over_for_transfer,
    report_not_arrived,
    take_over,
)
from tests import given

pytestmark = pytest.mark.django_db

LATER = given.NOW + timedelta(hours=3)
CARRIER = "Tove Brand, driver of the Steward’s office"


@pytest.fixture
def scene():
    return given.a_scene()


@pytest.fixture
def gil(scene):
    """The keeper of the other room."""
    return given.appointed(
        scene.cast.administrator, "gil.keeper", "custodian", rooms=(scene.other_room,)
    )


def a_journey(scene, **more):
    return Journey(
        **{
            "to_room": scene.other_room,
            "order": "ESC/MOVE/7",
            "carrier": CARRIER,
            **more,
        }
    )


def sent(scene, *things, at=given.NOW, **more):
    return hand_over_for_transfer(
        journey=a_journey(scene, **more),
        containers=things,
        actor=scene.cast.custodian,
        at=at,
    ).number


def a_box_on_the_way(scene):
    box = given.a_shelved_box(scene)
    return box, sent(scene, Sent(box.number, ("PS-0001",)))


def taken(transfer, box, actor, read="PS-0001", at=LATER):
    return take_over(
        transfer=transfer,
        arrived=Arrived(box.number, read, "intact-matches", "dry"),
        actor=actor,
        at=at,
    )


def test_on_the_way_the_carrier_answers_and_the_shelf_is_free(scene):
    box, transfer = a_box_on_the_way(scene)
    box.refresh_from_db()
    assert (box.whereabouts, box.shelf, box.room.number) == ("on-way", None, scene.room)
    move = box.movements.order_by("-id").first()
    assert (move.act, move.from_person, move.to_person) == (
        "despatched",
        scene.cast.custodian.name,
        CARRIER,
    )
    item = Transfer.objects.get(number=transfer).items.get()
    assert "intact, number matches" in item.condition_sent


def test_taken_over_it_is_in_the_other_room_with_what_lies_in_it(scene, gil):
    box, transfer = a_box_on_the_way(scene)
    assert taken(transfer, box, gil) == "intact, number matches"
    box.refresh_from_db()
    assert (box.whereabouts, box.room.number) == ("intake", scene.other_room)
    assert given.an_envelope_in(box).room.number == scene.other_room
    move = box.movements.order_by("-id").first()
    assert (move.act, move.from_person, move.to_person) == (
        "taken-over",
        CARRIER,
        gil.name,
    )
    assert Transfer.objects.get(number=transfer).ended_at == LATER


def test_both_rooms_see_it_on_the_way_and_one_of_them_afterwards(scene, gil):
    """Failure mode 65: never in no room's count, never lost to both."""
    box = given.a_shelved_box(scene)
    envelope = given.an_envelope_in(box)
    cora = scene.cast.custodian

    def seen():
        return [
            (boxes_of(who).filter(pk=box.pk).exists(),
             envelopes_of(who).filter(pk=envelope.pk).exists())
            for who in (cora, gil)
        ]  # fmt: skip

    assert seen() == [(True, True), (False, False)]
    transfer = sent(scene, Sent(box.number, ("PS-0001",)))
    assert seen() == [(True, True), (True, True)]
    taken(transfer, box, gil)
    assert seen() == [(False, False), (True, True)]
    # In the transfer's own record the sender sees it for good.
    item = look_at_transfer(transfer=transfer, actor=cora, at=LATER).items[0]
    assert (item.number, item.may_open) == (box.number, False)


def test_who_handed_it_over_does_not_take_it_over(scene):
    both = given.appointed(
        scene.cast.administrator,
        "una.keeper",
        "custodian",
        rooms=(scene.room, scene.other_room),
    )
    box = given.a_shelved_box(scene)
    transfer = hand_over_for_transfer(
        journey=a_journey(scene),
        containers=[Sent(box.number, ("PS-0001",))],
        actor=both,
        at=given.NOW,
    ).number
    with pytest.raises(Refused, match="somebody else"):
        taken(transfer, box, both)
    with pytest.raises(Refused, match="keeper of Old Granary"):
        taken(transfer, box, scene.cast.custodian)


def test_who_carries_is_neither_who_gives_nor_who_takes(scene, gil):
    box = given.a_shelved_box(scene)
    with pytest.raises(Mistaken, match="between two people"):
        sent(scene, Sent(box.number), carrier=scene.cast.custodian.name)
    transfer = sent(
        scene, Sent(box.number, ("PS-0001",)), carrier=f"{gil.name}, keeper"
    )
    with pytest.raises(Refused, match="somebody else"):
        taken(transfer, box, gil)


def test_a_seal_is_read_before_it_leaves_unless_it_was_read_today(scene):
    box = given.a_shelved_box(scene)
    with pytest.raises(Mistaken, match="Read the seal"):
        sent(scene, Sent(box.number))
    given.a_checked_seal(scene, box.number)
    assert sent(scene, Sent(box.number)).startswith("TF-")


def test_a_seal_that_differs_on_arrival_is_taken_over_with_a_discrepancy(scene, gil):
    box, transfer = a_box_on_the_way(scene)
    assert taken(transfer, box, gil, read="PS-0007") == "intact, number differs"
    row = discrepancies_of(gil).get(box=box)
    assert (row.written, row.expected, row.owner_id) == (
        "PS-0007",
        "PS-0001",
        gil.person_id,
    )
    box.refresh_from_db()
    assert box.room.number == scene.other_room


def test_what_does_not_arrive_stays_with_the_carrier_until_it_is_found(scene, gil):
    box, transfer = a_box_on_the_way(scene)
    act = {"actor": gil, "at": LATER}
    report_not_arrived(
        transfer=transfer, container=box.number, note="Not in the van.", **act
    )
    box.refresh_from_db()
    assert box.whereabouts == "on-way"
    assert box.discrepancies.get().kind == "not-found"
    assert Transfer.objects.get(number=transfer).ended_at is None
    text = " ".join(w.text for w in look_at_desk(**act))
    assert "1 did not arrive" in text
    with pytest.raises(Refused, match="recorded already"):
        report_not_arrived(transfer=transfer, container=box.number, note="x", **act)
    taken(transfer, box, gil, at=LATER + timedelta(days=1))
    assert Transfer.objects.get(number=transfer).ended_at


def test_what_comes_back_is_taken_back_and_its_seal_read_anew(scene, gil):
    box, transfer = a_box_on_the_way(scene)
    with pytest.raises(Refused, match="keeper of Customs House"):
        came_back(
            transfer=transfer, container=box.number, note="x", actor=gil, at=LATER
        )
    came_back(
        transfer=transfer,
        container=box.number,
        note="Bridge closed.",
        actor=scene.cast.custodian,
        at=LATER,
    )
    box.refresh_from_db()
    assert (box.whereabouts, box.room.number) == ("intake", scene.room)
    assert not boxes_of(gil).filter(pk=box.pk).exists()
    with pytest.raises(Refused, match="came back"):
        taken(transfer, box, gil)


def test_nothing_is_destroyed_opened_moved_or_missed_while_it_is_on_the_way(scene):
    box = given.a_shelved_box(scene)
    given.a_confirmation(scene)
    permission = given.a_permission(scene, [box.number])
    to_open = given.a_permission(scene, [box.number], "open-box", ref="ESC/ORD/2")
    given.a_checked_seal(scene, box.number)
    sent(scene, Sent(box.number))
    act = {"actor": scene.cast.custodian, "at": LATER}
    with pytest.raises(Refused, match="on the way to another room"):
        given.disposed_of(scene, box.number, permission, at=LATER)
    with pytest.raises(Refused, match="on the way to another room"):
        openings.open_container(
            container=box.number,
            permission=to_open,
            present="Two keepers",
            done="Nothing",
            new_seals=[given.paper_seal("PS-0044")],
            fragments_kept_in="a bag with the box",
            **act,
        )
    with pytest.raises(Refused, match="on the way"):
        boxes.shelve_box(box=box.number, shelf=scene.shelves[0], **act)
    with pytest.raises(Refused, match="on the way"):
        custody.hand_over(container=box.number, to_person="Gil", **act)
    with pytest.raises(Refused, match="on its transfer"):
        custody.report_not_found(container=box.number, note="x", **act)
    with pytest.raises(Refused, match="on the way"):
        sent(scene, Sent(box.number), at=LATER)
    inside = given.an_envelope_in(box)
    with pytest.raises(Refused, match="on the way"):
        custody.hand_over(container=inside.number, to_person="Gil", **act)


def test_what_cannot_go_is_refused_with_every_reason(scene):
    box = given.a_shelved_box(scene)
    inside = given.an_envelope_in(box).number
    still_open = given.logged(scene, given.an_open_box(label="2 of 2")).number
    with pytest.raises(Refused) as refused:
        sent(scene, Sent(inside), Sent(still_open))
    told = " ".join(refused.value.reasons)
    assert "the whole box goes" in told
    assert "still open" in told
    with pytest.raises(Refused, match="already"):
        sent(scene, Sent(box.number, ("PS-0001",)), to_room=scene.room)
    with pytest.raises(NotThere):
        sent(scene, Sent("BX-000099-9"))
    with pytest.raises(Mistaken) as lacking:
        sent(scene, order="", carrier="")
    assert set(lacking.value.errors) == {"containers", "order", "carrier"}
    assert Box.objects.get(pk=box.pk).whereabouts == "shelved"


def test_a_quarantined_box_goes_with_its_state(scene, gil):
    box = given.a_shelved_box(scene)
    odd = given.changed(
        given.an_envelope_on_the_table(), given.Marking.CONSTITUENCY_NUMBER, None
    )
    envelope = given.logged(scene, odd).number
    assert Envelope.objects.get(number=envelope).state == "quarantined"
    transfer = sent(scene, Sent(box.number, ("PS-0001",)), Sent(envelope, ("W-0001",)))
    take_over(
        transfer=transfer,
        arrived=Arrived(envelope, "W-0001", "intact-matches"),
        actor=gil,
        at=LATER,
    )
    moved = Envelope.objects.get(number=envelope)
    assert (moved.state, moved.room.number) == ("quarantined", scene.other_room)
    assert Transfer.objects.get(number=transfer).ended_at is None


def test_no_room_where_they_go_is_a_warning(scene):
    things = []
    for n in range(23):  # the other room takes 22
        number = given.logged(scene, given.an_open_box(label=f"{n}")).number
        boxes.close_box(
            box=number,
            seals=[given.paper_seal(f"PS-7{n:03}")],
            sealed_on=given.COUNTED,
            written_stations="001",
            empty=True,
            actor=scene.cast.custodian,
            at=given.NOW,
        )
        things.append(Sent(number, (f"PS-7{n:03}",)))
    done = hand_over_for_transfer(
        journey=a_journey(scene),
        containers=things,
        actor=scene.cast.custodian,
        at=given.NOW,
    )
    assert "22 empty places" in done.warnings[0]


# Emergencies


def test_in_an_emergency_the_move_comes_first_and_the_order_afterwards(scene, gil):
    """Failure mode 64."""
    box = given.a_shelved_box(scene)
    with pytest.raises(Mistaken, match="by when"):
        sent(scene, Sent(box.number), order="Water", emergency=True)
    due = given.TODAY + timedelta(days=3)
    transfer = sent(
        scene, Sent(box.number), order="Water in bay A", emergency=True, due_on=due
    )
    lacking = "order is lacking"
    aron = {"actor": scene.cast.authority, "at": LATER}
    for who in (scene.cast.custodian, gil, scene.cast.authority):
        desk = look_at_desk(actor=who, at=LATER)
        assert [w.due for w in desk if lacking in w.text] == [due], who.name
    after = given.NOW + timedelta(days=9)
    words = [w.word for w in look_at_desk(actor=gil, at=after) if lacking in w.text]
    assert words == ["Overdue"]
    with pytest.raises(PowerMissing):
        confirm_emergency_order(
            transfer=transfer, order="x", dated=given.TODAY, actor=gil, at=LATER
        )
    word = {"transfer": transfer, "order": "ESC/EM/1", "dated": given.TODAY}
    confirm_emergency_order(**word, **aron)
    with pytest.raises(Refused, match="already"):
        confirm_emergency_order(**word, **aron)
    assert not [w for w in look_at_desk(**aron) if lacking in w.text]


def test_an_ordinary_move_needs_no_word_afterwards(scene):
    _, transfer = a_box_on_the_way(scene)
    with pytest.raises(Refused, match="went by an order"):
        confirm_emergency_order(
            transfer=transfer,
            order="x",
            dated=given.TODAY,
            actor=scene.cast.authority,
            at=LATER,
        )


def test_more_than_two_days_on_the_way_stands_out(scene, gil):
    a_box_on_the_way(scene)

    def word(at):
        desk = look_at_desk(actor=gil, at=at)
        return next(w.word for w in desk if "on the way from" in w.text)

    assert word(LATER) == "To take over"
    assert word(given.NOW + timedelta(days=2, minutes=1)) == "Too long"


# The database says no itself


def by_hand(sql, pk):
    with transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(sql, [pk])


def test_nothing_is_on_the_way_without_a_transfer(scene):
    box = given.a_shelved_box(scene)
    with pytest.raises(IntegrityError, match="without a transfer"):
        by_hand("UPDATE registry_box SET whereabouts = 'on-way' WHERE id = %s", box.pk)


def test_what_was_taken_over_stays_taken_over(scene, gil):
    box, transfer = a_box_on_the_way(scene)
    taken(transfer, box, gil)
    item = Transfer.objects.get(number=transfer).items.get()
    back = (
        "UPDATE registry_transferitem SET outcome = 'on-the-way', "
        "taken_over_at = NULL, taken_over_by_id = NULL WHERE id = %s"
    )
    with pytest.raises(IntegrityError, match="stays so"):
        by_hand(back, item.pk)
