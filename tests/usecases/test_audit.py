"""Accesses, and records held against their history; tampering is found."""

import pytest
from django.apps import apps
from django.db import connection

from registry.models import AccessEntry, guards
from registry.rules.powers import PowerMissing
from registry.usecases import Mistaken, audit, looks
from tests import given

pytestmark = pytest.mark.django_db


@pytest.fixture
def scene():
    return given.a_scene()


@pytest.fixture
def box(scene):
    return given.a_shelved_box(scene)


@pytest.fixture
def by_hand():
    """Write past the register, as somebody with the database's password could."""
    guards.remove(connection, apps.get_app_config("registry"))

    def write(statement, *values):
        with connection.cursor() as cursor:
            cursor.execute(statement, values)
            assert cursor.rowcount > 0

    return write


def verified(scene):
    return audit.verify_history(actor=scene.cast.auditor, at=given.NOW)


def test_what_only_the_register_wrote_is_verified(scene, box):
    given.a_case(scene)
    given.a_permission(scene, [box.number])
    found = verified(scene)
    assert found.mismatch is None
    counted = sum(
        model.history.count()
        for model in apps.get_app_config("registry").get_models()
        if hasattr(model, "history")
    )
    assert found.entries == counted > 40


def test_a_record_altered_by_hand_is_named_with_field_and_both_values(
    scene, box, by_hand
):
    by_hand("UPDATE registry_box SET label = %s WHERE id = %s", "9 of 9", box.pk)
    mismatch = verified(scene).mismatch
    assert (mismatch.record, mismatch.field) == (box.number, "label")
    assert (mismatch.says, mismatch.history_says) == ("9 of 9", "1 of 1")


def test_a_history_altered_by_hand_is_found(scene, box, by_hand):
    by_hand("UPDATE registry_historicalbox SET label = %s WHERE id = %s", "x", box.pk)
    assert verified(scene).mismatch.record == box.number


def test_an_altered_version_in_the_middle_is_found_by_its_act(scene, box, by_hand):
    first = box.history.order_by("history_id").first()
    by_hand(
        "UPDATE registry_historicalbox SET history_change_reason = %s "
        "WHERE history_id = %s", "box.invented", first.history_id,
    )  # fmt: skip
    mismatch = verified(scene).mismatch
    assert mismatch.record == box.number
    assert "box.invented" in str(mismatch)


@pytest.mark.parametrize(
    ("statement", "told"),
    [
        ("DELETE FROM registry_historicalbox WHERE id = %s", "no history at all"),
        (
            "DELETE FROM registry_historicalbox WHERE id = %s AND history_type = '+'",
            "does not begin",
        ),
        (
            "UPDATE registry_historicalbox SET history_type = '-' WHERE history_id = "
            "(SELECT MAX(history_id) FROM registry_historicalbox WHERE id = %s)",
            "a second entry or an end",
        ),
        (
            "UPDATE registry_historicalbox SET id = id + 1000 WHERE id = %s",
            "no history",
        ),
    ],
)
def test_gaps_in_a_history_are_found(scene, box, by_hand, statement, told):
    by_hand(statement, box.pk)
    mismatch = verified(scene).mismatch
    assert mismatch.record == box.number
    assert told in str(mismatch)


def test_a_history_whose_record_is_gone_is_found(scene, by_hand):
    by_hand(
        "INSERT INTO registry_historicalbay (id, number, code, room_id, history_date, "
        "history_type, history_change_reason) VALUES "
        "(999, 'BY-999999-X', 'Z', 1, %s, '+', 'room.set_up')",
        given.NOW,
    )
    mismatch = verified(scene).mismatch
    assert mismatch.record == "BY-999999-X"
    assert "the record is not" in str(mismatch)


def test_a_number_changed_by_hand_in_record_and_history_is_found(scene, box, by_hand):
    by_hand("UPDATE registry_box SET number = 'BX-000009-X' WHERE id = %s", box.pk)
    by_hand(
        "UPDATE registry_historicalbox SET number = 'BX-000009-X' WHERE history_id = "
        "(SELECT MAX(history_id) FROM registry_historicalbox WHERE id = %s)", box.pk,
    )  # fmt: skip
    assert verified(scene).mismatch.field == "number"


def test_accesses_are_narrowed_by_person_act_outcome_number_and_day(scene, box):
    looks.look_at_box(box=box.number, actor=scene.cast.legal, at=given.NOW)
    with pytest.raises(PowerMissing):
        looks.look_at_box(box=box.number, actor=scene.cast.administrator, at=given.NOW)

    def found(**wanted):
        page = audit.list_accesses(
            wanted=audit.AccessesWanted(**wanted),
            zone="UTC",
            actor=scene.cast.auditor,
            at=given.NOW,
        )
        return [(row.name, row.act, row.outcome) for row in page.rows]

    legal, admin = scene.cast.legal.name, scene.cast.administrator.name
    assert found(person="lena.law", act="box.look") == [(legal, "box.look", "done")]
    assert found(act="box.look", outcome="refused") == [(admin, "box.look", "refused")]
    assert len(found(number=box.number, act="box.look")) == 2
    assert found(act="box.look", first_day=given.TODAY, last_day=given.TODAY)
    assert not found(first_day=given.TODAY.replace(year=2030))
    assert AccessEntry.objects.filter(act="access.list").count() == 5


def test_pages_of_accesses_meet_without_a_gap(scene):
    for _ in range(70):
        given_look = {"actor": scene.cast.auditor, "at": given.NOW}
        looks.list_boxes(wanted=looks.Wanted(), **given_look)
    act = {"zone": "UTC", "actor": scene.cast.auditor, "at": given.NOW}
    seen, before = [], 0
    while before is not None:
        wanted = audit.AccessesWanted(act="box.list", before=before)
        page = audit.list_accesses(wanted=wanted, **act)
        seen += page.rows
        before = page.next_before
    assert len(seen) == 70


def test_a_mistyped_number_is_refused_not_searched(scene, box):
    wrong = box.number[:-1] + ("A" if box.number[-1] != "A" else "B")
    with pytest.raises(Mistaken, match="mistyped"):
        audit.list_accesses(
            wanted=audit.AccessesWanted(number=wrong),
            zone="UTC",
            actor=scene.cast.auditor,
            at=given.NOW,
        )


@pytest.mark.parametrize("who", ["custodian", "legal", "authority", "administrator"])
def test_only_the_auditor_reads_accesses(scene, who):
    with pytest.raises(PowerMissing):
        audit.list_accesses(
            wanted=audit.AccessesWanted(),
            zone="UTC",
            actor=getattr(scene.cast, who),
            at=given.NOW,
        )
