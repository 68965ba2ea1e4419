"""A register that is in use is upgraded in place, its guards and its rows with it.

Each test has a database of its own, at the first release's tables; nothing here comes
from outside, the sources are Django's notes on remaking SQLite tables.
"""

import os
import sqlite3
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
DAY, MOMENT = "2026-03-02", "2026-03-02 10:00:00"

# What each row must say for the constraints of the first release to take it.
ROWS = {
    "registry_user": {"username": "u", "role": "authority", "is_active": 1},
    "registry_retentionschedule": {"code": "calvenna", "version": 3},
    "registry_courtcalendar": {"name": "High Bench of Calvenna"},
    "registry_election": {"code": "general", "schedule_id": 1, "calendar_id": 1},
    "registry_contest": {"election_id": 1, "constituency_number": "11"},
    "registry_strongroom": {"name": "Customs House"},
    "registry_box": {
        "kind": "poll-slips", "state": "held", "whereabouts": "intake",
        "election_id": 1, "contest_id": 1, "room_id": 1,
    },
    "registry_envelope": {
        "kind": "poll-slips", "state": "quarantined", "whereabouts": "in-box",
        "election_id": 1, "contest_id": 1, "room_id": 1, "box_id": 1,
    },
    "registry_discrepancy": {"kind": "other", "envelope_id": 1},
    "registry_permission": {
        "election_id": 1, "recorded_by_id": 1, "act": "open-box",
        "while_still_kept": 0, "instead_of_confirmation": 0,
    },
    "registry_permissionitem": {"permission_id": 1, "envelope_id": 1},
}  # fmt: skip


@pytest.fixture
def data(tmp_path):
    """A register of the first release, with a row in each table that changes."""
    manage(tmp_path, "migrate", "registry", "0001", "-v0")
    with sqlite3.connect(database(tmp_path)) as old:
        for table, said in ROWS.items():
            enter(old, table, said)
    return tmp_path


def database(data: Path) -> Path:
    return next(data.rglob("*.sqlite3"))


def manage(data: Path, *words: str) -> subprocess.CompletedProcess:
    return subprocess.run(
        [sys.executable, "manage.py", *words],
        cwd=ROOT,
        env=os.environ
        | {"REGISTRY_MODE": "development", "REGISTRY_DATA": str(data),
           "DATABASE_URL": ""},
        capture_output=True,
        text=True,
        check=False,
    )  # fmt: skip


def enter(old: sqlite3.Connection, table: str, said: dict[str, object]) -> None:
    """Enter a row that says this, and something harmless wherever a value must be."""
    row = {"number": f"{table[9:11]}-1"} if table != "registry_permissionitem" else {}
    for _, name, kind, required, default, key in old.execute(
        f"PRAGMA table_info({table})"
    ):
        if required and not key and default is None and name not in row:
            plain = {"date": DAY, "datetime": MOMENT}.get(kind)
            is_number = kind.startswith(("integer", "bool", "bigint", "smallint"))
            row[name] = plain or (0 if is_number else "")
    row |= said
    names = ", ".join(f'"{name}"' for name in row)
    marks = ", ".join("?" * len(row))
    old.execute(
        f"INSERT INTO {table} ({names}) VALUES ({marks})",
        tuple(row.values()),
    )


def test_the_tables_are_remade_and_every_row_is_kept(data):
    done = manage(data, "migrate", "-v0")
    assert done.returncode == 0, done.stderr
    with sqlite3.connect(database(data)) as new:
        for table in ROWS:
            rows = new.execute(f"SELECT COUNT(*) FROM {table}").fetchone()
            assert rows == (1,), table
        assert new.execute("PRAGMA foreign_key_check").fetchall() == []


def test_after_the_upgrade_every_guard_is_laid(data):
    manage(data, "migrate", "-v0")
    checked = manage(data, "check", "--database", "default")
    assert checked.returncode == 0, checked.stderr
    with (
        sqlite3.connect(database(data)) as new,
        pytest.raises(sqlite3.IntegrityError, match="nothing is deleted"),
    ):
        new.execute("DELETE FROM registry_envelope")


def test_before_the_upgrade_the_check_says_what_to_run(data):
    checked = manage(data, "check", "--database", "default")
    assert checked.returncode != 0
    assert "manage.py migrate" in checked.stderr


def test_guards_that_somebody_lifted_are_laid_again_by_migrate(data):
    manage(data, "migrate", "-v0")
    with sqlite3.connect(database(data)) as new:
        new.execute("DROP TRIGGER registry_envelope_keeps")
    assert manage(data, "check", "--database", "default").returncode != 0
    assert manage(data, "migrate", "-v0").returncode == 0
    assert manage(data, "check", "--database", "default").returncode == 0
