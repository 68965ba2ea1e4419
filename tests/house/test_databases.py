"""The database under the tests behaves as the one in use, and its guards come back."""

import pytest
from django.apps import apps
from django.db import DatabaseError, connection, transaction

from registry.models import User, guards
from registry.rules.powers import Role


def a_person(name):
    """A bare row: this is about tables, not about acts, so no use case makes it."""
    User.objects.bulk_create([User(username=name, role=Role.AUDITOR)])


def lacking():
    return guards.missing(connection, apps.get_app_config("registry"))


@pytest.mark.parametrize("turn", ["first", "second"])
@pytest.mark.django_db(transaction=True)
def test_a_committed_test_leaves_no_rows_and_all_guards(turn):
    assert not lacking()
    assert not User.objects.exists()
    a_person(turn)


@pytest.mark.django_db
def test_no_row_is_deleted_by_plain_sql():
    a_person("keeper")
    with pytest.raises(DatabaseError, match="nothing is deleted"), transaction.atomic():
        connection.cursor().execute("DELETE FROM registry_user")


@pytest.mark.django_db
def test_no_row_is_replaced_in_passing():
    """SQLite: REPLACE deletes past the triggers unless recursive_triggers is on
    (sqlite.org, "PRAGMA recursive_triggers"). PostgreSQL knows no REPLACE."""
    a_person("keeper")
    statement = "INSERT OR REPLACE INTO registry_user SELECT * FROM registry_user"
    with pytest.raises(DatabaseError), transaction.atomic():
        connection.cursor().execute(statement)


@pytest.mark.django_db
def test_foreign_keys_are_kept():
    if connection.vendor == "sqlite":
        with connection.cursor() as cursor:
            cursor.execute("PRAGMA foreign_keys")
            assert cursor.fetchone() == (1,)
    else:
        assert connection.features.supports_foreign_keys
