"""The pages on which labels are chosen, looked over and printed."""

import pytest

from tests import given

pytestmark = pytest.mark.django_db

SENT = {"stock": "single-100x50", "first_place": "1", "copies": "1"}


@pytest.fixture
def scene():
    return given.a_scene()


@pytest.fixture
def client(scene):
    return given.browser_of(scene.cast.custodian)


def test_numbers_are_chosen_looked_over_and_printed(scene, client):
    box = given.a_shelved_box(scene)
    chosen = {"things": f"{box.number},\n{scene.shelves[0]}", "with_contents": "on"}
    answer = client.post("/labels/choose/", chosen)
    assert answer.status_code == 302
    page = client.get(answer["Location"]).content.decode()
    envelope = given.an_envelope_in(box).number
    for words in (
        box.number, envelope, scene.shelves[0], "not yet",
        "Poll slips, 11 Harbour Reach, 001 Customs Quay School", "A / 1",
    ):  # fmt: skip
        assert words in page, words
    paper = client.post(answer["Location"], SENT)
    assert paper.content[:5] == b"%PDF-"


def test_a_second_print_is_told_on_the_screen(scene, client):
    """Failure mode 79."""
    address = f"/labels/?for={given.a_shelved_box(scene).number}"
    client.post(address, SENT)
    page = client.get(address).content.decode()
    assert "1 label was printed before" in page
    assert "Cora Keeper" in page


def test_a_record_leads_to_its_label(scene, client):
    box = given.a_shelved_box(scene)
    assert (
        f"/labels/?for={box.number}"
        in client.get(f"/boxes/{box.number}/").content.decode()
    )
    answer = client.get(f"/containers/{box.number}/label/")
    assert answer["Location"] == f"/labels/?for={box.number}"


@pytest.mark.parametrize(
    ("wrong", "words"),
    [
        ({"first_place": "9", "stock": "a4-2x4"}, "8 places"),
        ({"first_place": "0"}, "greater than or equal to 1"),
        ({"copies": "many"}, "whole number"),
        ({"stock": "nonsense"}, "valid choice"),
    ],
)
def test_a_mistake_is_told_beside_its_field(scene, client, wrong, words):
    address = f"/labels/?for={given.a_shelved_box(scene).number}"
    answer = client.post(address, SENT | wrong)
    assert answer.status_code == 400
    assert words in answer.content.decode()


def test_a_mistyped_number_is_mended_in_its_field(client):
    answer = client.post("/labels/choose/", {"things": "BX-000001-9"})
    assert answer.status_code in (400, 404)
    assert "mistyped" in answer.content.decode()


def test_without_a_number_one_is_asked_for(client):
    assert client.get("/labels/")["Location"] == "/labels/choose/"
    answer = client.post("/labels/choose/", {"things": " , "})
    assert answer.status_code == 400
    assert "at least one number" in answer.content.decode()


@pytest.mark.parametrize("who", ["legal", "authority", "auditor", "administrator"])
def test_no_other_role_prints_by_a_guessed_address(scene, who):
    box = given.a_shelved_box(scene)
    client = given.browser_of(getattr(scene.cast, who))
    address = f"/labels/?for={box.number}"
    assert client.get(address).status_code == 403
    assert client.post(address, SENT).status_code == 403
    assert client.get("/labels/choose/").status_code == 403


def test_what_is_in_another_room_is_not_there(scene):
    box = given.a_shelved_box(scene)
    keeper = given.appointed(
        scene.cast.administrator, "gil.keeper", "custodian", rooms=(scene.other_room,)
    )
    client = given.browser_of(keeper)
    for thing in (box.number, scene.shelves[0], scene.room):
        assert client.get(f"/labels/?for={thing}").status_code == 404
        assert client.post(f"/labels/?for={thing}", SENT).status_code == 404
