"""Hold every record against its history."""

import getpass
from typing import Any

from registry.management.base import Refused, RegistryCommand
from registry.rules.powers import Role
from registry.usecases.audit import verify_history
from registry.usecases.people import terminal


class Command(RegistryCommand):
    help = (
        "Hold every record against its history. Exit 0 with the count of entries "
        "checked, or exit 1 naming the first record that does not match."
    )

    def handle(self, *args: Any, **options: Any) -> None:
        actor = terminal(Role.AUDITOR, account=getpass.getuser())
        found = verify_history(actor=actor, at=self.at)
        if found.mismatch:
            raise Refused(str(found.mismatch))
        self.stdout.write(f"{found.entries} entries checked")
