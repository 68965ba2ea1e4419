"""Hand-over of charge: stated, looked at, signed by both; nothing moves before.

desks.md, B.1 (hand-over of charge) and F34 of this project's list of features.
"""

import hashlib
from datetime import timedelta

import pytest
from django.db import IntegrityError, connection, transaction

from registry.models import (
    Box,
    ChargeHandOver,
    CustodyMovement,
    Envelope,
    RoomCharge,
    User,
)
from registry.rules.powers import Role
from registry.rules.schedules import ContentKind
from registry.usecases import Mistaken, NotThere, Refused, boxes, custody
from registry.usecases.hand_over_looks import (
    list_hand_overs,
    look_at_hand_over,
    print_hand_over,
)
from registry.usecases.hand_overs import (
    HandOverPlan,
    Look,
    give_up_hand_over,
    look_at_handed_over,
    restate_stock,
    sign_in,
    sign_out,
    state_stock,
)
from tests import given
from tests.documents.papers import text_of

pytestmark = pytest.mark.django_db

AT = given.NOW + timedelta(hours=1)
LATER = given.NOW + timedelta(hours=2)


@pytest.fixture
def scene():
    return given.a_scene()


@pytest.fixture
def incoming(scene):
    """A custodian of the other room, who has no charge of this one yet."""
    return given.appointed(
        scene.cast.administrator, "gil.k", Role.CUSTODIAN, rooms=(scene.other_room,)
    )


def number_of(actor):
    return User.objects.get(pk=actor.person_id).number


def stated(scene, incoming, by=None, **more):
    plan = HandOverPlan(
        **{
            "room": scene.room,
            "outgoing": number_of(scene.cast.custodian),
            "incoming": number_of(incoming),
            "order": "ESC/TR/4 of 1 November 2026",
            **more,
        }
    )
    number = state_stock(plan=plan, actor=by or scene.cast.custodian, at=given.NOW)
    return ChargeHandOver.objects.get(number=number)


def looked_at(of, actor, container, at=AT, **look):
    said = {"seal_read": "PS-0001", "finding": "intact-matches", **look}
    return look_at_handed_over(
        hand_over=of.number, look=Look(scanned=container, **said), actor=actor, at=at
    )


def signed_out(of, actor, at=AT):
    sign_out(hand_over=of.number, actor=actor, at=at)


def in_charge_of(container):
    held = container.movements.exclude(to_person="").order_by("-id").first()
    return held.to_person


def test_everything_changes_hands_at_once_and_only_with_the_second_signature(
    scene, incoming
):
    box = given.a_shelved_box(scene)
    loose = given.logged(
        scene,
        given.an_envelope_on_the_table(
            seal="W-0077", kind=ContentKind.STATUTORY_PACKET
        ),
    )
    loose = Envelope.objects.get(number=loose.number)
    of = stated(scene, incoming)
    assert of.containers == 2
    looked_at(of, incoming, box.number)
    looked_at(of, incoming, loose.number, seal_read="W-0077")
    signed_out(of, scene.cast.custodian)
    assert in_charge_of(box) == in_charge_of(loose) == scene.cast.custodian.name
    document = sign_in(hand_over=of.number, actor=incoming, at=LATER)
    assert in_charge_of(box) == in_charge_of(loose) == incoming.name
    moved = CustodyMovement.objects.filter(act="handed-over")
    assert {move.box or move.envelope for move in moved} == {box, loose}
    of.refresh_from_db()
    assert (of.state, of.differences, of.document.number) == ("done", "", document)
    # The charge of the room goes with it.
    charges = RoomCharge.objects.filter(room=of.room, ended=False)
    assert [charge.person_id for charge in charges] == [incoming.person_id]
    assert of.room_id in given.person("gil.k").rooms


def test_the_paper_names_stock_people_and_signatures(scene, incoming):
    box = given.a_shelved_box(scene)
    of = stated(scene, incoming)
    looked_at(of, incoming, box.number)
    signed_out(of, scene.cast.custodian)
    sign_in(hand_over=of.number, actor=incoming, at=LATER)
    of.refresh_from_db()
    with of.document.file.open("rb") as file:
        content = file.read()
    assert hashlib.sha256(content).hexdigest() == of.document.digest
    text = text_of(content)
    for words in (
        box.number,
        "Signed by log-in, handing over",
        "Signed by log-in, taking over",
        "ESC/TR/4 of 1 November 2026",
        "Handed over by: Cora Keeper",
        "Taken over by: Gil K",
        "None. Everything stated was looked at",
    ):
        assert words in text, words
    assert "PS-0001" not in text


def test_until_both_sign_the_outgoing_one_answers(scene, incoming):
    # desks.md, B.1: until the new officer accepts, the old remains accountable.
    box = given.a_shelved_box(scene)
    of = stated(scene, incoming)
    with pytest.raises(Refused, match="signs first"):
        sign_in(hand_over=of.number, actor=incoming, at=AT)
    assert in_charge_of(box) == scene.cast.custodian.name
    assert not given.person("gil.k").rooms & {of.room_id}


def test_nobody_signs_for_another_nor_on_both_sides(scene, incoming):
    given.a_shelved_box(scene)
    of = stated(scene, incoming)
    with pytest.raises(Refused, match="The one who hands over signs here"):
        sign_out(hand_over=of.number, actor=incoming, at=AT)
    signed_out(of, scene.cast.custodian)
    with pytest.raises(Refused, match="The one who takes over signs here"):
        sign_in(hand_over=of.number, actor=scene.cast.custodian, at=AT)
    with pytest.raises(Mistaken) as told:
        stated(scene, scene.cast.custodian)
    assert "between two people" in told.value.errors["incoming"][0]


def test_what_changed_after_the_statement_is_shown_and_stated_anew(scene, incoming):
    box = given.a_shelved_box(scene)
    of = stated(scene, incoming)
    looked_at(of, incoming, box.number)
    signed_out(of, scene.cast.custodian)
    boxes.shelve_box(
        box=box.number, shelf=scene.shelves[1], actor=scene.cast.custodian, at=AT
    )
    with pytest.raises(Refused) as refused:
        sign_in(hand_over=of.number, actor=incoming, at=LATER)
    assert any(box.number in reason for reason in refused.value.reasons)
    assert in_charge_of(box) == scene.cast.custodian.name
    page = look_at_hand_over(hand_over=of.number, actor=incoming, at=LATER)
    assert len(page.file.changed) == 1
    with pytest.raises(Refused, match="stated by the one who hands it over"):
        restate_stock(hand_over=of.number, actor=incoming, at=LATER)
    before = of.list_digest
    restate_stock(hand_over=of.number, actor=scene.cast.custodian, at=LATER)
    of.refresh_from_db()
    assert (of.state, of.signed_out_at) == ("stated", None)
    assert of.list_digest != before
    signed_out(of, scene.cast.custodian, at=LATER)
    sign_in(hand_over=of.number, actor=incoming, at=LATER)
    assert in_charge_of(box) == incoming.name


def test_differences_are_listed_and_what_is_not_found_is_not_handed_over(
    scene, incoming
):
    box = given.a_shelved_box(scene)
    other = given.a_shelved_box_of_station_two(scene)
    of = stated(scene, incoming)
    looked_at(of, incoming, box.number, seal_read="PS-0007")
    looked_at(
        of,
        incoming,
        other.number,
        found=False,
        finding="",
        note="Not on its shelf; both walked the room.",
    )
    signed_out(of, scene.cast.custodian)
    of.refresh_from_db()
    assert "intact, number differs" in of.differences
    assert "not found" in of.differences
    sign_in(hand_over=of.number, actor=incoming, at=LATER)
    assert in_charge_of(box) == incoming.name
    assert in_charge_of(other) == scene.cast.custodian.name
    # It is missing once a custodian says so (failure mode 61).
    other.refresh_from_db()
    assert other.whereabouts == "shelved"
    assert other.discrepancies.get().kind == "not-found"


def test_what_turns_up_during_a_hand_over_is_handed_over(scene, incoming):
    box = given.a_shelved_box(scene)
    of = stated(scene, incoming)
    gone = {"found": False, "finding": "", "note": "Not on its shelf."}
    looked_at(of, incoming, box.number, **gone)
    looked_at(of, incoming, box.number)
    signed_out(of, scene.cast.custodian)
    sign_in(hand_over=of.number, actor=incoming, at=LATER)
    assert in_charge_of(box) == incoming.name


def test_what_was_not_looked_at_is_named_on_the_paper(scene, incoming):
    box = given.a_shelved_box(scene)
    of = stated(scene, incoming)
    signed_out(of, scene.cast.custodian)
    of.refresh_from_db()
    assert of.differences == f"Not looked at: 1 of 1 ({box.number})."


def test_what_lies_in_a_sealed_box_is_answered_for_by_its_box(scene, incoming):
    box = given.a_shelved_box(scene)
    of = stated(scene, incoming)
    inside = given.an_envelope_in(box)
    with pytest.raises(Mistaken) as told:
        looked_at(of, incoming, inside.number)
    assert "answered for by its box" in told.value.errors["scanned"][0]
    with pytest.raises(Refused, match="takes over, and looks"):
        looked_at(of, scene.cast.custodian, box.number)


def test_a_commissioner_states_and_signs_for_an_officer_who_cannot(scene, incoming):
    # desks.md, B.1: officer absent (death, suspension): a commissioner takes inventory.
    box = given.a_shelved_box(scene)
    commissioner = given.appointed(
        scene.cast.administrator, "nora.c", Role.CUSTODIAN, rooms=(scene.room,)
    )
    with pytest.raises(Mistaken) as told:
        stated(scene, incoming, by=commissioner)
    assert "outgoing_absent" in told.value.errors
    why = "Suspended on 1 November by order ESC/DIS/2; commissioner by ESC/COM/3"
    of = stated(scene, incoming, by=commissioner, outgoing_absent=why)
    with pytest.raises(Refused, match="Nora C"):
        signed_out(of, scene.cast.custodian)
    signed_out(of, commissioner)
    sign_in(hand_over=of.number, actor=incoming, at=LATER)
    move = box.movements.filter(act="handed-over").get()
    assert move.from_person == f"{commissioner.name} for {scene.cast.custodian.name}"
    assert move.to_person == incoming.name


def test_who_takes_over_does_not_state_the_stock(scene, incoming):
    both = given.appointed(
        scene.cast.administrator, "mara.k", Role.CUSTODIAN, rooms=(scene.room,)
    )
    with pytest.raises(Mistaken) as told:
        stated(scene, both, by=both, outgoing_absent="Dead; order ESC/COM/3")
    assert "does not state the stock" in told.value.errors["incoming"][0]


def test_given_up_nothing_changes(scene, incoming):
    box = given.a_shelved_box(scene)
    of = stated(scene, incoming)
    with pytest.raises(Refused, match="is open"):
        stated(scene, incoming)
    with pytest.raises(Mistaken):
        give_up_hand_over(
            hand_over=of.number, reason=" ", actor=scene.cast.custodian, at=AT
        )
    give_up_hand_over(
        hand_over=of.number,
        reason="The transfer was cancelled.",
        actor=scene.cast.custodian,
        at=AT,
    )
    assert in_charge_of(box) == scene.cast.custodian.name
    with pytest.raises(Refused, match="given up"):
        signed_out(of, scene.cast.custodian)
    assert stated(scene, incoming).state == "stated"


def test_what_is_signed_by_both_stays_even_by_sql(scene, incoming):
    given.a_shelved_box(scene)
    of = stated(scene, incoming)
    signed_out(of, scene.cast.custodian)
    sign_in(hand_over=of.number, actor=incoming, at=LATER)
    change = "UPDATE registry_chargehandover SET differences = 'none'"
    with (
        pytest.raises(IntegrityError, match="stays as it is"),
        transaction.atomic(),
        connection.cursor() as cursor,
    ):
        cursor.execute(change)


def test_the_statement_names_what_is_open_and_what_is_away(scene, incoming):
    box = given.a_shelved_box(scene)
    custody.report_discrepancy(
        container=box.number,
        detail="=Corner crushed",
        actor=scene.cast.custodian,
        at=given.NOW,
    )
    other = given.a_shelved_box_of_station_two(scene)
    custody.report_not_found(
        container=other.number,
        note="Looked for.",
        actor=scene.cast.custodian,
        at=given.NOW,
    )
    given.a_permission(scene, [box.number])
    of = stated(scene, incoming)
    page = look_at_hand_over(hand_over=of.number, actor=incoming, at=AT)
    assert [line.number for line in page.file.section("away")] == [other.number]
    assert len(page.file.section("discrepancy")) == 2
    assert page.file.section("discrepancy")[0].place == "=Corner crushed"
    assert len(page.file.section("permission")) == 1
    assert page.file.section("round")  # the schedule has the room walked
    assert page.file.changed == ()
    with of.list_document.file.open("rb") as file:
        assert b'"\'=Corner crushed"' in file.read()


def test_only_those_it_concerns_see_it(scene, incoming):
    given.a_shelved_box(scene)
    of = stated(scene, incoming)
    stranger = given.appointed(
        scene.cast.administrator, "sam.k", Role.CUSTODIAN, rooms=(scene.other_room,)
    )
    for actor in (stranger, scene.cast.legal):
        with pytest.raises(NotThere):
            look_at_hand_over(hand_over=of.number, actor=actor, at=AT)
        assert list_hand_overs(actor=actor, at=AT) == ()
    for actor in (incoming, scene.cast.custodian, scene.cast.auditor):
        assert look_at_hand_over(hand_over=of.number, actor=actor, at=AT)
    assert print_hand_over(hand_over=of.number, actor=incoming, at=AT).content


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        ({"order": " "}, "order"),
        ({"outgoing": "PE-000999-X"}, "outgoing"),
        ({"order": "x" * 201}, "order"),
    ],
)
def test_a_plan_that_cannot_be_is_told_by_field(scene, incoming, wrong, field):
    with pytest.raises(Mistaken) as told:
        stated(scene, incoming, **wrong)
    assert field in told.value.errors


def test_nothing_of_another_room_is_handed_over(scene, incoming):
    box = given.a_shelved_box(scene)
    of = stated(scene, incoming)
    assert Box.objects.filter(room=of.room).get() == box
    with pytest.raises(NotThere):
        stated(scene, incoming, room=scene.other_room)
