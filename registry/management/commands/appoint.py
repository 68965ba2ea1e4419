"""Appoint the first administrator of an empty registry."""

import getpass
import sys
from typing import Any

from django.core.management.base import CommandParser

from registry.management.base import Refused, RegistryCommand, WrongUsage
from registry.rules.powers import Role
from registry.usecases import Mistaken
from registry.usecases import Refused as RefusedByTheRegister
from registry.usecases.people import (
    Appointment,
    appoint_first_administrator,
    terminal,
)


class Command(RegistryCommand):
    help = (
        "Appoint the first administrator of an empty registry. The password is asked "
        "for, or read from standard input; it is never an argument, which others on "
        "the machine could see. An administrator appoints everybody else, on screen."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--username", required=True, metavar="NAME")
        parser.add_argument(
            "--name", required=True, metavar="NAME", help="the person's own name"
        )
        parser.add_argument("--post", default="", metavar="TEXT")

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            number = appoint_first_administrator(
                appointment=Appointment(
                    username=options["username"],
                    name=options["name"],
                    role=Role.ADMINISTRATOR,
                    post=options["post"],
                ),
                password=_password(),
                actor=terminal(Role.ADMINISTRATOR, account=getpass.getuser()),
                at=self.at,
            )
        except Mistaken as error:
            raise WrongUsage(str(error)) from error
        except RefusedByTheRegister as error:
            raise Refused(str(error)) from error
        self.stdout.write(f"{number} appointed; log in as {options['username']}")


def _password() -> str:
    """Return the password, typed twice at a terminal or piped in once."""
    if not sys.stdin.isatty():
        return sys.stdin.readline().rstrip("\r\n")
    first = getpass.getpass("Password: ")
    if getpass.getpass("The same password once more: ") != first:
        raise WrongUsage("The two passwords differ.")
    return first
