"""What the database itself refuses, whoever asks: triggers on both databases.

Nothing is ever deleted. History, accesses and events only grow. A container is
disposed of only with a disposal record behind it, and an envelope lies only in a box
of its own election, contest and content. The triggers are laid anew after each
migration, because Django remakes a SQLite table when a field changes and the
triggers of the old table go with it.
"""

from collections.abc import Iterator
from dataclasses import dataclass

from django.apps import AppConfig
from django.db.backends.base.base import BaseDatabaseWrapper

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
)
COUNTERS = ("registry_numberseries",)


@dataclass(frozen=True)
class Guard:
    """One trigger: the event it watches, when it objects, and what it says."""

    name: str
    table: str
    event: str
    condition: str
    message: str


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
    yield from _containment_guards()
    yield from _permission_guards()


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
    covered = (
        "EXISTS (SELECT 1 FROM registry_disposalbatch b "
        "JOIN registry_permission p ON p.id = b.permission_id "
        "JOIN registry_permissionitem i ON i.permission_id = p.id "
        "WHERE b.id = NEW.batch_id AND p.act = 'destroy' "
        "AND p.countersigned_at IS NOT NULL AND p.revoked_at IS NULL AND ("
        "i.box_id = NEW.box_id OR i.envelope_id = NEW.envelope_id OR i.box_id = "
        "(SELECT e.box_id FROM registry_envelope e WHERE e.id = NEW.envelope_id)))"
    )
    yield Guard(
        "registry_disposalitem_permitted",
        "registry_disposalitem",
        "INSERT",
        f"NOT {covered}",
        "registry_disposalitem: no permission in force covers this container",
    )


def _containment_guards() -> Iterator[Guard]:
    fits = (
        "EXISTS (SELECT 1 FROM registry_box b WHERE b.id = NEW.box_id "
        "AND b.election_id = NEW.election_id AND b.contest_id = NEW.contest_id "
        "AND b.kind = NEW.kind)"
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
        "conditions",
        "list_digest",
        "countersigned_at",
        "countersigned_by_id",
        "recorded_by_id",
    )
    changed = " OR ".join(f"OLD.{column} <> NEW.{column}" for column in settled)
    yield Guard(
        "registry_permission_frozen",
        "registry_permission",
        "UPDATE",
        "OLD.countersigned_at IS NOT NULL AND (NEW.countersigned_at IS NULL OR "
        f"{changed} OR (OLD.revoked_at IS NOT NULL AND NEW.revoked_at IS NULL))",
        "registry_permission: a countersigned permission can only be revoked",
    )


def install(connection: BaseDatabaseWrapper, app: AppConfig) -> None:
    """Lay every trigger, replacing what an earlier version laid."""
    remove(connection, app)
    with connection.cursor() as cursor:
        for guard in guards(app):
            for statement in _statements(connection.vendor, guard):
                cursor.execute(statement)


def remove(connection: BaseDatabaseWrapper, app: AppConfig) -> None:
    """Lift every trigger of ours (only a test that must empty tables does this)."""
    with connection.cursor() as cursor:
        for name, table in sorted(_installed(connection)):
            if connection.vendor == "postgresql":
                cursor.execute(f'DROP TRIGGER "{name}" ON "{table}"')
            else:
                cursor.execute(f'DROP TRIGGER "{name}"')


def missing(connection: BaseDatabaseWrapper, app: AppConfig) -> list[str]:
    """Return the names of the triggers that the database lacks."""
    there = {name for name, _ in _installed(connection)}
    return sorted(guard.name for guard in guards(app) if guard.name not in there)


def _installed(connection: BaseDatabaseWrapper) -> set[tuple[str, str]]:
    if connection.vendor == "postgresql":
        query = (
            "SELECT t.tgname, c.relname FROM pg_trigger t "
            "JOIN pg_class c ON c.oid = t.tgrelid "
            "JOIN pg_namespace n ON n.oid = c.relnamespace "
            "WHERE NOT t.tgisinternal AND n.nspname = current_schema() "
            "AND c.relname LIKE 'registry\\_%'"
        )
    else:
        query = "SELECT name, tbl_name FROM sqlite_master WHERE type = 'trigger'"
    with connection.cursor() as cursor:
        cursor.execute(query)
        return {(name, table) for name, table in cursor.fetchall()}


def _statements(vendor: str, guard: Guard) -> Iterator[str]:
    if vendor == "postgresql":
        yield from _postgresql(guard)
    else:
        yield (
            f'CREATE TRIGGER "{guard.name}" BEFORE {guard.event} ON "{guard.table}" '
            f"FOR EACH ROW WHEN {guard.condition} "
            f"BEGIN SELECT RAISE(ABORT, '{guard.message}'); END"
        )


def _postgresql(guard: Guard) -> Iterator[str]:
    # A WHEN clause may not hold a subquery on PostgreSQL, so the test is inside.
    result = "OLD" if guard.event == "DELETE" else "NEW"
    yield (
        f'CREATE OR REPLACE FUNCTION "{guard.name}"() RETURNS trigger AS $$ BEGIN '
        f"IF {guard.condition} THEN RAISE EXCEPTION '{guard.message}' "
        "USING ERRCODE = 'integrity_constraint_violation'; END IF; "
        f"RETURN {result}; END $$ LANGUAGE plpgsql"
    )
    yield (
        f'CREATE TRIGGER "{guard.name}" BEFORE {guard.event} ON "{guard.table}" '
        f'FOR EACH ROW EXECUTE FUNCTION "{guard.name}"()'
    )
    if guard.event == "DELETE":
        yield (
            f'CREATE OR REPLACE FUNCTION "{guard.name}_all"() RETURNS trigger AS $$ '
            f"BEGIN RAISE EXCEPTION '{guard.message}' "
            "USING ERRCODE = 'integrity_constraint_violation'; END $$ LANGUAGE plpgsql"
        )
        yield (
            f'CREATE TRIGGER "{guard.name}_all" BEFORE TRUNCATE ON "{guard.table}" '
            f'FOR EACH STATEMENT EXECUTE FUNCTION "{guard.name}_all"()'
        )
