"""The pages of the hand-over of charge, each person with the own log-in."""

import pytest

from registry.models import ChargeHandOver
from registry.rules.powers import Role
from tests import given
from tests.usecases.test_hand_overs import number_of, stated

pytestmark = pytest.mark.django_db

ROLES = ("custodian", "legal", "authority", "auditor", "administrator")


@pytest.fixture(autouse=True)
def at_the_moment_of_the_scene(monkeypatch):
    given.clock_at(monkeypatch, given.NOW)


@pytest.fixture
def scene():
    return given.a_scene()


@pytest.fixture
def incoming(scene):
    return given.appointed(
        scene.cast.administrator, "gil.k", Role.CUSTODIAN, rooms=(scene.other_room,)
    )


def said(answer):
    return " ".join(answer.content.decode().split())


def test_each_role_at_each_address(scene, incoming):
    given.a_shelved_box(scene)
    of = stated(scene, incoming)
    read = {"custodian": 200, "legal": 404, "authority": 200, "auditor": 200,
            "administrator": 403}  # fmt: skip
    keep = {"custodian": 200, "legal": 403, "authority": 403, "auditor": 403,
            "administrator": 403}  # fmt: skip
    for path, expected in (
        ("/hand-overs/", read | {"legal": 200}),
        ("/hand-overs/new/", keep),
        (f"/hand-overs/{of.number}/", read),
        (f"/hand-overs/{of.number}/paper.pdf", read),
        *((f"/hand-overs/{of.number}/{act}/", keep)
          for act in ("check", "sign", "restate", "give-up")),
    ):  # fmt: skip
        found = {
            who: given.browser_of(getattr(scene.cast, who)).get(path).status_code
            for who in ROLES
        }
        assert found == expected, path


def test_a_guessed_number_is_not_there(scene, incoming):
    given.a_shelved_box(scene)
    of = stated(scene, incoming)
    stranger = given.appointed(
        scene.cast.administrator, "sam.k", Role.CUSTODIAN, rooms=(scene.other_room,)
    )
    browser = given.browser_of(stranger)
    for page in ("", "check/", "sign/", "paper.pdf"):
        assert browser.get(f"/hand-overs/{of.number}/{page}").status_code == 404
    assert browser.post(f"/hand-overs/{of.number}/sign/", {}).status_code == 404


def test_a_room_is_handed_over_in_two_sessions(scene, incoming):
    box = given.a_shelved_box(scene)
    giver, taker = given.browser_of(scene.cast.custodian), given.browser_of(incoming)
    plan = {
        "room": scene.room,
        "outgoing": number_of(scene.cast.custodian),
        "incoming": number_of(incoming),
        "charge_ends": "on",
    }
    assert giver.post("/hand-overs/new/", plan).status_code == 400
    giver.post("/hand-overs/new/", {**plan, "order": "ESC/TR/4"})
    of = ChargeHandOver.objects.get()
    address = f"/hand-overs/{of.number}/"
    assert "look at what is handed over" in said(taker.get("/"))
    page = said(taker.get(f"{address}check/"))
    assert box.number in page
    assert "PS-0001" not in page
    read = {"scanned": box.number, "seal_read": "PS-0001", "finding": "intact-matches"}
    assert giver.post(f"{address}check/", read).status_code == 409
    assert taker.post(f"{address}check/", {"scanned": box.number}).status_code == 400
    assert "is as stated" in said(taker.post(f"{address}check/", read, follow=True))
    early = taker.post(f"{address}sign/", {"signed": "on"})
    assert early.status_code == 409
    assert "signs first" in said(early)
    assert giver.post(f"{address}sign/", {}).status_code == 400
    giver.post(f"{address}sign/", {"signed": "on"})
    assert "sign, and take over" in said(taker.get("/"))
    done = taker.post(f"{address}sign/", {"signed": "on"}, follow=True)
    assert "You have taken over" in said(done)
    of.refresh_from_db()
    assert of.state == "done"
    # The outgoing officer's charge has ended: the room is out of sight, the paper not.
    assert giver.get(f"/boxes/{box.number}/").status_code == 404
    assert giver.get(address).status_code == 200
    assert taker.get(f"/boxes/{box.number}/").status_code == 200


def test_given_up_and_restated_on_their_pages(scene, incoming):
    given.a_shelved_box(scene)
    of = stated(scene, incoming)
    giver = given.browser_of(scene.cast.custodian)
    address = f"/hand-overs/{of.number}/"
    again = giver.post(f"{address}restate/", {}, follow=True)
    assert "stated anew" in said(again)
    assert giver.post(f"{address}give-up/", {"reason": ""}).status_code == 400
    ended = giver.post(f"{address}give-up/", {"reason": "Cancelled."}, follow=True)
    assert "The hand-over is given up." in said(ended)
    assert giver.post(f"{address}give-up/", {"reason": "x y"}).status_code == 409


def test_its_number_leads_to_its_page(scene, incoming):
    given.a_shelved_box(scene)
    of = stated(scene, incoming)
    answer = given.browser_of(incoming).get("/find/", {"q": of.number})
    assert answer["Location"] == f"/hand-overs/{of.number}/"
