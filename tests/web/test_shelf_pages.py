"""Pages of shelves, plans and putting away, for each role and by guessed address."""

import pytest

from registry.models import Box, Shelf
from tests import given

pytestmark = pytest.mark.django_db

ROLES = ("custodian", "legal", "authority", "auditor", "administrator")


@pytest.fixture
def scene():
    return given.a_scene()


def page_of(scene, who, address):
    return given.browser_of(getattr(scene.cast, who)).get(address)


@pytest.mark.parametrize("who", ROLES)
def test_who_opens_what(scene, who):
    given.a_shelved_box(scene)
    shelf, room = scene.shelves[0], scene.room
    expected = {
        f"/shelves/{shelf}/": 200,
        f"/shelves/{shelf}/change/": 200 if who == "administrator" else 403,
        f"/rooms/{room}/": 200,
        f"/rooms/{room}/plan/": 403 if who == "administrator" else 200,
        "/put-away/": 200 if who == "custodian" else 403,
    }
    for address, status in expected.items():
        assert page_of(scene, who, address).status_code == status, address


def test_a_custodian_of_another_room_finds_nothing_by_guessing(scene):
    keeper = given.appointed(
        scene.cast.administrator, "gil.keeper", "custodian", rooms=(scene.other_room,)
    )
    client = given.browser_of(keeper)
    for address in (f"/shelves/{scene.shelves[0]}/", f"/rooms/{scene.room}/plan/"):
        assert client.get(address).status_code == 404, address


def test_a_scanned_shelf_opens_its_page(scene):
    client = given.browser_of(scene.cast.custodian)
    answer = client.get("/find/", {"q": scene.shelves[0].lower()})
    assert answer["Location"] == f"/shelves/{scene.shelves[0]}/"


def test_an_administrator_sees_no_box_on_shelf_or_room(scene):
    box = given.a_shelved_box(scene)
    for address in (f"/shelves/{scene.shelves[0]}/", f"/rooms/{scene.room}/"):
        page = page_of(scene, "administrator", address).content.decode()
        assert box.number not in page


def test_boxes_are_put_away_by_scanning_and_what_is_refused_is_told(scene):
    box = given.a_shelved_box(scene)
    client = given.browser_of(scene.cast.custodian)
    scanned = f"{box.number}\r\nBX-000009-9\r\n{scene.shelves[1]}"
    answer = client.post("/put-away/", {"scanned": scanned})
    text = answer.content.decode()
    assert answer.status_code == 200
    assert "1 box is put away; 1 was not" in text
    assert "Not put away" in text
    box.refresh_from_db()
    assert box.shelf.number == scene.shelves[1]
    assert client.post("/put-away/", {"scanned": box.number}).status_code == 400
    assert client.post("/put-away/", {"scanned": ""}).status_code == 400
    again = client.post("/put-away/", {"scanned": scanned})
    assert again.status_code == 409
    assert box.number in again.content.decode()  # nothing typed is lost


def test_one_key_chooses_what_was_offered_when_the_page_was_read(scene):
    box = given.a_shelved_box(scene)
    client = given.browser_of(scene.cast.custodian)
    address = f"/containers/{box.number}/shelve/"
    page = client.get(address).content.decode()
    assert "1: Customs House strong room, bay A, shelf" in page
    offered = f"{scene.shelves[1]} {scene.shelves[0]}"
    wrong = client.post(address, {"shelf": "3", "offered": offered})
    assert wrong.status_code == 400
    assert "Nothing is suggested under 3" in wrong.content.decode()
    assert client.post(address, {"shelf": "", "offered": offered}).status_code == 400
    taken = client.post(address, {"shelf": "1", "offered": offered})
    assert taken.status_code == 302
    box.refresh_from_db()
    assert box.shelf.number == scene.shelves[1]
    client.post(address, {"shelf": "", "chosen": scene.shelves[0]})
    box.refresh_from_db()
    assert box.shelf.number == scene.shelves[0]


def test_a_shelf_is_changed_on_its_page(scene):
    client = given.browser_of(scene.cast.administrator)
    address = f"/shelves/{scene.shelves[0]}/change/"
    assert client.post(address, {"capacity": "0"}).status_code == 400
    changed = {"capacity": "7", "level": "1"}
    assert client.post(address, changed)["Location"] == f"/shelves/{scene.shelves[0]}/"
    shelf = Shelf.objects.get(number=scene.shelves[0])
    assert (shelf.capacity, shelf.level) == (7, 1)


def test_levels_are_entered_at_set_up(scene):
    client = given.browser_of(scene.cast.administrator)
    entered = {"bays": "C", "shelves": "3", "capacity": "4", "counted": "from-top"}
    client.post(f"/rooms/{scene.room}/bays/", entered)
    rows = Shelf.objects.filter(bay__code="C").order_by("id")
    assert list(rows.values_list("code", "level")) == [("1", 3), ("2", 2), ("3", 1)]


def test_the_plan_shows_picture_table_and_when_places_come_free(scene):
    box = given.a_shelved_box(scene)
    page = page_of(scene, "custodian", f"/rooms/{scene.room}/plan/")
    text = page.content.decode()
    assert "<svg" in text
    assert f"{box.number}, 11 Harbour Reach" in text
    assert f'href="/shelves/{scene.shelves[0]}/"' in text
    assert "Places that come free, month by month" in text
    asked = page_of(scene, "custodian", f"/rooms/{scene.room}/plan/?within=400")
    assert "within 400 days" in asked.content.decode()
    bad = page_of(scene, "custodian", f"/rooms/{scene.room}/plan/?within=many")
    assert bad.status_code == 400


def test_the_legal_cell_sees_its_own_boxes_and_no_empty_places(scene):
    given.a_shelved_box(scene)
    text = page_of(scene, "legal", f"/rooms/{scene.room}/plan/").content.decode()
    assert Box.objects.get().number in text
    assert "Only boxes of the elections you work for are shown" in text
    assert ">empty<" not in text
