"""What the control units show: votes recorded, to be held against the slips."""

from collections import defaultdict
from dataclasses import dataclass
from datetime import datetime

from registry.models import Contest, UnitSet
from registry.queries.find import the
from registry.queries.scope import contests_of
from registry.rules.markings import plain_station
from registry.rules.numbers import plain_serial
from registry.rules.powers import Actor, Power
from registry.usecases._door import Mistaken, Refused, note_access, usecase
from registry.usecases._tables import Line, UnusableTable, read_table
from registry.usecases.stations import MOST_VOTES

COLUMNS = {
    "control_unit": (
        "control unit serial",
        "control unit number",
        "control unit no",
        "cu serial",
        "cu no",
        "cu",
    ),
    "votes": ("votes recorded", "total votes", "votes polled", "total"),
    "station_number": ("station no", "polling station number", "ps no", "station"),
}
REQUIRED = ("control_unit", "votes")
MOST_NAMED = 20


@dataclass(frozen=True)
class VotesTaken:
    """What was recorded: for how many control units, and how many were known."""

    recorded: int
    already: int


@usecase("votes.record", power=Power.KEEP, subject="contest")
def record_votes(
    *,
    contest: str,
    control_unit: str,
    votes: int,
    source: str,
    actor: Actor,
    at: datetime,
) -> str:
    """Record what a control unit shows, with the paper that says so.

    What was recorded before is replaced; its history keeps both.

    Args:
        control_unit: its serial, as printed, or the register number of its unit set.

    Returns:
        The number of the unit set.

    Raises:
        Mistaken: no such unit served in this contest, or no paper is named.
    """
    of = the(contests_of(actor), contest, "contest")
    _need_source(source)
    if not 0 <= votes <= MOST_VOTES:
        raise Mistaken(votes=_beyond(votes))
    rows = UnitSet.objects.select_for_update(of=("self",)).filter(station__contest=of)
    serial = plain_serial(control_unit)
    found = (
        rows.filter(control_unit_plain=serial).order_by("sequence").last()
        or rows.filter(number=control_unit.strip().upper()).first()
    )
    if found is None:
        raise Mistaken(
            control_unit=f"No control unit {control_unit.strip()} served in {of}: "
            "compare it with the unit."
        )
    _put(found, votes, source)
    note_access(of.number, unit_set=found.number, votes=votes)
    return found.number


@usecase("votes.record_list", power=Power.KEEP, subject="contest")
def record_votes_list(
    *,
    contest: str,
    content: bytes,
    file_name: str,
    source: str,
    actor: Actor,
    at: datetime,
) -> VotesTaken:
    """Record a list of votes by control unit: every line of it, or nothing.

    Raises:
        Mistaken: the file is no table, or no paper is named.
        Refused: a line cannot be taken; each is named, and nothing was recorded.
    """
    of = the(contests_of(actor), contest, "contest")
    note_access(of.number, file=file_name)
    _need_source(source)
    try:
        table = read_table(content, file_name, COLUMNS, REQUIRED)
    except UnusableTable as error:
        raise Mistaken(file=str(error)) from error
    sets = _sets(of)
    reasons: dict[int, list[str]] = defaultdict(list)
    first_at: dict[str, int] = {}
    for line in table.lines:
        _check(line, sets, first_at, reasons[line.number])
    refused = [(n, why) for n, why in reasons.items() if why]
    if refused or not table.lines:
        told = [f"Line {n}: {' '.join(why)}" for n, why in refused[:MOST_NAMED]]
        more = len(refused) - len(told)
        raise Refused(
            *(told or ["The list names no control unit."]),
            *([f"{more} more lines are refused."] if more else []),
            "Nothing was recorded. Mend the list and give it again.",
        )
    recorded = 0
    for line in table.lines:
        units, votes = sets[plain_serial(line["control_unit"])], int(line["votes"])
        if units.votes_recorded != votes:
            _put(units, votes, source)
            recorded += 1
    note_access(recorded=recorded)
    return VotesTaken(recorded, len(table.lines) - recorded)


def _sets(of: Contest) -> dict[str, UnitSet]:
    """The unit sets by control unit; the last one, where the unit was kept.

    What a control unit shows at the end covers all the sets in which it served.
    """
    rows = UnitSet.objects.select_for_update(of=("self",)).filter(station__contest=of)
    return {
        row.control_unit_plain: row
        for row in rows.select_related("station").order_by("station_id", "sequence")
    }


def _check(
    line: Line, sets: dict[str, UnitSet], first_at: dict[str, int], reasons: list[str]
) -> None:
    serial, votes = plain_serial(line["control_unit"]), line["votes"].strip()
    units = sets.get(serial)
    if not serial:
        reasons.append("It names no control unit.")
    elif units is None:
        reasons.append(f"No control unit {line['control_unit']} served here.")
    elif serial in first_at:
        reasons.append(
            f"The control unit {line['control_unit']} stands on line "
            f"{first_at[serial]} as well."
        )
    if serial:
        first_at.setdefault(serial, line.number)
    if not votes.isdecimal():
        reasons.append(f"The votes must be a whole number, not “{votes}”.")
    elif int(votes) > MOST_VOTES:
        reasons.append(_beyond(int(votes)))
    if units is None:
        return
    station = line["station_number"]
    if station and plain_station(station) != plain_station(
        units.station.station_number
    ):
        reasons.append(
            f"The control unit {line['control_unit']} served at station "
            f"{units.station}, not at {station}."
        )
    known = units.votes_recorded
    if known is not None and votes.isdecimal() and int(votes) != known:
        reasons.append(
            f"{known} votes are recorded for it already, from {units.votes_source}. "
            "If that is wrong, record it singly with the paper that corrects it."
        )


def _need_source(source: str) -> None:
    if not source.strip():
        raise Mistaken(
            source="Name the paper that the votes come from, such as the account of "
            "votes recorded."
        )


def _beyond(votes: int) -> str:
    return f"{votes} is not between 0 and {MOST_VOTES:,}: look at it again."


def _put(units: UnitSet, votes: int, source: str) -> None:
    units.votes_recorded = votes
    units.votes_source = source.strip()
    units.save()
