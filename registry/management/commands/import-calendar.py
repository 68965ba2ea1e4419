"""Take a list of holidays into a court's calendar, from a file or a library."""

import getpass
import json
from collections.abc import Iterator
from datetime import date
from pathlib import Path
from typing import Any

from django.core.management.base import CommandParser

from registry.management.base import Refused, RegistryCommand, WrongUsage
from registry.management.commands.deadline import a_date
from registry.rules.calendars import ClosureKind
from registry.rules.powers import Role
from registry.usecases import Mistaken, NotThere
from registry.usecases import Refused as RefusedByTheRegister
from registry.usecases.holiday_lists import (
    Defaults,
    HolidayFile,
    HolidaySource,
    HolidaysRead,
    PublishedHolidays,
    check_holidays,
    import_holidays,
    years_named,
)
from registry.usecases.people import terminal

AID = "Computed dates are an aid: the statute, the court and counsel decide."


class Command(RegistryCommand):
    help = (
        "Show what a list of holidays would bring into a court's calendar and what it "
        "would move; with --for-real, take it: every entry of it, or nothing. Reads "
        "iCalendar (.ics), CSV and XLSX with the columns first_day, last_day, reason, "
        "kind, effect, notification; or, with --from-library and --years, takes the "
        "public holidays of a country from the holidays library, for a person to "
        "confirm. Exit 1 where an entry is refused."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("file", type=Path, metavar="FILE", nargs="?")
        parser.add_argument(
            "--from-library",
            metavar="CODE",
            help="public holidays of this country or region, by its ISO 3166 code",
        )
        parser.add_argument(
            "--subdivision",
            default="",
            metavar="CODE",
            help="with --from-library: a part of the country with days of its own",
        )
        parser.add_argument(
            "--years",
            default="",
            metavar="YEARS",
            help="with --from-library: the years, such as 2026,2027",
        )
        parser.add_argument(
            "--calendar",
            required=True,
            metavar="CC-NUMBER",
            help="the calendar's register number, or its name",
        )
        parser.add_argument(
            "--notification",
            default="",
            metavar="PAPER",
            help="the paper in which the list is published; with --from-library the "
            "paper by which the days are confirmed",
        )
        parser.add_argument(
            "--kind",
            choices=[kind.value for kind in ClosureKind],
            help="what the days are where the file does not say (default: holiday)",
        )
        parser.add_argument(
            "--through",
            type=a_date,
            metavar="DATE",
            help="follow repeated entries of a feed through this day, YYYY-MM-DD",
        )
        parser.add_argument(
            "--for-real", action="store_true", help="take it; without, nothing is taken"
        )
        parser.add_argument(
            "--accept-earlier",
            action="store_true",
            help="say that what would end earlier than before shall",
        )
        parser.add_argument("--json", action="store_true")

    def handle(self, *args: Any, **options: Any) -> None:
        who: dict[str, Any] = {
            "actor": terminal(Role.ADMINISTRATOR, account=getpass.getuser()),
            "at": self.at,
        }
        try:
            source = _source(options)
            read = check_holidays(calendar=options["calendar"], source=source, **who)
            taken = options["for_real"] and read.is_clean
            if taken:
                read = import_holidays(
                    calendar=options["calendar"],
                    source=source,
                    earlier_accepted=options["accept_earlier"],
                    **who,
                )
        except OSError as error:
            raise WrongUsage(f"{error.filename}: {error.strerror}.") from error
        except NotThere as error:
            raise WrongUsage(str(error)) from error
        except Mistaken as error:
            if "earlier_accepted" in error.errors:
                raise Refused(f"{error} Add --accept-earlier if it is.") from error
            raise WrongUsage(str(error)) from error
        except RefusedByTheRegister as error:
            raise Refused(str(error)) from error
        self._tell(read, taken=taken, as_json=options["json"])

    def _tell(self, read: HolidaysRead, *, taken: bool, as_json: bool) -> None:
        if as_json:
            told = json.dumps(_as_json(read, taken), ensure_ascii=False, indent=2)
            self.stdout.write(told)
        else:
            for line in _as_text(read, taken):
                self.stdout.write(line)
        if read.refused:
            first = read.refused[0]
            raise Refused(
                f"nothing taken, refused {len(read.refused)}; the first is "
                f"{first.where}: {' '.join(first.problems)}"
            )


def _source(options: dict[str, Any]) -> HolidaySource:
    """Return what is to be read.

    Raises:
        OSError: the file cannot be read.
        WrongUsage: neither or both sources are named, or options of the other one.
    """
    if options["from_library"] is None:
        return _file(options)
    for name in ("file", "kind", "through"):
        if options[name]:
            raise WrongUsage(f"--from-library goes without {_spelt(name)}.")
    try:
        years = years_named(options["years"])
    except ValueError as error:
        raise WrongUsage(f"--years: {error}") from error
    return PublishedHolidays(
        options["from_library"], years, options["subdivision"], options["notification"]
    )


def _file(options: dict[str, Any]) -> HolidayFile:
    path: Path | None = options["file"]
    if path is None:
        raise WrongUsage("Name a FILE, or a country with --from-library and --years.")
    for name in ("years", "subdivision"):
        if options[name]:
            raise WrongUsage(f"{_spelt(name)} goes with --from-library, not a FILE.")
    kind = options["kind"] or ClosureKind.HOLIDAY.value
    defaults = Defaults(options["notification"], kind, options["through"])
    return HolidayFile(path.read_bytes(), path.name, defaults)


def _spelt(name: str) -> str:
    return "FILE" if name == "file" else f"--{name}"


def _as_text(read: HolidaysRead, taken: bool) -> Iterator[str]:
    word = "taken" if taken else "would be taken"
    yield f"{read.calendar}  {read.calendar_name}"
    yield f"{word}: {len(read.entries)}, in the calendar already: {read.known}"
    yield from read.notes
    for entry in read.entries:
        yield f"  {entry.first_day} to {entry.last_day}  {entry.reason} ({entry.kind})"
    for one in read.refused:
        yield f"refused: {one.where}: {' '.join(one.problems)}"
    if read.effects is None:
        return
    effects = read.effects
    yield (
        f"containers: later {effects.later}, earlier {effects.earlier}, unchanged "
        f"{effects.unchanged}"
    )
    for row in effects.moved:
        for end in row.moved:
            yield (
                f"  {row.contest}, {row.content.lower()}: {end.title}: "
                f"{_day(end.before)} -> {_day(end.after)}"
            )
        yield (
            f"  {row.contest}, {row.content.lower()}, {row.containers}: disposal from "
            f"{_day(row.before)} -> {_day(row.after)}"
        )
    yield AID


def _as_json(read: HolidaysRead, taken: bool) -> dict[str, Any]:
    effects = read.effects
    return {
        "calendar": read.calendar,
        "taken": taken,
        "entries": [
            {
                "first_day": entry.first_day.isoformat(),
                "last_day": entry.last_day.isoformat(),
                "reason": entry.reason,
                "kind": str(entry.kind),
                "effect": str(entry.effect),
                "notification": entry.notification,
            }
            for entry in read.entries
        ],
        "known": read.known,
        "notes": list(read.notes),
        "refused": [
            {"where": one.where, "problems": list(one.problems)} for one in read.refused
        ],
        "later": effects.later if effects else 0,
        "earlier": effects.earlier if effects else 0,
        "unchanged": effects.unchanged if effects else 0,
        "moved": [
            {
                "contest": row.contest_number,
                "content": row.content,
                "containers": row.containers,
                "effect": row.effect.value,
                "before": _iso(row.before),
                "after": _iso(row.after),
                "ends": [
                    {
                        "title": end.title,
                        "before": _iso(end.before),
                        "after": _iso(end.after),
                    }
                    for end in row.moved
                ],
            }
            for row in (effects.moved if effects else ())
        ],
        "note": AID,
    }


def _iso(day: date | None) -> str | None:
    return day.isoformat() if day else None


def _day(day: date | None) -> str:
    return day.isoformat() if day else "no end"
