"""The pages of material for sealing and of votes, for each role."""

import re
from datetime import timedelta

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

from registry.models import Discrepancy, MaterialEnd, MaterialIssue, UnitSet
from tests import given

pytestmark = pytest.mark.django_db
DAY = (given.COUNTED - timedelta(days=9)).isoformat()


@pytest.fixture
def scene():
    return given.a_scene()


def page_of(scene, of="materials"):
    return f"/contests/{scene.contests['11']}/{of}/"


def issue(**more):
    return {
        "kind": "paper",
        "first_serial": "PS-0001",
        "last_serial": "PS-0006",
        "issued_on": DAY,
        "issued_to": "Isolde Tarn, returning officer",
        **more,
    }


@pytest.mark.parametrize(
    ("who", "looks", "keeps"),
    [
        ("custodian", 200, 302),
        ("legal", 200, 403),
        ("authority", 200, 403),
        ("countersigner", 200, 403),
        ("auditor", 200, 403),
        ("administrator", 403, 403),
    ],
)
def test_who_looks_and_who_keeps(scene, who, looks, keeps):
    client = given.browser_of(getattr(scene.cast, who))
    address = page_of(scene)
    for each in ("/materials/", address, f"{address}?format=pdf"):
        assert client.get(each).status_code == looks, each
    assert client.post(f"{address}issue/", issue()).status_code == keeps
    assert MaterialIssue.objects.count() == (1 if keeps == 302 else 0)
    votes = {"control_unit": "CU-11001", "votes": 612, "source": "Account of votes"}
    assert client.post(page_of(scene, "votes"), votes).status_code == keeps
    known = UnitSet.objects.filter(votes_recorded=612).count()
    assert known == (1 if keeps == 302 else 0)


@pytest.mark.parametrize("of", ["materials", "materials/issue", "votes"])
def test_a_guessed_contest_is_not_there(scene, of):
    client = given.browser_of(scene.cast.custodian)
    assert client.get(f"/contests/CT-000009-Z/{of}/").status_code == 404


def test_an_issue_what_came_back_and_the_gap(scene):
    client = given.browser_of(scene.cast.custodian)
    page = client.post(f"{page_of(scene)}issue/", issue(), follow=True)
    lot = MaterialIssue.objects.get().number
    assert f"recorded as {lot}" in page.content.decode()
    end = {"fate": "spoilt", "first_serial": "PS-0002", "on": DAY}
    address = f"{page_of(scene)}{lot}/end/"
    assert client.get(address).status_code == 200
    answer = client.post(address, end)
    assert answer.status_code == 400
    assert "Say where the spoilt pieces are kept" in answer.content.decode()
    page = client.post(address, {**end, "kept_in": "Bag S 1"}, follow=True)
    text = page.content.decode()
    assert MaterialEnd.objects.get().kept_in == "Bag S 1"
    assert "PS-0003 to PS-0006" in text
    (key, _) = re.findall(r'name="difference" value="([^"]+)"', text)
    page = client.post(page_of(scene), {"difference": key}, follow=True)
    (opened,) = Discrepancy.objects.all()
    assert f"{opened.number} is open" in page.content.decode()
    assert client.get(f"/discrepancies/{opened.number}/").status_code == 200
    assert client.post(page_of(scene), {"difference": key}).status_code == 409
    other = given.browser_of(scene.cast.auditor).get(page_of(scene))
    assert 'name="difference"' not in other.content.decode()


def test_a_scanned_lot_leads_to_its_contest(scene):
    client = given.browser_of(scene.cast.custodian)
    client.post(f"{page_of(scene)}issue/", issue())
    lot = MaterialIssue.objects.get().number
    answer = client.get("/find/", {"q": lot})
    assert answer.status_code == 302
    assert answer["Location"] == f"/contests/{scene.contests['11']}/"


@pytest.mark.parametrize(
    ("more", "told"),
    [
        ({"last_serial": "PT-0006"}, "do not begin alike"),
        ({"issued_to": ""}, "Name the person who received it"),
        ({"count": "7"}, "there are 6 seals, not 7"),
        ({"issued_on": "soon"}, "year-month-day"),
    ],
)
def test_mistakes_are_told_beside_their_field(scene, more, told):
    client = given.browser_of(scene.cast.custodian)
    answer = client.post(f"{page_of(scene)}issue/", issue(**more))
    assert answer.status_code == 400
    assert told in answer.content.decode()


def test_a_list_of_votes(scene):
    client = given.browser_of(scene.cast.custodian)
    good = SimpleUploadedFile("votes.csv", b"cu,votes\nCU-11001,612\n")
    bad = SimpleUploadedFile("votes.csv", b"cu,votes\nCU-99999,612\n")
    address = page_of(scene, "votes")
    answer = client.post(address, {"source": "Accounts of votes", "file": bad})
    assert answer.status_code == 409
    assert "No control unit CU-99999 served here" in answer.content.decode()
    given_once = {"source": "Accounts of votes", "file": good}
    page = client.post(address, given_once, follow=True)
    assert "Votes of 1 control unit are recorded" in page.content.decode()
    good.seek(0)
    both = {"source": "Accounts", "file": good, "control_unit": "CU-11001", "votes": 1}
    assert client.post(address, both).status_code == 400
    assert client.post(address, {"source": "Accounts"}).status_code == 400
