"""The pages of doors, keys and custody, as each role sees them."""

from datetime import timedelta

import pytest

from registry.models import DoorSession, KeyHolding
from tests import given, strong_room
from tests.documents.papers import text_of

pytestmark = pytest.mark.django_db
ROLES = ("custodian", "legal", "authority", "auditor")


@pytest.fixture(autouse=True)
def at_the_moment_of_the_scene(monkeypatch):
    given.clock_at(monkeypatch, given.NOW)


@pytest.fixture
def room():
    return strong_room.two_locks(given.a_scene())


@pytest.fixture
def keeper(room):
    return given.browser_of(room.scene.cast.custodian)


def said(answer):
    return " ".join(answer.content.decode().split())


def addresses(room, session):
    number, key = room.scene.room, strong_room.key("U1")
    return (
        "/doors/",
        f"/doors/?room={number}&standing_out=on",
        f"/doors/{session}/",
        "/keys/",
        "/keys/?on=2026-11-02",
        f"/keys/{key}/",
        f"/rooms/{number}/keys/",
        f"/rooms/{number}/door-log/",
        f"/rooms/{number}/door-log/?first_day=2026-11-01&last_day=2026-11-30",
        f"/custody/?contest={room.scene.contests['11']}",
    )


@pytest.mark.parametrize("who", ROLES)
def test_who_may_look(room, who):
    session = strong_room.opened(room).number
    client = given.browser_of(getattr(room.scene.cast, who))
    for address in addresses(room, session):
        assert client.get(address).status_code == 200, address


def test_an_administrator_reads_neither_log_nor_keys(room):
    """Failure mode 44: who sets up keeps nothing and sees no more than needed."""
    session = strong_room.opened(room).number
    client = given.browser_of(room.scene.cast.administrator)
    for address in addresses(room, session):
        assert client.get(address).status_code in (403, 404), address
    page = client.get(f"/rooms/{room.scene.room}/")
    assert page.status_code == 200
    assert "Cora Keeper" not in said(page).partition("Doors and keys")[2]
    assert "Doors and keys" not in said(page)


def acts(room, session):
    number, key = room.scene.room, strong_room.key("U1")
    return (
        "/doors/open/",
        f"/doors/open/?room={number}",
        f"/doors/{session}/close/",
        f"/doors/{session}/came/",
        f"/keys/{key}/lost/",
        f"/rooms/{number}/locks/fit/",
        f"/locks/{room.upper}/replace/",
        f"/locks/{room.upper}/keys/add/",
    )


def test_the_forms_open_for_the_custodian(room, keeper):
    session = strong_room.opened(room).number
    for address in acts(room, session):
        assert keeper.get(address).status_code == 200, address


POSTED = {
    "close": {"seals_put_on": "D-1", "done": "x", "waste": "none"},
    "came": {"name": "Ida Rill"},
    "lost": {"note": "Dropped from the ferry."},
    "fit": {"name": "third lock", "fitted_on": "2026-11-01", "keys": "T1"},
    "replace": {"because": "Worn", "fitted_on": "2026-11-01", "keys": "T1"},
    "add": {"mark": "T1"},
}


@pytest.mark.parametrize("who", ["legal", "authority", "auditor", "administrator"])
def test_others_write_neither_log_nor_keys(room, who):
    session = strong_room.opened(room).number
    before = KeyHolding.objects.count(), DoorSession.objects.get(number=session)
    client = given.browser_of(getattr(room.scene.cast, who))
    for address in acts(room, session):
        what = address.rstrip("/").rpartition("/")[2]
        answer = client.post(address, POSTED.get(what, {"purpose": "round"}))
        assert answer.status_code in (403, 404), address
    assert DoorSession.objects.get(number=session).closed_at is None
    assert KeyHolding.objects.count() == before[0]


@pytest.mark.parametrize(
    "address",
    [
        "/doors/DR-000099-A/",
        "/doors/nonsense/",
        "/keys/KY-000099-A/",
        "/rooms/RM-000099-A/keys/",
        "/rooms/RM-000099-A/door-log/",
        "/doors/open/?room=RM-000099-A",
        "/custody/?contest=CT-000099-A",
    ],
)
def test_a_guessed_number_leads_nowhere(room, keeper, address):
    assert keeper.get(address).status_code == 404


def test_another_rooms_custodian_finds_nothing(room):
    session = strong_room.opened(room).number
    other = given.appointed(
        room.scene.cast.administrator,
        "hal.keeper",
        given.Role.CUSTODIAN,
        rooms=(room.scene.other_room,),
    )
    client = given.browser_of(other)
    shared = ("/doors/", "/keys/", "/keys/?on=2026-11-02")
    for address in (*addresses(room, session), *acts(room, session)):
        if address in shared or address.startswith(("/custody/", "/doors/?")):
            page = client.get(address)
            assert session not in said(page)
            assert "Gil Keeper" not in said(page)
        elif address != "/doors/open/":
            assert client.get(address).status_code == 404, address


def opening(room, **more):
    return {
        "seals_found": "",
        "purpose": "round",
        "first_key": room.first_holding,
        "second_key": room.second_holding,
        **more,
    }


def test_a_door_is_opened_confirmed_and_closed_on_screen(room, keeper):
    address = f"/doors/open/?room={room.scene.room}"
    people = "Ida Rill, party agent\nWim Sedge"
    answer = keeper.post(address, opening(room, present=people), follow=True)
    page = said(answer)
    assert "Ida Rill" in page
    assert "Gil Keeper, second key holder, has not confirmed it." in page
    session = DoorSession.objects.get().number
    second = given.browser_of(room.second)
    assert "Confirm that you opened together" in said(second.get(f"/doors/{session}/"))
    second.post(f"/doors/{session}/confirm/", {})
    assert DoorSession.objects.get().second_confirmed_by_id == room.second.person_id
    answer = keeper.post(
        f"/doors/{session}/close/",
        {**POSTED["close"], "seals_put_on": "D-7", "all_left": "on"},
        follow=True,
    )
    assert "is closed" in said(answer)
    again = keeper.post(address, opening(room, seals_found="D-8"), follow=True)
    assert "The seals differ" in said(again)
    assert "D-7" in said(again)


def test_the_seals_put_on_are_not_shown_before_those_found_are_read(room, keeper):
    """Failure mode 50: blind entry."""
    strong_room.closed(room, strong_room.opened(room).number)
    page = keeper.get(f"/doors/open/?room={room.scene.room}")
    assert "D-101" not in said(page)


def test_the_second_holder_confirms_by_password_on_the_same_screen(room, keeper):
    session = strong_room.opened(room).number
    address = f"/doors/{session}/confirm/here/"
    wrong = keeper.post(address, {"password": "guessed at random"})
    assert wrong.status_code == 400
    assert "not the password of Gil Keeper" in said(wrong)
    assert "guessed at random" not in said(wrong)
    keeper.post(address, {"password": given.PASSWORD})
    assert DoorSession.objects.get().second_confirmed_at


def test_what_is_lacking_is_asked_for_and_what_was_typed_stays(room, keeper):
    address = f"/doors/open/?room={room.scene.room}"
    answer = keeper.post(
        address, opening(room, purpose="viewing", seals_found="D-55", note="Early")
    )
    assert answer.status_code == 400
    assert "under a permission" in said(answer)
    assert "D-55" in said(answer)
    assert "Early" in said(answer)
    half = keeper.post(address, opening(room, paper_form="PF-000001-X"))
    assert "Write when it happened" in said(half)


def test_a_refusal_is_said_with_its_reason(room, keeper):
    strong_room.opened(room)
    answer = keeper.post(f"/doors/open/?room={room.scene.room}", opening(room))
    assert answer.status_code == 409
    assert "is not closed" in said(answer)


def test_a_visitor_comes_and_leaves_on_screen(room, keeper):
    session = strong_room.opened(room).number
    keeper.post(f"/doors/{session}/came/", {"name": "Ida Rill", "post": "agent"})
    presence = DoorSession.objects.get().presences.get()
    keeper.post(f"/doors/{session}/left/{presence.pk}/", {})
    presence.refresh_from_db()
    assert presence.left_at == given.NOW
    assert keeper.get(f"/doors/{session}/left/9999/").status_code == 200
    assert keeper.post(f"/doors/{session}/left/9999/", {}).status_code == 404


def test_a_key_is_issued_taken_back_deposited_and_lost_on_screen(room, keeper):
    number = strong_room.key("L2")
    form = {"holder": "Ida Rill", "appointment": "Clerk of the court"}
    assert "Ida Rill" in said(keeper.post(f"/keys/{number}/issue/", form, follow=True))
    keeper.post(f"/keys/{number}/take-back/", {"reason": "Back from leave"})
    deposit = {"place": "Treasury", "sealed": "on"}
    page = keeper.post(f"/keys/{number}/deposit/", deposit, follow=True)
    assert "deposited, sealed" in said(page)
    page = keeper.post(f"/keys/{number}/lost/", {"note": "Cover empty"}, follow=True)
    assert "Have the lock changed" in said(page)
    register = said(keeper.get(f"/rooms/{room.scene.room}/keys/"))
    assert "is lost: the lock must be changed." in register


def test_nobody_is_issued_the_keys_of_both_locks_on_screen(room, keeper):
    form = {"holder": "Cora Keeper", "appointment": "In charge"}
    answer = keeper.post(f"/keys/{strong_room.key('L2')}/issue/", form)
    assert answer.status_code == 409
    assert "Nobody holds the keys of both locks" in said(answer)


def test_a_scanned_number_of_a_door_or_key_opens_its_page(room, keeper):
    session = strong_room.opened(room).number
    key = strong_room.key("U1")
    for number, page in (
        (session, f"/doors/{session}/"),
        (key, f"/keys/{key}/"),
        (room.first_holding, f"/keys/{key}/"),
        (room.upper, f"/rooms/{room.scene.room}/"),
    ):
        answer = keeper.get("/find/", {"q": number})
        assert answer["Location"].startswith(page), number


def test_the_rooms_page_says_how_its_door_stands(room, keeper):
    session = strong_room.opened(room).number
    page = said(keeper.get(f"/rooms/{room.scene.room}/"))
    assert "Doors and keys" in page
    assert session in page
    assert "Upper lock, key U1: Cora Keeper" in page


def test_the_desk_says_what_doors_and_keys_ask_for(room, keeper, monkeypatch):
    session = strong_room.opened(room).number
    second = given.browser_of(room.second)
    assert "Confirm" in said(second.get("/"))
    late = given.NOW + timedelta(hours=13)
    given.clock_at(monkeypatch, late)
    page = said(keeper.get("/"))
    assert session in page
    act = {"actor": room.scene.cast.custodian, "at": late}
    strong_room.keys.report_key_lost(key=strong_room.key("L1"), note="Gone", **act)
    page = said(keeper.get("/"))
    assert "must be changed" in page
    assert "Nobody holds a key of the lower lock" in page


def test_the_printed_log_names_what_stands_out(room, keeper):
    session = strong_room.opened(room, second_key="").number
    strong_room.closed(room, session)
    address = f"/rooms/{room.scene.room}/door-log/"
    paper = keeper.get(address, {"first_day": "2026-11-01", "last_day": "2026-11-30"})
    assert paper["Content-Type"] == "application/pdf"
    text = text_of(paper.content)
    for words in (session, "opened it alone, with one key", "D-101", "Second key"):
        assert words in text, words
    turned = keeper.get(address, {"first_day": "2026-11-30", "last_day": "2026-11-01"})
    assert turned.status_code == 400
