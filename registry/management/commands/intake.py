"""Take in a list of sealed containers, or of polling stations, from CSV or XLSX."""

from pathlib import Path
from typing import Any

from django.core.management.base import CommandParser

from registry.management.base import Refused, RegistryCommand, WrongUsage
from registry.management.who import acting
from registry.rules.powers import PowerMissing, Role
from registry.usecases import Mistaken, NotThere
from registry.usecases import Refused as RefusedByTheRegister
from registry.usecases.intake_files import (
    IntakeRead,
    check_intake_file,
    refused_stations,
    take_intake_file,
    tells_containers,
)
from registry.usecases.stations import check_stations, load_stations


class Command(RegistryCommand):
    help = (
        "Take in a list of sealed envelopes and boxes; every line that can be "
        "recorded is. A list of polling stations goes in whole or not at all. Exit 1 "
        "where a line is refused."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("file", type=Path, metavar="FILE", help="CSV or XLSX")
        parser.add_argument(
            "--check", action="store_true", help="say what would come, enter nothing"
        )
        parser.add_argument(
            "--election",
            default="",
            metavar="CODE",
            help="its code or register number; else what each line says",
        )
        parser.add_argument(
            "--room",
            default="",
            metavar="NUMBER",
            help="register number of the receiving strong room",
        )
        parser.add_argument(
            "--as",
            dest="person",
            default="",
            metavar="USERNAME",
            help="who takes them in, by log-in name (default: this terminal)",
        )
        parser.add_argument(
            "--refused-to",
            type=Path,
            metavar="FILE",
            help="write the refused lines with their reasons into this CSV file",
        )

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            content = _content(options["file"])
            if options["refused_to"]:
                # Before anything is entered: lines that nobody is told of are lost.
                _write(options["refused_to"], b"")
            if tells_containers(content, options["file"].name):
                refused = self._containers(content, options)
            else:
                refused = self._stations(content, options)
        except (Mistaken, NotThere) as error:
            raise WrongUsage(str(error)) from error
        except (RefusedByTheRegister, PowerMissing) as error:
            raise Refused(str(error)) from error
        if refused:
            raise Refused(_last_word(refused, options))

    def _containers(self, content: bytes, options: dict[str, Any]) -> int:
        call: dict[str, Any] = {
            "content": content,
            "file_name": options["file"].name,
            "room": options["room"],
            "election": options["election"],
            "actor": acting(options["person"], Role.CUSTODIAN),
            "at": self.at,
        }
        take = check_intake_file if options["check"] else take_intake_file
        read = take(**call)
        if options["refused_to"]:
            _write(options["refused_to"], read.refused_lines)
        self.stdout.write(f"accepted {read.accepted}, refused {len(read.refused)}")
        self.stdout.write(_further(read))
        return len(read.refused)

    def _stations(self, content: bytes, options: dict[str, Any]) -> int:
        if not options["election"]:
            raise WrongUsage(
                "This is no list of containers (it has no column content). If it is "
                "one of polling stations, say of which election: --election CODE."
            )
        call: dict[str, Any] = {
            "election": options["election"],
            "content": content,
            "file_name": options["file"].name,
            "actor": acting(options["person"], Role.ADMINISTRATOR),
            "at": self.at,
        }
        read = check_stations(**call)
        if options["refused_to"]:
            _write(options["refused_to"], refused_stations(read))
        if read.is_clean and not options["check"]:
            load_stations(**call)
        accepted = 0 if read.refused else read.unit_sets
        self.stdout.write(f"accepted {accepted}, refused {len(read.refused)}")
        self.stdout.write(
            f"Read as {read.read_as}: polling stations, taken whole or not at all."
        )
        return len(read.refused)


def _content(path: Path) -> bytes:
    try:
        return path.read_bytes()
    except OSError as error:
        raise WrongUsage(f"{path} cannot be read: {error.strerror}.") from error


def _write(path: Path, content: bytes) -> None:
    try:
        path.write_bytes(content)
    except OSError as error:
        raise WrongUsage(f"{path} cannot be written: {error.strerror}.") from error


def _further(read: IntakeRead) -> str:
    told = [f"Read as {read.read_as}", f"{read.quarantined} into quarantine"]
    if read.intake:
        told.append(f"intake {read.intake}")
    if read.unknown_columns:
        told.append(f"columns left aside: {', '.join(read.unknown_columns)}")
    return f"{'; '.join(told)}."


def _last_word(refused: int, options: dict[str, Any]) -> str:
    lines = "1 line is" if refused == 1 else f"{refused} lines are"
    if options["refused_to"]:
        return f"{lines} refused; see {options['refused_to']}."
    return f"{lines} refused; --refused-to FILE writes them with their reasons."
