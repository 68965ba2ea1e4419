"""Hold two versions of a schedule side by side, and show what the change would do."""

import getpass
import json
from collections.abc import Iterator
from datetime import date
from pathlib import Path
from typing import Any

from django.core.management.base import CommandParser

from registry.management.base import Refused, RegistryCommand, WrongUsage
from registry.management.schedule_files import text_of
from registry.rules.powers import Role
from registry.usecases import Mistaken, NotThere
from registry.usecases import Refused as RefusedByTheRegister
from registry.usecases.people import terminal
from registry.usecases.schedule_changes import SchedulePreview, preview_schedule_change
from registry.usecases.schedules import (
    SchedulesCompared,
    ScheduleText,
    compare_schedules,
)

AID = "Computed dates are an aid: the statute, the court and counsel decide."


class Command(RegistryCommand):
    help = (
        "Show every point in which two versions of a schedule differ. With --election, "
        "show what the second would do to every container held of it. Nothing is "
        "changed: an election is moved on screen, with the order that ordains it."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        which = "register number, code:version, or a TOML file"
        parser.add_argument("before", metavar="BEFORE", help=which)
        parser.add_argument("after", metavar="AFTER", help=which)
        parser.add_argument(
            "--election",
            metavar="CODE",
            help="its code or register number; AFTER must be in the register",
        )
        parser.add_argument("--json", action="store_true")

    def handle(self, *args: Any, **options: Any) -> None:
        who: dict[str, Any] = {
            "actor": terminal(Role.ADMINISTRATOR, account=getpass.getuser()),
            "at": self.at,
        }
        preview = None
        try:
            found = compare_schedules(
                before=_version(options["before"]),
                after=_version(options["after"]),
                **who,
            )
            if options["election"]:
                preview = preview_schedule_change(
                    election=options["election"], schedule=options["after"], **who
                )
                if preview.before.number != found.before.number:
                    raise WrongUsage(
                        f"{options['election']} is pinned to {preview.before.name} "
                        f"({preview.before.number}): compare that one."
                    )
        except (NotThere, Mistaken) as error:
            raise WrongUsage(str(error)) from error
        except RefusedByTheRegister as error:
            raise Refused(str(error)) from error
        if options["json"]:
            told = json.dumps(_as_json(found, preview), ensure_ascii=False, indent=2)
            self.stdout.write(told)
            return
        for line in _as_text(found, preview):
            self.stdout.write(line)


def _version(named: str) -> str | ScheduleText:
    path = Path(named)
    if path.suffix == ".toml":
        return ScheduleText(text_of(path), path.name)
    return named


def _as_text(
    found: SchedulesCompared, preview: SchedulePreview | None
) -> Iterator[str]:
    yield f"Before: {found.before.name}  {found.before.number or 'a file'}"
    yield f"After:  {found.after.name}  {found.after.number or 'a file'}"
    for change in found.changes:
        yield f"- {change.text}"
    if not found.changes:
        yield "Both say the same."
    if preview is None:
        return
    counts = preview.counts
    yield (
        f"{preview.election}: later {counts.later}, earlier {counts.earlier}, "
        f"unchanged {counts.unchanged}"
    )
    for row in preview.effects.rows:
        yield (
            f"  {row.effect}  {row.contest}, {row.content.lower()}, "
            f"{row.containers}: {_day(row.before)} -> {_day(row.after)}"
        )
    yield AID


def _as_json(
    found: SchedulesCompared, preview: SchedulePreview | None
) -> dict[str, Any]:
    told: dict[str, Any] = {
        "before": {"name": found.before.name, "number": found.before.number or None},
        "after": {"name": found.after.name, "number": found.after.number or None},
        "changes": [
            {
                "about": list(change.about),
                "before": change.old or None,
                "after": change.new or None,
            }
            for change in found.changes
        ],
        "effect": None,
        "note": AID,
    }
    if preview is not None:
        told["effect"] = {
            "election": preview.election_number,
            **vars(preview.counts),
            "rows": [
                {
                    "contest": row.contest_number,
                    "content": row.content,
                    "containers": row.containers,
                    "effect": row.effect.value,
                    "before": row.before.isoformat() if row.before else None,
                    "after": row.after.isoformat() if row.after else None,
                }
                for row in preview.effects.rows
            ],
        }
    return told


def _day(day: date | None) -> str:
    return day.isoformat() if day else "no end"
