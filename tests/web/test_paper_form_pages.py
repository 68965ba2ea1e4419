"""Pages of paper forms: given out, entered from, accounted for; for each role."""

from datetime import timedelta

import pytest

from registry.models import Box, DoorSession, FallbackForm
from registry.usecases import paper_forms
from tests import given, strong_room

pytestmark = pytest.mark.django_db

PRINTED = given.NOW - timedelta(days=1)
HAPPENED = (PRINTED + timedelta(hours=2)).strftime("%Y-%m-%dT%H:%M")


@pytest.fixture
def scene():
    return given.a_scene(at=PRINTED)


@pytest.fixture(autouse=True)
def clock(monkeypatch):
    given.clock_at(monkeypatch, given.NOW)


@pytest.fixture
def client(scene):
    return given.browser_of(scene.cast.custodian)


def issued(scene, kind="moves", count=1):
    return paper_forms.issue_forms(
        room=scene.room,
        kind=kind,
        count=count,
        actor=scene.cast.custodian,
        at=PRINTED,
    )


def a_box(scene):
    return given.logged(scene, given.an_open_box(), at=PRINTED).number


def test_forms_are_given_out_and_printed(scene, client):
    entered = {"room": scene.room, "kind": "seals", "count": "3"}
    answer = client.post("/paper-forms/new/", entered)
    assert answer.status_code == 302
    page = client.get(answer["Location"]).content.decode()
    numbers = list(FallbackForm.objects.values_list("number", flat=True))
    assert all(number in page for number in numbers)
    pdf = client.post(answer["Location"])
    assert pdf.content[:5] == b"%PDF-"
    assert "1 time: destroy" in client.get(answer["Location"]).content.decode()


def test_a_line_is_entered_from_a_form(scene, client):
    box, [form] = a_box(scene), issued(scene)
    line = f"/paper-forms/{form}/line/"
    answer = client.post(line, {"container": box, "done": "shelve"})
    assert answer["Location"] == f"/containers/{box}/shelve/?form={form}"
    page = client.get(answer["Location"]).content.decode()
    assert "When it happened" in page
    assert f'value="{form}"' in page
    entered = {"shelf": scene.shelves[0], "happened_at": HAPPENED, "paper_form": form}
    done = client.post(answer["Location"], entered)
    assert done["Location"] == line
    move = Box.objects.get(number=box).movements.get(act="shelved")
    assert move.occurred_at == PRINTED.replace(second=0) + timedelta(hours=2)
    page = client.get(f"/paper-forms/{form}/").content.decode()
    for words in (box, "put on a shelf", "1 November 2026, 12:00", "2 November 2026"):
        assert words in page, words
    page = client.get(f"/boxes/{box}/").content.decode()
    assert "entered <time" in page
    assert f"paper form {form}" in page


def test_a_field_that_is_lacking_or_wrong_is_told_beside_it(scene, client):
    box, [form] = a_box(scene), issued(scene)
    address = f"/containers/{box}/shelve/?form={form}"
    shelf = {"shelf": scene.shelves[0], "paper_form": form}
    for moment, words in (
        ("", "Say when it happened"),
        ("yesterday", "Write day and time as on the form"),
        ("2026-11-09T10:00", "not come yet"),
        ("2026-10-01T10:00", "was printed on"),
    ):
        answer = client.post(address, {**shelf, "happened_at": moment})
        assert answer.status_code == 400
        assert words in answer.content.decode(), words
    assert not Box.objects.get(number=box).shelf


def test_without_a_form_no_moment_is_asked_or_taken(scene, client):
    box = a_box(scene)
    address = f"/containers/{box}/shelve/"
    assert "When it happened" not in client.get(address).content.decode()
    sent = {"shelf": scene.shelves[0], "happened_at": HAPPENED, "paper_form": "PF"}
    assert client.post(address, sent).status_code == 302
    move = Box.objects.get(number=box).movements.get(act="shelved")
    assert move.occurred_at == move.recorded_at == given.NOW


@pytest.mark.parametrize("form", ["PF-000001-7", "a/b", "x", "%2F"])
def test_a_form_that_is_none_leads_nowhere(scene, client, form):
    box = a_box(scene)
    assert client.get(f"/containers/{box}/shelve/?form={form}").status_code == 404
    assert client.get(f"/intake/?form={form}").status_code == 404


def test_a_container_mistyped_on_the_line_is_mended_in_its_field(scene, client):
    [form] = issued(scene)
    sent = {"container": "BX-000009-9", "done": "shelve"}
    answer = client.post(f"/paper-forms/{form}/line/", sent)
    assert answer.status_code == 400
    assert "mistyped" in answer.content.decode()


def test_an_intake_is_entered_from_its_form(scene, client):
    [form] = issued(scene, "intake")
    page = client.get(f"/paper-forms/{form}/").content.decode()
    assert f"/intake/?form={form}" in page
    begun = client.post(
        f"/intake/?form={form}",
        {
            "election": scene.election, "contest": "", "kind": "poll-slips",
            "room": scene.room, "delivered_by": "Rowan Fenn",
        },
    )  # fmt: skip
    log = begun["Location"].replace("/envelope/", "/box/")
    assert f"form={form}" in log
    page = client.get(log).content.decode()
    assert "When it happened" in page
    sent = {
        "happened_at": HAPPENED, "paper_form": form, "station_number": "001",
        "label": "1 of 1", "received_on": given.TODAY.isoformat(),
    }  # fmt: skip
    assert client.post(log, sent).status_code == 302
    move = Box.objects.get().movements.get()
    assert f"{move.occurred_at:%Y-%m-%dT%H:%M}" == HAPPENED
    assert FallbackForm.objects.get().state == "in-entry"


@pytest.mark.parametrize(
    ("name", "state"),
    [("spoilt", "spoilt"), ("returned", "returned"), ("lost", "lost")],
)
def test_a_form_is_accounted_for_on_its_page(scene, client, name, state):
    [form] = issued(scene)
    page = client.get(f"/paper-forms/{form}/").content.decode()
    assert f"/paper-forms/{form}/{name}/" in page
    address = f"/paper-forms/{form}/{name}/"
    assert client.get(address).status_code == 200
    assert client.post(address, {"note": ""}).status_code == 400
    assert client.post(address, {"note": "Coffee, kept."}).status_code == 302
    assert FallbackForm.objects.get().state == state
    assert client.post(address, {"note": "Again."}).status_code == 409


def test_a_form_without_an_entry_is_not_entered_in_full(scene, client):
    [form] = issued(scene)
    answer = client.post(f"/paper-forms/{form}/entered/", {"note": ""})
    assert answer.status_code == 409
    assert "Nothing was entered from it yet" in answer.content.decode()


READERS = ("legal", "authority", "auditor")


@pytest.mark.parametrize("who", READERS)
def test_others_read_and_are_offered_nothing(scene, who):
    [form] = issued(scene)
    client = given.browser_of(getattr(scene.cast, who))
    for address in ("/paper-forms/", f"/paper-forms/{form}/"):
        page = client.get(address)
        assert page.status_code == 200
        assert "/paper-forms/new/" not in page.content.decode()
        assert "Enter from this form" not in page.content.decode()


WRITING = ("line", "entered", "spoilt", "returned", "lost", "found")


@pytest.mark.parametrize("who", [*READERS, "administrator"])
def test_no_other_role_writes_by_a_guessed_address(scene, who):
    [form] = issued(scene)
    client = given.browser_of(getattr(scene.cast, who))
    for name in WRITING:
        address = f"/paper-forms/{form}/{name}/"
        assert client.get(address).status_code == 403, name
        assert client.post(address, {"note": "x"}).status_code == 403, name
    sent = {"room": scene.room, "kind": "moves", "count": 1}
    assert client.get("/paper-forms/new/").status_code == 403
    assert client.post("/paper-forms/new/", sent).status_code == 403
    assert client.get(f"/paper-forms/print/?first={form}").status_code == 403
    if who == "administrator":
        assert client.get("/paper-forms/").status_code == 403


def test_a_form_of_another_room_is_not_there(scene):
    [form] = issued(scene)
    keeper = given.appointed(
        scene.cast.administrator, "gil.keeper", "custodian", rooms=(scene.other_room,)
    )
    client = given.browser_of(keeper)
    for name in ("", *(f"{name}/" for name in WRITING)):
        assert client.get(f"/paper-forms/{form}/{name}").status_code == 404, name
    assert client.get(f"/find/?q={form}").status_code == 404


def test_a_scanned_form_opens_its_page(scene, client):
    [form] = issued(scene)
    assert client.get(f"/find/?q={form}")["Location"] == f"/paper-forms/{form}/"


def test_the_list_is_narrowed_and_paged(scene, client):
    numbers = issued(scene, count=60)
    page = client.get("/paper-forms/?state=blank&kind=moves").content.decode()
    assert "printed 60 = 60 in stock" in page
    assert numbers[-1] in page
    assert numbers[0] not in page
    assert "after=" in page
    none = client.get("/paper-forms/?state=lost").content.decode()
    assert "No paper form fits" in none
    assert client.get("/paper-forms/?state=nonsense").status_code == 200


def test_a_door_is_entered_from_its_form_with_both_times(scene, client):
    """Failure mode 90: network down; occurred and recorded, opening and closing."""
    room = strong_room.two_locks(scene)
    [form] = issued(scene, "door")
    page = client.get(f"/paper-forms/{form}/").content.decode()
    opening = f"/doors/open/?room={scene.room}&amp;form={form}"
    assert opening in page
    opening = opening.replace("&amp;", "&")
    assert f'value="{form}"' in client.get(opening).content.decode()
    sent = {
        "purpose": "round", "first_key": room.first_holding, "paper_form": form,
        "second_key": room.second_holding, "seals_found": "D-1",
    }  # fmt: skip
    lacking = client.post(opening, sent)
    assert lacking.status_code == 400
    assert "Write when it happened" in lacking.content.decode()
    answer = client.post(opening, sent | {"happened_at": HAPPENED})
    session = DoorSession.objects.get()
    closing = f"/doors/{session.number}/close/?form={form}"
    assert answer["Location"] == closing
    page = client.get(f"/paper-forms/{form}/").content.decode()
    assert f"Enter the closing of {session.number}" in page
    assert closing in page
    assert f'value="{form}"' in client.get(closing).content.decode()
    sent = {
        "seals_put_on": "D-2", "done": "Walked the shelves.", "waste": "none",
        "paper_form": form, "all_left": "on",
    }  # fmt: skip
    early = {"happened_at": PRINTED.strftime("%Y-%m-%dT%H:%M")}
    refused = client.post(closing, sent | early)
    assert refused.status_code == 400
    assert "The door was opened after that" in refused.content.decode()
    later = PRINTED + timedelta(hours=3)
    answer = client.post(closing, sent | {"happened_at": f"{later:%Y-%m-%dT%H:%M}"})
    assert answer["Location"] == f"/paper-forms/{form}/"
    session.refresh_from_db()
    assert f"{session.opened_at:%Y-%m-%dT%H:%M}" == HAPPENED
    assert session.closed_at == later.replace(second=0, microsecond=0)
    assert session.opened_recorded_at == session.closed_recorded_at == given.NOW
    page = client.get(answer["Location"]).content.decode()
    assert "Enter the closing of" not in page
    assert "2 lines" in page
