"""What the database itself refuses, whoever asks: triggers on both databases.

Nothing is ever deleted. History, accesses and events only grow. A container is
disposed of only with a disposal record behind it, and an envelope lies only in a box
of its own election, contest and content. The triggers are laid anew after each
migration, because Django remakes a SQLite table when a field changes and the
triggers of the old table go with it.
"""

from collections.abc import Iterator

from django.apps import AppConfig
from django.db.backends.base.base import BaseDatabaseWrapper

from registry.models.door_guards import door_guards
from registry.models.form_guards import form_guards
from registry.models.stock_guards import stock_guards
from registry.models.transfer_guards import transfer_guards
from registry.models.triggers import Guard, drop, expected, found, statements
from registry.models.triggers import differ as _differ

# Rows of these tables are written once.
WRITTEN_ONCE = (
    "registry_accessentry",
    "registry_accessshown",
    "registry_sealevent",
    "registry_caseevent",
    "registry_custodymovement",
    "registry_permissionitem",
    "registry_opening",
    "registry_disposalbatch",
    "registry_disposalitem",
    "registry_certificate",
    "registry_document",
    "registry_orderscope",
    "registry_intake",
    "registry_retentionschedule",
    "registry_schedulechange",
    "registry_caselink",
    "registry_sealinganswer",
    "registry_fallbackuse",
    "registry_materialissue",
    "registry_materialend",
    "registry_stocktakeitem",
    "registry_sighting",
    "registry_climatereading",
    "registry_incidentitem",
    "registry_incidentstep",
)
COUNTERS = ("registry_numberseries",)


def guards(app: AppConfig) -> Iterator[Guard]:
    """Yield every trigger of the register's tables."""
    for model in app.get_models(include_auto_created=True):
        table = model._meta.db_table
        if table in COUNTERS:
            continue
        yield Guard(
            f"{table}_keeps", table, "DELETE", "TRUE", f"{table}: nothing is deleted"
        )
        if table in WRITTEN_ONCE or table.startswith("registry_historical"):
            yield Guard(
                f"{table}_once",
                table,
                "UPDATE",
                "TRUE",
                f"{table}: rows are written once and never changed",
            )
    yield from _disposal_guards()
    yield from _permitted_guards()
    yield from _containment_guards()
    yield from _superseding_guards()
    yield from _permission_guards()
    yield from stock_guards()
    yield from _incident_guards()
    yield from form_guards()
    yield from transfer_guards()
    yield from door_guards()


def _disposal_guards() -> Iterator[Guard]:
    for noun in ("box", "envelope"):
        recorded = (
            f"EXISTS (SELECT 1 FROM registry_disposalitem i WHERE i.{noun}_id = NEW.id)"
        )
        for event in ("INSERT", "UPDATE"):
            yield Guard(
                f"registry_{noun}_disposal_{event.lower()}",
                f"registry_{noun}",
                event,
                f"NEW.state = 'disposed' AND NOT {recorded}",
                f"registry_{noun}: disposed of without a disposal record",
            )
        yield Guard(
            f"registry_{noun}_stays_disposed",
            f"registry_{noun}",
            "UPDATE",
            "OLD.state = 'disposed' AND NEW.state <> 'disposed'",
            f"registry_{noun}: what is disposed of stays disposed of",
        )
    yield Guard(
        "registry_box_disposed_whole",
        "registry_box",
        "UPDATE",
        "NEW.state = 'disposed' AND EXISTS (SELECT 1 FROM registry_envelope e "
        "WHERE e.box_id = NEW.id AND e.state <> 'disposed')",
        "registry_box: an envelope in it is not disposed of",
    )
    yield Guard(
        "registry_envelope_disposed_with_box",
        "registry_envelope",
        "UPDATE",
        "NEW.state = 'disposed' AND NEW.box_id IS NOT NULL AND NOT EXISTS "
        "(SELECT 1 FROM registry_disposalitem i WHERE i.box_id = NEW.box_id)",
        "registry_envelope: it lies in a box that is not disposed of",
    )


def _permitted_guards() -> Iterator[Guard]:
    """What is opened or destroyed is named, itself, by a permission in force.

    The days of validity are kept by the rules, which know the election's legal zone.
    """
    yield Guard(
        "registry_disposalitem_permitted",
        "registry_disposalitem",
        "INSERT",
        "NOT EXISTS (SELECT 1 FROM registry_disposalbatch b "
        "JOIN registry_permission p ON p.id = b.permission_id "
        "JOIN registry_permissionitem i ON i.permission_id = p.id "
        "WHERE b.id = NEW.batch_id AND p.act = 'destroy' "
        "AND p.countersigned_at IS NOT NULL AND p.revoked_at IS NULL "
        "AND (i.box_id = NEW.box_id OR i.envelope_id = NEW.envelope_id))",
        "registry_disposalitem: no permission in force covers this container",
    )
    yield Guard(
        "registry_opening_permitted",
        "registry_opening",
        "INSERT",
        "NOT EXISTS (SELECT 1 FROM registry_permission p "
        "JOIN registry_permissionitem i ON i.permission_id = p.id "
        "WHERE p.id = NEW.permission_id "
        "AND p.countersigned_at IS NOT NULL AND p.revoked_at IS NULL "
        "AND ((p.act = 'enter-room' AND i.room_id = NEW.room_id) "
        "OR (p.act = 'open-box' AND i.box_id = NEW.box_id) "
        "OR (p.act = 'open-envelope' AND i.envelope_id = NEW.envelope_id)))",
        "registry_opening: no permission in force covers this",
    )


def _containment_guards() -> Iterator[Guard]:
    fits = (
        "EXISTS (SELECT 1 FROM registry_box b WHERE b.id = NEW.box_id "
        "AND b.election_id = NEW.election_id AND b.contest_id = NEW.contest_id "
        "AND b.kind = NEW.kind "
        "AND (b.state <> 'disposed' OR NEW.state = 'disposed'))"
    )
    for event in ("INSERT", "UPDATE"):
        yield Guard(
            f"registry_envelope_box_{event.lower()}",
            "registry_envelope",
            event,
            f"NEW.box_id IS NOT NULL AND NEW.state <> 'quarantined' AND NOT {fits}",
            "registry_envelope: a box holds one election, one constituency and one "
            "class of content",
        )
    yield Guard(
        "registry_box_contents",
        "registry_box",
        "UPDATE",
        "EXISTS (SELECT 1 FROM registry_envelope e WHERE e.box_id = NEW.id "
        "AND e.state <> 'quarantined' AND (e.election_id <> NEW.election_id "
        "OR e.contest_id <> NEW.contest_id OR e.kind <> NEW.kind))",
        "registry_box: its envelopes belong to another election, constituency or "
        "class of content",
    )


def _superseding_guards() -> Iterator[Guard]:
    """An opened container is superseded by one that names it, and stays so."""
    for noun in ("box", "envelope"):
        table = f"registry_{noun}"
        succeeded = f"EXISTS (SELECT 1 FROM {table} s WHERE s.supersedes_id = NEW.id)"
        opened = f"EXISTS (SELECT 1 FROM registry_opening o WHERE o.{noun}_id = NEW.id)"
        for event in ("INSERT", "UPDATE"):
            yield Guard(
                f"{table}_superseded_{event.lower()}",
                table,
                event,
                f"NEW.state = 'superseded' AND NOT ({succeeded} AND {opened})",
                f"{table}: superseded without an opening and a successor",
            )
        yield Guard(
            f"{table}_stays_superseded",
            table,
            "UPDATE",
            "OLD.state = 'superseded' AND NEW.state <> 'superseded'",
            f"{table}: what is superseded stays superseded",
        )
        yield Guard(
            f"{table}_supersedes_for_good",
            table,
            "UPDATE",
            f"OLD.supersedes_id IS NOT NULL AND ({_differ(('supersedes_id',))})",
            f"{table}: what it superseded stays on record",
        )
    for event in ("INSERT", "UPDATE"):
        yield Guard(
            f"registry_envelope_superseded_box_{event.lower()}",
            "registry_envelope",
            event,
            "NEW.box_id IS NOT NULL AND EXISTS (SELECT 1 FROM registry_box b "
            "WHERE b.id = NEW.box_id AND b.state = 'superseded')",
            "registry_envelope: nothing lies in a superseded box",
        )
    yield Guard(
        "registry_box_superseded_empty",
        "registry_box",
        "UPDATE",
        "NEW.state = 'superseded' AND EXISTS (SELECT 1 FROM registry_envelope e "
        "WHERE e.box_id = NEW.id)",
        "registry_box: an envelope still lies in it",
    )


def _permission_guards() -> Iterator[Guard]:
    yield Guard(
        "registry_permissionitem_frozen",
        "registry_permissionitem",
        "INSERT",
        "EXISTS (SELECT 1 FROM registry_permission p WHERE p.id = NEW.permission_id "
        "AND p.countersigned_at IS NOT NULL)",
        "registry_permissionitem: the list is frozen once countersigned",
    )
    settled = (
        "act",
        "valid_from",
        "valid_until",
        "authority",
        "order_ref",
        "election_id",
        "while_still_kept",
        "instead_of_confirmation",
        "conditions",
        "number",
        "dated",
        "document_id",
        "list_digest",
        "countersigned_at",
        "countersigned_by_id",
        "recorded_at",
        "recorded_by_id",
    )
    ended = ("revoked_at", "revoked_by_id", "revoked_because")
    yield Guard(
        "registry_permission_frozen",
        "registry_permission",
        "UPDATE",
        f"OLD.countersigned_at IS NOT NULL AND ({_differ(settled)})",
        "registry_permission: a countersigned permission can only be revoked",
    )
    yield Guard(
        "registry_permission_stays_revoked",
        "registry_permission",
        "UPDATE",
        f"OLD.revoked_at IS NOT NULL AND ({_differ((*ended, 'countersigned_at'))})",
        "registry_permission: what is revoked stays revoked",
    )


def _incident_guards() -> Iterator[Guard]:
    """What an open incident touches is not destroyed, whatever program asks."""
    yield Guard(
        "registry_disposalitem_incident",
        "registry_disposalitem",
        "INSERT",
        "EXISTS (SELECT 1 FROM registry_incidentitem i "
        "JOIN registry_incident c ON c.id = i.incident_id WHERE c.closed_at IS NULL "
        "AND (i.box_id = NEW.box_id OR i.envelope_id = NEW.envelope_id))",
        "registry_disposalitem: an open incident touches this container",
        reads=("registry_incident", "registry_incidentitem"),
    )
    yield Guard(
        "registry_incident_stays_closed",
        "registry_incident",
        "UPDATE",
        f"OLD.closed_at IS NOT NULL AND ({_differ(('closed_at', 'closed_because'))})",
        "registry_incident: what is closed stays closed; report it anew",
    )


def install(connection: BaseDatabaseWrapper, app: AppConfig) -> None:
    """Lay every trigger, replacing what an earlier version laid.

    Tables that a later migration brings have none yet.
    """
    remove(connection, app)
    there = set(connection.introspection.table_names())
    with connection.cursor() as cursor:
        for guard in guards(app):
            if not {guard.table, *guard.reads} <= there:
                continue
            for statement in statements(connection.vendor, guard):
                cursor.execute(statement)


def remove(connection: BaseDatabaseWrapper, app: AppConfig) -> None:
    """Lift every trigger of ours (only a test that must empty tables does this)."""
    with connection.cursor() as cursor:
        for trigger in found(connection):
            cursor.execute(drop(connection.vendor, trigger))


def missing(connection: BaseDatabaseWrapper, app: AppConfig) -> list[str]:
    """Return the names of triggers that the database lacks, or has otherwise."""
    there = {t.name: t.body for t in found(connection) if t.enabled}
    return sorted(
        name
        for guard in guards(app)
        for name, body in expected(connection.vendor, guard).items()
        if there.get(name) != body
    )
