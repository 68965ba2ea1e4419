"""The list of accesses: for auditors, narrowed, paged, and itself entered."""

import pytest

from registry.models import AccessEntry
from tests import given

pytestmark = pytest.mark.django_db


@pytest.fixture
def scene():
    return given.a_scene()


@pytest.fixture
def box(scene):
    return given.a_shelved_box(scene)


@pytest.mark.parametrize(
    ("who", "status"),
    [
        ("custodian", 403),
        ("legal", 403),
        ("authority", 403),
        ("countersigner", 403),
        ("auditor", 200),
        ("administrator", 403),
    ],
)
def test_who_reads_accesses(scene, who, status):
    client = given.browser_of(getattr(scene.cast, who))
    assert client.get("/accesses/").status_code == status


def test_a_refusal_is_shown_with_its_reason_and_the_look_is_entered(scene, box):
    given.browser_of(scene.cast.administrator).get(f"/boxes/{box.number}/")
    auditor = given.browser_of(scene.cast.auditor)
    page = auditor.get(
        f"/accesses/?number={box.number}&outcome=refused"
    ).content.decode()
    assert scene.cast.administrator.name in page
    assert "this role may not" in page
    entry = AccessEntry.objects.get(act="access.list")
    assert entry.subject == box.number


def test_the_filter_narrows_by_day(scene, box):
    auditor = given.browser_of(scene.cast.auditor)
    empty = auditor.get("/accesses/?first_day=2099-01-01").content.decode()
    assert "No access fits what was asked for." in empty
    wrong = auditor.get("/accesses/?first_day=yesterday")
    assert wrong.status_code == 400
    assert "year-month-day" in wrong.content.decode()


def test_a_mistyped_number_is_told(scene, box):
    auditor = given.browser_of(scene.cast.auditor)
    answer = auditor.get("/accesses/?number=BX-12")
    assert answer.status_code == 400
    assert "is not a register number" in answer.content.decode()


def test_pages_lead_on(scene):
    auditor = given.browser_of(scene.cast.auditor)
    for _ in range(60):
        auditor.get("/health/")
        auditor.get("/schedules/")
    page = auditor.get("/accesses/?act=schedule.list").content.decode()
    assert "Next page" in page
    assert "before=" in page
