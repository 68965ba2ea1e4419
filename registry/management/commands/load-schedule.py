"""Take a version of a retention schedule into the register, from its file."""

import getpass
import json
from pathlib import Path
from typing import Any

from django.core.management.base import CommandParser

from registry.management.base import Refused, RegistryCommand
from registry.management.schedule_files import text_of
from registry.rules.powers import Role
from registry.usecases import Mistaken
from registry.usecases.people import terminal
from registry.usecases.schedules import adopt_schedule, look_at_schedule


class Command(RegistryCommand):
    help = (
        "Take a version of a retention schedule into the register. Every problem of "
        "the file is named with its line and key (exit 1). A version once taken in is "
        "never changed; no election is moved to it by this command."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("file", type=Path, metavar="FILE", help="a TOML file")
        parser.add_argument("--json", action="store_true")

    def handle(self, *args: Any, **options: Any) -> None:
        who: dict[str, Any] = {
            "actor": terminal(Role.ADMINISTRATOR, account=getpass.getuser()),
            "at": self.at,
        }
        path: Path = options["file"]
        try:
            number = adopt_schedule(text=text_of(path), file_name=path.name, **who)
        except Mistaken as error:
            problems = [text for texts in error.errors.values() for text in texts]
            if options["json"]:
                self.stdout.write(json.dumps({"problems": problems}, indent=2))
                raise Refused(f"nothing taken, problems: {len(problems)}") from error
            raise Refused("; ".join(problems)) from error
        taken = look_at_schedule(schedule=number, **who)
        if options["json"]:
            told = {
                "number": taken.number,
                "code": taken.code,
                "version": taken.version,
                "in_force_from": taken.in_force_from.isoformat(),
                "sha256": taken.digest,
            }
            self.stdout.write(json.dumps(told, indent=2))
            return
        self.stdout.write(
            f"{taken.number}  {taken.code}, version {taken.version}: {taken.title}"
        )
