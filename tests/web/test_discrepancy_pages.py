"""Discrepancies and quarantine, as each role sees them."""

from datetime import timedelta

import pytest

from registry.models import Discrepancy, Envelope, UnitSet, User
from registry.rules.markings import Marking
from tests import given

pytestmark = pytest.mark.django_db

REASON = "The presiding officer's diary says so."


@pytest.fixture
def scene():
    return given.a_scene()


@pytest.fixture
def odd(scene, monkeypatch):
    """The number of an envelope without a date of poll."""
    given.clock_at(monkeypatch, given.NOW)
    whole = given.an_envelope_on_the_table()
    return given.logged(scene, given.changed(whole, Marking.POLL_DATE, None)).number


@pytest.mark.parametrize(
    ("who", "look", "act"),
    [
        ("custodian", 200, 302),
        ("legal", 200, 403),
        ("authority", 200, 403),
        ("auditor", 200, 403),
        ("administrator", 403, 403),
    ],
)
def test_who_may_look_and_who_may_resolve(scene, odd, who, look, act):
    client = given.browser_of(getattr(scene.cast, who))
    address = f"/discrepancies/{Discrepancy.objects.get().number}/"
    page = client.get(address)
    assert (client.get("/discrepancies/").status_code, page.status_code) == (look, look)
    assert ("Resolve it" in page.content.decode()) == (who == "custodian")
    release = f"/containers/{odd}/release/"
    assert client.get(release).status_code == (200 if who == "custodian" else 403)
    assert client.post(address, {"resolution": REASON}).status_code == act
    assert client.post(release, {"reason": REASON}).status_code == act
    assert Envelope.objects.get().state == ("held" if act == 302 else "quarantined")


def test_a_discrepancy_of_another_room_is_not_there(scene, odd):
    keeper = given.browser_of(
        given.appointed(
            scene.cast.administrator,
            "gil.keeper",
            "custodian",
            rooms=(scene.other_room,),
        )
    )
    number = Discrepancy.objects.get().number
    for address in (f"/discrepancies/{number}/", f"/containers/{odd}/release/"):
        assert keeper.get(address).status_code == 404
    assert number not in keeper.get("/discrepancies/").content.decode()


def test_a_mistyped_number_is_not_there(scene):
    keeper = given.browser_of(scene.cast.custodian)
    for address in ("/discrepancies/DC-000001-0/", "/containers/nonsense/release/"):
        assert keeper.get(address).status_code == 404


def test_a_reason_is_asked_for(scene, odd):
    keeper = given.browser_of(scene.cast.custodian)
    address = f"/discrepancies/{Discrepancy.objects.get().number}/"
    for bare in ("", "ok"):
        answer = keeper.post(address, {"resolution": bare})
        assert answer.status_code == 400
        assert "on whose word" in answer.content.decode()


def test_release_lists_everything_that_stands_against_it(scene, odd):
    keeper = given.browser_of(scene.cast.custodian)
    answer = keeper.post(f"/containers/{odd}/release/", {"reason": REASON})
    assert answer.status_code == 409
    assert Discrepancy.objects.get().number in answer.content.decode()


def test_the_units_are_named_from_those_whose_serials_come_near(scene):
    stranger = given.an_envelope_on_the_table(
        station="777", control_unit="CU-1l001", paper_trail_unit="PT-AA-1l001"
    )
    number = given.logged(scene, stranger).number
    keeper = given.browser_of(scene.cast.custodian)
    for row in Discrepancy.objects.all():
        keeper.post(f"/discrepancies/{row.number}/", {"resolution": REASON})
    page = keeper.get(f"/containers/{number}/release/").content.decode()
    units = UnitSet.objects.get(control_unit_serial="CU-11001")
    assert "CU-11001 with PT-AA-11001" in page
    answer = keeper.post(
        f"/containers/{number}/release/", {"unit_set": units.number, "reason": REASON}
    )
    assert answer["Location"] == f"/envelopes/{number}/"
    assert Envelope.objects.get().unit_set == units


def test_units_that_were_not_offered_are_named_by_their_number(scene, odd):
    keeper = given.browser_of(scene.cast.custodian)
    keeper.post(
        f"/discrepancies/{Discrepancy.objects.get().number}/", {"resolution": REASON}
    )
    units = UnitSet.objects.get(control_unit_serial="CU-12002")
    keeper.post(
        f"/containers/{odd}/release/", {"other": units.number.lower(), "reason": REASON}
    )
    assert Envelope.objects.get().contest.constituency_number == "12"


def test_the_list_is_narrowed(scene, odd):
    client = given.browser_of(scene.cast.auditor)
    number = Discrepancy.objects.get().number
    for query, there in (("", True), ("?show=resolved", False), ("?kind=other", False),
                         ("?show=all&kind=marking-missing", True)):  # fmt: skip
        page = client.get(f"/discrepancies/{query}").content.decode()
        assert (number in page) == there, query


def test_a_discrepancy_is_given_to_somebody_else(scene, odd):
    keeper = given.browser_of(scene.cast.custodian)
    row = Discrepancy.objects.get()
    address = f"/discrepancies/{row.number}/give/"
    lena = User.objects.get(username="lena.law")
    assert "Lena Law, legal officer" in keeper.get(address).content.decode()
    mistaken = keeper.post(address, {"owner": lena.number, "due_on": "soon"})
    assert mistaken.status_code == 400
    day = given.TODAY + timedelta(days=3)
    answer = keeper.post(address, {"owner": lena.number, "due_on": day})
    assert answer["Location"] == f"/discrepancies/{row.number}/"
    assert "Lena Law" in keeper.get(answer["Location"]).content.decode()
    for who in ("legal", "authority", "auditor", "administrator"):
        stranger = given.browser_of(getattr(scene.cast, who))
        assert stranger.get(address).status_code == 403, who
