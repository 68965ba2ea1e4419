"""The authority's desk, as each role meets it."""

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

from registry.models import AccessEntry, Permission
from tests import given

pytestmark = pytest.mark.django_db

PDF = b"%PDF-1.4\ntrailer<<>>\n%%EOF\n"
ROLES = ("custodian", "legal", "authority", "countersigner", "auditor", "administrator")


@pytest.fixture(autouse=True)
def at_the_moment_of_the_scene(monkeypatch):
    given.clock_at(monkeypatch, given.NOW)


@pytest.fixture
def scene():
    return given.a_scene()


@pytest.fixture
def box(scene):
    return given.a_shelved_box(scene)


def statuses(scene, address, method="get"):
    return {
        who: getattr(given.browser_of(getattr(scene.cast, who)), method)(
            address
        ).status_code
        for who in ROLES
    }


def the_order(scene, things, **more):
    """The form of an order, filled in."""
    return {
        "election": scene.election,
        "authority": "Electoral Steward of Calvenna",
        "order_ref": "ESC/ORD/7",
        "dated": f"{given.TODAY:%Y-%m-%d}",
        "valid_from": f"{given.TODAY:%Y-%m-%d}",
        "valid_until": f"{given.TODAY:%Y}-12-31",
        "act": "destroy",
        "things": "\n".join(things),
        "conditions": "Agents are told.",
        **more,
    }


def said(answer):
    return " ".join(answer.content.decode().split())


READERS = {
    "custodian": 200,
    "legal": 200,
    "authority": 200,
    "countersigner": 200,
    "auditor": 200,
    "administrator": 403,
}
DESK_ONLY = {
    who: 200 if who in ("authority", "countersigner") else 403 for who in ROLES
}


def test_who_may_read_permissions(scene, box):
    number = given.a_permission(scene, [box.number])
    assert statuses(scene, "/permissions/") == READERS
    assert statuses(scene, f"/permissions/{number}/") == READERS


def test_only_the_desk_records_countersigns_and_revokes(scene, box):
    number = given.a_recorded_permission(scene, [box.number])
    for path in ("new/", f"{number}/countersign/", f"{number}/revoke/"):
        assert statuses(scene, f"/permissions/{path}") == DESK_ONLY
    others = [who for who in ROLES if DESK_ONLY[who] == 403]
    for who in others:
        client = given.browser_of(getattr(scene.cast, who))
        made = client.post("/permissions/new/", the_order(scene, [box.number]))
        revoked = client.post(f"/permissions/{number}/revoke/", {"because": "x"})
        signed = client.post(
            f"/permissions/{number}/countersign/",
            {"compared": "on", "digest_seen": "x"},
        )
        assert {made.status_code, revoked.status_code, signed.status_code} == {403}
    row = Permission.objects.get()
    assert (row.countersigned_at, row.revoked_at) == (None, None)


def test_a_guessed_number_is_not_there(scene):
    for path in ("", "countersign/", "revoke/"):
        for number in ("PM-000009-X", "PM-000002-V", "nonsense"):
            address = f"/permissions/{number}/{path}"
            client = given.browser_of(scene.cast.authority)
            assert client.get(address).status_code == 404, address


def test_a_stranger_is_sent_to_the_log_in(scene, client):
    for path in (
        "permissions/",
        "permissions/new/",
        "openings/new/",
        "disposals/",
        "disposals/preview/",
        "disposals/new/",
        "documents/DO-000001-0/",
    ):
        assert client.get(f"/{path}")["Location"].startswith("/log-in/")


def test_an_order_is_recorded_and_countersigned_by_two(scene, box):
    recorder = given.browser_of(scene.cast.authority)
    scan = SimpleUploadedFile("order.pdf", PDF)
    made = recorder.post(
        "/permissions/new/", the_order(scene, [box.number], document=scan), follow=True
    )
    row = Permission.objects.get()
    assert "no force yet" in said(made)
    assert f"/documents/{row.document.number}/" in said(made)
    address = f"/permissions/{row.number}/countersign/"
    own = recorder.get(address)
    digest = own.context["file"].digest
    form = {"digest_seen": digest, "compared": "on", "seen": "on"}
    refused = recorder.post(address, form)
    assert (refused.status_code, "yourself" in said(refused)) == (409, True)
    second = given.browser_of(scene.cast.countersigner)
    assert said(second.get(address)).count(box.number) > 1
    signed = second.post(address, form, follow=True)
    assert "in force" in said(signed)
    assert "Bea Steward" in said(signed)


def test_the_countersigner_reads_what_stands_against_it_before_signing(scene, box):
    case = given.a_case(scene)
    number = given.a_recorded_permission(scene, [box.number])
    client = given.browser_of(scene.cast.countersigner)
    address = f"/permissions/{number}/countersign/"
    page = client.get(address)
    assert case in said(page)
    unread = client.post(
        address, {"digest_seen": page.context["file"].digest, "compared": "on"}
    )
    assert (unread.status_code, "Read what stands" in said(unread)) == (400, True)
    assert Permission.objects.get().countersigned_at is None


def test_nothing_typed_is_lost_when_something_is_mistaken(scene, box):
    client = given.browser_of(scene.cast.authority)
    answer = client.post(
        "/permissions/new/",
        the_order(scene, [box.number, "BX-000001-X"], valid_until="soon"),
    )
    assert answer.status_code == 400
    for kept in ("ESC/ORD/7", "Agents are told.", "BX-000001-X", "Write the day as"):
        assert kept in said(answer), kept
    answer = client.post("/permissions/new/", the_order(scene, ["BX-000001-X"]))
    assert (answer.status_code, "mistyped" in said(answer)) == (400, True)


def test_an_executable_is_refused_beside_its_field(scene, box):
    scan = SimpleUploadedFile("order.pdf", b"MZ\x90\0", content_type="application/pdf")
    answer = given.browser_of(scene.cast.authority).post(
        "/permissions/new/", the_order(scene, [box.number], document=scan)
    )
    assert (answer.status_code, "Only PDF" in said(answer)) == (400, True)
    assert not Permission.objects.exists()


def test_a_new_order_begins_with_what_was_asked_for(scene, box):
    client = given.browser_of(scene.cast.authority)
    for query in (
        f"container={box.number}",
        f"contest={scene.contests['11']}&kind=poll-slips",
    ):
        page = client.get(f"/permissions/new/?{query}")
        assert page.context["form"].initial["things"] == box.number
    empty = client.get(f"/permissions/new/?contest={scene.contests['12']}")
    assert "nothing of this contest" in said(empty)


def test_a_permission_is_revoked_with_a_reason(scene, box):
    number = given.a_permission(scene, [box.number])
    client = given.browser_of(scene.cast.authority)
    address = f"/permissions/{number}/revoke/"
    assert client.post(address, {"because": ""}).status_code == 400
    done = client.post(address, {"because": "ESC/ORD/9 withdraws it."}, follow=True)
    assert "ESC/ORD/9 withdraws it." in said(done)
    assert client.post(address, {"because": "again"}).status_code == 409


def test_the_list_can_be_narrowed_and_is_entered(scene, box):
    signed = given.a_permission(scene, [box.number])
    waits = given.a_recorded_permission(scene, [box.number], ref="ESC/ORD/2")
    client = given.browser_of(scene.cast.auditor)
    whole = said(client.get("/permissions/"))
    assert whole.index(waits) < whole.index(signed)
    narrow = said(client.get("/permissions/?state=in+force"))
    assert (signed in narrow, waits in narrow) == (True, False)
    entry = AccessEntry.objects.filter(act="permission.list").latest("id")
    assert [shown.number for shown in entry.shown.all()] == [signed]
