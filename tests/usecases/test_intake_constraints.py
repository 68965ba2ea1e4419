"""The database has its own say: each bad row is refused past every use case.

Rows are laid past the use cases on purpose; the rules are the project's own brief
("The records": a live serial, a live seal number, one box, one class of content).
"""

import pytest
from django.db import DatabaseError, IntegrityError, connection, transaction

from registry.models import Box, Discrepancy, Envelope, Seal
from registry.rules.schedules import ContentKind
from tests import given

pytestmark = pytest.mark.django_db


@pytest.fixture
def scene():
    return given.a_scene()


@pytest.fixture
def envelope(scene):
    number = given.logged(scene, given.an_envelope_on_the_table()).number
    return Envelope.objects.get(number=number)


@pytest.fixture
def box(scene):
    return Box.objects.get(number=given.logged(scene, given.an_open_box()).number)


def double_of(row, **changes):
    """A new row like this one, with another number."""
    fields = {f.attname: getattr(row, f.attname) for f in row._meta.concrete_fields}
    fields |= {"id": None, "number": "EN-999999-X", **changes}
    return type(row)(**fields)


def refused(*rows, match):
    with pytest.raises(IntegrityError, match=match), transaction.atomic():
        type(rows[0]).objects.bulk_create(rows)


def sql(statement, *values):
    with transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(statement, values)


def test_a_unit_set_has_one_live_envelope_of_a_kind(envelope):
    refused(
        double_of(envelope, control_unit="", paper_trail_unit=""),
        match="unit_set|per_unit",
    )


@pytest.mark.parametrize("kept", ["control_unit", "paper_trail_unit"])
def test_a_unit_serial_stands_on_one_live_envelope_of_a_kind(scene, envelope, kept):
    other = given.logged(
        scene,
        given.an_envelope_on_the_table(
            "002", name="Net Loft Hall", control_unit="CU-11002",
            paper_trail_unit="PT-AA-11002", seal="W-2",
        ),
    ).number  # fmt: skip
    with pytest.raises(IntegrityError, match=kept):
        sql(
            f"UPDATE registry_envelope SET {kept} = %s WHERE number = %s",
            getattr(envelope, kept),
            other,
        )


@pytest.mark.parametrize(
    "changes",
    [
        {"state": "quarantined"},
        {"kind": ContentKind.MOCK_POLL_SLIPS.value},
    ],
)
def test_in_quarantine_or_of_another_kind_it_may_stand_twice(envelope, changes):
    Envelope.objects.bulk_create([double_of(envelope, **changes)])
    assert Envelope.objects.count() == 2


@pytest.mark.parametrize(
    "lacking", ["contest_id", "election_id", "station_id", "unit_set_id"]
)
def test_outside_quarantine_it_is_known_what_an_envelope_is(envelope, lacking):
    bare = double_of(envelope, control_unit="", paper_trail_unit="", **{lacking: None})
    refused(bare, match="outside_quarantine")
    bare.state = "quarantined"
    Envelope.objects.bulk_create([bare])


def test_outside_quarantine_a_box_has_a_contest(box):
    refused(double_of(box, contest_id=None), match="outside_quarantine")


@pytest.mark.parametrize("noun", ["box", "envelope"])
def test_disposed_of_and_gone_go_together(box, envelope, noun):
    row = {"box": box, "envelope": envelope}[noun]
    for changes in ({"state": "disposed"}, {"whereabouts": "gone"}):
        with pytest.raises(IntegrityError):
            sql(
                f"UPDATE registry_{noun} SET {next(iter(changes))} = %s WHERE id = %s",
                *changes.values(),
                row.pk,
            )


@pytest.mark.parametrize("noun", ["box", "envelope"])
def test_nothing_is_disposed_of_by_plain_sql(box, envelope, noun):
    row = {"box": box, "envelope": envelope}[noun]
    with pytest.raises(IntegrityError, match="without a disposal record"):
        sql(
            f"UPDATE registry_{noun} SET state = 'disposed', whereabouts = 'gone' "
            "WHERE id = %s",
            row.pk,
        )


@pytest.mark.parametrize("table", ["box", "envelope", "seal", "discrepancy", "intake"])
def test_nothing_is_deleted_by_plain_sql(scene, box, envelope, table):
    odd = given.an_envelope_on_the_table(seal="W-0009")
    given.logged(scene, odd)
    act = {"actor": scene.cast.custodian, "at": given.NOW}
    from registry.usecases import intake

    intake.begin_intake(room=scene.room, delivered_by="Rowan Fenn", **act)
    with pytest.raises(DatabaseError, match="nothing is deleted"):
        sql(f"DELETE FROM registry_{table}")


@pytest.mark.parametrize(
    "change",
    [
        "kind = 'mock-poll-slips'",
        "contest_id = (SELECT id FROM registry_contest WHERE constituency_number='12')",
    ],
    ids=["another kind", "another constituency"],
)
def test_a_box_holds_one_constituency_and_one_class(scene, box, change):
    """The trigger, both ways round: the envelope moves in, or the box changes."""
    number = given.logged(
        scene, given.an_envelope_on_the_table(), box=box.number
    ).number
    with pytest.raises(IntegrityError, match="one election, one constituency"):
        sql(f"UPDATE registry_envelope SET {change} WHERE number = %s", number)
    with pytest.raises(IntegrityError, match="another election, constituency"):
        sql(f"UPDATE registry_box SET {change} WHERE id = %s", box.pk)


def test_an_envelope_of_another_kind_is_not_inserted_into_a_box(box, envelope):
    mock = double_of(envelope, kind="mock-poll-slips", box_id=box.pk)
    refused(mock, match="one election, one constituency")


def test_an_envelope_in_its_box_has_a_box(envelope):
    refused(
        double_of(envelope, kind="mock-poll-slips", whereabouts="in-box"),
        match="boxed_envelope",
    )


def test_a_shelved_box_has_a_shelf(box):
    refused(double_of(box, whereabouts="shelved"), match="shelved_box")


def test_a_kind_of_content_is_a_known_one(box, envelope):
    refused(double_of(box, kind="ballots"), match="kind_is_known")
    refused(double_of(envelope, kind="ballots"), match="kind_is_known")


def a_seal(container, **changes):
    fields = {
        "number": "SL-999999-X",
        "kind": "paper",
        "maker": "Print",
        "maker_plain": "print",
        "serial": "P-1",
        "serial_plain": "P1",
        "box": container if isinstance(container, Box) else None,
        "envelope": container if isinstance(container, Envelope) else None,
    }
    return Seal(**(fields | changes))


def test_a_live_seal_number_is_on_one_container(box, envelope):
    Seal.objects.bulk_create([a_seal(box)])
    double = a_seal(envelope, number="SL-999998-X")
    refused(double, match="serial_plain|one_live_seal")
    for free in ({"quarantined": True}, {"state": "broken"}, {"kind": "strap"}):
        with transaction.atomic():
            Seal.objects.bulk_create([a_seal(envelope, number="SL-999997-X", **free)])
            transaction.set_rollback(True)


def test_a_seal_is_on_one_container(box, envelope):
    refused(a_seal(box, envelope=envelope), match="seal_is_on_one")
    refused(a_seal(box, box=None), match="seal_is_on_one")


def test_a_paper_seal_has_its_number(box):
    refused(a_seal(box, serial="", serial_plain=""), match="numbered_seal")
    Seal.objects.bulk_create([a_seal(box, kind="wax", serial="", serial_plain="")])


def test_a_discrepancy_is_resolved_only_with_a_reason(envelope):
    def row(**changes):
        fields = {
            "number": "DC-999999-X",
            "kind": "other",
            "envelope": envelope,
            "opened_at": given.NOW,
        }
        return Discrepancy(**(fields | changes))

    refused(row(resolved_at=given.NOW), match="resolved_with_a_reason")
    refused(row(resolution="It was so."), match="resolved_with_a_reason")
    refused(row(envelope=None), match="of_a_container_a_contest")


@pytest.mark.parametrize("table", ["sealevent", "custodymovement"])
def test_what_happened_is_never_rewritten(envelope, table):
    with pytest.raises(IntegrityError, match="written once"):
        sql(f"UPDATE registry_{table} SET note = 'otherwise'")
