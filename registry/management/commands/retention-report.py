"""Write the retention report of an election, a contest or a strong room."""

import os
import tempfile
from contextlib import suppress
from pathlib import Path
from typing import IO, Any

from django.core.management.base import CommandParser

from registry.management.base import Refused, RegistryCommand, WrongUsage, known_at
from registry.management.commands.deadline import a_date
from registry.management.who import acting
from registry.rules.powers import PowerMissing, Role
from registry.usecases import Mistaken, NotThere
from registry.usecases import Refused as RefusedByTheRegister
from registry.usecases.reports import FORMATS, ReportWanted, make_retention_report


class Command(RegistryCommand):
    help = (
        "Write what is held until when, and why, for an election, a contest or a "
        "strong room. Computed dates are an aid only: the statute, the court and "
        "your counsel decide."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument(
            "--election",
            default="",
            metavar="CODE",
            help="the election's code or register number; needed where there are "
            "several",
        )
        parser.add_argument(
            "--contest",
            default="",
            metavar="N",
            help="the constituency's number, or the contest's register number",
        )
        parser.add_argument(
            "--room", default="", metavar="N", help="the strong room's register number"
        )
        parser.add_argument(
            "--as-of",
            type=a_date,
            metavar="DATE",
            help="YYYY-MM-DD; what happened later does not count (default: today)",
        )
        parser.add_argument(
            "--known-at",
            default="",
            metavar="MOMENT",
            help="with what the register knew then: YYYY-MM-DD (its end) or "
            "YYYY-MM-DDTHH:MM (default: what is known now)",
        )
        parser.add_argument(
            "--as",
            dest="person",
            default="",
            metavar="USER",
            help="whose report it is, by log-in name; lists what that person may see",
        )
        parser.add_argument(
            "--format", required=True, choices=tuple(FORMATS), dest="form"
        )
        parser.add_argument("--output", required=True, type=Path, metavar="FILE")

    def handle(self, *args: Any, **options: Any) -> None:
        wanted = ReportWanted(
            election=options["election"],
            contest=options["contest"],
            room=options["room"],
            as_of=options["as_of"],
            known_at=known_at(options["known_at"], self.at),
        )
        output: Path = options["output"]
        unfinished = _Unfinished(output)
        try:
            totals = make_retention_report(
                wanted=wanted,
                form=options["form"],
                into=unfinished.open,
                actor=acting(options["person"], Role.AUDITOR),
                at=self.at,
            )
            unfinished.finish()
        except (Mistaken, NotThere) as error:
            raise WrongUsage(str(error)) from error
        except (RefusedByTheRegister, PowerMissing) as error:
            raise Refused(str(error)) from error
        except OSError as error:
            raise WrongUsage(
                f"{output} cannot be written ({error.strerror}): give a file in a "
                "directory that can be written."
            ) from error
        finally:
            unfinished.give_up()
        self.stdout.write(f"{totals.total} containers written to {output}")


class _Unfinished:
    """A file that stands under its name only once it is whole."""

    def __init__(self, output: Path) -> None:
        self._output = output
        self._file: IO[bytes] | None = None

    def open(self) -> IO[bytes]:
        """Begin the file, beside where it is to stand."""
        self._file = tempfile.NamedTemporaryFile(  # noqa: SIM115 - closed in finish()
            dir=self._output.parent, prefix=f".{self._output.name}.", delete=False
        )
        return self._file

    def finish(self) -> None:
        """Put the whole file under its name; an earlier one is replaced."""
        if self._file is None:
            return
        self._file.close()
        os.replace(self._file.name, self._output)
        self._file = None

    def give_up(self) -> None:
        """Leave nothing behind of a file that was not finished."""
        if self._file is not None:
            self._file.close()
            with suppress(OSError):
                os.unlink(self._file.name)
