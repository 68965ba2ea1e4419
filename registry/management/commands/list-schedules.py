"""List the retention schedules in the register, each version by itself."""

import getpass
import json
from typing import Any

from django.core.management.base import CommandParser

from registry.management.base import RegistryCommand
from registry.rules.powers import Role
from registry.usecases.people import terminal
from registry.usecases.schedules import list_schedules


class Command(RegistryCommand):
    help = "List the retention schedules in the register, each version by itself."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--json", action="store_true")

    def handle(self, *args: Any, **options: Any) -> None:
        actor = terminal(Role.AUDITOR, account=getpass.getuser())
        rows = list_schedules(actor=actor, at=self.at)
        if options["json"]:
            told = [
                {
                    "number": row.number,
                    "code": row.code,
                    "version": row.version,
                    "title": row.title,
                    "ordained_by": row.ordained_by,
                    "in_force_from": row.in_force_from.isoformat(),
                    "to_be_confirmed": row.to_be_confirmed,
                    "elections": row.elections,
                    "sha256": row.digest,
                }
                for row in rows
            ]
            self.stdout.write(json.dumps(told, ensure_ascii=False, indent=2))
            return
        for row in rows:
            unsure = "; to be confirmed by counsel" if row.to_be_confirmed else ""
            self.stdout.write(
                f"{row.number}  {row.code}:{row.version}  from "
                f"{row.in_force_from.isoformat()}  elections {row.elections}  "
                f"{row.title}{unsure}"
            )
        if not rows:
            self.stdout.write("No schedule is in the register yet.")
