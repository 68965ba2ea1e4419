"""The pages of inspection rounds, for each role, by link and by guessed address."""

import pytest

from registry.models import Discrepancy, InspectionRound, Sighting
from registry.usecases import boxes
from tests import given

pytestmark = pytest.mark.django_db


@pytest.fixture
def scene(monkeypatch):
    given.clock_at(monkeypatch, given.NOW)
    return given.a_scene()


@pytest.fixture
def box(scene):
    return given.a_shelved_box(scene)


@pytest.fixture
def keeper(scene):
    return given.browser_of(scene.cast.custodian)


@pytest.fixture
def walk(scene, box, keeper):
    answer = keeper.post("/rounds/new/", {"room": scene.room, "witness": "Gil"})
    assert answer.status_code == 302
    return InspectionRound.objects.get().number


def test_a_shelf_is_walked_and_the_number_shown_only_afterwards(
    scene, box, keeper, walk
):
    """Blind reading (standards.md A.4.2): the record is shown after the reading."""
    address = f"/rounds/{walk}/{scene.shelves[0]}/"
    page = keeper.get(address).content.decode()
    assert box.number in page
    assert "PS-0001" not in page
    mistaken = keeper.post(address, {"scanned": box.number, "seal_read": "PS-0007"})
    assert mistaken.status_code == 400
    assert "PS-0001" not in mistaken.content.decode()
    assert "PS-0007" in mistaken.content.decode()
    seen = {
        "scanned": box.number,
        "seal_read": "PS-0007",
        "finding": "intact-matches",
    }
    after = keeper.post(address, seen, follow=True).content.decode()
    assert "Read: PS-0007. On record: PS-0001." in after
    assert Discrepancy.objects.get().kind == "seal-broken"
    again = keeper.post(address, seen)
    assert again.status_code == 409
    ended = keeper.post(f"/rounds/{walk}/end/", {"remarks": ""})
    assert ended.status_code == 302
    assert InspectionRound.objects.get().state == "done"


def test_an_unknown_code_is_asked_about_before_it_is_recorded(scene, keeper, walk, box):
    address = f"/rounds/{walk}/table/"
    asked = keeper.post(address, {"scanned": "TRUNK 4"})
    assert asked.status_code == 400
    assert "say so below" in asked.content.decode()
    told = keeper.post(address, {"scanned": "TRUNK 4", "strange": "on"}, follow=True)
    assert "quarantine shelf" in told.content.decode()


def test_a_sheet_is_typed_in_line_by_line(scene, keeper, walk, box):
    address = f"/rounds/{walk}/{scene.shelves[0]}/typed/"
    assert "PS-0001" not in keeper.get(address).content.decode()
    number = box.number
    half = {"seen_at": "2026-11-02T10:00", f"seal_read-{number}": "PS-0001"}
    mistaken = keeper.post(address, half)
    assert mistaken.status_code == 400
    assert "Say how it was found." in mistaken.content.decode()
    whole = {**half, f"finding-{number}": "intact-matches"}
    assert keeper.post(address, whole).status_code == 302
    assert Sighting.objects.get().seal_read == "PS-0001"


def test_what_is_not_there_is_looked_for_in_vain(scene, keeper, walk, box):
    address = f"/rounds/{walk}/{scene.shelves[0]}/in-vain/"
    found = {"container": box.number, "note": "Looked on A/1 and A/2."}
    assert keeper.post(address, found).status_code == 302
    page = keeper.get(f"/rounds/{walk}/").content.decode()
    assert "Looked for in vain" in page
    assert f"/containers/{box.number}/not-found/" in page
    refused = keeper.post(f"/rounds/{walk}/end/", {"remarks": ""})
    assert refused.status_code == 409
    left = {"left_off": "on", "remarks": "The day is over."}
    assert keeper.post(f"/rounds/{walk}/end/", left).status_code == 302


@pytest.mark.parametrize(
    ("who", "look", "walked"),
    [
        ("custodian", 200, 200),
        ("legal", 200, 403),
        ("authority", 200, 403),
        ("auditor", 200, 403),
        ("administrator", 403, 403),
    ],
)
def test_who_may_look_and_who_walks(scene, box, walk, who, look, walked):
    client = given.browser_of(getattr(scene.cast, who))
    shelf = f"/rounds/{walk}/{scene.shelves[0]}/"
    for address in ("/rounds/", f"/rounds/{walk}/", shelf):
        assert client.get(address).status_code == look, address
    for address in ("/rounds/new/", f"/rounds/{walk}/sheet.pdf"):
        assert client.get(address).status_code == walked, address
    if who != "custodian":
        seen = {"scanned": box.number, "finding": "intact-matches"}
        assert client.post(shelf, seen).status_code == 403
        vain = {"container": box.number, "note": "n"}
        assert client.post(f"{shelf}in-vain/", vain).status_code == 403
        assert client.post(f"/rounds/{walk}/end/", {"remarks": ""}).status_code == 403


def test_a_guessed_address_of_another_room_leads_nowhere(scene, walk):
    stranger = given.browser_of(
        given.appointed(
            scene.cast.administrator,
            "gil.keeper",
            "custodian",
            rooms=(scene.other_room,),
        )
    )
    shelf = scene.shelves[0]
    for part in ("", f"{shelf}/", f"{shelf}/typed/", f"{shelf}/in-vain/", "end/",
                 "sheet.pdf"):  # fmt: skip
        assert stranger.get(f"/rounds/{walk}/{part}").status_code == 404, part


def test_a_scanned_round_opens_its_page(keeper, walk):
    assert keeper.get("/find/", {"q": walk})["Location"] == f"/rounds/{walk}/"


def test_each_seal_of_a_box_has_a_line_when_a_sheet_is_typed_in(scene, keeper):
    """Each seal has a check of its own (the disposal rules ask for every one)."""
    act = {"actor": scene.cast.custodian, "at": given.NOW}
    number = given.logged(scene, given.an_open_box()).number
    given.logged(scene, given.an_envelope_on_the_table(), box=number)
    seals = [given.paper_seal(), given.paper_seal("PS-0002")]
    boxes.close_box(box=number, seals=seals, sealed_on=given.COUNTED, **act)
    boxes.shelve_box(box=number, shelf=scene.shelves[0], **act)
    keeper.post("/rounds/new/", {"room": scene.room, "on_paper": "on"})
    walk = InspectionRound.objects.get().number
    address = f"/rounds/{walk}/{scene.shelves[0]}/typed/"
    assert "seal 2 of 2" in keeper.get(address).content.decode()
    lines = {
        "seen_at": "2026-11-02T10:00",
        f"seal_read-{number}": "PS-0002",
        f"finding-{number}": "intact-matches",
        f"seal_read-{number}-2": "PS-0001",
        f"finding-{number}-2": "intact-matches",
    }
    assert keeper.post(address, lines)["Location"] == f"/rounds/{walk}/"
    read = Sighting.objects.order_by("id").values_list("seal_read", "in_order")
    assert list(read) == [("PS-0002", True), ("PS-0001", True)]
