"""People on screen: who may see them, who may appoint."""

import pytest

from registry.models import AccessEntry, User
from tests import given

pytestmark = pytest.mark.django_db
NEW = "quay marble sunrise"


@pytest.fixture
def scene():
    return given.a_scene()


@pytest.fixture
def admin(scene):
    return given.browser_of(scene.cast.administrator)


def number_of(actor):
    return User.objects.get(pk=actor.person_id).number


@pytest.mark.parametrize(
    ("who", "looks", "appoints"),
    [
        ("custodian", 403, 403),
        ("legal", 403, 403),
        ("authority", 200, 403),
        ("countersigner", 200, 403),
        ("auditor", 200, 403),
        ("administrator", 200, 200),
    ],
)
def test_who_sees_people_and_who_appoints(scene, who, looks, appoints):
    client = given.browser_of(getattr(scene.cast, who))
    legal = number_of(scene.cast.legal)
    for address in ("/people/", f"/people/{legal}/"):
        assert client.get(address).status_code == looks, address
    for address in ("appoint", f"{legal}/charge", f"{legal}/password", f"{legal}/end"):
        assert client.get(f"/people/{address}/").status_code == appoints, address
    if appoints == 403:
        assert client.post(f"/people/{legal}/end/", {}).status_code == 403
        assert User.objects.get(number=legal).is_active


def test_a_refused_form_is_entered_as_refused(scene):
    given.browser_of(scene.cast.auditor).get("/people/appoint/")
    entry = AccessEntry.objects.get(act="person.prepare")
    assert (entry.outcome, entry.name) == ("refused", scene.cast.auditor.name)


def test_a_person_is_appointed_and_can_log_in(scene, admin, client):
    answer = admin.post(
        "/people/appoint/",
        {
            "name": "Nell Keeper",
            "username": "nell.keeper",
            "role": "custodian",
            "rooms": [scene.other_room],
            "password": NEW,
            "again": NEW,
        },
    )
    page = admin.get(answer["Location"]).content.decode()
    assert "Old Granary strong room" in page
    form = {"username": "nell.keeper", "password": NEW}
    assert client.post("/log-in/", form)["Location"] == "/"
    assert client.get("/rooms/").status_code == 200


@pytest.mark.parametrize(
    ("changed", "told"),
    [
        ({"again": "another one altogether"}, "The two passwords differ."),
        ({"password": "short", "again": "short"}, "too short"),
        ({"username": "lena.law"}, "Somebody logs in under this name already."),
        ({"role": "auditor"}, "Only a custodian has charge of strong rooms."),
    ],
)
def test_what_is_mistaken_is_told_and_nobody_is_appointed(scene, admin, changed, told):
    before = User.objects.count()
    form = {
        "name": "Nell", "username": "nell", "role": "custodian",
        "rooms": [scene.room], "password": NEW, "again": NEW,
    }  # fmt: skip
    answer = admin.post("/people/appoint/", form | changed)
    assert answer.status_code == 400
    assert told in answer.content.decode()
    assert NEW not in answer.content.decode()
    assert User.objects.count() == before


def test_a_charge_is_changed(scene, admin):
    number = number_of(scene.cast.custodian)
    form = {"post": "Senior keeper", "rooms": [scene.room, scene.other_room]}
    assert admin.post(f"/people/{number}/charge/", form).status_code == 302
    page = admin.get(f"/people/{number}/").content.decode()
    assert "Customs House strong room, Old Granary strong room" in page
    assert "Senior keeper" in page


def test_ending_an_appointment_ends_the_session(scene, admin):
    legal = given.browser_of(scene.cast.legal)
    assert legal.get("/").status_code == 200
    number = number_of(scene.cast.legal)
    assert admin.post(f"/people/{number}/end/", {}).status_code == 302
    assert legal.get("/")["Location"].startswith("/log-in/")


def test_nobody_ends_the_own_appointment(scene, admin):
    number = number_of(scene.cast.administrator)
    answer = admin.post(f"/people/{number}/end/", {})
    assert answer.status_code == 409
    assert "another administrator does" in answer.content.decode()


def test_a_new_password_ends_sessions_under_the_old_one(scene, admin):
    legal = given.browser_of(scene.cast.legal)
    assert legal.get("/").status_code == 200
    number = number_of(scene.cast.legal)
    form = {"password": NEW, "again": NEW}
    assert admin.post(f"/people/{number}/password/", form).status_code == 302
    assert legal.get("/")["Location"].startswith("/log-in/")


def test_ones_own_password_is_changed_and_the_session_stays(scene):
    legal = given.browser_of(scene.cast.legal)
    form = {"old": given.PASSWORD, "password": NEW, "again": NEW}
    assert legal.post("/password/", form).status_code == 302
    assert legal.get("/").status_code == 200
    wrong = legal.post("/password/", form)
    assert wrong.status_code == 400
    assert "not your present password" in wrong.content.decode()
