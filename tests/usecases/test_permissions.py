"""Permissions: recorded by one, countersigned by another, frozen, revoked."""

from datetime import timedelta

import pytest

from registry.models import Permission
from registry.rules.powers import PowerMissing
from registry.usecases import Mistaken, NotThere, Refused, permission_looks, permissions
from tests import given

pytestmark = pytest.mark.django_db
A_DAY = timedelta(days=1)


@pytest.fixture
def scene():
    return given.a_scene()


@pytest.fixture
def box(scene):
    return given.a_shelved_box(scene)


def countersigned_by(actor, number, at=given.NOW, **more):
    permissions.countersign_permission(permission=number, actor=actor, at=at, **more)


def looked_at(scene, number, at=given.NOW):
    return permission_looks.look_at_permission(
        permission=number, actor=scene.cast.auditor, at=at
    )


def revoked(scene, number, at=given.NOW):
    permissions.revoke_permission(
        permission=number,
        because="Order ESC/ORD/9 withdraws it.",
        actor=scene.cast.countersigner,
        at=at,
    )


def test_the_recorder_cannot_countersign(scene, box):
    """Failure mode 35: nobody approves the own entry."""
    number = given.a_recorded_permission(scene, [box.number])
    with pytest.raises(Refused, match="yourself"):
        countersigned_by(scene.cast.authority, number)
    assert Permission.objects.get(number=number).countersigned_at is None


@pytest.mark.parametrize("who", ["custodian", "legal", "auditor", "administrator"])
def test_only_the_authoritys_desk_records_countersigns_and_revokes(scene, box, who):
    number = given.a_recorded_permission(scene, [box.number])
    actor = getattr(scene.cast, who)
    with pytest.raises(PowerMissing):
        countersigned_by(actor, number)
    with pytest.raises(PowerMissing):
        permissions.revoke_permission(
            permission=number, because="x", actor=actor, at=given.NOW
        )


def test_a_destroying_order_names_what_lies_in_its_boxes(scene, box):
    number = given.a_recorded_permission(scene, [box.number.lower().replace("-", " ")])
    assert {t.number for t in looked_at(scene, number).things} == {
        box.number,
        given.an_envelope_in(box).number,
    }


def test_an_order_to_open_a_box_names_the_box_alone(scene, box):
    number = given.a_recorded_permission(scene, [box.number], act="open-box")
    assert [t.number for t in looked_at(scene, number).things] == [box.number]


def test_what_is_put_in_after_the_recording_is_not_covered(scene):
    """Failure mode 36."""
    open_box = given.logged(scene, given.an_open_box()).number
    number = given.a_permission(scene, [open_box])
    given.logged(scene, given.an_envelope_on_the_table(), box=open_box)
    file = looked_at(scene, number)
    assert [t.number for t in file.things] == [open_box]
    texts = [o.text for s in file.standings for o in s.obstacles]
    assert any("does not name Envelope" in text for text in texts)


@pytest.mark.parametrize(
    ("more", "on", "state"),
    [
        ({}, 0, "in force"),
        ({"valid_from": given.TODAY + 3 * A_DAY}, 0, "not yet valid"),
        ({}, 31, "expired"),
    ],
)
def test_its_state_is_told_in_words(scene, box, more, on, state):
    number = given.a_permission(scene, [box.number], **more)
    assert looked_at(scene, number, given.NOW + on * A_DAY).row.state == state


def test_it_has_no_force_before_the_second_signature(scene, box):
    number = given.a_recorded_permission(scene, [box.number])
    assert looked_at(scene, number).row.state == "recorded – no force yet"
    revoked(scene, number)
    assert looked_at(scene, number).row.state == "revoked"
    with pytest.raises(Refused, match="was revoked"):
        countersigned_by(scene.cast.countersigner, number)


def test_what_has_all_been_done_is_used(scene, box):
    given.a_confirmation(scene)
    number = given.a_permission(scene, [box.number])
    given.a_checked_seal(scene, box.number)
    given.disposed_of(scene, box.number, number)
    file = looked_at(scene, number)
    assert file.row.state == "used"
    assert {one.number for one in file.done} == {t.number for t in file.things}


def test_the_last_day_ends_where_the_election_is(box, scene):
    """Failure mode 33: legal days end at the local midnight, not in UTC."""
    row = Permission.objects.get(number=given.a_permission(scene, [box.number]))
    row.election.legal_zone = "Pacific/Auckland"
    last = given.NOW + 30 * A_DAY  # 10:00 UTC is 23:00 there
    state = given_state(row, last)
    assert state == "in force"
    assert given_state(row, last + timedelta(hours=2)) == "expired"


def given_state(row, at):
    from registry.queries.permissions import permission_row

    return permission_row(row, at).state


def test_the_list_waits_for_signatures_first(scene, box):
    signed = given.a_permission(scene, [box.number])
    waits = given.a_recorded_permission(scene, [box.number], ref="ESC/ORD/2")
    rows = permission_looks.list_permissions(actor=scene.cast.authority, at=given.NOW)
    assert [row.number for row in rows] == [waits, signed]
    only = permission_looks.list_permissions(
        state="in force", actor=scene.cast.authority, at=given.NOW
    )
    assert [row.number for row in only] == [signed]


def test_a_second_signature_is_refused(scene, box):
    number = given.a_permission(scene, [box.number])
    with pytest.raises(Refused, match="countersigned already"):
        countersigned_by(scene.cast.countersigner, number)


def test_the_signer_signs_the_list_that_was_shown(scene, box):
    number = given.a_recorded_permission(scene, [box.number])
    with pytest.raises(Refused, match="not the one that you were shown"):
        countersigned_by(scene.cast.countersigner, number, digest_seen="0" * 64)
    shown = looked_at(scene, number).digest
    countersigned_by(scene.cast.countersigner, number, digest_seen=shown)
    assert looked_at(scene, number).digest == shown


def test_what_has_expired_is_not_countersigned(scene, box):
    number = given.a_recorded_permission(scene, [box.number])
    with pytest.raises(Refused, match="expired"):
        countersigned_by(scene.cast.countersigner, number, given.NOW + 31 * A_DAY)


@pytest.mark.parametrize(
    ("field", "more"),
    [
        ("dated", {"dated": given.TODAY + A_DAY}),
        ("valid_until", {"valid_until": given.TODAY - 3 * A_DAY}),
        (
            "valid_until",
            {
                "valid_from": given.TODAY - 9 * A_DAY,
                "valid_until": given.TODAY - A_DAY,
            },
        ),
        ("order_ref", {"ref": " "}),
        ("order_ref", {"ref": "x" * 121}),
        ("things", {"things": []}),
        ("things", {"things": ["BX-000001-X"]}),
        ("things", {"things": ["nonsense"]}),
        ("while_still_kept", {"while_still_kept": True}),
        ("act", {"act": "burn"}),
    ],
)
def test_an_order_that_cannot_be_is_mended_beside_its_field(scene, box, field, more):
    things = more.pop("things", [box.number])
    with pytest.raises(Mistaken) as mistaken:
        given.a_recorded_permission(scene, things, **more)
    assert field in mistaken.value.errors
    assert not Permission.objects.exists()


def test_every_wrong_number_on_the_list_is_named(scene, box):
    things = [box.number, "BX-999999-X", scene.room, "oops"]
    with pytest.raises(Mistaken) as mistaken:
        given.a_recorded_permission(scene, things)
    assert len(mistaken.value.errors["things"]) == 3


def test_an_order_number_is_recorded_once_for_an_authority(scene, box):
    """Failure mode 40: order number unique per authority."""
    given.a_recorded_permission(scene, [box.number], ref="ESC/ORD/1")
    with pytest.raises(Mistaken, match="recorded already"):
        given.a_recorded_permission(scene, [box.number], ref="esc/ord/1")


def test_a_revocation_has_a_reason_and_happens_once(scene, box):
    number = given.a_permission(scene, [box.number])
    with pytest.raises(Mistaken):
        permissions.revoke_permission(
            permission=number, because=" ", actor=scene.cast.authority, at=given.NOW
        )
    revoked(scene, number)
    with pytest.raises(Refused, match="revoked already"):
        revoked(scene, number)


def test_the_countersigner_sees_what_stands_against_each(scene, box):
    """Broward: folders were signed "filled with information" while a case was pending
    (desks.md, B.4)."""
    case = given.a_case(scene)
    number = given.a_recorded_permission(scene, [box.number])
    (standing,) = looked_at(scene, number).hindered
    assert any(case in o.text for o in standing.obstacles)
    assert not any("countersigned" in o.text for o in standing.obstacles)


def test_a_legal_officer_of_another_election_does_not_find_it(scene, box):
    number = given.a_permission(scene, [box.number])
    stranger = given.appointed(
        scene.cast.administrator, "noa.law", given.Role.LEGAL, elections=()
    )
    with pytest.raises(NotThere):
        permission_looks.look_at_permission(
            permission=number, actor=stranger, at=given.NOW
        )


def test_all_boxes_of_a_contest_whose_time_is_over_are_proposed(scene, box):
    proposed = permission_looks.propose_permission(
        contest=scene.contests["11"],
        kind="poll-slips",
        actor=scene.cast.authority,
        at=given.NOW,
    )
    assert proposed.things == (box.number,)
    given.a_case(scene)
    held = permission_looks.propose_permission(
        contest=scene.contests["11"],
        kind="poll-slips",
        actor=scene.cast.authority,
        at=given.NOW,
    )
    assert (held.things, "over" in held.note) == ((), True)
