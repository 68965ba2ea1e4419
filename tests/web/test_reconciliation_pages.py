"""The pages of reconciliation, for each role and by guessed addresses."""

import re

import pytest

from registry.models import Discrepancy
from tests import given

pytestmark = pytest.mark.django_db


@pytest.fixture
def scene():
    return given.a_scene()


def page_of(scene, contest="11"):
    return f"/contests/{scene.contests[contest]}/reconciliation/"


def keys(page):
    return re.findall(r'name="difference" value="([^"]+)"', page.content.decode())


@pytest.mark.parametrize(
    ("who", "looks", "opens"),
    [
        ("custodian", 200, 302),
        ("legal", 200, 403),
        ("authority", 200, 403),
        ("countersigner", 200, 403),
        ("auditor", 200, 403),
        ("administrator", 403, 403),
    ],
)
def test_who_looks_and_who_opens_discrepancies(scene, who, looks, opens):
    key = keys(given.browser_of(scene.cast.custodian).get(page_of(scene)))[0]
    client = given.browser_of(getattr(scene.cast, who))
    address = page_of(scene)
    for each in ("/reconciliation/", address):
        assert client.get(each).status_code == looks, each
    for form in ("pdf", "csv", "json"):
        assert client.get(f"{address}?format={form}").status_code == looks, form
    assert client.post(address, {"difference": key}).status_code == opens
    assert Discrepancy.objects.count() == (1 if opens == 302 else 0)


@pytest.mark.parametrize("number", ["CT-999999-9", "CT-000009-Z", "BX-000001-5"])
def test_a_guessed_contest_is_not_there(scene, number):
    client = given.browser_of(scene.cast.auditor)
    assert client.get(f"/contests/{number}/reconciliation/").status_code == 404


def test_only_who_may_open_is_offered_it(scene):
    assert keys(given.browser_of(scene.cast.custodian).get(page_of(scene)))
    assert not keys(given.browser_of(scene.cast.auditor).get(page_of(scene)))


def test_a_difference_that_is_gone_is_refused(scene):
    client = given.browser_of(scene.cast.custodian)
    answer = client.post(page_of(scene), {"difference": "missing~nothing"})
    assert answer.status_code == 409
    assert "no longer there" in answer.content.decode()


def test_a_discrepancy_is_opened_with_its_owner_and_its_day(scene):
    client = given.browser_of(scene.cast.custodian)
    key = keys(client.get(page_of(scene)))[0]
    page = client.post(page_of(scene), {"difference": key}, follow=True)
    text = page.content.decode()
    (opened,) = Discrepancy.objects.all()
    assert f"{opened.number} is open" in text
    assert "Cora Keeper, by" in text
    assert len(keys(page)) == 10
    again = client.post(page_of(scene), {"difference": key})
    assert again.status_code == 409
    page = client.get(f"/discrepancies/{opened.number}/")
    assert page.status_code == 200


def test_the_page_tells_each_difference_with_what_to_do(scene):
    given.a_shelved_box(scene)
    text = given.browser_of(scene.cast.auditor).get(page_of(scene)).content.decode()
    assert "10 differences unexplained" in text
    assert "Poll slips of station 002 Net Loft Hall, units CU-11002" in text
    assert "ask the returning officer" in text


def test_the_overview_leads_to_each_contest(scene):
    client = given.browser_of(scene.cast.legal)
    text = client.get("/reconciliation/").content.decode()
    for number in scene.contests.values():
        assert f"/contests/{number}/reconciliation/" in text


def test_the_contest_and_the_navigation_lead_there(scene):
    client = given.browser_of(scene.cast.auditor)
    text = client.get(f"/contests/{scene.contests['11']}/").content.decode()
    assert page_of(scene) in text
    assert 'href="/reconciliation/"' in client.get("/boxes/").content.decode()


def test_its_tab_is_the_one_that_is_lit(scene):
    client = given.browser_of(scene.cast.auditor)
    for of, label in (("reconciliation", "Reconciliation"), ("materials", "Materials")):
        page = client.get(page_of(scene).replace("reconciliation", of))
        lit = [
            name
            for _, _, here, parts in page.context["nav"]
            for name, _, this in parts
            if here and this
        ]
        assert lit == [label]


def test_an_unknown_form_of_report_is_told(scene):
    client = given.browser_of(scene.cast.auditor)
    answer = client.get(f"{page_of(scene)}?format=docx")
    assert answer.status_code == 400
    assert "pdf, csv or json" in answer.content.decode()
