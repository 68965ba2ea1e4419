"""Compute the last day of a legal period, and say step by step why it is that day."""

import json
import re
from argparse import ArgumentTypeError
from datetime import date
from enum import StrEnum
from itertools import pairwise
from typing import Any

from django.core.management.base import CommandParser

from registry.management.base import RegistryCommand, WrongUsage
from registry.rules.calendars import Calendar, CalendarError, Closure
from registry.rules.periods import (
    Computed,
    Counting,
    Direction,
    IfClosed,
    MonthEnd,
    Period,
    PeriodError,
    Unit,
    last_day,
)

WEEKDAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
LAST_DAY = "Last day"
FIRST_DAY = "First day on which it may happen"
CAUTION = (
    "This date is computed and is an aid only: "
    "the statute, the court and your counsel decide."
)


class Command(RegistryCommand):
    help = "Compute the last day of a legal period and show the steps. " + CAUTION
    requires_system_checks = ()

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument(
            "--from",
            dest="starts",
            action="append",
            required=True,
            type=a_date,
            metavar="DATE",
            help="day of the event, YYYY-MM-DD; of several, the latest counts",
        )
        parser.add_argument("--length", required=True, type=a_number, metavar="N")
        add_choice(parser, "--unit", Unit, required=True)
        add_choice(parser, "--counting", Counting, default=Counting.EXCLUDE_FIRST)
        add_choice(parser, "--month-end", MonthEnd, default=MonthEnd.CORRESPONDING)
        add_choice(parser, "--direction", Direction, default=Direction.FORWARD)
        parser.add_argument(
            "--closed-weekdays",
            type=some_weekdays,
            default=frozenset(),
            metavar="sat,sun",
        )
        parser.add_argument(
            "--closed-dates",
            type=some_closures,
            default=(),
            metavar="DATE,DATE..DATE",
            help="single days and ranges, separated by commas",
        )
        add_choice(parser, "--if-closed", IfClosed, default=IfClosed.KEEP)
        parser.add_argument(
            "--skip-closed-within",
            type=a_number,
            default=0,
            metavar="N",
            help="in a period of N days or fewer closed days do not count",
        )
        parser.add_argument(
            "--at-least-working-days",
            type=a_number,
            default=0,
            metavar="N",
            help="extend the period until it holds N open days",
        )
        parser.add_argument("--json", action="store_true", dest="as_json")

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            period = Period(
                length=options["length"],
                unit=options["unit"],
                counting=options["counting"],
                month_end=options["month_end"],
                direction=options["direction"],
                if_closed=options["if_closed"],
                skip_closed_within=options["skip_closed_within"],
                at_least_working_days=options["at_least_working_days"],
            )
            calendar = Calendar(options["closed_weekdays"], options["closed_dates"])
            computed = last_day(options["starts"], period, calendar)
        except PeriodError as error:
            raise WrongUsage(str(error)) from error
        self.stdout.write(
            as_json(computed) if options["as_json"] else as_text(computed, period)
        )


def as_json(computed: Computed) -> str:
    """Write the answer as other programs read it; the form is steady."""
    steps = [
        {"date": step.date.isoformat() if step.date else None, "text": step.text}
        for step in computed.steps
    ]
    answer = {"last_day": computed.last_day.isoformat(), "steps": steps}
    return json.dumps(answer, ensure_ascii=False, indent=2)


def as_text(computed: Computed, period: Period) -> str:
    """Write the steps, the day, and whose decision it is, one to a line."""
    lines = [
        f"{step.date.isoformat() if step.date else '':10}  {step.text}"
        for step in computed.steps
    ]
    earliest = (period.counting, period.direction) == (
        Counting.CLEAR,
        Direction.FORWARD,
    )
    name = FIRST_DAY if earliest else LAST_DAY
    return "\n".join([*lines, f"{name}: {computed.last_day.isoformat()}", CAUTION])


def add_choice(
    parser: CommandParser, name: str, words: type[StrEnum], **options: Any
) -> None:
    """Add an option that takes one word of a rule's vocabulary."""

    def a_word(text: str) -> StrEnum:
        try:
            return words(text)
        except ValueError:
            raise ArgumentTypeError(
                f"{text!r} is not known: use one of {', '.join(words)}."
            ) from None

    metavar = "|".join(words)
    parser.add_argument(name, type=a_word, metavar=metavar, **options)


def a_date(text: str) -> date:
    # date.fromisoformat alone would also take 20260416 and 2026-W16-4.
    try:
        if re.fullmatch(r"[0-9]{4}-[0-9]{2}-[0-9]{2}", text):
            return date.fromisoformat(text)
    except ValueError:
        pass
    raise ArgumentTypeError(
        f"{text!r} is not a date: write year-month-day, for example 2026-04-16."
    )


def a_number(text: str) -> int:
    if not re.fullmatch(r"[0-9]{1,9}", text):
        raise ArgumentTypeError(
            f"{text!r} is not a whole number from 0 to 999999999 "
            "(to count towards the past use --direction backward)."
        )
    return int(text)


def some_weekdays(text: str) -> frozenset[int]:
    names = [name.strip().lower() for name in text.split(",")]
    for name in names:
        if name not in WEEKDAYS:
            raise ArgumentTypeError(
                f"{name!r} is not a weekday: use {', '.join(WEEKDAYS)}, "
                "separated by commas."
            )
    return frozenset(WEEKDAYS.index(name) for name in names)


def some_closures(text: str) -> tuple[Closure, ...]:
    closures = sorted(
        (a_closure(part.strip()) for part in text.split(",")),
        key=lambda closure: closure.first,
    )
    for before, after in pairwise(closures):
        if after.first <= before.last:
            raise ArgumentTypeError(
                f"{after.first} is given twice: {named(before)} and {named(after)} "
                "overlap; give each closed day once."
            )
    return tuple(closures)


def a_closure(text: str) -> Closure:
    first, dots, last = text.partition("..")
    try:
        return Closure(a_date(first), a_date(last if dots else first))
    except CalendarError as error:
        raise ArgumentTypeError(str(error)) from error


def named(closure: Closure) -> str:
    if closure.first == closure.last:
        return str(closure.first)
    return f"{closure.first}..{closure.last}"
