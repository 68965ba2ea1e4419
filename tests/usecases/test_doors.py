"""The door log of a strong room, opened by two key holders.

Double-lock practice: common practice, no published source.
"""

from datetime import timedelta

import pytest

from registry.models import AccessEntry, Discrepancy, DoorSession, FallbackUse
from registry.rules.doors import DoorFault, SealsCompared
from registry.rules.powers import PowerMissing, Role
from registry.usecases import (
    Mistaken,
    NotThere,
    Refused,
    door_people,
    doors,
    openings,
)
from registry.usecases.door_looks import DoorsWanted, list_doors, look_at_door
from registry.usecases.set_up_looks import look_at_room
from tests import given, strong_room

pytestmark = pytest.mark.django_db
LATER = given.NOW + timedelta(hours=1)


@pytest.fixture
def scene():
    return given.a_scene()


@pytest.fixture
def room(scene):
    return strong_room.two_locks(scene)


def faults(room, session, at=LATER):
    file = look_at_door(session=session, actor=room.scene.cast.auditor, at=at)
    return {sign.fault for sign in file.row.signs}


def confirmed(room, session, at=given.NOW):
    door_people.confirm_opening(session=session, actor=room.second, at=at)


def test_a_door_opened_confirmed_and_closed_by_two_stands_out_in_nothing(room):
    session = strong_room.opened(room).number
    confirmed(room, session)
    strong_room.closed(room, session, at=LATER)
    again = strong_room.opened(room, at=LATER, seals_found="D-102, d 101").number
    confirmed(room, again, at=LATER)
    strong_room.closed(room, again, at=LATER + timedelta(hours=1))
    assert faults(room, session) == set()
    assert faults(room, again, at=LATER + timedelta(hours=2)) == set()


def test_the_seals_are_read_before_those_put_on_are_told(room):
    """Failure mode 50: blind entry; nothing is corrected in silence."""
    strong_room.closed(room, strong_room.opened(room).number)
    opened = strong_room.opened(room, at=LATER, seals_found="D-101, D-103")
    assert opened.compared is SealsCompared.DIFFER
    found = Discrepancy.objects.get(number=opened.discrepancy)
    assert (found.written, found.expected) == ("D-101, D-103", "D-101, D-102")
    assert found.room.number == room.scene.room
    assert DoorFault.SEALS_DIFFER in faults(room, opened.number)


def test_without_seals_of_the_last_closing_nothing_can_be_compared(room):
    assert strong_room.opened(room, seals_found="D-1").compared is (
        SealsCompared.NOT_RECORDED
    )


def test_a_seal_that_was_not_read_stands_out(room):
    strong_room.closed(room, strong_room.opened(room).number)
    opened = strong_room.opened(room, at=LATER)
    assert opened.compared is SealsCompared.NOT_READ
    assert DoorFault.SEALS_NOT_READ in faults(room, opened.number)


def test_a_door_opened_and_not_closed_stands_out_after_twelve_hours(room):
    session = strong_room.opened(room).number
    soon, late = (given.NOW + timedelta(hours=h) for h in (12, 13))
    assert DoorFault.OPEN_TOO_LONG not in faults(room, session, at=soon)
    assert DoorFault.OPEN_TOO_LONG in faults(room, session, at=late)


def test_a_door_opened_by_one_holder_is_recorded_and_stands_out(room):
    session = strong_room.opened(room, second_key="").number
    assert DoorFault.ONE_HOLDER in faults(room, session)


def test_an_unconfirmed_second_holder_stands_out_until_they_confirm(room):
    session = strong_room.opened(room).number
    assert DoorFault.NOT_CONFIRMED in faults(room, session)
    confirmed(room, session)
    assert DoorFault.NOT_CONFIRMED not in faults(room, session)


def test_one_account_is_not_two_key_holders(room):
    """Failure mode 45: same device is fine, same account is not."""
    session = strong_room.opened(room).number
    with pytest.raises(Refused, match="Only the second key holder"):
        door_people.confirm_opening(
            session=session, actor=room.scene.cast.custodian, at=given.NOW
        )
    strong_room.closed(room, session)
    with pytest.raises(Mistaken, match="Both keys are of one lock"):
        strong_room.opened(room, second_key=room.first_holding)


def test_the_second_holder_confirms_by_the_own_password_on_the_same_screen(room):
    session = strong_room.opened(room).number
    act = {"session": session, "actor": room.scene.cast.custodian, "at": given.NOW}
    with pytest.raises(Mistaken, match="not the password of Gil Keeper"):
        door_people.confirm_on_this_screen(password="guessed at random", **act)
    door_people.confirm_on_this_screen(password=given.PASSWORD, **act)
    row = DoorSession.objects.get(number=session)
    assert row.second_confirmed_by_id == room.second.person_id


def test_the_second_holders_password_cannot_be_guessed_at_length(room):
    session = strong_room.opened(room).number
    act = {"session": session, "actor": room.scene.cast.custodian, "at": given.NOW}
    for guess in range(door_people.MOST_WRONG):
        with pytest.raises(Mistaken):
            door_people.confirm_on_this_screen(password=f"guess {guess}", **act)
    with pytest.raises(Refused, match="Too many wrong passwords"):
        door_people.confirm_on_this_screen(password=given.PASSWORD, **act)
    act["at"] = given.NOW + door_people.RESTS_FOR + timedelta(minutes=1)
    door_people.confirm_on_this_screen(password=given.PASSWORD, **act)


def test_a_second_holder_without_a_log_in_is_written_down_and_it_says_so(scene):
    room = strong_room.two_locks(scene)
    act = {"actor": scene.cast.custodian, "at": given.NOW}
    strong_room.keys.take_key_back(key=strong_room.key("L1"), reason="Leave", **act)
    holding = strong_room.keys.issue_key(
        key=strong_room.key("L1"), holder="Ida Rill", appointment="Clerk", **act
    )
    session = strong_room.opened(room, second_key=holding).number
    assert DoorFault.NO_LOG_IN in faults(room, session)
    with pytest.raises(Refused, match="no log-in"):
        door_people.confirm_on_this_screen(session=session, password="x", **act)


def test_the_first_key_is_that_of_whoever_opens(room):
    with pytest.raises(Refused, match="own log-in"):
        strong_room.opened(
            room, first_key=room.second_holding, second_key=room.first_holding
        )


def test_who_holds_no_key_opens_no_door(room):
    other = given.appointed(
        room.scene.cast.administrator,
        "hal.keeper",
        Role.CUSTODIAN,
        rooms=(room.scene.room,),
    )
    with pytest.raises(Refused, match="You hold no key"):
        strong_room.opened(room, actor=other)


def test_a_door_is_not_opened_twice(room):
    strong_room.opened(room)
    with pytest.raises(Refused, match="is not closed"):
        strong_room.opened(room, at=LATER)


@pytest.mark.parametrize("purpose", ["viewing", "opening"])
def test_a_viewing_or_an_opening_needs_its_permission(room, purpose):
    with pytest.raises(Mistaken, match="under a permission"):
        strong_room.opened(room, purpose=purpose)


def test_a_permission_for_this_room_is_shown_with_the_opening(room):
    scene = room.scene
    permission = given.a_permission(scene, [scene.room], act="enter-room")
    session = strong_room.opened(room, purpose="viewing", permission=permission).number
    given_entry = openings.enter_room(
        room=scene.room,
        permission=permission,
        present="Ida Rill, party agent",
        purpose="Viewing of the outside",
        actor=scene.cast.custodian,
        at=LATER,
    )
    file = look_at_door(session=session, actor=scene.cast.auditor, at=LATER)
    assert file.row.permission == permission
    assert [number for number, _, _ in file.openings] == [given_entry]


def test_a_permission_for_another_room_does_not_open_this_one(room):
    scene = room.scene
    permission = given.a_permission(scene, [scene.other_room], act="enter-room")
    with pytest.raises(NotThere, match="permission for this room"):
        strong_room.opened(room, purpose="viewing", permission=permission)


def test_a_permission_revoked_while_the_door_is_open_stops_the_next_act(room):
    """Failure mode 37: the open door is closed, with a record."""
    scene = room.scene
    permission = given.a_permission(scene, [scene.room], act="enter-room")
    session = strong_room.opened(room, purpose="viewing", permission=permission).number
    given.permissions.revoke_permission(
        permission=permission, because="ESC/ORD/9", actor=scene.cast.authority, at=LATER
    )
    with pytest.raises(Refused, match="was revoked"):
        door_people.add_presence(
            session=session,
            name="Ida Rill",
            actor=scene.cast.custodian,
            at=LATER + timedelta(minutes=1),
        )
    strong_room.closed(
        room, session, at=LATER + timedelta(minutes=5), done="Closed: order revoked."
    )
    row = DoorSession.objects.get(number=session)
    assert row.done == "Closed: order revoked."
    assert DoorFault.REVOKED in faults(room, session, at=LATER + timedelta(hours=1))


def test_a_contractor_comes_with_an_escort_and_nothing_is_touched(room):
    """Failure mode 66: the door is opened for the air-conditioner."""
    scene = room.scene
    box = given.a_shelved_box(scene, at=given.NOW - timedelta(hours=3))
    with pytest.raises(Mistaken, match="stays beside them"):
        strong_room.opened(
            room, purpose="repair", present=[doors.Present("Rob Flue", "fitter")]
        )
    fitter = doors.Present("Rob Flue", "fitter", "Gil Keeper")
    session = strong_room.opened(room, purpose="repair", present=[fitter]).number
    confirmed(room, session)
    assert DoorFault.TOUCHED_IN_REPAIR not in faults(room, session)
    given.boxes.shelve_box(
        box=box.number, shelf=scene.shelves[1], actor=scene.cast.custodian, at=LATER
    )
    assert DoorFault.TOUCHED_IN_REPAIR in faults(room, session)


def test_somebody_who_never_left_stands_out(room):
    present = [doors.Present("Ida Rill", "party agent")]
    session = strong_room.opened(room, present=present).number
    strong_room.closed(room, session, at=LATER, all_left=False)
    assert DoorFault.STILL_INSIDE in faults(room, session)
    presence = DoorSession.objects.get(number=session).presences.get()
    door_people.leave(
        session=session,
        presence=presence.pk,
        actor=room.scene.cast.custodian,
        at=LATER,
    )
    assert DoorFault.STILL_INSIDE not in faults(room, session)


def test_waste_that_nobody_looked_through_stands_out(room):
    """Failure mode 68: the waste bin taken out of the room on intake day."""
    session = strong_room.opened(room).number
    with pytest.raises(Mistaken, match="waste"):
        strong_room.closed(room, session, waste="")
    strong_room.closed(room, session, waste="unlooked")
    assert DoorFault.WASTE in faults(room, session)


def test_a_movement_behind_a_closed_door_is_named_on_the_rooms_page(room):
    """A container that moved while nobody had opened the door (failure mode F18)."""
    scene = room.scene
    given.a_shelved_box(scene)
    door = look_at_room(room=scene.room, actor=scene.cast.auditor, at=LATER).door
    assert [row.what for row in door.behind_closed_door] == ["shelved"]


def test_a_movement_while_the_door_was_open_is_shown_with_the_opening(room):
    scene = room.scene
    session = strong_room.opened(room, at=given.NOW - timedelta(minutes=5)).number
    box = given.a_shelved_box(scene)
    file = look_at_door(session=session, actor=scene.cast.auditor, at=LATER)
    assert [row.container for row in file.row.handled] == [box.number]
    door = look_at_room(room=scene.room, actor=scene.cast.auditor, at=LATER).door
    assert door.behind_closed_door == ()


def test_nothing_is_recorded_before_it_happened(room):
    session = strong_room.opened(room).number
    act = {"session": session, "actor": room.scene.cast.custodian, "at": LATER}
    with pytest.raises(Mistaken, match="not come yet"):
        door_people.add_presence(
            name="Ida Rill", came_at=LATER + timedelta(hours=1), **act
        )
    with pytest.raises(Mistaken, match="after that"):
        door_people.add_presence(
            name="Ida Rill", came_at=given.NOW - timedelta(hours=1), **act
        )


def test_what_a_paper_form_took_down_is_entered_with_both_times(room):
    """Failure mode 90: the network is down; later entry with occurred and recorded."""
    form = a_paper_form(room.scene)
    happened = doors.Happened(given.NOW + timedelta(minutes=30), form.number)
    late = given.NOW + timedelta(days=2)
    session = strong_room.opened(
        room, at=late, first_key=room.second_holding, second_key="", happened=happened
    ).number
    row = DoorSession.objects.get(number=session)
    assert (row.opened_at, row.opened_recorded_at) == (happened.at, late)
    assert FallbackUse.objects.get().subject == session
    assert DoorFault.RECORDED_LATE in faults(room, session, at=late)


def a_paper_form(scene):
    from registry.models import FallbackForm, FormKind, StrongRoom, act_in_hand
    from registry.models.history import ActInHand
    from registry.usecases._records import enter

    token = act_in_hand.set(ActInHand("form.print", None, given.NOW))
    try:
        return enter(
            FallbackForm(
                kind=FormKind.DOOR,
                room=StrongRoom.objects.get(number=scene.room),
                printed_at=given.NOW,
                printed_by_id=scene.cast.custodian.person_id,
            )
        )
    finally:
        act_in_hand.reset(token)


@pytest.mark.parametrize("who", ["legal", "authority", "auditor", "administrator"])
def test_only_a_custodian_opens_a_door(room, who):
    with pytest.raises(PowerMissing):
        strong_room.opened(room, actor=getattr(room.scene.cast, who))


def test_an_authority_who_holds_the_second_key_confirms_and_sees_it(scene):
    room = strong_room.two_locks(scene, second=scene.cast.authority)
    session = strong_room.opened(room).number
    confirmed(room, session)
    assert DoorFault.NOT_CONFIRMED not in faults(room, session)


def test_a_custodian_of_another_room_finds_neither_door_nor_log(room):
    session = strong_room.opened(room).number
    other = given.appointed(
        room.scene.cast.administrator,
        "hal.keeper",
        Role.CUSTODIAN,
        rooms=(room.scene.other_room,),
    )
    act = {"actor": other, "at": LATER}
    with pytest.raises(NotThere):
        look_at_door(session=session, **act)
    with pytest.raises(NotThere):
        doors.close_door(
            session=session, seals_put_on="", done="x", waste="none", **act
        )
    assert list_doors(wanted=DoorsWanted(), zone="UTC", **act).rows == ()


def test_a_refused_opening_is_among_the_accesses(room):
    with pytest.raises(Mistaken):
        strong_room.opened(room, purpose="viewing")
    entry = AccessEntry.objects.filter(act="door.open").get()
    assert (entry.outcome, entry.subject) == ("refused", room.scene.room)
