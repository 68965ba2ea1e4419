"""What every command of the registry shares: the clock, and errors in one line."""

import os
import sys
from datetime import date, datetime
from typing import Any, NoReturn

from django.core.management.base import (
    BaseCommand,
    CommandError,
    CommandParser,
    SystemCheckError,
)
from django.db import DatabaseError
from django.utils import timezone

from registry.usecases.two_clocks import moment_named


class WrongUsage(CommandError):
    """The command was called in a way it does not understand: exit code 2."""

    def __init__(self, message: str) -> None:
        super().__init__(message, returncode=2)


class Refused(CommandError):
    """The command was understood, but the work is refused: exit code 1."""


class RegistryCommand(BaseCommand):
    """A command that fails in one line on standard error, without a traceback.

    Exit code 2 says wrong usage (raise WrongUsage, or leave it to the parser), exit
    code 1 refused work (raise Refused). ``self.at`` is the moment the command began:
    nothing below reads the clock again. Django's own --traceback shows the rest.
    """

    at: datetime

    @property
    def today(self) -> date:
        """The local day on which the command began."""
        return timezone.localdate(self.at)

    def create_parser(
        self, prog_name: str, subcommand: str, **kwargs: Any
    ) -> CommandParser:
        # Other programs call these commands: an abbreviation that works today would
        # become ambiguous with the next option.
        parser = super().create_parser(
            prog_name, subcommand, allow_abbrev=False, **kwargs
        )
        # Otherwise argparse prints its usage over several lines before the error.
        parser.called_from_command_line = False
        return parser

    def run_from_argv(self, argv: list[str]) -> None:
        try:
            super().run_from_argv(argv)
            sys.stdout.flush()
        except BrokenPipeError:
            # Who reads has read enough, as `head` does. What is left to write goes
            # nowhere, so that the interpreter does not complain at its end.
            os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
            sys.exit(0)
        except CommandError as error:
            # Only the parser's own complaints arrive here, before execute() runs,
            # and what --traceback asked to see.
            if "--traceback" in argv:
                raise
            self._stop(str(error).removeprefix("Error: "), 2)

    def execute(self, *args: Any, **options: Any) -> str | None:
        self.at = timezone.now()  # noqa: TID251
        try:
            return super().execute(*args, **options)
        except SystemCheckError:
            raise  # Django sets out its checks itself, over several lines.
        except CommandError as error:
            self._stop_unless_called(error, options, error.returncode)
        except DatabaseError as error:
            self._stop_unless_called(
                error,
                options,
                1,
                "the database cannot be used ({}): check DATABASE_URL, then run "
                "'python3 manage.py migrate'",
            )

    def _stop_unless_called(
        self,
        error: Exception,
        options: dict[str, Any],
        code: int,
        message: str = "{}",
    ) -> NoReturn:
        """Stop in one line; from call_command() or with --traceback, raise instead."""
        if options.get("traceback") or not self._called_from_command_line:  # type: ignore[attr-defined]
            raise error
        self._stop(message.format(error), code)

    def _stop(self, message: str, code: int) -> NoReturn:
        name = type(self).__module__.rpartition(".")[2]
        self.stderr.write(f"{name}: {' '.join(message.split())}")
        sys.exit(code)


def known_at(text: str | None, now: datetime) -> datetime | None:
    """Return the moment that ``--known-at`` names; None for what is known now.

    A bare day means its last moment, or this one if it is today.

    Raises:
        WrongUsage: it is no moment.
    """
    if not text:
        return None
    try:
        return moment_named(text, timezone.get_current_timezone(), now)
    except ValueError as error:
        raise WrongUsage(
            f"--known-at {text} is no moment; write YYYY-MM-DD or YYYY-MM-DDTHH:MM"
        ) from error
