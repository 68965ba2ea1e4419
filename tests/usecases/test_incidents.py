"""Incidents: an immediate hold, a report, a follow-up, an end with a reason.

What an incident does: desks.md B.1 ("Broken seal"), an internal note of common
practice; the numbers of failure modes are those of failure_modes.md.
"""

from datetime import timedelta

import pytest
from django.db import DatabaseError

from registry.models import (
    Box,
    Discrepancy,
    DisposalItem,
    Envelope,
    Incident,
    IncidentItem,
    User,
    act_in_hand,
)
from registry.models.history import ActInHand
from registry.rules.powers import PowerMissing
from registry.usecases import (
    Mistaken,
    NotThere,
    Refused,
    boxes,
    custody,
    desks,
    incident_looks,
    incidents,
    openings,
)
from registry.usecases.incidents import Touched
from tests import given

pytestmark = pytest.mark.django_db

BECAUSE = "Steward's direction ESC/DIR/4: sealed anew, pieces kept."


@pytest.fixture
def scene():
    return given.a_scene()


@pytest.fixture
def act(scene):
    return {"actor": scene.cast.custodian, "at": given.NOW}


@pytest.fixture
def box(scene):
    return given.a_shelved_box(scene)


def ready_for_disposal(scene, box):
    given.a_confirmation(scene)
    given.a_checked_seal(scene, box.number)
    return given.a_permission(scene, [box.number])


def reported(scene, *numbers, kind="seal", **more):
    return incidents.report_incident(
        room=scene.room,
        kind=kind,
        what="The paper seal hangs by one corner; the pieces lie on the shelf.",
        noticed_at=more.pop("noticed_at", given.NOW),
        noticed_by="Cora Keeper, custodian",
        containers=[Touched(number) for number in numbers],
        actor=more.pop("actor", scene.cast.custodian),
        at=more.pop("at", given.NOW),
        **more,
    )


def step(scene, number, act="reported", **more):
    return incidents.record_step(
        incident=number,
        act=act,
        text=more.pop("text", "Letter handed over at the Steward's desk."),
        occurred_on=more.pop("occurred_on", given.TODAY),
        actor=more.pop("actor", scene.cast.custodian),
        at=given.NOW,
        **more,
    )


def test_what_an_open_incident_touches_is_not_disposed_of(scene, act, box):
    """Failure mode 51: the same path as tampering, until it is decided."""
    permission = ready_for_disposal(scene, box)
    number = reported(scene, box.number)
    with pytest.raises(Refused, match=number):
        given.disposed_of(scene, box.number, permission)
    step(scene, number)
    incidents.close_incident(incident=number, because=BECAUSE, **act)
    assert given.disposed_of(scene, box.number, permission).startswith("CF-")


def test_an_envelope_that_is_touched_holds_the_box_around_it(scene, act, box):
    permission = ready_for_disposal(scene, box)
    envelope = given.an_envelope_in(box)
    number = reported(scene, envelope.number, kind="mould")
    with pytest.raises(Refused, match=f"{envelope.number}.*{number}"):
        given.disposed_of(scene, box.number, permission)


def test_a_whole_room_is_held_and_so_is_what_comes_in_or_is_carried_out(scene, act):
    """Failure mode 64: an emergency move is allowed, destruction is not."""
    box = given.a_shelved_box(scene)
    permission = ready_for_disposal(scene, box)
    number = reported(scene, kind="water", whole_room=True)
    touched = set(IncidentItem.objects.values_list("box__number", flat=True))
    assert box.number in touched
    boxes.shelve_box(box=box.number, shelf=scene.shelves[1], **act)
    with pytest.raises(Refused, match=number):
        given.disposed_of(scene, box.number, permission)
    # Carried to the other room, the box stays held by name.
    moved_away(box, scene.other_room)
    assert [one.number for one in held_by(box)] == [number]
    late = given.a_shelved_box_of_station_two(scene)
    assert [one.number for one in held_by(late)] == [number]
    assert late.number not in touched


def moved_away(box, room):
    from registry.models import StrongRoom

    token = act_in_hand.set(ActInHand("transfer.accept", None, given.NOW))
    try:
        box.room = StrongRoom.objects.get(number=room)
        box.save()
    finally:
        act_in_hand.reset(token)


def held_by(box):
    from registry.queries.incidents import incidents_on

    return incidents_on(Box.objects.get(pk=box.pk))


def test_nothing_is_opened_before_the_direction_is_on_record(scene, act, box):
    permission = given.a_permission(
        scene, [box.number], act="open-box", while_still_kept=True
    )
    given.a_checked_seal(scene, box.number)
    number = reported(scene, box.number)
    call = {
        "container": box.number,
        "permission": permission,
        "present": "Aron Steward",
        "done": "Sealed anew.",
        "new_seals": [given.paper_seal("PS-0777")],
        "fragments_kept_in": "a bag with the box",
        **act,
    }
    with pytest.raises(Refused, match=number):
        openings.open_container(**call)
    step(scene, number, act="directed", reference="ESC/DIR/4 of 2 November 2026")
    assert openings.open_container(**call).number.startswith("OP-")


def test_a_container_named_later_is_held_from_then_on(scene, act, box):
    other = given.a_shelved_box_of_station_two(scene)
    number = reported(scene, box.number)
    assert held_by(other) == ()
    incidents.add_containers(
        incident=number, containers=[Touched(other.number, "damp lid")], **act
    )
    assert [one.number for one in held_by(other)] == [number]
    with pytest.raises(Refused, match="named already"):
        incidents.add_containers(
            incident=number, containers=[Touched(other.number)], **act
        )


def test_it_is_closed_only_after_a_report_or_a_direction(scene, act, box):
    number = reported(scene, box.number)
    step(scene, number, act="done", text="Pieces put into a labelled bag.")
    with pytest.raises(Refused, match="was not reported"):
        incidents.close_incident(incident=number, because=BECAUSE, **act)
    step(scene, number)
    with pytest.raises(Mistaken, match="on whose word"):
        incidents.close_incident(incident=number, because="ok", **act)
    incidents.close_incident(incident=number, because=BECAUSE, **act)
    row = Incident.objects.get()
    assert (row.closed_because, row.closed_by_id) == (BECAUSE, act["actor"].person_id)
    assert row.steps.order_by("id").last().act == "closed"
    with pytest.raises(Refused, match="was closed"):
        step(scene, number)
    with pytest.raises(Refused, match="was closed"):
        incidents.add_containers(
            incident=number, containers=[Touched(box.number)], **act
        )


def test_a_missing_container_stays_held_and_on_the_register(scene, act, box):
    """Failure mode 61: state missing, an incident; it stays to be kept."""
    custody.report_not_found(container=box.number, note="Looked on A/1.", **act)
    number = reported(scene, box.number, kind="missing")
    assert Box.objects.get(pk=box.pk).whereabouts == "missing"
    assert Discrepancy.objects.filter(box=box, kind="not-found").exists()
    assert [one.number for one in held_by(box)] == [number]


def test_the_incident_has_an_owner_and_a_day_and_stands_on_desks(scene, act, box):
    number = reported(scene, box.number)
    row = Incident.objects.get()
    assert row.owner.name == scene.cast.custodian.name
    assert row.due_on == given.TODAY + timedelta(days=7)
    late = given.NOW + timedelta(days=8)
    for who in ("custodian", "legal", "authority"):
        waiting = desks.look_at_desk(actor=getattr(scene.cast, who), at=late)
        words = {one.number: one.word for one in waiting}
        assert words[number] == "Overdue", who


@pytest.mark.parametrize(
    ("changes", "message"),
    [
        ({"kind": "flood"}, "Say what went wrong"),
        ({"noticed_at": given.NOW + timedelta(hours=1)}, "has not come yet"),
        ({"occurred_at": given.NOW + timedelta(hours=1)}, "after it was noticed"),
        ({"due_on": given.TODAY - timedelta(days=1)}, "still to come"),
        ({"owner": "PE-000001-9"}, "Choose a custodian"),
    ],
)
def test_what_cannot_be_is_not_taken(scene, box, changes, message):
    with pytest.raises(Mistaken, match=message):
        reported(scene, box.number, **changes)
    assert not Incident.objects.exists()


def test_an_incident_names_what_it_touches(scene, box):
    with pytest.raises(Mistaken, match="Name what it touches"):
        reported(scene, kind="pests")
    with pytest.raises(Mistaken, match=r"mistyped|no box"):
        reported(scene, "BX-000999-A")
    # A lost key touches no container.
    assert reported(scene, kind="key").startswith("IC-")


@pytest.mark.parametrize("who", ["legal", "authority", "auditor", "administrator"])
def test_only_the_custodian_reports_adds_and_closes(scene, box, who):
    number = reported(scene, box.number)
    actor = getattr(scene.cast, who)
    call = {"incident": number, "actor": actor, "at": given.NOW}
    with pytest.raises(PowerMissing):
        reported(scene, box.number, actor=actor)
    with pytest.raises(PowerMissing):
        incidents.add_containers(containers=[Touched(box.number)], **call)
    with pytest.raises(PowerMissing):
        incidents.close_incident(because=BECAUSE, **call)


@pytest.mark.parametrize(
    ("who", "may"),
    [
        ("custodian", {"reported", "directed", "done", "noted"}),
        ("legal", {"noted"}),
        ("authority", {"directed", "noted"}),
        ("auditor", set()),
        ("administrator", set()),
    ],
)
def test_who_enters_which_step(scene, box, who, may):
    number = reported(scene, box.number)
    done = set()
    for act in ("reported", "directed", "done", "noted"):
        try:
            step(scene, number, act, actor=getattr(scene.cast, who), reference="R 1")
            done.add(act)
        except PowerMissing:
            continue
    assert done == may


def test_another_rooms_incident_is_not_there(scene, act, box):
    number = reported(scene, box.number)
    stranger = given.appointed(
        scene.cast.administrator, "gil.keeper", "custodian", rooms=(scene.other_room,)
    )
    with pytest.raises(NotThere):
        incident_looks.look_at_incident(incident=number, actor=stranger, at=given.NOW)
    with pytest.raises(NotThere):
        step(scene, number, actor=stranger)
    assert incident_looks.list_incidents(actor=stranger, at=given.NOW) == ()


def test_a_legal_officer_sees_what_touches_her_elections_alone(scene, box):
    number = reported(scene, box.number)
    reported(scene, kind="key")
    rows = incident_looks.list_incidents(actor=scene.cast.legal, at=given.NOW)
    assert [row.number for row in rows] == [number]
    everything = incident_looks.list_incidents(actor=scene.cast.auditor, at=given.NOW)
    assert len(everything) == 2


def test_the_database_refuses_to_dispose_of_what_is_touched(scene, act, box):
    """Failure mode 82: whatever program asks."""
    permission = ready_for_disposal(scene, box)
    done = given.disposed_of(scene, box.number, permission)
    other = given.a_shelved_box_of_station_two(scene)
    reported(scene, other.number)
    batch = DisposalItem.objects.first().batch
    token = act_in_hand.set(ActInHand("disposal.carry_out", None, given.NOW))
    try:
        with pytest.raises(DatabaseError, match=r"open incident|no permission"):
            DisposalItem(batch=batch, box=other, reasoning={}).save()
    finally:
        act_in_hand.reset(token)
    assert done


def test_the_letter_names_what_is_touched_why_it_is_kept_and_what_is_asked(
    scene, act, box
):
    from tests.documents.papers import text_of

    number = reported(scene, box.number)
    given.a_case(scene)
    paper = incident_looks.print_incident_report(incident=number, **act)
    text = text_of(paper.content)
    for words in (
        "Report of an incident",
        number,
        "Electoral Steward of Calvenna",
        "hangs by one corner",
        box.number,
        "PS-0001",
        "Directions asked for",
        "Broken seals and their pieces are kept",
        "Moss v. Returning Officer",
    ):
        assert words in text, words


def test_nobody_from_outside_follows_an_incident_up(scene, box):
    lena = User.objects.get(username="lena.law")
    with pytest.raises(Mistaken, match="has charge of the room"):
        reported(scene, box.number, owner=lena.number)
    assert Envelope.objects.exists()
