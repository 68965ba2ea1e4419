"""People: appointed, given charge, ended."""

import pytest

from registry.models import User
from registry.rules.powers import PowerMissing, Role
from registry.usecases import Mistaken, Refused, people
from tests import given

pytestmark = pytest.mark.django_db


@pytest.fixture
def scene():
    return given.a_scene()


@pytest.fixture
def act(scene):
    return {"actor": scene.cast.administrator, "at": given.NOW}


def appoint(act, username="new.keeper", role=Role.CUSTODIAN, password=given.PASSWORD,
            **charge):  # fmt: skip
    return people.appoint_person(
        appointment=people.Appointment(username, "Nell Keeper", role, **charge),
        password=password,
        **act,
    )


def number_of(actor):
    return User.objects.get(pk=actor.person_id).number


def test_a_custodian_is_given_rooms_and_nobody_else_is(scene, act):
    appoint(act, rooms=(scene.room,))
    assert given.person("new.keeper").rooms
    with pytest.raises(Mistaken, match="Only a custodian"):
        appoint(act, "new.clerk", Role.AUDITOR, rooms=(scene.room,))
    with pytest.raises(Mistaken, match="Only a legal officer"):
        appoint(act, "new.clerk", Role.AUDITOR, elections=(scene.election,))


@pytest.mark.parametrize(
    ("password", "why"),
    [("short", "short"), ("123456789012345", "numeric"), ("password1234", "common")],
)
def test_weak_passwords_are_refused(act, password, why):
    with pytest.raises(Mistaken, match=why):
        appoint(act, password=password)


def test_a_log_in_name_is_one_persons(act):
    appoint(act)
    with pytest.raises(Mistaken, match="already"):
        appoint(act, "NEW.KEEPER")


def test_charge_of_a_room_ends_and_comes_back(scene, act):
    number = number_of(scene.cast.custodian)
    change = {"person": number, "post": "", "elections": [], **act}
    people.change_post(rooms=[scene.other_room], **change)
    row = people.look_at_person(person=number, **act)
    assert row.rooms == ((scene.other_room, "Old Granary strong room"),)
    people.change_post(rooms=[scene.room], **change)
    row = people.look_at_person(person=number, **act)
    assert row.rooms == ((scene.room, "Customs House strong room"),)


def test_an_ended_appointment_lets_nobody_in(scene, act):
    people.end_appointment(person=number_of(scene.cast.legal), **act)
    assert given.User.objects.get(pk=scene.cast.legal.person_id).is_active is False
    assert people.person_by_username("lena.law", address="", channel="web") is None
    with pytest.raises(Refused, match="has ended already"):
        people.end_appointment(person=number_of(scene.cast.legal), **act)


def test_nobody_ends_his_own_appointment(scene, act):
    with pytest.raises(Refused, match="another administrator"):
        people.end_appointment(person=number_of(scene.cast.administrator), **act)


def test_ones_own_password_needs_the_present_one(scene):
    mine = {"actor": scene.cast.legal, "at": given.NOW}
    with pytest.raises(Mistaken, match="present password"):
        people.change_own_password(old="wrong", new="quay marble sunrise", **mine)
    people.change_own_password(old=given.PASSWORD, new="quay marble sunrise", **mine)
    user = User.objects.get(pk=scene.cast.legal.person_id)
    assert user.check_password("quay marble sunrise")


@pytest.mark.parametrize("who", ["custodian", "legal", "authority", "auditor"])
def test_only_the_administrator_appoints(scene, who):
    with pytest.raises(PowerMissing):
        appoint({"actor": getattr(scene.cast, who), "at": given.NOW})


def test_the_first_administrator_is_only_the_first(scene):
    with pytest.raises(Refused, match="people in the registry already"):
        given.first_administrator()
