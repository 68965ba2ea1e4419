"""Public holidays of a country or region, as the `holidays` library publishes them.

The library is no authority: what it gives is a proposal, and its movable feasts are
estimates. So its days are entered without a notification unless a person names the
paper, and say in their reason where they come from.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from importlib.metadata import version

import holidays

from registry.rules.calendars import ClosureKind
from registry.usecases._calendar_changes import DaysEntered, problems_of_days
from registry.usecases._door import Mistaken
from registry.usecases._holiday_files import ReadDays

LIBRARY = f"holidays library {version('holidays')}"
TO_BE_CONFIRMED = f"{LIBRARY}, to be confirmed"
MOST_YEARS = 20
LANGUAGES = ("en_GB", "en_US")
ESTIMATES = (
    f"These days are a proposal of the {LIBRARY}. Movable feasts among them are "
    "estimates, and a court may sit on a public holiday: a person confirms each day "
    "against the court's own list."
)


@dataclass(frozen=True)
class PublishedHolidays:
    """The public holidays of a country or region in certain years.

    Attributes:
        country: its ISO 3166-1 code, such as IE.
        subdivision: the code of a part that has days of its own; empty for none.
        notification: the paper by which a person confirms the days; empty for none.
    """

    country: str
    years: tuple[int, ...]
    subdivision: str = ""
    notification: str = ""

    @property
    def place(self) -> str:
        """The country's code, with that of its part."""
        codes = (self.country.strip().upper(), self.subdivision.strip().upper())
        return "-".join(code for code in codes if code)

    @property
    def title(self) -> str:
        """What was read, for the register of looks."""
        return f"{LIBRARY}: {self.place} {', '.join(map(str, self.years))}"


def years_named(text: str) -> tuple[int, ...]:
    """Read years written as 2026,2027; in order, each once.

    Raises:
        ValueError: it is no list of years; the message says what to do.
    """
    words = text.replace(",", " ").split()
    years = {int(word) for word in words if word.isascii() and word.isdigit()}
    if not words or not all(word.isascii() and word.isdigit() for word in words):
        raise ValueError("Write years as 2026, or several as 2026,2027.")
    if len(years) > MOST_YEARS:
        raise ValueError(f"Name at most {MOST_YEARS} years at a time.")
    return tuple(sorted(years))


def published_days(source: PublishedHolidays) -> list[ReadDays]:
    """Return the days that the library names, one entry for each.

    Raises:
        Mistaken: the library knows no such country, part or year.
    """
    place = _place(source)
    found: list[ReadDays] = []
    for year in source.years:
        days = list(_days(place, year))
        if not days:
            raise Mistaken(
                years=f"The {LIBRARY} names no public holiday of {source.place} in "
                f"{year}; it knows {place.start_year} to {place.end_year} at most. "
                "Name another year, or import the court's own list."
            )
        found += [_read(day, name, source.notification) for day, name in days]
    return found


def notes_on(source: PublishedHolidays) -> tuple[str, ...]:
    """Return what a person must know before these days are entered."""
    parts = _place(source).subdivisions
    if parts and not source.subdivision.strip():
        return (
            ESTIMATES,
            f"Parts of {source.place} have days of their own, which are not here "
            f"unless you name the part: {', '.join(parts)}.",
        )
    return (ESTIMATES,)


def _place(source: PublishedHolidays) -> holidays.HolidayBase:
    country = source.country.strip().upper()
    # Asked first, since the library would take the name of anything in it for a place.
    if country not in holidays.list_supported_countries():
        raise Mistaken(
            country=f"The {LIBRARY} knows no country or region “{source.country}”: "
            "write its ISO 3166 code, such as IE, or import the court's own list."
        )
    parts = holidays.country_holidays(country).subdivisions
    subdivision = source.subdivision.strip().upper()
    if subdivision and subdivision not in parts:
        known = f"use one of {', '.join(parts)}" if parts else "leave it empty"
        raise Mistaken(
            subdivision=f"The {LIBRARY} knows no part “{source.subdivision}” of "
            f"{country}: {known}."
        )
    return _holidays_of(country, subdivision or None)


def _holidays_of(
    country: str, subdivision: str | None, years: Sequence[int] = ()
) -> holidays.HolidayBase:
    known = holidays.country_holidays(country)
    # Left open, the language would be that of the machine.
    languages = (one for one in LANGUAGES if one in known.supported_languages)
    return holidays.country_holidays(
        country,
        subdiv=subdivision,
        years=years,
        expand=False,
        language=next(languages, known.default_language),
    )


def _days(place: holidays.HolidayBase, year: int) -> Iterator[tuple[date, str]]:
    of_year = _holidays_of(place.country, place.subdiv, [year])
    # A day in lieu may lie in the next year, and belongs there.
    yield from sorted((day, name) for day, name in of_year.items() if day.year == year)


def _read(day: date, name: str, notification: str) -> ReadDays:
    confirmed = bool(notification.strip())
    entry = DaysEntered(
        first_day=day,
        last_day=day,
        reason=name if confirmed else f"{name} ({TO_BE_CONFIRMED})",
        notification=notification,
        kind=ClosureKind.HOLIDAY.value,
    )
    problems = tuple(problems_of_days(entry).values())
    where = f"“{name}” of {day:%Y-%m-%d}"
    return ReadDays(where, None if problems else entry, problems)
