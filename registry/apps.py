"""The registry's one Django app."""

from typing import Any

from django.apps import AppConfig
from django.db import connections
from django.db.models.signals import post_migrate


class RegistryConfig(AppConfig):
    """Lay the database's guards after each migration and check them at start."""

    name = "registry"
    label = "registry"
    verbose_name = "Register of sealed election evidence"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        from registry import checks  # noqa: F401 - registers the system checks

        post_migrate.connect(lay_guards, sender=self)


def lay_guards(sender: AppConfig, using: str, **kwargs: Any) -> None:
    """Lay the triggers once the tables stand (django-simple-history's included)."""
    from registry.models import guards

    connection = connections[using]
    if "registry_accessentry" in connection.introspection.table_names():
        guards.install(connection, sender)
