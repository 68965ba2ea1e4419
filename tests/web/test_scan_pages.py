"""Scan, scan, done; and a scan on a record's page asks once before it acts."""

import pytest

from registry.models import Box, Envelope
from registry.rules import numbers
from registry.usecases import boxes
from tests import given

pytestmark = pytest.mark.django_db


@pytest.fixture
def scene():
    return given.a_scene()


@pytest.fixture
def client(scene):
    return given.browser_of(scene.cast.custodian)


def scan(client, code, hand=""):
    address = f"/scan/?hand={hand}" if hand else "/scan/"
    return client.post(address, {"code": code}, follow=True)


def hand_of(answer):
    hand = answer.context["hand"]
    return hand.number if hand else ""


def test_a_box_and_a_shelf_is_a_box_put_away(scene, client):
    box = given.a_shelved_box(scene)
    answer = scan(client, box.number.lower().replace("-", ""))
    assert hand_of(answer) == box.number
    answer = scan(client, scene.shelves[1], box.number)
    text = answer.content.decode()
    assert "Done:" in text
    assert f"scan the box again, then {scene.shelves[0]}" in text
    assert hand_of(answer) == ""
    box.refresh_from_db()
    assert box.shelf.number == scene.shelves[1]


def test_a_shelf_takes_box_after_box(scene, client):
    numbers = [
        given.logged(scene, given.an_open_box(label=str(n))).number for n in range(2)
    ]
    for number in numbers:
        answer = scan(client, number, scene.shelves[0])
        assert hand_of(answer) == scene.shelves[0]
    on_it = Box.objects.filter(shelf__number=scene.shelves[0])
    assert set(on_it.values_list("number", flat=True)) == set(numbers)


def test_an_open_box_takes_envelope_after_envelope(scene, client):
    box = given.logged(scene, given.an_open_box()).number
    envelope = given.logged(scene, given.an_envelope_on_the_table()).number
    answer = scan(client, envelope, box)
    assert hand_of(answer) == box
    assert Envelope.objects.get(number=envelope).box.number == box
    assert "report it" in answer.content.decode()


def test_what_is_refused_is_told_and_nothing_is_put_down(scene, client):
    box = given.a_shelved_box(scene).number
    answer = scan(client, scene.shelves[0], box)
    assert answer.status_code == 409
    assert "already" in answer.content.decode()
    assert hand_of(answer) == box


@pytest.mark.parametrize(
    ("code", "words"),
    [
        ("BX-000001-9", "mistyped"),
        ("nonsense", "not a register number"),
        ("", "Scan a label"),
        (numbers.compose("IN", 7), "There is nothing under"),
    ],
)
def test_a_bad_scan_is_told_and_the_hand_is_kept(scene, client, code, words):
    box = given.a_shelved_box(scene).number
    answer = scan(client, code, box)
    assert answer.status_code == 400
    assert words in answer.content.decode()
    assert hand_of(answer) == box


def test_anything_else_opens_its_record(scene, client):
    answer = client.post("/scan/", {"code": scene.room})
    assert answer["Location"] == f"/rooms/{scene.room}/"


def test_two_keepers_with_one_box_are_told_of_one_another(scene, client, monkeypatch):
    """The box is moved between the look at the scan and the step itself."""
    box = given.a_shelved_box(scene).number
    true = boxes.shelve_box

    def slow(**entered):
        act = {"actor": scene.cast.custodian, "at": given.NOW}
        true(box=box, shelf=scene.shelves[1], **act)
        return true(**entered)

    monkeypatch.setattr("registry.web.views.scanning.shelve_box", slow)
    answer = scan(client, scene.shelves[1], box)
    assert answer.status_code == 409
    assert "was moved while" in answer.content.decode()


@pytest.mark.parametrize("who", ["legal", "authority", "auditor", "administrator"])
def test_no_other_role_scans_things_about(scene, who):
    box = given.a_shelved_box(scene)
    client = given.browser_of(getattr(scene.cast, who))
    for address in ("/scan/", f"/scan/?hand={box.number}"):
        assert client.get(address).status_code == 403
        assert client.post(address, {"code": scene.shelves[1]}).status_code == 403


def test_what_is_in_another_room_is_not_there(scene):
    box = given.a_shelved_box(scene).number
    keeper = given.appointed(
        scene.cast.administrator, "gil.keeper", "custodian", rooms=(scene.other_room,)
    )
    client = given.browser_of(keeper)
    assert client.get(f"/scan/?hand={box}").status_code == 404
    assert client.post("/scan/", {"code": box}).status_code == 400


# On a record's page


def test_a_shelf_scanned_on_a_box_page_asks_once(scene, client):
    box = given.a_shelved_box(scene).number
    page = client.get(f"/boxes/{box}/").content.decode()
    assert f'name="on" value="{box}"' in page
    answer = client.get("/find/", {"q": scene.shelves[1], "on": box})
    assert answer["Location"] == f"/containers/{box}/shelve/?shelf={scene.shelves[1]}"
    assert Box.objects.get(number=box).shelf.number == scene.shelves[0]
    page = client.get(answer["Location"]).content.decode()
    assert f'value="{scene.shelves[1]}"' in page


def test_a_box_scanned_on_a_shelf_page_asks_once(scene, client):
    box = given.a_shelved_box(scene).number
    page = client.get(f"/shelves/{scene.shelves[1]}/").content.decode()
    assert f'name="on" value="{scene.shelves[1]}"' in page
    answer = client.get("/find/", {"q": box, "on": scene.shelves[1]})
    assert answer["Location"] == f"/containers/{box}/shelve/?shelf={scene.shelves[1]}"


def test_an_envelope_scanned_on_an_open_box_asks_once(scene, client):
    box = given.logged(scene, given.an_open_box()).number
    envelope = given.logged(scene, given.an_envelope_on_the_table()).number
    answer = client.get("/find/", {"q": envelope, "on": box})
    assert answer["Location"] == f"/containers/{envelope}/put-in/?box={box}"


def test_any_other_scan_opens_what_it_names(scene, client):
    box = given.a_shelved_box(scene)
    envelope = given.an_envelope_in(box).number
    answer = client.get("/find/", {"q": envelope, "on": box.number})
    assert answer["Location"] == f"/envelopes/{envelope}/"
    auditor = given.browser_of(scene.cast.auditor)
    answer = auditor.get("/find/", {"q": scene.shelves[1], "on": box.number})
    assert answer["Location"] == f"/shelves/{scene.shelves[1]}/"


def test_a_box_where_a_shelf_is_asked_for_is_told_plainly(scene, client):
    box = given.a_shelved_box(scene).number
    answer = client.post(f"/containers/{box}/shelve/", {"shelf": box})
    assert answer.status_code == 400
    words = f"{box} is the number of a box; a shelf is asked for here. Scan the shelf."
    assert words in answer.content.decode()


def test_the_camera_is_allowed_for_these_pages_alone(client):
    """Permissions Policy (W3C): camera for self, nothing for what is framed."""
    answer = client.get("/scan/")
    assert answer["Permissions-Policy"].startswith("camera=(self)")
