"""Load an election's polling stations and unit sets from CSV or XLSX."""

import csv
import getpass
from pathlib import Path
from typing import Any

from django.core.management.base import CommandParser

from registry.management.base import Refused, RegistryCommand, WrongUsage
from registry.rules.powers import Role
from registry.usecases import Mistaken, NotThere
from registry.usecases import Refused as RefusedByTheRegister
from registry.usecases.people import terminal
from registry.usecases.stations import StationsRead, check_stations, load_stations


class Command(RegistryCommand):
    help = (
        "Load a list of polling stations and their unit sets: every line of it, or "
        "nothing. Exit 1 where a line is refused."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("file", type=Path, metavar="FILE")
        parser.add_argument(
            "--election",
            required=True,
            metavar="CODE",
            help="its code or register number",
        )
        parser.add_argument(
            "--check", action="store_true", help="say what would come, take nothing"
        )
        parser.add_argument(
            "--refused-to",
            type=Path,
            metavar="FILE",
            help="write the refused lines with their reasons into this CSV file",
        )

    def handle(self, *args: Any, **options: Any) -> None:
        path: Path = options["file"]
        call = {
            "election": options["election"],
            "file_name": path.name,
            "actor": terminal(Role.ADMINISTRATOR, account=getpass.getuser()),
            "at": self.at,
        }
        try:
            call["content"] = path.read_bytes()
            read = check_stations(**call)
            if options["refused_to"] and read.refused:
                _write_refused(read, options["refused_to"])
            if read.is_clean and not options["check"]:
                load_stations(**call)
        except (Mistaken, NotThere) as error:
            raise WrongUsage(str(error)) from error
        except RefusedByTheRegister as error:
            raise Refused(str(error)) from error
        except OSError as error:
            raise WrongUsage(f"{error.filename}: {error.strerror}.") from error
        taken = "would be taken" if options["check"] else "taken"
        if read.is_clean:
            self.stdout.write(
                f"{taken}: stations {read.stations}, unit sets {read.unit_sets}"
            )
            return
        raise Refused(_why_refused(read))


def _why_refused(read: StationsRead) -> str:
    if not read.refused:
        return "The list names no station."
    first = read.refused[0]
    return (
        f"nothing taken, refused {len(read.refused)}; the first is line "
        f"{first.number}: {' '.join(first.reasons)}"
    )


def _write_refused(read: StationsRead, path: Path) -> None:
    columns = sorted({name for line in read.refused for name in line.cells if name})
    with path.open("w", encoding="utf-8-sig", newline="") as file:
        out = csv.writer(file)
        out.writerow(["line", "reasons", *columns])
        for line in read.refused:
            cells = [line.cells.get(name, "") for name in columns]
            out.writerow([line.number, " ".join(line.reasons), *cells])
