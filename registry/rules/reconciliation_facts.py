"""What is held against what: a contest's stations, its envelopes and boxes."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from enum import StrEnum

from registry.rules.arrivals import DiscrepancyKind
from registry.rules.contents import ContentKind
from registry.rules.markings import Marking

# One envelope of each is expected from each unit set.
OF_EACH_UNIT_SET = (ContentKind.POLL_SLIPS, ContentKind.MOCK_POLL_SLIPS)
CONTENT_NAMES = {
    ContentKind.POLL_SLIPS: "poll slips",
    ContentKind.MOCK_POLL_SLIPS: "mock-poll slips",
    ContentKind.STATUTORY_PACKET: "statutory packet",
}


class Standing(StrEnum):
    """Where a container stands in its life."""

    HELD = "held"
    QUARANTINED = "quarantined"
    SUPERSEDED = "superseded"
    DISPOSED = "disposed"


class Place(StrEnum):
    """Where a container is, as the register knows it."""

    INTAKE = "intake"
    SHELVED = "shelved"
    IN_BOX = "in-box"
    OUT = "out"
    KEPT = "kept"
    ON_WAY = "on-way"
    REPLACED = "replaced"
    MISSING = "missing"
    GONE = "gone"


ELSEWHERE = frozenset({Place.OUT, Place.KEPT, Place.ON_WAY})


@dataclass(frozen=True)
class Units:
    """A control unit and a paper-trail unit used together at a station.

    Attributes:
        ref: the unit set's register number.
        control_unit, paper_trail_unit: their serials, as printed.
        votes: what the control unit shows; None where it was not read.
        control_unit_kept: it served in the set before as well.
    """

    ref: str
    control_unit: str
    paper_trail_unit: str
    votes: int | None = None
    control_unit_kept: bool = False

    @property
    def title(self) -> str:
        """Both serials as they are spoken of."""
        return f"{self.control_unit} with {self.paper_trail_unit}"

    def serial(self, marking: Marking) -> str:
        """The serial that this marking writes, as printed."""
        if marking is Marking.CONTROL_UNIT:
            return self.control_unit
        return self.paper_trail_unit


@dataclass(frozen=True)
class Station:
    """A polling station; ``polled_on``: only where it differs from the contest's."""

    ref: str
    station_number: str
    name: str
    units: tuple[Units, ...] = ()
    polled_on: date | None = None

    @property
    def title(self) -> str:
        """The station as it is spoken of."""
        return f"station {self.station_number} {self.name}".rstrip()


@dataclass(frozen=True)
class Seen:
    """The last time somebody looked for a container.

    Attributes:
        found: False: it was looked for in vain.
        where: the place in words.
        as_registered: whether that is where the register says it is.
        on_round: seen on its place; False: as it came in, at the intake table.
    """

    at: datetime
    found: bool = True
    where: str = ""
    as_registered: bool = True
    on_round: bool = True


@dataclass(frozen=True)
class Container:
    """What envelopes and boxes share.

    Attributes:
        number: its register number.
        called: how it is named to whoever asks, who may not see its number.
        where: words on where it is, for what is out or gone.
        not_found_at: when it was last reported missing.
    """

    number: str
    kind: ContentKind
    standing: Standing = Standing.HELD
    place: Place = Place.INTAKE
    called: str = ""
    where: str = ""
    seen: Seen | None = None
    not_found_at: datetime | None = None

    @property
    def name(self) -> str:
        """How it is named in a sentence."""
        return self.called or self.number

    @property
    def is_live(self) -> bool:
        """Whether it is there to be held against something."""
        return self.standing in (Standing.HELD, Standing.QUARANTINED)


@dataclass(frozen=True)
class Envelope(Container):
    """An envelope; ``unit_set``, ``station``: what it stands for on the register."""

    unit_set: str = ""
    station: str = ""
    box: str = ""
    superseded_by: str = ""
    written: Mapping[Marking, str] = field(default_factory=dict)
    unreadable: frozenset[Marking] = frozenset()
    slips: int | None = None
    uncut: int | None = None


@dataclass(frozen=True)
class Box(Container):
    """A box; ``contest`` is that of its label, in words and as a register number."""

    contest: str = ""
    contest_title: str = ""
    is_closed: bool = False
    shelf: str = ""


@dataclass(frozen=True)
class DiscrepancyFacts:
    """A discrepancy of the contest, open or resolved.

    Attributes:
        about: register number of the container, or ``expected(…)`` of what is missing.
    """

    number: str
    kind: DiscrepancyKind
    about: str
    opened_at: datetime
    marking: str = ""
    written: str = ""
    expected: str = ""
    resolved_at: datetime | None = None
    resolution: str = ""
    owner: str = ""
    due_on: date | None = None


def expected(ref: str, kind: ContentKind) -> str:
    """Name what must exist: the envelope of this content of a unit set or station."""
    return f"{ref} {kind.value}"


@dataclass(frozen=True)
class ContestFacts:
    """A contest: what must exist, and what is on the register.

    Attributes:
        packets_per_station: as the schedule says; None: nobody can say beforehand.
        found_strange: what was found and is on no register: number of the
            discrepancy, and what was written on it.
    """

    number: str
    stations: tuple[Station, ...]
    envelopes: tuple[Envelope, ...]
    boxes: tuple[Box, ...] = ()
    discrepancies: tuple[DiscrepancyFacts, ...] = ()
    polled_on: date | None = None
    counted_on: date | None = None
    packets_per_station: int | None = None
    found_strange: tuple[tuple[str, str], ...] = ()

    def units(self) -> Iterator[tuple[Station, Units]]:
        """Yield each unit set with its station."""
        for station in self.stations:
            for units in station.units:
                yield station, units
