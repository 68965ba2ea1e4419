"""Pages of transfers, for each role and by guessed address; the note as a PDF."""

import io

import pypdf
import pytest

from registry.models import Box, Transfer
from tests import given

pytestmark = pytest.mark.django_db

ROLES = ("custodian", "legal", "authority", "auditor", "administrator")


@pytest.fixture
def scene():
    return given.a_scene()


@pytest.fixture
def gil(scene):
    return given.appointed(
        scene.cast.administrator, "gil.keeper", "custodian", rooms=(scene.other_room,)
    )


def entered(scene, containers, **more):
    return {
        "containers": containers,
        "to_room": scene.other_room,
        "order": "ESC/MOVE/7",
        "carrier": "Tove Brand, driver",
        **more,
    }


def handed_over(scene):
    """A transfer that the custodian began on its page."""
    box = given.a_shelved_box(scene)
    client = given.browser_of(scene.cast.custodian)
    scanned = f"{box.number.lower()}\r\nPS-0001\r\n"
    answer = client.post("/transfers/new/", entered(scene, scanned))
    assert answer.status_code == 302
    return box, Transfer.objects.get().number


@pytest.mark.parametrize("who", ROLES)
def test_who_opens_what(scene, who):
    _, number = handed_over(scene)
    client = given.browser_of(getattr(scene.cast, who))
    looks, keeps = who != "administrator", who == "custodian"
    expected = {
        "/transfers/": looks,
        f"/transfers/{number}/": looks,
        f"/transfers/{number}/note.pdf": looks,
        "/transfers/new/": keeps,
        f"/transfers/{number}/take-over/": keeps,
        f"/transfers/{number}/not-arrived/": keeps,
        f"/transfers/{number}/came-back/": keeps,
        f"/transfers/{number}/order/": who == "authority",
    }
    for address, may in expected.items():
        assert client.get(address).status_code == (200 if may else 403), address


def test_a_keeper_of_neither_room_finds_nothing(scene):
    _, number = handed_over(scene)
    third = given.setting_up.set_up_room(
        name="Tide Mill strong room",
        site="",
        bays=[],
        actor=scene.cast.administrator,
        at=given.NOW,
    )
    stranger = given.appointed(
        scene.cast.administrator, "ivo.keeper", "custodian", rooms=(third,)
    )
    client = given.browser_of(stranger)
    for tail in ("", "take-over/", "not-arrived/", "came-back/", "note.pdf"):
        assert client.get(f"/transfers/{number}/{tail}").status_code == 404, tail
    assert number not in client.get("/transfers/").content.decode()


def test_from_hand_over_to_take_over_with_the_seal_read_blind(scene, gil):
    box, number = handed_over(scene)
    client = given.browser_of(gil)
    address = f"/transfers/{number}/take-over/"
    page = client.get(address).content.decode()
    assert box.number in page
    assert "PS-0001" not in page
    arrived = {"container": box.number, "finding": "intact-matches"}
    wrong = client.post(address, {**arrived, "container": "BX-000099-9"})
    assert wrong.status_code == 400
    done = client.post(address, {**arrived, "number_read": "PS-0001"})
    assert done["Location"] == f"/transfers/{number}/"
    assert Box.objects.get().room.number == scene.other_room
    again = client.post(address, {**arrived, "number_read": "PS-0001"})
    assert again.status_code == 409
    # The sender goes on seeing the record, but not the box.
    sender = given.browser_of(scene.cast.custodian)
    record = sender.get(f"/transfers/{number}/").content.decode()
    assert box.number in record
    assert f'href="/boxes/{box.number}/"' not in record
    assert sender.get(f"/boxes/{box.number}/").status_code == 404


def test_not_arrived_and_back_again(scene, gil):
    box, number = handed_over(scene)
    said = {"container": box.number, "note": "Not in the van."}
    client = given.browser_of(gil)
    bare = client.post(f"/transfers/{number}/not-arrived/", {**said, "note": ""})
    assert bare.status_code == 400
    assert client.post(f"/transfers/{number}/not-arrived/", said).status_code == 302
    sender = given.browser_of(scene.cast.custodian)
    refused = sender.post(f"/transfers/{number}/not-arrived/", said)
    assert refused.status_code == 409
    assert sender.post(f"/transfers/{number}/came-back/", said).status_code == 302
    box.refresh_from_db()
    assert box.whereabouts == "intake"


def test_the_authority_gives_its_word_on_its_page(scene):
    box = given.a_shelved_box(scene)
    client = given.browser_of(scene.cast.custodian)
    day = given.TODAY.replace(year=given.TODAY.year + 5).isoformat()
    urgent = entered(scene, box.number, emergency="on", due_on=day)
    assert client.post("/transfers/new/", urgent).status_code == 302
    number = Transfer.objects.get().number
    aron = given.browser_of(scene.cast.authority)
    address = f"/transfers/{number}/order/"
    assert aron.post(address, {"order": "", "dated": ""}).status_code == 400
    word = {"order": "ESC/EM/1", "dated": given.TODAY.isoformat()}
    assert aron.post(address, word).status_code == 302
    assert "ESC/EM/1" in client.get(f"/transfers/{number}/").content.decode()


@pytest.mark.parametrize(
    ("containers", "said"),
    [("PS-0001", "is no container"), ("", "Scan what is handed over")],
)
def test_what_cannot_be_read_is_sent_back(scene, containers, said):
    client = given.browser_of(scene.cast.custodian)
    answer = client.post("/transfers/new/", entered(scene, containers))
    assert answer.status_code == 400
    assert said in answer.content.decode()


def test_a_scanned_number_opens_the_transfer(scene):
    _, number = handed_over(scene)
    client = given.browser_of(scene.cast.auditor)
    answer = client.get("/find/", {"q": number})
    assert answer["Location"] == f"/transfers/{number}/"


def test_the_note_lists_everything_with_lines_for_both_sides(scene):
    box, number = handed_over(scene)
    client = given.browser_of(scene.cast.custodian)
    paper = client.get(f"/transfers/{number}/note.pdf").content
    text = "".join(p.extract_text() for p in pypdf.PdfReader(io.BytesIO(paper)).pages)
    flat = " ".join(text.split())
    for word in (number, box.number, "ESC/MOVE/7", "Tove Brand", "Handed over by",
                 "Taken over for Old Granary", "two people lift",
                 "Customs House strong room"):  # fmt: skip
        assert word in flat, word
