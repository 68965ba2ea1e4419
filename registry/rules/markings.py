"""Markings: what stands on a container against what must stand there.

The required markings are those the trade writes on a sealed container of election
papers (election, constituency, polling station, serials of both units, dates of
poll and of counting). Nothing here corrects a writing: it is recorded as it stands
and compared, and every difference is named.
"""

import re
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from enum import StrEnum

from registry.rules.numbers import plain_serial


class Marking(StrEnum):
    """One thing that is written on a container."""

    ELECTION = "election"
    CONSTITUENCY_NUMBER = "constituency-number"
    CONSTITUENCY_NAME = "constituency-name"
    STATION_NUMBER = "station-number"
    STATION_NAME = "station-name"
    CONTROL_UNIT = "control-unit"
    PAPER_TRAIL_UNIT = "paper-trail-unit"
    POLL_DATE = "poll-date"
    COUNTING_DATE = "counting-date"


TITLES = {
    Marking.ELECTION: "Election",
    Marking.CONSTITUENCY_NUMBER: "Constituency number",
    Marking.CONSTITUENCY_NAME: "Constituency name",
    Marking.STATION_NUMBER: "Polling station number",
    Marking.STATION_NAME: "Polling station name",
    Marking.CONTROL_UNIT: "Control unit serial",
    Marking.PAPER_TRAIL_UNIT: "Paper-trail unit serial",
    Marking.POLL_DATE: "Date of poll",
    Marking.COUNTING_DATE: "Date of counting",
}


class Verdict(StrEnum):
    """How a marking compares with what it must be."""

    AGREES = "agrees"
    MISSING = "missing"
    UNREADABLE = "unreadable"
    DIFFERS = "differs"
    NOT_KNOWN = "nothing to compare with"


@dataclass(frozen=True)
class Finding:
    """One marking, as written and as it must be."""

    marking: Marking
    written: str
    expected: str
    verdict: Verdict

    @property
    def title(self) -> str:
        """The marking's name in plain words."""
        return TITLES[self.marking]

    @property
    def is_open(self) -> bool:
        """Whether somebody has to look into it."""
        return self.verdict not in (Verdict.AGREES, Verdict.NOT_KNOWN)


_DATES = {Marking.POLL_DATE, Marking.COUNTING_DATE}
_SERIALS = {Marking.CONTROL_UNIT, Marking.PAPER_TRAIL_UNIT}
_STATION_NUMBERS = {Marking.STATION_NUMBER, Marking.CONSTITUENCY_NUMBER}
# Day first, as dates are written by hand on containers; ISO 8601 is unambiguous.
_DATE_FORMATS = (
    "%Y-%m-%d",
    "%d-%m-%Y",
    "%d/%m/%Y",
    "%d.%m.%Y",
    "%d %m %Y",
    "%d %B %Y",
    "%d %b %Y",
    "%d-%b-%Y",
    "%d-%m-%y",
    "%d/%m/%y",
    "%d.%m.%y",
)


def compare(
    written: Mapping[Marking, str],
    expected: Mapping[Marking, str],
    required: Collection[Marking],
    unreadable: Collection[Marking] = (),
) -> tuple[Finding, ...]:
    """Compare a container's markings with the election's master data, one by one.

    Args:
        written: what stands on the container, as it is written.
        expected: what must stand there; a marking that is not in it cannot be
            compared, but is still missed when it is required and absent.
        required: the markings that the schedule asks for on this container.
        unreadable: markings that are there but cannot be read.

    Returns:
        A finding for each required marking and each that was written, in the order
        in which containers are read.
    """
    return tuple(
        _compare_one(
            marking,
            written.get(marking, "").strip(),
            expected.get(marking, ""),
            marking in unreadable,
        )
        for marking in Marking
        if marking in required or written.get(marking) or marking in unreadable
    )


def _compare_one(
    marking: Marking, written: str, expected: str, is_unreadable: bool
) -> Finding:
    if is_unreadable:
        verdict = Verdict.UNREADABLE
    elif not written:
        verdict = Verdict.MISSING
    elif not expected:
        verdict = Verdict.NOT_KNOWN
    else:
        same = same_marking(marking, written, expected)
        verdict = Verdict.AGREES if same else Verdict.DIFFERS
    return Finding(marking, written, expected, verdict)


def same_marking(marking: Marking, one: str, other: str) -> bool:
    """Tell whether two writings of a marking say the same thing."""
    if marking in _DATES:
        return read_date(one) is not None and read_date(one) == read_date(other)
    if marking in _SERIALS:
        return plain_serial(one) == plain_serial(other)
    if marking is Marking.STATION_NUMBER and _is_list(one + other):
        return station_set(one) == station_set(other)
    if marking in _STATION_NUMBERS:
        return plain_station(one) == plain_station(other)
    return plain_name(one) == plain_name(other)


def read_date(text: str) -> date | None:
    """Return the date a person wrote, day before month, or None if it is none."""
    tidy = re.sub(r"\s+", " ", text.strip())
    for shape in _DATE_FORMATS:
        try:
            return datetime.strptime(tidy, shape).date()  # noqa: DTZ007 - a date only
        except ValueError:
            continue
    return None


def plain_station(text: str) -> str:
    """Return a station or constituency number as it is compared: ``007a`` is ``7A``.

    Auxiliary suffixes stay; leading zeros are a habit of writing, not a difference.
    """
    return re.sub(r"[\s\-]+", "", text.upper()).lstrip("0")


def plain_name(text: str) -> str:
    """Return a name as it is compared: case, spacing and full stops do not differ."""
    return re.sub(r"[\s.,]+", " ", text.casefold()).strip()


def _is_list(text: str) -> bool:
    return bool(re.search(r"[,;]|\bto\b|\d\s*[–-]\s*\d", text))


def station_set(text: str) -> frozenset[str]:
    """Return the stations that a box's label names: ``1-3, 7A`` is 1, 2, 3, 7A.

    Only plain numbers make a range; a longer range than 2,000 is taken as written.
    """
    stations: set[str] = set()
    for part in re.split(r"[,;]+", text):
        ends = re.fullmatch(r"\s*(\d+)\s*(?:[–-]|to)\s*(\d+)\s*", part)
        if ends and 0 <= int(ends[2]) - int(ends[1]) <= 2000:
            stations.update(str(n) for n in range(int(ends[1]), int(ends[2]) + 1))
        elif part.strip():
            stations.add(plain_station(part))
    return frozenset(stations)


def names_more(written: str, held: Collection[str]) -> bool:
    """Tell whether a label names stations beyond those whose envelopes are on record.

    What lies in such a box is not known, whatever was resolved about its label.

    Args:
        written: the stations as written on the box.
        held: plain numbers of the stations of the envelopes on record.
    """
    return bool(station_set(written) - set(held)) if written.strip() else False
