"""Repeat the draw of a stock-take from its public numbers, without any register."""

from typing import Any

from django.core.management.base import CommandParser

from registry.management.base import RegistryCommand, WrongUsage
from registry.rules.draws import SeedUnclear, draw, key_of


class Command(RegistryCommand):
    help = (
        "Draw lines of a frozen list by the method of RFC 3797, from public numbers: "
        "the same numbers give the same lines, whoever draws."
    )
    requires_system_checks = ()

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument(
            "--seed",
            required=True,
            metavar="NUMBERS",
            help="sources parted by slashes, as published or as the key of a report: "
            "'9319 / 2 5 12 8 10'",
        )
        parser.add_argument(
            "--population",
            required=True,
            type=int,
            metavar="N",
            help="how many lines the frozen list has",
        )
        parser.add_argument(
            "--count", required=True, type=int, metavar="n", help="how many are drawn"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            key = key_of(options["seed"])
            lines = draw(key, options["population"], options["count"])
        except (SeedUnclear, ValueError) as error:
            raise WrongUsage(str(error)) from error
        self.stdout.write(f"Key: {key}")
        for place, line in enumerate(lines, start=1):
            self.stdout.write(f"{place:6}  line {line}")
