"""Pages of orders to preserve, as each role meets them."""

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

from registry.models import AccessEntry, PreservationOrder
from registry.usecases import cases
from tests import given

pytestmark = pytest.mark.django_db

PDF = b"%PDF-1.4\ntrailer<<>>\n%%EOF\n"

ROLES = ("custodian", "legal", "authority", "countersigner", "auditor", "administrator")


@pytest.fixture
def scene():
    return given.a_scene()


def an_order(scene, **changed):
    order = {
        "election": scene.election,
        "issued_by": "High Bench of Calvenna",
        "order_ref": "HB/P/4",
        "dated": given.TODAY,
        "from_on": given.TODAY,
        "until_on": None,
        "covers": cases.Covers(contests=(scene.contests["11"],)),
        "actor": scene.cast.legal,
        "at": given.NOW,
    }
    return cases.enter_preservation_order(**(order | changed))


def an_order_form(scene, **changed):
    form = {
        "issued_by": "High Bench of Calvenna",
        "order_ref": "HB/P/4",
        "dated": f"{given.TODAY:%Y-%m-%d}",
        "from_on": f"{given.TODAY:%Y-%m-%d}",
        "until_on": "",
        "extent": "contests",
        "contests": [scene.contests["11"]],
    }
    return form | changed


@pytest.mark.parametrize("who", ROLES)
def test_who_may_read_and_who_may_enter(scene, who):
    order = an_order(scene)
    client = given.browser_of(getattr(scene.cast, who))
    for address in ("/orders/", f"/orders/{order}/"):
        status = 403 if who == "administrator" else 200
        assert client.get(address).status_code == status, address
    for address in ("/orders/new/", f"/orders/{order}/lift/"):
        status = 200 if who == "legal" else 403
        assert client.get(address).status_code == status, address
        posted = client.post(address, {"issued_by": ""}).status_code
        assert posted == (400 if who == "legal" else 403), address


def test_an_order_of_another_lawyers_election_is_not_there(scene):
    order = an_order(scene)
    stranger = given.appointed(
        scene.cast.administrator, "other.law", given.Role.LEGAL, elections=()
    )
    client = given.browser_of(stranger)
    for address in (f"/orders/{order}/", f"/orders/{order}/lift/"):
        assert client.get(address).status_code == 404, address
    assert client.get("/orders/PO-000099-9/").status_code == 404


def test_an_order_without_an_end_is_entered_and_says_so(scene):
    client = given.browser_of(scene.cast.legal)
    shown = client.post("/orders/new/", an_order_form(scene), follow=True)
    assert "in force" in shown.content.decode()
    assert "no end: until it is lifted" in shown.content.decode()


def test_an_order_made_in_a_case_begins_with_what_the_case_covers(scene):
    case = given.a_case(scene)
    client = given.browser_of(scene.cast.legal)
    form = client.get(f"/orders/new/?case={case}").context["form"]
    assert form.initial["contests"] == [scene.contests["11"]]
    client.post(f"/orders/new/?case={case}", an_order_form(scene, case=case))
    order = PreservationOrder.objects.get()
    assert order.number in client.get(f"/cases/{case}/").content.decode()


@pytest.mark.parametrize(
    ("changed", "told"),
    [
        ({"order_ref": ""}, "order’s number"),
        ({"until_on": "2000-01-01"}, "end before it begins"),
        ({"dated": "3099-01-01"}, "has not come yet"),
        ({"case": "CA-000099-X"}, "not one of the available"),
        ({"extent": "stations", "contests": [], "stations": "14/001"}, "no station"),
    ],
)
def test_what_is_mistaken_is_told_beside_its_field(scene, changed, told):
    client = given.browser_of(scene.cast.legal)
    answer = client.post("/orders/new/", an_order_form(scene, **changed))
    assert answer.status_code == 400
    assert told in answer.content.decode()
    assert not PreservationOrder.objects.exists()


def test_an_order_that_names_stations_needs_no_other_authority(scene):
    """The order's text is the authority for what it names (common practice, no
    published source)."""
    client = given.browser_of(scene.cast.legal)
    form = an_order_form(scene, extent="stations", contests=[], stations="11/002")
    shown = client.post("/orders/new/", form, follow=True).content.decode()
    assert "station 002 Net Loft Hall" in shown


def test_the_same_order_is_not_entered_twice(scene):
    an_order(scene)
    client = given.browser_of(scene.cast.legal)
    answer = client.post("/orders/new/", an_order_form(scene))
    assert answer.status_code == 400
    assert "entered already" in answer.content.decode()


def test_an_order_is_lifted_once_and_by_an_order(scene):
    order = an_order(scene)
    client = given.browser_of(scene.cast.legal)
    address = f"/orders/{order}/lift/"
    form = {"lifted_on": f"{given.TODAY:%Y-%m-%d}"}
    assert client.post(address, form).status_code == 400
    shown = client.post(address, form | {"lifted_by_order": "HB/P/9"}, follow=True)
    assert "HB/P/9" in shown.content.decode()
    again = client.post(address, form | {"lifted_by_order": "HB/P/10"})
    assert again.status_code == 409


def test_looks_and_lists_are_entered(scene):
    order = an_order(scene)
    client = given.browser_of(scene.cast.auditor)
    client.get("/orders/?in_force=on")
    client.get(f"/orders/{order}/")
    listed = AccessEntry.objects.get(act="order.list")
    assert [row.number for row in listed.shown.all()] == [order]
    assert AccessEntry.objects.filter(act="order.look", subject=order).exists()


def test_the_scan_of_an_order_is_kept_with_it(scene):
    client = given.browser_of(scene.cast.legal)
    scan = SimpleUploadedFile("order.pdf", PDF)
    form = an_order_form(scene, document=scan)
    answer = client.post("/orders/new/", form, follow=True)
    number = answer.context["file"].row.document
    assert client.get(f"/documents/{number}/").content == PDF
