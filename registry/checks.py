"""System checks: the database must refuse what it promises to refuse."""

from collections.abc import Sequence
from typing import Any

from django.apps import apps
from django.core.checks import CheckMessage, Error, Tags, register
from django.db import connections


@register(Tags.database)
def guards_are_laid(
    *, databases: Sequence[str] | None = None, **kwargs: Any
) -> list[CheckMessage]:
    """E001: a trigger that keeps records from being deleted or changed is missing."""
    from registry.models import guards

    problems: list[CheckMessage] = []
    for alias in databases or ():
        connection = connections[alias]
        if "registry_accessentry" not in connection.introspection.table_names():
            continue
        lacking = guards.missing(connection, apps.get_app_config("registry"))
        if lacking:
            problems.append(
                Error(
                    f"The database lacks {len(lacking)} guards, first {lacking[0]}.",
                    hint="Run `python3 manage.py migrate`; it lays them again. Find "
                    "out who removed them.",
                    id="registry.E001",
                )
            )
    return problems
