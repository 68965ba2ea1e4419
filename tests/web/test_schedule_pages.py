"""Pages of schedules: read, compare, look at what another version does, adopt it."""

import re

import pytest

from registry.models import Election, ScheduleChange
from registry.usecases.schedules import adopt_schedule
from tests import given

pytestmark = pytest.mark.django_db

TEXT = given.SCHEDULE_FILE.read_text()
ROLES = ("custodian", "legal", "authority", "countersigner", "auditor")


@pytest.fixture
def scene():
    return given.a_scene()


@pytest.fixture
def admin(scene):
    return given.browser_of(scene.cast.administrator)


@pytest.fixture
def address(scene) -> str:
    return f"/elections/{scene.election}/schedule/"


def version(scene, months: int, number: int = 4) -> str:
    text = TEXT.replace("version = 3", f"version = {number}")
    text = text.replace("length = 12", f"length = {months}")
    return adopt_schedule(
        text=text,
        file_name=f"calvenna-{number}.toml",
        actor=scene.cast.administrator,
        at=given.NOW,
    )


def hidden(page: str) -> dict[str, str]:
    """The fields that the page carries for the next step."""
    names = ("schedule", "later", "earlier", "unchanged")
    found = {n: re.search(rf'name="{n}" value="([^"]*)"', page) for n in names}
    return {name: match[1] for name, match in found.items() if match}


def test_a_reference_says_what_was_looked_up_and_what_is_from_memory(scene, admin):
    path = given.SCHEDULE_FILE.with_name("reference-india-1.toml")
    number = adopt_schedule(
        text=path.read_text(),
        file_name=path.name,
        actor=scene.cast.administrator,
        at=given.NOW,
    )
    page = admin.get(f"/schedules/{number}/").content.decode()
    assert "to be confirmed by counsel" in page
    assert "(looked up in taxmanagementindia.com" in page
    assert "(from memory, not looked up)" in page
    assert "a competent court" in page
    assert "to be confirmed by counsel" in admin.get("/schedules/").content.decode()


def test_two_versions_stand_side_by_side(scene, admin):
    before = Election.objects.get().schedule.number
    after = version(scene, 24)
    page = admin.get(f"/schedules/compare/?before={before}&after={after}")
    text = page.content.decode()
    assert "12 months, the first day not counted" in text
    assert "24 months, the first day not counted" in text
    assert "2 differences" in text


@pytest.mark.parametrize(
    "query", ["", "?after=RS-000001-X", "?before=x&after=y", "?before=&after="]
)
def test_what_cannot_be_compared_is_told(scene, admin, query):
    answer = admin.get(f"/schedules/compare/{query}")
    assert answer.status_code in (200, 400)
    assert "differences" not in answer.content.decode()


def test_what_a_version_does_is_shown_and_then_adopted_by_its_order(
    scene, admin, address
):
    given.a_shelved_box(scene)
    longer = version(scene, 24)
    assert longer in admin.get(address).content.decode()
    page = admin.get(f"{address}?schedule={longer}").content.decode()
    assert "2 end later, 0 end earlier, 0 end as before" in page
    assert "Why an earlier end" not in page
    assert Election.objects.get().schedule.number != longer
    form = {**hidden(page), "order": "ESC/Evidence/2026/4"}
    assert admin.post(address, form)["Location"] == address
    assert "ESC/Evidence/2026/4" in admin.get(address).content.decode()
    assert "later 2, earlier 0" in admin.get(f"/schedules/{longer}/").content.decode()


def test_an_earlier_end_asks_why(scene, admin, address):
    given.a_shelved_box(scene)
    shorter = version(scene, 6)
    page = admin.get(f"{address}?schedule={shorter}").content.decode()
    assert "0 end later, 2 end earlier" in page
    assert "Why an earlier end" in page
    form = {**hidden(page), "order": "ESC/4"}
    refused = admin.post(address, form)
    assert refused.status_code == 400
    assert "Say why that shall apply" in refused.content.decode()
    assert not ScheduleChange.objects.exists()
    because = "section 4 names what is held already"
    assert (
        admin.post(address, {**form, "earlier_accepted_because": because}).status_code
        == 302
    )
    assert ScheduleChange.objects.get().earlier == 2


def test_what_changed_since_the_preview_is_shown_anew(scene, admin, address):
    longer = version(scene, 24)
    page = admin.get(f"{address}?schedule={longer}").content.decode()
    given.a_shelved_box(scene)
    answer = admin.post(address, {**hidden(page), "order": "ESC/4"})
    assert answer.status_code == 409
    text = answer.content.decode()
    assert "changed since the preview" in text
    assert ">Adopt this version" not in text


def test_an_order_must_be_named(scene, admin, address):
    page = admin.get(f"{address}?schedule={version(scene, 24)}").content.decode()
    answer = admin.post(address, {**hidden(page), "order": " "})
    assert answer.status_code == 400
    assert "Name the order that ordains" in answer.content.decode()


@pytest.mark.parametrize("role", ROLES)
def test_others_read_and_change_nothing(scene, address, role):
    longer = version(scene, 24)
    client = given.browser_of(getattr(scene.cast, role))
    page = client.get(address)
    assert page.status_code == 200
    assert "Show what it changes" not in page.content.decode()
    assert client.get(f"{address}?schedule={longer}").status_code == 403
    form = {"schedule": longer, "order": "x", "later": 0, "earlier": 0, "unchanged": 0}
    assert client.post(address, form).status_code == 403
    assert client.get("/schedules/compare/").status_code == 200
    assert client.get("/schedules/adopt/").status_code == 403
    assert Election.objects.get().schedule.number != longer


def test_guessed_addresses_are_not_there(scene, admin, address):
    other = given.appointed(scene.cast.administrator, "len.law", given.Role.LEGAL)
    assert given.browser_of(other).get(address).status_code == 404
    assert admin.get(f"{address}?schedule=RS-000099-X").status_code == 404
    assert admin.get(f"{address}?schedule=nonsense").status_code == 404
    assert admin.get("/elections/EL-000099-X/schedule/").status_code == 404
    assert admin.post(address, {"order": "x"}).status_code == 404
