"""One moment of the register, however long the reading takes."""

from django.db import connection


def hold_one_moment() -> None:
    """Let all that this transaction reads be of one moment; call it before reading.

    SQLite does so by itself. On PostgreSQL each statement would otherwise see what
    others have written since, so that totals and rows, or records and history, part.
    Inside another transaction nothing can be asked for any more.
    """
    if connection.vendor == "postgresql" and not connection.savepoint_ids:
        with connection.cursor() as cursor:
            cursor.execute(
                "SET TRANSACTION ISOLATION LEVEL REPEATABLE READ, READ WRITE"
            )
