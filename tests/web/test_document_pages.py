"""Papers are given out as downloads that a browser runs nothing of."""

import pytest

from registry.models import AccessEntry, Certificate
from tests import given

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def at_the_moment_of_the_scene(monkeypatch):
    given.clock_at(monkeypatch, given.NOW)


@pytest.fixture
def certified():
    scene = given.a_scene()
    box = given.a_shelved_box(scene)
    given.a_confirmation(scene)
    permission = given.a_permission(scene, [box.number])
    given.a_checked_seal(scene, box.number)
    number = given.disposed_of(scene, box.number, permission)
    return scene, Certificate.objects.get(number=number).document


def test_a_certificate_is_a_download_in_a_sandbox(certified):
    scene, document = certified
    answer = given.browser_of(scene.cast.auditor).get(f"/documents/{document.number}/")
    assert answer.status_code == 200
    assert answer.content.startswith(b"%PDF-")
    assert answer["Content-Type"] == "application/pdf"
    assert answer["Content-Disposition"].startswith("attachment;")
    assert answer["X-Content-Type-Options"] == "nosniff"
    assert "sandbox" in answer["Content-Security-Policy"]
    assert "script-src" not in answer["Content-Security-Policy"]
    assert answer["Cache-Control"] == "no-store"
    entry = AccessEntry.objects.filter(act="document.look").get()
    assert (entry.subject, entry.name) == (document.number, scene.cast.auditor.name)


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
def test_who_may_have_it(certified, who, status):
    scene, document = certified
    client = given.browser_of(getattr(scene.cast, who))
    assert client.get(f"/documents/{document.number}/").status_code == status
    assert client.get("/documents/DO-999999-X/").status_code in (403, 404)


def test_a_forged_file_is_not_given_out(certified):
    scene, document = certified
    with open(document.file.path, "ab") as file:
        file.write(b"x")
    answer = given.browser_of(scene.cast.auditor).get(f"/documents/{document.number}/")
    assert (answer.status_code, b"digest" in answer.content) == (409, True)
