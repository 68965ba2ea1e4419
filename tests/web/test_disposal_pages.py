"""Pages of disposal: too early, and lawfully."""

import pytest

from registry.models import Box, Certificate, DisposalBatch
from tests import given

pytestmark = pytest.mark.django_db

READERS = {
    "custodian": 200,
    "legal": 200,
    "authority": 200,
    "auditor": 200,
    "administrator": 403,
}
CUSTODIANS_ONLY = {who: 200 if who == "custodian" else 403 for who in READERS}


@pytest.fixture(autouse=True)
def at_the_moment_of_the_scene(monkeypatch):
    given.clock_at(monkeypatch, given.NOW)


@pytest.fixture
def scene():
    return given.a_scene()


@pytest.fixture
def keeper(scene):
    return given.browser_of(scene.cast.custodian)


@pytest.fixture
def ready(scene):
    box = given.a_shelved_box(scene)
    given.a_confirmation(scene)
    permission = given.a_permission(
        scene, [box.number], conditions="The agents have been told."
    )
    given.a_checked_seal(scene, box.number)
    return box, permission


def statuses(scene, address):
    return {
        who: given.browser_of(getattr(scene.cast, who)).get(address).status_code
        for who in READERS
    }


def said(answer):
    return " ".join(answer.content.decode().split())


def the_disposal(box, permission, **more):
    return {
        "permission": permission,
        "containers": [box.number],
        "method": "cross-cut shredding, machine 2",
        "level": "P-5",
        "place": "Customs House yard",
        "first_witness": "Wim Sedge",
        "first_post": "clerk of the court",
        "second_witness": "Ida Rill",
        "second_post": "party agent",
        "conditions": ["The agents have been told."],
        **more,
    }


def test_who_may_look_and_who_may_dispose(scene, ready):
    box, permission = ready
    assert statuses(scene, "/disposals/") == READERS
    assert statuses(scene, f"/disposals/preview/?container={box.number}") == READERS
    for path in ("/disposals/new/", f"/disposals/new/?permission={permission}"):
        assert statuses(scene, path) == CUSTODIANS_ONLY
    for who in ("legal", "authority", "auditor", "administrator"):
        answer = given.browser_of(getattr(scene.cast, who)).post(
            f"/disposals/new/?permission={permission}",
            the_disposal(box, permission, stage="confirm"),
        )
        assert answer.status_code == 403, who
    assert not DisposalBatch.objects.exists()


def test_who_would_destroy_a_box_too_early_sees_exactly_why_not(scene, keeper):
    box = given.a_shelved_box(scene)
    case = given.a_case(scene)
    page = said(keeper.get(f"/disposals/preview/?container={box.number}"))
    for word in (
        "This may not be disposed of now",
        "4 things stand in the way",
        f"/find/?q={case}",
        "Wait until the case is finally settled",
        "No confirmation of the court&#x27;s registry",
        "Ask the authority&#x27;s desk for an order",
        "Go to it, read the seal",
        "This step decides",
    ):
        assert word in page, word
    assert "Dispose of it" not in page


def test_when_nothing_stands_against_it_the_way_is_shown(scene, keeper, ready):
    box, permission = ready
    page = said(keeper.get(f"/disposals/preview/?container={box.number}"))
    assert "Nothing stands against disposal today" in page
    assert f"/disposals/new/?permission={permission}" in page
    assert "The agents have been told." in page


def test_a_disposal_is_reviewed_confirmed_and_certified(scene, keeper, ready):
    box, permission = ready
    address = f"/disposals/new/?permission={permission}"
    page = said(keeper.get(address))
    for word in ("Shredders", "Batteries never go", "Lifting", "asks for <b>P-4</b>",
                 "from memory"):  # fmt: skip
        assert word in page, word
    review = keeper.post(address, the_disposal(box, permission))
    assert (review.status_code, "Confirm the disposal" in said(review)) == (200, True)
    assert Box.objects.get(pk=box.pk).state == "held"
    done = keeper.post(
        address, the_disposal(box, permission, stage="confirm"), follow=True
    )
    certificate = Certificate.objects.get()
    assert done.redirect_chain[-1][0] == f"/disposals/{certificate.batch.number}/"
    assert f"/documents/{certificate.document.number}/" in said(done)
    listed = said(given.browser_of(scene.cast.auditor).get("/disposals/"))
    assert certificate.number in listed


def test_a_review_can_be_changed_without_loss(scene, keeper, ready):
    box, permission = ready
    back = keeper.post(
        f"/disposals/new/?permission={permission}",
        the_disposal(box, permission, stage="change"),
    )
    assert "machine 2" in said(back)
    assert "Review" in said(back)


def test_a_petition_entered_after_the_review_stops_the_disposal(scene, keeper, ready):
    """Standards A.5.4, D3: everything is asked again where it is done."""
    box, permission = ready
    address = f"/disposals/new/?permission={permission}"
    assert keeper.post(address, the_disposal(box, permission)).status_code == 200
    case = given.a_case(scene, occurred_on=given.TODAY)
    answer = keeper.post(address, the_disposal(box, permission, stage="confirm"))
    assert (answer.status_code, case in said(answer)) == (409, True)
    assert "machine 2" in said(answer)
    assert Box.objects.get(pk=box.pk).state == "held"


def test_a_refusal_lists_every_obstacle(scene, keeper, ready):
    box, permission = ready
    answer = keeper.post(
        f"/disposals/new/?permission={permission}",
        the_disposal(box, permission, first_witness="Cora Keeper", level="P-1"),
    )
    assert answer.status_code == 409
    for word in ("is the custodian", "larger pieces", "Use a finer machine"):
        assert word in said(answer), word


@pytest.mark.parametrize(
    ("more", "message"),
    [
        ({"first_witness": "Sedge, Wim"}, "without a comma"),
        ({"second_witness": ""}, "Name the second witness"),
        ({"conditions": []}, "must be met, and ticked"),
        ({"containers": []}, "Tick what is to be disposed of"),
        ({"containers": ["BX-999999-X"]}, "does not name BX-999999-X"),
        ({"level": ""}, "Measure a sample"),
    ],
)
def test_mistakes_stand_beside_their_fields(scene, keeper, ready, more, message):
    box, permission = ready
    answer = keeper.post(
        f"/disposals/new/?permission={permission}",
        the_disposal(box, permission, **more),
    )
    assert (answer.status_code, message in said(answer)) == (400, True)


def test_guessed_numbers_are_not_there(scene, keeper):
    for path in (
        "/disposals/DS-000009-X/",
        "/disposals/nonsense/",
        "/disposals/new/?permission=PM-000009-X",
        "/disposals/preview/?container=BX-000009-X",
    ):
        assert keeper.get(path).status_code == 404, path


def test_without_a_permission_the_page_lists_those_in_force(scene, keeper, ready):
    _, permission = ready
    page = said(keeper.get("/disposals/new/"))
    assert f"/disposals/new/?permission={permission}" in page
