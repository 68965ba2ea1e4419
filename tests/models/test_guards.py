"""What the database itself refuses, asked by plain SQL past every use case.

Failure modes 70 and 82: a row deleted or edited by SQL, the interface bypassed.
"""

from datetime import timedelta

import pytest
from django.apps import apps
from django.core.checks import run_checks
from django.db import DatabaseError, connection, transaction

from registry.models import (
    AccessEntry,
    Box,
    DisposalBatch,
    Permission,
    PermissionItem,
    guards,
)
from registry.usecases import paper_forms
from tests import given

pytestmark = pytest.mark.django_db

ON_SQLITE = connection.vendor == "sqlite"
TABLES = sorted(
    model._meta.db_table
    for model in apps.get_app_config("registry").get_models(include_auto_created=True)
    if model._meta.db_table not in guards.COUNTERS
)


def run(statement, *values):
    with connection.cursor() as cursor:
        cursor.execute(statement, values)


def refused(match, statement, *values):
    with pytest.raises(DatabaseError, match=match), transaction.atomic():
        run(statement, *values)


def first_id(table):
    with connection.cursor() as cursor:
        cursor.execute(f"SELECT min(id) FROM {table}")
        return cursor.fetchone()[0]


@pytest.fixture
def scene():
    return given.a_scene()


@pytest.fixture
def done(scene):
    """A register in which every kind of thing has happened once."""
    box = given.a_shelved_box(scene)
    given.a_confirmation(scene)
    permission = given.a_permission(scene, [box.number])
    given.a_checked_seal(scene, box.number)
    given.disposed_of(scene, box.number, permission)
    return scene


def test_nothing_that_happened_can_be_deleted(done):
    tried = 0
    for table in TABLES:
        if first_id(table) is not None:
            refused("nothing is deleted|FOREIGN KEY", f"DELETE FROM {table}")
            tried += 1
    assert tried > 40


def test_every_table_has_its_guard_against_deletion():
    lacking = guards.missing(connection, apps.get_app_config("registry"))
    named = {g.table for g in guards.guards(apps.get_app_config("registry"))
             if g.event == "DELETE"}  # fmt: skip
    assert not lacking
    assert named == set(TABLES)


@pytest.mark.parametrize(
    "column",
    [
        ("registry_historicalbox", "state"),
        ("registry_historicalpermission", "conditions"),
        ("registry_accessentry", "name"),
        ("registry_accessshown", "number"),
        ("registry_sealevent", "note"),
        ("registry_custodymovement", "note"),
        ("registry_disposalitem", "reasoning"),
        ("registry_disposalbatch", "method"),
        ("registry_certificate", "number"),
        ("registry_document", "digest"),
    ],
    ids=lambda pair: ".".join(pair),
)
def test_what_was_written_once_is_never_changed(done, column):
    table, name = column
    with connection.cursor() as cursor:
        cursor.execute(f"SELECT count(*) FROM {table}")
        assert cursor.fetchone()[0]
    refused("written once", f"UPDATE {table} SET {name} = {name}")


@pytest.mark.parametrize("noun", ["box", "envelope"])
def test_nothing_is_called_disposed_of_without_its_record(scene, noun):
    given.a_shelved_box(scene)
    refused(
        "without a disposal record|not disposed of",
        f"UPDATE registry_{noun} SET state = 'disposed', whereabouts = 'gone'",
    )


def test_a_box_cannot_enter_the_register_as_disposed_of(scene):
    box = given.a_shelved_box(scene)
    names = [f.column for f in Box._meta.concrete_fields if f.column != "id"]
    other = {
        "number": "'BX-999999-X'",
        "state": "'disposed'",
        "whereabouts": "'gone'",
        "supersedes_id": "NULL",
    }
    chosen = ", ".join(other.get(name, name) for name in names)
    refused(
        "without a disposal record",
        f"INSERT INTO registry_box ({', '.join(names)}) "
        f"SELECT {chosen} FROM registry_box WHERE id = %s",
        box.pk,
    )


def test_what_is_disposed_of_does_not_come_back(done):
    refused(
        "stays disposed of",
        "UPDATE registry_box SET state = 'held', whereabouts = 'shelved'",
    )


def a_batch(permission):
    """The bare row of a disposal: past the rules, to meet the triggers alone."""
    row = DisposalBatch(
        number="DS-999999-X",
        election=permission.election,
        permission=permission,
        method="fire",
        particle_level="P-1",
        place="nowhere",
        first_witness="One",
        second_witness="Two",
        occurred_at=given.NOW,
        recorded_at=given.NOW,
        disposed_by=permission.recorded_by,
    )
    DisposalBatch.objects.bulk_create([row])
    return DisposalBatch.objects.get(number="DS-999999-X")


def insert_item(batch, *, box=None, envelope=None):
    refused(
        "no permission in force",
        "INSERT INTO registry_disposalitem (batch_id, box_id, envelope_id, reasoning) "
        "VALUES (%s, %s, %s, '{}')",
        batch.pk,
        box,
        envelope,
    )


def test_a_recorded_permission_covers_no_disposal_before_it_is_countersigned(scene):
    box = given.a_shelved_box(scene)
    number = given.a_recorded_permission(scene, [box.number])
    insert_item(a_batch(Permission.objects.get(number=number)), box=box.pk)


def test_a_revoked_permission_covers_no_disposal(scene):
    box = given.a_shelved_box(scene)
    number = given.a_permission(scene, [box.number])
    given.permissions.revoke_permission(
        permission=number, because="ESC/ORD/9", actor=scene.cast.authority, at=given.NOW
    )
    insert_item(a_batch(Permission.objects.get(number=number)), box=box.pk)


def test_a_permission_to_open_covers_no_disposal(scene):
    box = given.a_shelved_box(scene)
    number = given.a_permission(scene, [box.number], act="open-box")
    insert_item(a_batch(Permission.objects.get(number=number)), box=box.pk)


def test_naming_the_box_does_not_name_an_envelope_put_in_later(scene):
    """Failure mode 36: new items never slip in."""
    box = given.logged(scene, given.an_open_box()).number
    number = given.a_permission(scene, [box])
    envelope = given.logged(scene, given.an_envelope_on_the_table(), box=box).number
    row = given.Envelope.objects.get(number=envelope)
    assert row.box.number == box
    insert_item(a_batch(Permission.objects.get(number=number)), envelope=row.pk)


def test_an_opening_needs_a_permission_in_force_for_it(scene):
    box = given.a_shelved_box(scene)
    destroys = Permission.objects.get(number=given.a_permission(scene, [box.number]))
    refused(
        "no permission in force",
        "INSERT INTO registry_opening (number, permission_id, box_id, occurred_at, "
        "recorded_at, opened_by_id, present, done) "
        "VALUES ('OP-999999-X', %s, %s, %s, %s, %s, 'me', 'this')",
        destroys.pk,
        box.pk,
        given.NOW,
        given.NOW,
        scene.cast.custodian.person_id,
    )


def test_nothing_is_added_to_a_countersigned_list(scene):
    box = given.a_shelved_box(scene)
    number = given.a_permission(scene, [given.an_envelope_in(box).number],
                                act="open-envelope")  # fmt: skip
    permission = Permission.objects.get(number=number)
    refused(
        "frozen",
        "INSERT INTO registry_permissionitem (permission_id, box_id) VALUES (%s, %s)",
        permission.pk,
        box.pk,
    )
    refused("written once", "UPDATE registry_permissionitem SET box_id = %s", box.pk)
    assert PermissionItem.objects.filter(permission=permission).count() == 1


@pytest.mark.parametrize(
    "change",
    [
        "act = 'open-box'",
        "valid_until = '2099-01-01'",
        "valid_from = '2020-01-01'",
        "dated = '2020-01-01'",
        "conditions = 'none'",
        "order_ref = 'another'",
        "list_digest = 'another'",
        "document_id = NULL",
        "while_still_kept = NOT while_still_kept",
        "instead_of_confirmation = NOT instead_of_confirmation",
        "countersigned_at = NULL, countersigned_by_id = NULL",
        "countersigned_at = recorded_at",
    ],
)
def test_a_countersigned_permission_is_not_changed(scene, change):
    box = given.a_shelved_box(scene)
    paper = given.permissions.Upload("Order", b"%PDF-1.4\n%%EOF")
    given.a_permission(scene, [box.number], document=paper, conditions="A clerk is in.")
    if change == "countersigned_at = recorded_at":
        change = "countersigned_at = '2020-01-01 00:00:00+00:00'"
    refused("can only be revoked", f"UPDATE registry_permission SET {change}")


def test_what_is_revoked_stays_revoked(scene):
    box = given.a_shelved_box(scene)
    number = given.a_permission(scene, [box.number])
    given.permissions.revoke_permission(
        permission=number, because="ESC/ORD/9", actor=scene.cast.authority, at=given.NOW
    )
    for change in ("revoked_at = NULL, revoked_because = ''", "revoked_because = 'x'"):
        refused("stays revoked", f"UPDATE registry_permission SET {change}")


def test_an_envelope_lies_in_no_box_of_another_constituency(scene):
    box = given.logged(
        scene, given.an_open_box(constituency=("12", "Quillmoor"), stations="001")
    ).number
    given.logged(scene, given.an_envelope_on_the_table())
    refused(
        "one election, one constituency",
        "UPDATE registry_envelope SET box_id = %s, whereabouts = 'in-box'",
        Box.objects.get(number=box).pk,
    )


def test_a_box_does_not_change_its_constituency_under_its_envelopes(scene):
    box = given.a_shelved_box(scene)
    other = given.stations.Contest.objects.get(number=scene.contests["12"])
    refused(
        "belong to another election",
        "UPDATE registry_box SET contest_id = %s WHERE id = %s",
        other.pk,
        box.pk,
    )


def test_an_envelope_is_not_disposed_of_out_of_a_box_that_stays(scene):
    """Both are named by the order; only the envelope is taken."""
    box = given.a_shelved_box(scene)
    envelope = given.an_envelope_in(box)
    number = given.a_permission(scene, [box.number])
    batch = a_batch(Permission.objects.get(number=number))
    run(
        "INSERT INTO registry_disposalitem (batch_id, envelope_id, reasoning) "
        "VALUES (%s, %s, '{}')",
        batch.pk,
        envelope.pk,
    )
    refused(
        "lies in a box that is not disposed of",
        "UPDATE registry_envelope SET state = 'disposed', whereabouts = 'gone'",
    )


def test_a_box_is_not_disposed_of_while_its_envelope_stays(scene):
    box = given.a_shelved_box(scene)
    number = given.a_permission(scene, [box.number])
    batch = a_batch(Permission.objects.get(number=number))
    run(
        "INSERT INTO registry_disposalitem (batch_id, box_id, reasoning) "
        "VALUES (%s, %s, '{}')",
        batch.pk,
        box.pk,
    )
    refused(
        "an envelope in it is not disposed of",
        "UPDATE registry_box SET state = 'disposed', whereabouts = 'gone', "
        "shelf_id = NULL",
    )


def test_a_paper_form_that_is_accounted_for_stays_so(scene):
    act = {"actor": scene.cast.custodian, "at": given.NOW}
    [form] = paper_forms.issue_forms(room=scene.room, kind="moves", count=1, **act)
    refused(
        "stays as it was printed",
        "UPDATE registry_fallbackform SET printed_at = %s",
        given.NOW - timedelta(days=9),
    )
    paper_forms.return_unused(form=form, **act)
    refused(
        "accounted for stays so", "UPDATE registry_fallbackform SET state = 'blank'"
    )
    refused(
        "nothing is entered from a form",
        "INSERT INTO registry_fallbackuse "
        "(form_id, act, subject, occurred_at, recorded_at, recorded_by_id) "
        "VALUES (%s, 'box.shelve', 'BX-000001-Q', %s, %s, %s)",
        first_id("registry_fallbackform"),
        given.NOW,
        given.NOW,
        scene.cast.custodian.person_id,
    )


def test_no_row_is_replaced_or_emptied_away(done):
    """SQLite: "REPLACE … deletes pre-existing rows" and fires delete triggers only
    with recursive_triggers (sqlite.org, lang_conflict). PostgreSQL: TRUNCATE fires no
    row triggers (manual, CREATE TRIGGER), so it has a guard of its own."""
    connection.check_constraints()  # PostgreSQL truncates nothing with checks open
    for table in ("registry_box", "registry_accessentry", "registry_historicalbox"):
        if ON_SQLITE:
            statement = f"INSERT OR REPLACE INTO {table} SELECT * FROM {table}"
        else:
            statement = f"TRUNCATE {table} CASCADE"
        refused("nothing is deleted|FOREIGN KEY|written once|disposal", statement)
    assert AccessEntry.objects.exists()


def problems():
    return [p for p in run_checks(databases=["default"]) if p.id == "registry.E001"]


def drop(name):
    table = {g.name: g.table for g in guards.guards(
        apps.get_app_config("registry"))}[name]  # fmt: skip
    run(f'DROP TRIGGER "{name}"' + ("" if ON_SQLITE else f' ON "{table}"'))
    return table


def test_the_check_finds_a_guard_that_was_removed():
    assert not problems()
    drop("registry_box_keeps")
    (problem,) = problems()
    assert "registry_box_keeps" in problem.msg


def test_the_check_finds_a_guard_that_was_made_toothless():
    if ON_SQLITE:
        table = drop("registry_box_keeps")
        run(
            f'CREATE TRIGGER "registry_box_keeps" BEFORE DELETE ON {table} '
            "FOR EACH ROW WHEN FALSE BEGIN SELECT RAISE(ABORT, 'x'); END"
        )
    else:
        run("ALTER TABLE registry_box DISABLE TRIGGER registry_box_keeps")
    (problem,) = problems()
    assert "registry_box_keeps" in problem.msg
