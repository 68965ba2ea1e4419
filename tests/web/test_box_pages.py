"""A box's page, as each role sees it."""

import pytest

from registry.models import AccessEntry
from tests import given

pytestmark = pytest.mark.django_db


@pytest.fixture
def scene():
    return given.a_scene()


@pytest.mark.parametrize(
    ("who", "status"),
    [
        ("custodian", 200),
        ("legal", 200),
        ("authority", 200),
        ("auditor", 200),
        ("administrator", 403),
    ],
)
def test_who_may_open_a_box(scene, who, status):
    box = given.a_shelved_box(scene)
    client = given.browser_of(getattr(scene.cast, who))
    for address in (f"/boxes/{box.number}/", "/boxes/", "/envelopes/"):
        assert client.get(address).status_code == status, address


def test_a_stranger_is_sent_to_the_log_in(scene, client):
    box = given.a_shelved_box(scene)
    answer = client.get(f"/boxes/{box.number}/")
    assert answer.status_code == 302
    assert answer["Location"].startswith("/log-in/")


def test_a_look_is_entered_and_shown(scene):
    box = given.a_shelved_box(scene)
    given.browser_of(scene.cast.auditor).get(f"/boxes/{box.number}/")
    entry = AccessEntry.objects.filter(act="box.look").get()
    assert (entry.subject, entry.name) == (box.number, scene.cast.auditor.name)
    page = given.browser_of(scene.cast.custodian).get(f"/boxes/{box.number}/")
    assert scene.cast.auditor.name in page.content.decode()
