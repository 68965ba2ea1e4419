"""An order that expressly stands in for the court registry's confirmation.

Whether it may is for the schedule to say (issue 3: release needs a recorded
confirmation that nothing is pending, "or the authority's express order, where the
schedule says so"); Calvenna's own schedule, version 3, does not let it.
"""

import pytest

from registry.models import DisposalItem
from registry.usecases import Refused, permission_looks
from tests import given

pytestmark = pytest.mark.django_db

PERIOD = 'clause = "rule 13(1)"'


@pytest.fixture
def lenient(monkeypatch, tmp_path):
    """A scene whose schedule lets an express order stand in."""
    text = given.SCHEDULE_FILE.read_text()
    assert text.count(PERIOD) == 1
    file = tmp_path / "lenient.toml"
    file.write_text(text.replace(PERIOD, f"{PERIOD}\nor_express_order = true"))
    monkeypatch.setattr(given, "SCHEDULE_FILE", file)
    return given.a_scene()


def a_box_and_its_order(scene, **more):
    box = given.a_shelved_box(scene)
    permission = given.a_permission(scene, [box.number], **more)
    given.a_checked_seal(scene, box.number)
    return box, permission


def test_an_express_order_stands_in_where_the_schedule_lets_it(lenient):
    box, permission = a_box_and_its_order(lenient, instead_of_confirmation=True)
    given.disposed_of(lenient, box.number, permission)
    assert DisposalItem.objects.filter(box=box).exists()


def test_any_other_order_does_not(lenient):
    box, permission = a_box_and_its_order(lenient)
    with pytest.raises(Refused, match="confirmation"):
        given.disposed_of(lenient, box.number, permission)


def test_without_leave_of_the_schedule_the_confirmation_is_still_needed():
    scene = given.a_scene()
    box, permission = a_box_and_its_order(scene, instead_of_confirmation=True)
    with pytest.raises(Refused, match="confirmation"):
        given.disposed_of(scene, box.number, permission)
    file = permission_looks.look_at_permission(
        permission=permission, actor=scene.cast.auditor, at=given.NOW
    )
    assert file.instead_of_confirmation
    assert not file.order_may_stand_in
    page = given.browser_of(scene.cast.auditor).get(f"/permissions/{permission}/")
    assert "the confirmation is still needed" in page.content.decode()


def test_the_digest_that_is_countersigned_covers_it():
    scene = given.a_scene()
    box = given.a_shelved_box(scene)
    seen = [
        permission_looks.look_at_permission(
            permission=given.a_recorded_permission(
                scene, [box.number], ref=ref, **more
            ),
            actor=scene.cast.auditor,
            at=given.NOW,
        )
        for ref, more in (("A/1", {}), ("A/2", {"instead_of_confirmation": True}))
    ]
    plain, express = (file.digest for file in seen)
    assert plain != express


def test_the_form_takes_it(lenient):
    box = given.a_shelved_box(lenient)
    answer = given.browser_of(lenient.cast.authority).post(
        "/permissions/new/",
        {
            "election": lenient.election,
            "authority": "Electoral Steward of Calvenna",
            "order_ref": "ESC/ORD/8",
            "dated": given.TODAY,
            "valid_from": given.TODAY,
            "valid_until": "2099-01-01",
            "act": "destroy",
            "things": box.number,
            "instead_of_confirmation": "on",
        },
        follow=True,
    )
    assert "expressly stands in for it" in answer.content.decode()
