"""The retention report on screen and its downloads."""

import csv
import io
import json

import pytest

from registry.models import AccessEntry
from tests import given

pytestmark = pytest.mark.django_db


@pytest.fixture
def scene():
    scene = given.a_scene()
    given.a_shelved_box(scene)
    given.a_case(scene)
    return scene


def content(answer):
    return b"".join(answer.streaming_content)


@pytest.mark.parametrize(
    ("who", "status"),
    [
        ("custodian", 200),
        ("legal", 200),
        ("authority", 200),
        ("countersigner", 200),
        ("auditor", 200),
        ("administrator", 403),
    ],
)
def test_who_makes_reports(scene, who, status):
    client = given.browser_of(getattr(scene.cast, who))
    for address in ("/report/", "/report/?election=", "/report/?election=&format=csv"):
        assert client.get(address).status_code == status, address


def test_totals_on_screen_are_those_of_the_downloads(scene):
    client = given.browser_of(scene.cast.auditor)
    query = f"/report/?election={scene.election}&contest=11"
    page = client.get(query).content.decode()
    assert "case pending" in page
    answer = client.get(f"{query}&format=json")
    assert answer["Content-Type"] == "application/json"
    assert "attachment" in answer["Content-Disposition"]
    assert "retention-general-11-" in answer["Content-Disposition"]
    data = json.loads(content(answer))
    assert data["totals"]["by_reason"] == {"case-pending": 2}
    text = content(client.get(f"{query}&format=csv")).decode("utf-8-sig")
    assert len(list(csv.DictReader(io.StringIO(text)))) == 2
    assert content(client.get(f"{query}&format=pdf"))[:5] == b"%PDF-"
    done = AccessEntry.objects.filter(act="report.retention", outcome="done")
    assert [e.detail["format"] for e in done.order_by("id")] == [
        "screen", "json", "csv", "pdf",
    ]  # fmt: skip
    assert {e.subject for e in done} == {scene.contests["11"]}


@pytest.mark.parametrize(
    ("query", "told"),
    [
        ("contest=99", "no constituency 99"),
        ("contest=99&format=csv", "no constituency 99"),
        ("election=&as_of=soon", "year-month-day"),
        ("election=&format=docx", "pdf, csv or json"),
    ],
)
def test_what_is_asked_amiss_is_told(scene, query, told):
    answer = given.browser_of(scene.cast.auditor).get(f"/report/?{query}")
    assert answer.status_code == 400
    assert told in answer.content.decode()


def test_a_custodian_cannot_ask_for_another_room(scene):
    client = given.browser_of(scene.cast.custodian)
    answer = client.get(f"/report/?room={scene.other_room}")
    assert answer.status_code == 400
    assert "Old Granary" not in answer.content.decode()
