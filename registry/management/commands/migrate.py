"""Django's own migrate, which lays the guards and so cannot ask for them first."""

from typing import Any

from django.core.management.commands.migrate import Command as MigrateCommand


class Command(MigrateCommand):
    help = MigrateCommand.help

    def check(self, *args: Any, **kwargs: Any) -> None:
        """Run the checks that look at no database.

        The check that the guards are laid (registry.E001) would otherwise refuse the
        very command that lays them: after an upgrade, and after somebody lifted them.
        """
        super().check(*args, **{**kwargs, "databases": None})
