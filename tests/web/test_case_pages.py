"""Pages of cases, as each role meets them."""

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

from registry.models import AccessEntry, Case
from tests import given

pytestmark = pytest.mark.django_db

PDF = b"%PDF-1.4\ntrailer<<>>\n%%EOF\n"

ROLES = ("custodian", "legal", "authority", "countersigner", "auditor", "administrator")


@pytest.fixture
def scene():
    return given.a_scene()


def a_case_form(scene, **changed):
    form = {
        "kind": "election-petition",
        "forum": "High Bench of Calvenna",
        "parties": "Moss v. Returning Officer",
        "first_event": "heard-of",
        "level": "first",
        "occurred_on": f"{given.TODAY:%Y-%m-%d}",
        "extent": "contests",
        "contests": [scene.contests["11"]],
    }
    return form | changed


def page(scene, who, address):
    return given.browser_of(getattr(scene.cast, who)).get(address)


def text_of(scene, who, address):
    return page(scene, who, address).content.decode()


@pytest.mark.parametrize("who", ROLES)
def test_who_may_read_cases(scene, who):
    case = given.a_case(scene)
    status = 403 if who == "administrator" else 200
    for address in ("/cases/", f"/cases/{case}/"):
        assert page(scene, who, address).status_code == status, address


@pytest.mark.parametrize("who", ROLES)
def test_who_may_enter_anything_about_a_case(scene, who):
    case = given.a_case(scene)
    event = Case.objects.get(number=case).events.get().number
    status = 200 if who == "legal" else 403
    for address in (
        "/cases/new/",
        f"/cases/{case}/event/",
        f"/cases/{case}/scope/",
        f"/cases/{case}/court-number/",
        f"/cases/{case}/events/{event}/strike/",
    ):
        client = given.browser_of(getattr(scene.cast, who))
        assert client.get(address).status_code == status, address
        # Guessing the address of the form is no way round it: nothing is written.
        posted = client.post(address, {"kind": ""}).status_code
        assert posted == (400 if who == "legal" else 403), address
    assert Case.objects.count() == 1


@pytest.mark.parametrize("number", ["CA-000099-X", "CA-000001-0", "nothing", "BX-1"])
def test_a_guessed_number_is_not_there(scene, number):
    given.a_case(scene)
    assert page(scene, "legal", f"/cases/{number}/").status_code == 404


def test_a_case_of_another_lawyers_election_is_not_there(scene):
    case = given.a_case(scene)
    stranger = given.appointed(
        scene.cast.administrator, "other.law", given.Role.LEGAL, elections=()
    )
    client = given.browser_of(stranger)
    assert client.get(f"/cases/{case}/").status_code == 404
    assert case not in client.get("/cases/").content.decode()


def test_a_case_heard_of_is_entered_and_holds(scene):
    client = given.browser_of(scene.cast.legal)
    answer = client.post("/cases/new/", a_case_form(scene), follow=True)
    case = Case.objects.get()
    assert answer.redirect_chain == [(f"/cases/{case.number}/", 302)]
    shown = answer.content.decode()
    assert "is pending in the court of first instance" in shown
    assert "not known yet" in shown, "the court's number is empty until it is known"


@pytest.mark.parametrize(
    ("changed", "told"),
    [
        ({"parties": ""}, "Name the parties"),
        ({"occurred_on": "3099-01-01"}, "has not come yet"),
        ({"occurred_on": "yesterday"}, "year-month-day"),
        ({"contests": []}, "Name at least one"),
        ({"contests": ["CT-000099-X"]}, "not of this election"),
        ({"extent": "stations", "contests": [], "stations": "11/001"}, "authority"),
        ({"extent": "stations", "contests": [], "stations": "11/999"}, "no station"),
        ({"extent": "whole"}, "Leave this empty"),
    ],
)
def test_what_is_mistaken_is_told_beside_its_field(scene, changed, told):
    client = given.browser_of(scene.cast.legal)
    answer = client.post("/cases/new/", a_case_form(scene, **changed))
    assert answer.status_code == 400
    shown = answer.content.decode()
    assert told in shown
    assert "High Bench of Calvenna" in shown, "what was typed is not lost"
    assert not Case.objects.exists()


def test_one_case_is_not_entered_twice(scene):
    client = given.browser_of(scene.cast.legal)
    form = a_case_form(scene, court_number="EP 7")
    client.post("/cases/new/", form)
    answer = client.post("/cases/new/", form)
    assert answer.status_code == 400
    assert Case.objects.get().number in answer.content.decode()


def test_before_an_event_the_page_says_what_kinds_mean(scene):
    case = given.a_case(scene)
    shown = text_of(scene, "legal", f"/cases/{case}/event/")
    assert "Dismissed is not settled." in shown


def test_a_dismissal_needs_its_paper_and_shows_the_window(scene):
    case = given.a_case(scene)
    client = given.browser_of(scene.cast.legal)
    form = {
        "kind": "dismissed",
        "level": "first",
        "occurred_on": f"{given.TODAY:%Y-%m-%d}",
    }
    address = f"/cases/{case}/event/"
    answer = client.post(address, form)
    assert answer.status_code == 400
    assert "Name the order or judgment" in answer.content.decode()
    shown = client.post(address, form | {"paper": "Judgment 4"}, follow=True)
    assert "decided, not settled" in shown.content.decode()
    assert "appeal to the Court of Final Appeal" in shown.content.decode()


def test_a_late_entry_is_seen_to_be_late(scene):
    case = given.a_case(scene, occurred_on=given.DECLARED)
    days = (given.TODAY - given.DECLARED).days
    assert f"{days} days late" in text_of(scene, "auditor", f"/cases/{case}/")


def test_a_struck_event_stays_on_the_page(scene):
    case = given.a_case(scene)
    event = Case.objects.get(number=case).events.get().number
    client = given.browser_of(scene.cast.legal)
    address = f"/cases/{case}/events/{event}/strike/"
    because = {"because": "Wrong constituency."}
    assert client.post(address, because).status_code == 400
    because["authority"] = "High Bench, letter 4"
    shown = client.post(address, because, follow=True)
    assert "Wrong constituency." in shown.content.decode()
    assert "holds nothing" in shown.content.decode()
    again = client.post(address, {**because, "because": "Again."})
    assert again.status_code == 409


def test_the_scope_form_begins_with_what_is_covered_and_narrows(scene):
    case = given.a_case(scene)
    client = given.browser_of(scene.cast.legal)
    address = f"/cases/{case}/scope/"
    assert client.get(address).context["form"].initial["contests"] == [
        scene.contests["11"]
    ]
    form = {"extent": "stations", "stations": "11/001\n11/3"}
    refused = client.post(address, form)
    assert refused.status_code == 400
    reason = {"because": "The petition names two stations.", "authority": "Counsel"}
    shown = client.post(address, form | reason, follow=True).content.decode()
    assert "station 001 Customs Quay School" in shown
    assert "station 003 Lamp House" in shown
    assert "What it covered before" in shown


def test_the_courts_number_is_recorded_once_known(scene):
    case = given.a_case(scene)
    client = given.browser_of(scene.cast.legal)
    shown = client.post(
        f"/cases/{case}/court-number/",
        {"court_number": "EP 7", "parties": "Moss v. Tarn"},
        follow=True,
    ).content.decode()
    assert "EP 7" in shown
    assert "Moss v. Tarn" in shown


def test_a_case_tells_how_much_it_holds_within_the_askers_charge(scene):
    given.a_shelved_box(scene)
    case = given.a_case(scene)
    holds = "It holds 1 box and 1 envelope within your charge"
    assert holds in text_of(scene, "custodian", f"/cases/{case}/")
    elsewhere = given.appointed(
        scene.cast.administrator,
        "kit.keeper",
        given.Role.CUSTODIAN,
        rooms=(scene.other_room,),
    )
    shown = given.browser_of(elsewhere).get(f"/cases/{case}/").content.decode()
    assert "It holds 0 boxes and 0 envelopes within your charge" in shown


def test_cases_are_narrowed_by_where_they_stand(scene):
    case = given.a_case(scene)
    assert case in text_of(scene, "auditor", "/cases/?standing=pending")
    assert case not in text_of(scene, "auditor", "/cases/?standing=settled")
    assert case in text_of(scene, "auditor", "/cases/?text=moss")
    assert case not in text_of(scene, "auditor", "/cases/?text=sedge")


def test_each_look_and_list_is_entered(scene):
    case = given.a_case(scene)
    page(scene, "auditor", "/cases/")
    page(scene, "auditor", f"/cases/{case}/")
    page(scene, "administrator", f"/cases/{case}/")
    listed = AccessEntry.objects.get(act="case.list")
    assert [row.number for row in listed.shown.all()] == [case]
    looks = AccessEntry.objects.filter(act="case.look", subject=case).order_by("id")
    assert [look.outcome for look in looks] == ["done", "refused"]
    assert "refused" not in text_of(scene, "legal", "/cases/")
    assert scene.cast.auditor.name in text_of(scene, "legal", f"/cases/{case}/")


def test_a_day_that_is_none_is_read_as_today(scene):
    case = given.a_case(scene)
    for asked in ("2026-02-30", "soon", ""):
        assert page(scene, "legal", f"/cases/{case}/?as-of={asked}").status_code == 200


def test_the_scan_of_a_judgment_is_kept_and_given_out(scene):
    case = given.a_case(scene)
    client = given.browser_of(scene.cast.legal)
    form = {
        "kind": "dismissed",
        "level": "first",
        "occurred_on": f"{given.TODAY:%Y-%m-%d}",
        "paper": "Judgment 4",
    }
    address = f"/cases/{case}/event/"
    program = SimpleUploadedFile("judgment.pdf", b"MZ\x90\x00 a program")
    answer = client.post(address, form | {"document": program})
    assert answer.status_code == 400
    assert "Only PDF" in answer.content.decode()
    scan = SimpleUploadedFile("judgment.exe", PDF)
    answer = client.post(address, form | {"document": scan}, follow=True)
    event = answer.context["file"].events[-1]
    given_out = page(scene, "auditor", f"/documents/{event.document}/")
    assert given_out.content == PDF
