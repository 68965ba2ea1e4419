"""Which unit set each envelope of slips speaks of, by what is written on it."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass

from registry.rules.markings import Marking, plain_station
from registry.rules.numbers import plain_serial
from registry.rules.reconciliation_facts import ContestFacts, Envelope, Station, Units

SERIALS = (Marking.CONTROL_UNIT, Marking.PAPER_TRAIL_UNIT)
SERIAL_NAMES = {
    Marking.CONTROL_UNIT: "control-unit serial",
    Marking.PAPER_TRAIL_UNIT: "paper-trail serial",
}


@dataclass(frozen=True)
class Spoken:
    """An envelope, and what each writing on it points to.

    Attributes:
        station: the station whose number is written on it; empty where none fits.
        control, paper: the plain serials written on it; read once, used often.
        by_control, by_paper: unit sets that have these serials.
    """

    envelope: Envelope
    station: str
    control: str
    paper: str
    by_control: tuple[str, ...]
    by_paper: tuple[str, ...]

    def serial(self, marking: Marking) -> str:
        """The plain serial that is written as this marking."""
        return self.control if marking is Marking.CONTROL_UNIT else self.paper

    def sets(self, marking: Marking) -> tuple[str, ...]:
        """The unit sets that have the serial of this marking."""
        return self.by_control if marking is Marking.CONTROL_UNIT else self.by_paper


class UnitIndex:
    """The unit sets of a contest by serial, and its stations by number."""

    def __init__(self, facts: ContestFacts) -> None:
        self.units: dict[str, Units] = {}
        self.station_of: dict[str, Station] = {}
        self.stations: dict[str, Station] = {}
        self._by_number: dict[str, str] = {}
        self._by_serial: dict[Marking, dict[str, list[str]]] = {
            marking: defaultdict(list) for marking in SERIALS
        }
        for station in facts.stations:
            self.stations[station.ref] = station
            self._by_number[plain_station(station.station_number)] = station.ref
        for station, units in facts.units():
            self.units[units.ref] = units
            self.station_of[units.ref] = station
            for marking in SERIALS:
                serial = plain_serial(units.serial(marking))
                self._by_serial[marking][serial].append(units.ref)

    def bearers(self, marking: Marking, serial: str) -> tuple[str, ...]:
        """Return the unit sets that have this plain serial; two where it was kept."""
        return tuple(self._by_serial[marking].get(serial, ())) if serial else ()

    def station_written(self, envelope: Envelope) -> str:
        """Return the station whose number is written on it, if there is one."""
        written = envelope.written.get(Marking.STATION_NUMBER, "")
        return self._by_number.get(plain_station(written), "") if written else ""

    def read(self, envelopes: Iterable[Envelope]) -> list[Spoken]:
        """Return what is written on each envelope, as far as it points anywhere."""
        return [self._read(envelope) for envelope in envelopes]

    def _read(self, envelope: Envelope) -> Spoken:
        control, paper = (serial_on(envelope, marking) for marking in SERIALS)
        return Spoken(
            envelope,
            self.station_written(envelope),
            control,
            paper,
            self.bearers(Marking.CONTROL_UNIT, control),
            self.bearers(Marking.PAPER_TRAIL_UNIT, paper),
        )

    def name(self, ref: str) -> str:
        """Return a unit set as it is spoken of: its station and both serials."""
        return f"{self.station_of[ref].title}, units {self.units[ref].title}"


def serial_on(envelope: Envelope, marking: Marking) -> str:
    """Return the plain serial written on an envelope; empty where none is read."""
    if marking in envelope.unreadable:
        return ""
    return plain_serial(envelope.written.get(marking, ""))
