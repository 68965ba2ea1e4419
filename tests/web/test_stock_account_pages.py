"""The page of the stock account, for each role."""

import pytest

from tests import given

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def at_the_moment_of_the_scene(monkeypatch):
    given.clock_at(monkeypatch, given.NOW)


@pytest.fixture
def scene():
    scene = given.a_scene()
    given.a_shelved_box(scene)
    return scene


def said(answer):
    return " ".join(answer.content.decode().split())


def test_who_may_read_the_account(scene):
    found = {
        who: given.browser_of(getattr(scene.cast, who))
        .get("/stock-account/")
        .status_code
        for who in ("custodian", "legal", "authority", "auditor", "administrator")
    }
    assert found == {
        "custodian": 200,
        "legal": 200,
        "authority": 200,
        "auditor": 200,
        "administrator": 403,
    }


def test_the_account_says_that_it_agrees(scene):
    page = said(given.browser_of(scene.cast.auditor).get("/stock-account/"))
    for words in ("Poll slips, boxes", "Poll slips, envelopes", "Agrees", "Closing",
                  "Customs House strong room"):  # fmt: skip
        assert words in page, words


def test_a_room_out_of_scope_is_not_there(scene):
    browser = given.browser_of(scene.cast.custodian)
    answer = browser.get("/stock-account/", {"room": scene.other_room})
    assert answer.status_code == 400  # it is not among those offered
    assert "Old Granary" not in said(answer)


def test_mistaken_days_are_told_beside_their_field(scene):
    browser = given.browser_of(scene.cast.custodian)
    answer = browser.get("/stock-account/", {"last_day": "2027-01-01"})
    assert answer.status_code == 400
    assert "This day has not come yet." in said(answer)


def test_the_file_is_given_out(scene):
    browser = given.browser_of(scene.cast.authority)
    answer = browser.get("/stock-account/", {"format": "csv"})
    assert answer["Content-Type"].startswith("text/csv")
    assert "stock-2026-01-01-2026-11-02.csv" in answer["Content-Disposition"]
    assert b"poll" in answer.content.lower()
