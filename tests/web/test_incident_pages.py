"""The pages of incidents, for each role, by link and by guessed address."""

import pytest

from registry.models import Box, Incident
from tests import given

pytestmark = pytest.mark.django_db

WHAT = "Water under bay A; the lowest boxes stand in it."


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


def entered(scene, box, **more):
    return {
        "kind": "water",
        "what": WHAT,
        "room": scene.room,
        "containers": f"{box.number.lower()} wet at the lower edge\n",
        "noticed_at": "2026-11-02T09:40",
        "noticed_by": "Cora Keeper, custodian",
        **more,
    }


@pytest.fixture
def incident(scene, box, keeper):
    answer = keeper.post("/incidents/new/", entered(scene, box))
    assert answer.status_code == 302, answer.content.decode()
    return Incident.objects.get()


def test_it_is_reported_followed_up_and_closed(scene, box, keeper, incident):
    address = f"/incidents/{incident.number}/"
    page = keeper.get(address).content.decode()
    for words in (WHAT, box.number, "wet at the lower edge", "Enter a step"):
        assert words in page
    assert "Close it" not in page
    early = keeper.post(f"{address}close/", {"because": "Dried under the direction."})
    assert early.status_code == 409
    assert "was not reported" in early.content.decode()
    step = {"act": "reported", "text": "Letter sent.", "occurred_on": "2026-11-02"}
    assert keeper.post(f"{address}step/", step).status_code == 302
    assert "Letter sent." in keeper.get(address).content.decode()
    closed = keeper.post(f"{address}close/", {"because": "Dried under the direction."})
    assert closed["Location"] == address
    assert "Dried under the direction." in keeper.get(address).content.decode()
    assert incident.number not in keeper.get("/incidents/").content.decode()
    assert incident.number in keeper.get("/incidents/?show=closed").content.decode()


@pytest.mark.parametrize(
    ("who", "look", "report", "step", "close"),
    [
        ("custodian", 200, 200, 302, 409),
        ("legal", 200, 403, 403, 403),
        ("authority", 200, 403, 403, 403),
        ("auditor", 200, 403, 403, 403),
        ("administrator", 403, 403, 403, 403),
    ],
)
def test_who_may_do_what(scene, incident, who, look, report, step, close):
    client = given.browser_of(getattr(scene.cast, who))
    address = f"/incidents/{incident.number}/"
    for there in ("/incidents/", address, f"{address}report.pdf"):
        assert client.get(there).status_code == look, there
    assert client.get("/incidents/new/").status_code == report
    done = {"act": "done", "text": "Boxes lifted.", "occurred_on": "2026-11-02"}
    # Whoever may not take this step finds it not among the choices.
    assert client.post(f"{address}step/", done).status_code in (step, 400)
    closed = client.post(f"{address}close/", {"because": "Nobody minds."})
    assert closed.status_code == close or (who == "custodian" and step == 302)
    assert incident.steps.count() == (1 if who == "custodian" else 0)


def test_the_authority_enters_its_direction_and_the_legal_cell_a_note(scene, incident):
    address = f"/incidents/{incident.number}/step/"
    for who, act in (("authority", "directed"), ("legal", "noted")):
        client = given.browser_of(getattr(scene.cast, who))
        step = {
            "act": act,
            "text": "Dry them in the yard room.",
            "reference": "ESC/DIR/4",
            "occurred_on": "2026-11-02",
        }
        assert client.post(address, step).status_code == 302, who
    assert [s.act for s in incident.steps.order_by("id")] == ["directed", "noted"]


def test_a_guessed_address_of_another_room_leads_nowhere(scene, incident):
    stranger = given.browser_of(
        given.appointed(
            scene.cast.administrator,
            "gil.keeper",
            "custodian",
            rooms=(scene.other_room,),
        )
    )
    for part in ("", "step/", "add/", "close/", "report.pdf"):
        address = f"/incidents/{incident.number}/{part}"
        assert stranger.get(address).status_code == 404, part
    found = stranger.get("/find/", {"q": incident.number})
    assert f"/incidents/{incident.number}/" not in str(found.get("Location"))


def test_a_scanned_incident_number_opens_its_page(keeper, incident):
    found = keeper.get("/find/", {"q": incident.number})
    assert found["Location"] == f"/incidents/{incident.number}/"


def test_nothing_typed_is_lost_where_something_is_mistaken(scene, box, keeper):
    mistaken = entered(scene, box, containers="BX-000999-9 torn", noticed_by="")
    answer = keeper.post("/incidents/new/", mistaken)
    assert answer.status_code == 400
    page = answer.content.decode()
    for words in (WHAT, "BX-000999-9 torn", "Name the person who noticed it."):
        assert words in page
    answer = keeper.post(
        "/incidents/new/", entered(scene, box, containers="BX-000999-9 torn")
    )
    assert answer.status_code == 400
    assert "mistyped" in answer.content.decode()
    assert not Incident.objects.exists()


@pytest.mark.parametrize("finding", ["open", "absent"])
def test_a_seal_found_open_leads_to_the_report(box, keeper, finding):
    answer = keeper.post(
        f"/containers/{box.number}/check-seal/",
        {"finding": finding, "number_read": "", "note": "cut at the hasp"},
    )
    assert answer["Location"].startswith("/incidents/new/?")
    page = keeper.get(answer["Location"]).content.decode()
    assert box.number in page
    assert "cut at the hasp" in page


def test_a_seal_that_matches_leads_back_to_its_box(box, keeper):
    answer = keeper.post(
        f"/containers/{box.number}/check-seal/",
        {"finding": "intact-matches", "number_read": "PS-0001"},
    )
    assert answer["Location"] == f"/boxes/{box.number}/"


def test_a_container_not_found_leads_to_the_report(box, keeper):
    answer = keeper.post(
        f"/containers/{box.number}/not-found/", {"note": "Looked on both shelves."}
    )
    assert answer["Location"].startswith("/incidents/new/?")
    assert Box.objects.get(pk=box.pk).whereabouts == "missing"


def test_the_report_is_a_pdf(keeper, incident):
    answer = keeper.get(f"/incidents/{incident.number}/report.pdf")
    assert answer["Content-Type"] == "application/pdf"
    assert answer.content.startswith(b"%PDF-")
