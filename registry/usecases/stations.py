"""Polling stations and their unit sets, from the lists that offices send."""

from collections import Counter, defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime

from registry.models import Contest, Election, PollingStation, UnitSet
from registry.queries.find import NotThere
from registry.queries.finding import election_named
from registry.queries.scope import elections_of
from registry.rules.markings import plain_name, plain_station, read_date
from registry.rules.numbers import plain_serial
from registry.rules.powers import Actor, Power
from registry.usecases._door import Mistaken, Refused, note_access, usecase
from registry.usecases._records import enter_many
from registry.usecases._tables import Line, UnusableTable, read_table

COLUMNS = {
    "constituency_number": (
        "constituency no",
        "constituency",
        "const no",
        "contest number",
        "ac no",
        "seat number",
    ),
    "constituency_name": ("name of constituency", "contest name", "seat name"),
    "station_number": (
        "station no",
        "polling station number",
        "polling station no",
        "ps no",
        "ps number",
        "station",
    ),
    "station_name": ("name", "polling station name", "polling station", "ps name"),
    "place": ("location", "address", "building"),
    "control_unit": (
        "control unit serial",
        "control unit number",
        "control unit no",
        "cu serial",
        "cu no",
        "cu",
    ),
    "paper_trail_unit": (
        "paper trail unit serial",
        "paper trail serial",
        "paper trail unit number",
        "paper trail",
        "printer serial",
        "printer",
    ),
    "replaced": ("unit replaced", "replacement"),
    "note": ("remarks", "replacement note"),
    "poll_date": ("polled on", "date of poll"),
    # What the control unit shows, where the list says it: held against the slips.
    "votes": ("votes recorded", "total votes", "votes polled"),
}
REQUIRED = ("station_number", "control_unit", "paper_trail_unit")
# No polling station comes near this: more is a slip of the hand.
MOST_VOTES = 20_000
_YES = {"yes", "y", "true", "1", "x", "replaced"}
_NO = {"", "no", "n", "false", "0", "-"}


@dataclass(frozen=True)
class RefusedLine:
    """A line of a file that cannot be taken, and why."""

    number: int
    reasons: tuple[str, ...]
    cells: dict[str, str]


@dataclass(frozen=True)
class StationsRead:
    """What a station list holds, and what is wrong with it."""

    stations: int
    unit_sets: int
    refused: tuple[RefusedLine, ...]
    read_as: str
    unknown_columns: tuple[str, ...]
    preview: tuple[dict[str, str], ...]

    @property
    def is_clean(self) -> bool:
        """Whether the list can be taken."""
        return not self.refused and bool(self.stations)


@usecase("stations.check_list", power=Power.SET_UP, subject="election")
def check_stations(
    *, election: str, content: bytes, file_name: str, actor: Actor, at: datetime
) -> StationsRead:
    """Say what a station list would bring, without taking it."""
    of = _election(election, actor)
    read, _ = _read(of, content, file_name)
    note_access(of.number, file=file_name, refused=len(read.refused))
    return read


@usecase("stations.load_list", power=Power.SET_UP, subject="election")
def load_stations(
    *, election: str, content: bytes, file_name: str, actor: Actor, at: datetime
) -> StationsRead:
    """Take a station list: every line of it, or nothing.

    Raises:
        Refused: a line cannot be taken; nothing was entered.
        Mistaken: the file is no readable table.
    """
    of = _election(election, actor)
    note_access(of.number)
    read, stations = _read(of, content, file_name)
    if not read.is_clean:
        shown = [
            f"Line {line.number}: {' '.join(line.reasons)}"
            for line in read.refused[:20]
        ]
        more = len(read.refused) - len(shown)
        raise Refused(
            *(shown or ["The list names no station."]),
            *([f"{more} more lines are refused."] if more > 0 else []),
            "Nothing was entered. Mend the list and load it again.",
        )
    entered = enter_many([station for station, _ in stations])
    sets = []
    for station, (_, units) in zip(entered, stations, strict=True):
        for one in units:
            one.station = station
            sets.append(one)
    enter_many(sets)
    note_access(file=file_name, stations=read.stations, unit_sets=read.unit_sets)
    return read


_Planned = list[tuple[PollingStation, list[UnitSet]]]


def _election(named: str, actor: Actor) -> Election:
    """Return the election of this code or register number."""
    found = election_named(elections_of(actor), named)
    if found is None:
        raise NotThere(f"There is no election {named.strip()} that you may see.")
    return found


def _read(
    election: Election, content: bytes, file_name: str
) -> tuple[StationsRead, _Planned]:
    try:
        table = read_table(content, file_name, COLUMNS, REQUIRED)
    except UnusableTable as error:
        raise Mistaken(file=str(error)) from error
    contests = list(election.contests.all())
    reasons: dict[int, list[str]] = defaultdict(list)
    by_station: dict[tuple[int, str], list[Line]] = defaultdict(list)
    of_contest: dict[int, Contest] = {c.pk: c for c in contests}
    for line in table.lines:
        contest = _contest_of(line, contests, reasons[line.number])
        _check_line(line, reasons[line.number])
        if contest:
            key = (contest.pk, plain_station(line["station_number"]))
            by_station[key].append(line)
    _check_serials(election, by_station, reasons)
    _check_known(election, by_station, reasons)
    refused = tuple(
        RefusedLine(line.number, tuple(reasons[line.number]), dict(line.cells))
        for line in table.lines
        if reasons[line.number]
    )
    planned = [] if refused else _plan(election, of_contest, by_station)
    good = {key for key, lines in by_station.items() if key[1]}
    read = StationsRead(
        stations=len(good),
        unit_sets=sum(len(by_station[key]) for key in good),
        refused=refused,
        read_as=table.read_as,
        unknown_columns=table.unknown_columns,
        preview=tuple(dict(line.cells) for line in table.lines[:5]),
    )
    return read, planned


def _contest_of(
    line: Line, contests: Sequence[Contest], reasons: list[str]
) -> Contest | None:
    if "" in line.cells:
        reasons.append("It has more cells than the first line has columns.")
        return None
    number, name = line["constituency_number"], line["constituency_name"]
    if not number and not name:
        if len(contests) == 1:
            return contests[0]
        reasons.append("It names no constituency.")
        return None
    for contest in contests:
        same_number = plain_station(number) == plain_station(
            contest.constituency_number
        )
        same_name = plain_name(name) == plain_name(contest.constituency_name)
        if number and same_number:
            if name and not same_name:
                reasons.append(
                    f"Constituency {number} is {contest.constituency_name} in this "
                    f"election, not {name}."
                )
            return contest
        if not number and same_name:
            return contest
    reasons.append(f"This election has no constituency {number or name}.")
    return None


def _check_line(line: Line, reasons: list[str]) -> None:
    if "" in line.cells:
        return
    if not plain_station(line["station_number"]):
        reasons.append("It has no station number.")
    for column, title in (
        ("control_unit", "control unit"),
        ("paper_trail_unit", "paper-trail unit"),
    ):
        serial = line[column]
        if not plain_serial(serial):
            reasons.append(f"The serial of the {title} is missing.")
        elif "E+" in serial.upper() and "." in serial:
            reasons.append(
                f"The serial {serial} was mangled by a spreadsheet; format the column "
                "as text and enter it again."
            )
        elif len(serial) > 60:
            reasons.append(f"The serial of the {title} is longer than 60 characters.")
    if line["replaced"].casefold() not in _YES | _NO:
        reasons.append(f"“Replaced” must be yes or no, not {line['replaced']}.")
    reasons.extend(_votes_amiss(line["votes"]))
    if line["poll_date"] and read_date(line["poll_date"]) is None:
        reasons.append(f"The date of poll {line['poll_date']} cannot be read.")


def _votes_amiss(votes: str) -> Iterator[str]:
    if votes and not votes.isdecimal():
        yield f"The votes must be a whole number, not “{votes}”."
    elif votes and int(votes) > MOST_VOTES:
        yield f"{votes} votes at one station cannot be right."


_UNITS = (
    ("control_unit", "control unit", "control_unit_plain"),
    ("paper_trail_unit", "paper-trail unit", "paper_trail_plain"),
)


def _check_serials(
    election: Election,
    by_station: dict[tuple[int, str], list[Line]],
    reasons: dict[int, list[str]],
) -> None:
    """Name serials that stand at two stations, or twice as a pair at one."""
    known_sets = list(
        UnitSet.objects.filter(election=election).select_related("station")
    )
    for column, title, known_field in _UNITS:
        known = {getattr(units, known_field): units for units in known_sets}
        stations_of: dict[str, set[tuple[int, str]]] = defaultdict(set)
        for key, line in _each_line(by_station):
            stations_of[plain_serial(line[column])].add(key)
        for _, line in _each_line(by_station):
            serial = plain_serial(line[column])
            if serial and len(stations_of[serial]) > 1:
                others = sorted({number for _, number in stations_of[serial]})
                reasons[line.number].append(
                    f"The {title} {line[column]} stands at stations "
                    f"{', '.join(others)}."
                )
            if serial in known:
                reasons[line.number].append(
                    f"The {title} {line[column]} is already entered, at station "
                    f"{known[serial].station}."
                )
    _check_pairs(by_station, reasons)


def _each_line(
    by_station: dict[tuple[int, str], list[Line]],
) -> Iterator[tuple[tuple[int, str], Line]]:
    for key, lines in by_station.items():
        for line in lines:
            yield key, line


def _check_pairs(
    by_station: dict[tuple[int, str], list[Line]], reasons: dict[int, list[str]]
) -> None:
    for lines in by_station.values():
        pairs = Counter(_pair(line) for line in lines)
        for line in lines:
            if pairs[_pair(line)] > 1:
                reasons[line.number].append("The same pair of units stands here twice.")


def _pair(line: Line) -> tuple[str, str]:
    return plain_serial(line["control_unit"]), plain_serial(line["paper_trail_unit"])


def _check_known(
    election: Election,
    by_station: dict[tuple[int, str], list[Line]],
    reasons: dict[int, list[str]],
) -> None:
    known = {
        (station.contest_id, plain_station(station.station_number))
        for station in PollingStation.objects.filter(contest__election=election)
    }
    for key, lines in by_station.items():
        if key in known:
            for line in lines:
                reasons[line.number].append(
                    f"Station {line['station_number']} is already entered."
                )
        names = {plain_name(line["station_name"]) for line in lines} - {""}
        if len(names) > 1:
            for line in lines:
                reasons[line.number].append(
                    f"Station {line['station_number']} bears two names in this list."
                )


def _plan(
    election: Election,
    contests: dict[int, Contest],
    by_station: dict[tuple[int, str], list[Line]],
) -> _Planned:
    planned: _Planned = []
    for (contest_id, _), lines in by_station.items():
        first = lines[0]
        station = PollingStation(
            contest=contests[contest_id],
            station_number=first["station_number"],
            name=next((x["station_name"] for x in lines if x["station_name"]), "")
            or first["station_number"],
            place=next((x["place"] for x in lines if x["place"]), ""),
            polled_on=read_date(first["poll_date"]),
        )
        planned.append((station, _unit_sets(election, lines)))
    return planned


def _unit_sets(election: Election, lines: Sequence[Line]) -> list[UnitSet]:
    seen_control: set[str] = set()
    seen_paper: set[str] = set()
    sets = []
    for sequence, line in enumerate(lines, start=1):
        control = plain_serial(line["control_unit"])
        paper = plain_serial(line["paper_trail_unit"])
        sets.append(
            UnitSet(
                election=election,
                sequence=sequence,
                control_unit_serial=line["control_unit"],
                paper_trail_serial=line["paper_trail_unit"],
                control_unit_plain=control,
                paper_trail_plain=paper,
                control_unit_kept=control in seen_control,
                paper_trail_kept=paper in seen_paper,
                replaced=line["replaced"].casefold() in _YES,
                replacement_note=line["note"],
                votes_recorded=int(line["votes"]) if line["votes"] else None,
                votes_source="the list of stations" if line["votes"] else "",
            )
        )
        seen_control.add(control)
        seen_paper.add(paper)
    return sets
