"""Triggers as each of the two databases writes them."""

from collections.abc import Iterator
from dataclasses import dataclass

from django.db.backends.base.base import BaseDatabaseWrapper


@dataclass(frozen=True)
class Guard:
    """One trigger: the event it watches, when it objects, and what it says.

    Attributes:
        reads: tables that its condition asks about, where a later migration than its
            own table's brings them.
    """

    name: str
    table: str
    event: str
    condition: str
    message: str
    reads: tuple[str, ...] = ()


@dataclass(frozen=True)
class Trigger:
    """A trigger as it stands in the database; ``body`` is what it does."""

    name: str
    table: str
    body: str
    enabled: bool


_ON_POSTGRESQL = """
    SELECT t.tgname, c.relname, p.prosrc, t.tgenabled IN ('O', 'A')
    FROM pg_trigger t
    JOIN pg_class c ON c.oid = t.tgrelid
    JOIN pg_namespace n ON n.oid = c.relnamespace
    JOIN pg_proc p ON p.oid = t.tgfoid
    WHERE NOT t.tgisinternal AND n.nspname = current_schema()
    AND c.relname LIKE 'registry\\_%' ORDER BY t.tgname
"""
_ON_SQLITE = """
    SELECT name, tbl_name, sql, 1 FROM sqlite_master
    WHERE type = 'trigger' ORDER BY name
"""


def found(connection: BaseDatabaseWrapper) -> list[Trigger]:
    """Return the triggers on the register's tables as they stand."""
    with connection.cursor() as cursor:
        on_server = connection.vendor == "postgresql"
        cursor.execute(_ON_POSTGRESQL if on_server else _ON_SQLITE)
        return [
            Trigger(name, table, body, bool(enabled))
            for name, table, body, enabled in cursor.fetchall()
        ]


def expected(vendor: str, guard: Guard) -> dict[str, str]:
    """Return the name and body of each trigger that a guard needs."""
    if vendor != "postgresql":
        return {guard.name: _sqlite(guard)}
    bodies = {guard.name: _test(guard)}
    if guard.event == "DELETE":
        bodies[f"{guard.name}_all"] = _refusal(guard)
    return bodies


def statements(vendor: str, guard: Guard) -> Iterator[str]:
    """Yield the statements that lay a guard."""
    if vendor != "postgresql":
        yield _sqlite(guard)
        return
    # A WHEN clause may not hold a subquery on PostgreSQL, so the test is inside.
    for name, body in expected(vendor, guard).items():
        each = "STATEMENT" if body == _refusal(guard) else "ROW"
        event = "TRUNCATE" if each == "STATEMENT" else guard.event
        yield (
            f'CREATE OR REPLACE FUNCTION "{name}"() RETURNS trigger '
            f"AS $${body}$$ LANGUAGE plpgsql"
        )
        yield (
            f'CREATE TRIGGER "{name}" BEFORE {event} ON "{guard.table}" '
            f'FOR EACH {each} EXECUTE FUNCTION "{name}"()'
        )


def drop(vendor: str, trigger: Trigger) -> str:
    """Return the statement that lifts a trigger."""
    if vendor == "postgresql":
        return f'DROP TRIGGER "{trigger.name}" ON "{trigger.table}"'
    return f'DROP TRIGGER "{trigger.name}"'


def _sqlite(guard: Guard) -> str:
    return (
        f'CREATE TRIGGER "{guard.name}" BEFORE {guard.event} ON "{guard.table}" '
        f"FOR EACH ROW WHEN {guard.condition} "
        f"BEGIN SELECT RAISE(ABORT, '{guard.message}'); END"
    )


def _raise(guard: Guard) -> str:
    return (
        f"RAISE EXCEPTION '{guard.message}' "
        "USING ERRCODE = 'integrity_constraint_violation';"
    )


def _test(guard: Guard) -> str:
    result = "OLD" if guard.event == "DELETE" else "NEW"
    return (
        f" BEGIN IF {guard.condition} THEN {_raise(guard)} END IF; "
        f"RETURN {result}; END "
    )


def _refusal(guard: Guard) -> str:
    return f" BEGIN {_raise(guard)} END "


def differ(columns: tuple[str, ...]) -> str:
    """Return the condition that one of these columns changes."""
    # Older SQLite has no IS DISTINCT FROM, and NULL <> 1 is not true.
    return " OR ".join(
        f"OLD.{name} <> NEW.{name} OR (OLD.{name} IS NULL) <> (NEW.{name} IS NULL)"
        for name in columns
    )
