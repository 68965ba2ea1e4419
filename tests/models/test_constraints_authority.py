"""Constraints of permissions, openings and disposals, met without any use case."""

from datetime import timedelta

import pytest
from django.db import IntegrityError, transaction

from registry.models import DisposalBatch, Opening, Permission, PermissionItem
from tests import given

pytestmark = pytest.mark.django_db


@pytest.fixture
def scene():
    return given.a_scene()


@pytest.fixture
def recorded(scene):
    box = given.a_shelved_box(scene)
    number = given.a_recorded_permission(scene, [box.number])
    return Permission.objects.get(number=number)


def written(row):
    """Write a bare row, past use cases and their history."""
    type(row)._default_manager.bulk_create([row])


def another(permission, **changes):
    """The same permission under another number, with something changed."""
    row = Permission.objects.get(pk=permission.pk)
    row.pk, row.number, row.order_ref = None, "PM-999999-X", "ESC/ORD/9"
    for name, value in changes.items():
        setattr(row, name, value)
    return row


@pytest.mark.parametrize(
    ("name", "changes"),
    [
        ("one_permission_per_authority_and_ref", {"order_ref": "ESC/ORD/1"}),
        (
            "permission_ends_after_it_begins",
            {"valid_until": given.TODAY - timedelta(days=9)},
        ),
        ("nothing_is_destroyed_while_still_kept", {"while_still_kept": True}),
        ("countersigned_by_another_person", {"countersigned_at": given.NOW}),
        ("revoked_with_a_reason", {"revoked_at": given.NOW}),
        ("revoked_with_a_reason", {"revoked_because": "no day"}),
    ],
)
def test_a_permission_that_cannot_be(recorded, name, changes):
    with pytest.raises(IntegrityError) as refused, transaction.atomic():
        written(another(recorded, **changes))
    said = str(refused.value)
    assert name in said or "order_ref" in said


def test_nobody_countersigns_what_they_recorded(recorded):
    """Separation of duties: failure mode 35."""
    own = another(
        recorded,
        countersigned_at=given.NOW,
        countersigned_by_id=recorded.recorded_by_id,
        list_digest="x",
    )
    with (
        pytest.raises(IntegrityError, match="countersigned_by_another_person"),
        transaction.atomic(),
    ):
        written(own)


def test_an_item_names_exactly_one_thing(recorded):
    item = recorded.items.first()
    for row in (
        PermissionItem(permission=recorded),
        PermissionItem(
            permission=recorded, box=item.box, envelope=given.an_envelope_in(item.box)
        ),
    ):
        with pytest.raises(IntegrityError, match="one_thing"), transaction.atomic():
            written(row)


def test_a_list_names_a_thing_once(recorded):
    item = recorded.items.first()
    with pytest.raises(IntegrityError), transaction.atomic():
        written(PermissionItem(permission=recorded, box=item.box))


def test_a_disposal_has_a_method_and_two_different_witnesses(recorded):
    whole = {"method": "shredding", "first_witness": "One", "second_witness": "Two"}
    for changes in ({"method": ""}, {"first_witness": ""}, {"second_witness": "One"}):
        batch = DisposalBatch(
            number="DS-999999-X",
            election=recorded.election,
            permission=recorded,
            particle_level="P-5",
            place="yard",
            occurred_at=given.NOW,
            recorded_at=given.NOW,
            disposed_by=recorded.recorded_by,
            **{**whole, **changes},
        )
        with (
            pytest.raises(IntegrityError, match="two_witnesses"),
            transaction.atomic(),
        ):
            written(batch)


def test_an_opening_says_who_and_what(scene):
    box = given.a_shelved_box(scene)
    number = given.a_permission(scene, [box.number], act="open-box")
    opening = Opening(
        number="OP-999999-X",
        permission=Permission.objects.get(number=number),
        box=box,
        occurred_at=given.NOW,
        recorded_at=given.NOW,
        opened_by_id=scene.cast.custodian.person_id,
        present="",
        done="looked",
    )
    with pytest.raises(IntegrityError, match="who_and_what"), transaction.atomic():
        written(opening)
