"""Disposal is refused unless everything holds at that instant."""

import pytest

from registry.models import Box, Certificate, Envelope
from registry.usecases import Refused, cases, permissions
from tests import given

pytestmark = pytest.mark.django_db


@pytest.fixture
def ready():
    """A box that may be disposed of: over, confirmed, permitted, checked."""
    scene = given.a_scene()
    box = given.a_shelved_box(scene)
    given.a_confirmation(scene)
    permission = given.a_permission(scene, [box.number])
    given.a_checked_seal(scene, box.number)
    return scene, box, permission


def test_a_box_is_disposed_of_when_everything_holds(ready):
    scene, box, permission = ready
    number = given.disposed_of(scene, box.number, permission)
    assert Box.objects.get(pk=box.pk).state == "disposed"
    assert {e.state for e in Envelope.objects.filter(box=box)} == {"disposed"}
    certificate = Certificate.objects.get(number=number)
    assert certificate.document.file.open("rb").read(5) == b"%PDF-"


def test_a_petition_heard_of_today_stops_it(ready):
    scene, box, permission = ready
    given.a_case(scene, occurred_on=given.TODAY)
    with pytest.raises(Refused, match="CA-"):
        given.disposed_of(scene, box.number, permission)
    assert Box.objects.get(pk=box.pk).state == "held"


def test_every_obstacle_is_listed():
    scene = given.a_scene()
    box = given.a_shelved_box(scene)
    given.a_case(scene)
    permission = given.a_recorded_permission(scene, [box.number], act="open-box")
    with pytest.raises(Refused) as refused:
        given.disposed_of(scene, box.number, permission, witnesses=("One",), method="")
    said = " ".join(refused.value.reasons)
    for word in ("petition", "countersigned", "open a box", "seal", "witness"):
        assert word in said, (word, said)


def test_a_revoked_permission_permits_nothing(ready):
    scene, box, permission = ready
    permissions.revoke_permission(
        permission=permission,
        because="Order ESC/ORD/9 withdraws it.",
        actor=scene.cast.authority,
        at=given.NOW,
    )
    with pytest.raises(Refused, match="revoked"):
        given.disposed_of(scene, box.number, permission)


def test_a_preservation_order_stops_it(ready):
    scene, box, permission = ready
    order = cases.enter_preservation_order(
        election=scene.election,
        issued_by="High Bench of Calvenna",
        order_ref="HB/P/4",
        dated=given.TODAY,
        from_on=given.TODAY,
        until_on=None,
        covers=cases.Covers(contests=(scene.contests["11"],)),
        actor=scene.cast.legal,
        at=given.NOW,
    )
    with pytest.raises(Refused, match=order):
        given.disposed_of(scene, box.number, permission)
