"""In whose charge a container was, reckoned from the records that people made.

That each change of hands is signed for by giver and taker: common practice, no
published source. The rules themselves are tested in tests/rules/test_custody.py.
"""

from dataclasses import replace
from datetime import timedelta

import pytest

from registry.models import AccessEntry, Envelope
from registry.queries.custody import chain
from registry.rules.custody_facts import CustodyFault
from registry.rules.powers import PowerMissing, Role
from registry.usecases import NotThere, custody, people
from registry.usecases.custody_looks import list_custody_gaps, print_custody
from tests import given
from tests.documents.papers import text_of

pytestmark = pytest.mark.django_db
LATER = given.NOW + timedelta(hours=2)
OTHER = {CustodyFault.RECORDED_LATE}  # the scene enters what came in 397 days before


@pytest.fixture
def scene():
    return given.a_scene()


@pytest.fixture
def box(scene):
    return given.a_shelved_box(scene)


def found(container, at=LATER):
    return chain(type(container).objects.get(pk=container.pk), at)


def faults(container, at=LATER):
    return {one.fault for one in found(container, at).findings} - OTHER


def test_what_is_done_to_the_box_is_done_to_the_envelope_in_it(scene, box):
    custody.hand_over(
        container=box.number,
        to_person="Gil Keeper",
        actor=scene.cast.custodian,
        at=given.NOW + timedelta(hours=1),
    )
    envelope = given.an_envelope_in(box)
    for container in (box, envelope):
        assert found(container).now.holder == "Gil Keeper"
        assert faults(container) == set()
    assert found(envelope).now.box == box.number


def test_the_days_between_sealing_and_receipt_are_in_nobodys_charge(scene):
    arrival = replace(given.an_envelope_on_the_table(), received_on=given.TODAY)
    number = given.logged(scene, arrival).number
    first = found(Envelope.objects.get(number=number)).findings[0]
    assert first.fault is CustodyFault.NOT_RECEIVED
    assert (first.start.date(), first.end) == (given.COUNTED, given.NOW)


def test_what_is_entered_days_later_was_in_charge_since_the_day_it_came(scene, box):
    held = found(box)
    assert [one.fault for one in held.findings] == [CustodyFault.RECORDED_LATE]
    first = held.stretches[0]
    assert first.holder == scene.cast.custodian.name
    assert first.start.date() == given.COUNTED


def test_a_missing_box_is_a_gap_for_its_envelopes_too(scene, box):
    act = {"actor": scene.cast.custodian, "container": box.number}
    custody.report_not_found(note="Looked on A 1.", at=given.NOW, **act)
    assert faults(given.an_envelope_in(box)) == {CustodyFault.MISSING}
    custody.report_found(note="Behind A 2.", at=given.NOW + timedelta(hours=1), **act)
    assert found(box).now.holder == scene.cast.custodian.name


def test_a_hand_over_by_who_did_not_hold_it_is_named(scene, box):
    other = given.appointed(
        scene.cast.administrator, "gil.keeper", Role.CUSTODIAN, rooms=(scene.room,)
    )
    custody.hand_over(container=box.number, to_person="Ida Rill", actor=other, at=LATER)
    assert faults(box, LATER + timedelta(hours=1)) == {CustodyFault.NOT_HOLDER}


def test_a_holder_whose_charge_of_the_room_ended_is_named(scene, box):
    keeper = people.User.objects.get(pk=scene.cast.custodian.person_id)
    people.change_post(
        person=keeper.number,
        post="Keeper",
        elections=[],
        rooms=[scene.other_room],
        actor=scene.cast.administrator,
        at=given.NOW + timedelta(hours=1),
    )
    assert faults(box) == {CustodyFault.CHARGE_ENDED}


def test_the_gaps_of_a_contest_are_listed_and_the_look_is_entered(scene, box):
    answer = list_custody_gaps(
        contest=scene.contests["11"], actor=scene.cast.auditor, at=LATER
    )
    assert answer.found.looked_at == 2
    assert {row.number for row in answer.found.rows} == {
        box.number,
        given.an_envelope_in(box).number,
    }
    entry = AccessEntry.objects.get(act="custody.gaps")
    assert entry.shown.filter(number=box.number).exists()


def test_the_printed_chain_names_each_holder_and_each_gap(scene, box):
    paper = print_custody(container=box.number, actor=scene.cast.auditor, at=LATER)
    text = text_of(paper.content)
    for words in (
        box.number,
        scene.cast.custodian.name,
        "The chain is not whole: 1 thing is lacking.",
        "after it happened",
        "Computed dates are an aid.",
    ):
        assert words in text, words


def test_an_administrator_and_a_stranger_to_the_room_print_none(scene, box):
    with pytest.raises(PowerMissing):
        print_custody(container=box.number, actor=scene.cast.administrator, at=LATER)
    other = given.appointed(
        scene.cast.administrator,
        "hal.keeper",
        Role.CUSTODIAN,
        rooms=(scene.other_room,),
    )
    with pytest.raises(NotThere):
        print_custody(container=box.number, actor=other, at=LATER)
