"""What a schedule says of the daily keeping: sealing, rounds, climate, paper."""

from dataclasses import dataclass
from enum import StrEnum

from registry.rules.contents import ContentKind


class SealingPlace(StrEnum):
    """What a step at the sealing table is about; each is asked so many times."""

    UNIT_SET = "unit-set"
    ENVELOPE = "envelope"
    STATION = "station"
    BOX = "box"


class Asked(StrEnum):
    """How a step is answered."""

    TICK = "tick"
    SCAN = "scan"
    COUNT = "count"
    TEXT = "text"
    PAPER = "paper"


class SealingFact(StrEnum):
    """What an answer tells of the unit, the envelope or the box; most tell nothing.

    ``envelope-seal`` is a wax seal, ``envelope-paper-seal`` a numbered paper one;
    ``seal-maker`` names the maker, or the office that owns the die.
    """

    NONE = "none"
    STATION_TAG = "station-tag"
    CONTROL_UNIT = "control-unit"
    PAPER_TRAIL_UNIT = "paper-trail-unit"
    POWER_PACK = "power-pack"
    UNIT_EMPTY = "unit-empty"
    SLIP_COUNT = "slip-count"
    SELF_TEST_COUNT = "self-test-count"
    UNCUT_COUNT = "uncut-count"
    VOTES_RECORDED = "votes-recorded"
    PAPER = "paper"
    ENVELOPE_SEAL = "envelope-seal"
    ENVELOPE_PAPER_SEAL = "envelope-paper-seal"
    SEAL_MAKER = "seal-maker"
    BOX = "box"
    BOX_SEAL = "box-seal"
    BOX_WEIGHT = "box-weight"
    SIGNED = "signed"


# The table's own entries for each unit set: why it is not here, and what was sealed.
ABSENT = "absent"
MADE = "envelope"

# What the house has cautions for.
CAUTIONS = ("sealing", "opening", "lifting", "storing-units", "mould", "shredding")

_COUNTED = (Asked.COUNT,)
_READ = (Asked.SCAN, Asked.TEXT)
# How a fact can be told at all, and of what.
ANSWERED_BY: dict[SealingFact, tuple[Asked, ...]] = {
    SealingFact.STATION_TAG: _READ,
    SealingFact.CONTROL_UNIT: _READ,
    SealingFact.PAPER_TRAIL_UNIT: _READ,
    SealingFact.POWER_PACK: (Asked.TICK,),
    SealingFact.UNIT_EMPTY: (Asked.TICK,),
    SealingFact.SLIP_COUNT: _COUNTED,
    SealingFact.SELF_TEST_COUNT: _COUNTED,
    SealingFact.UNCUT_COUNT: _COUNTED,
    SealingFact.VOTES_RECORDED: _COUNTED,
    SealingFact.PAPER: (Asked.PAPER,),
    SealingFact.ENVELOPE_SEAL: _READ,
    SealingFact.ENVELOPE_PAPER_SEAL: _READ,
    SealingFact.SEAL_MAKER: _READ,
    SealingFact.BOX: _READ,
}
_OF_UNITS = (SealingPlace.UNIT_SET,)
_OF_ENVELOPES = (SealingPlace.ENVELOPE,)
TOLD_AT: dict[SealingFact, tuple[SealingPlace, ...]] = {
    SealingFact.STATION_TAG: _OF_UNITS,
    SealingFact.CONTROL_UNIT: _OF_UNITS,
    SealingFact.PAPER_TRAIL_UNIT: _OF_UNITS,
    SealingFact.UNIT_EMPTY: _OF_UNITS,
    SealingFact.VOTES_RECORDED: _OF_UNITS,
    SealingFact.SLIP_COUNT: _OF_ENVELOPES,
    SealingFact.SELF_TEST_COUNT: _OF_ENVELOPES,
    SealingFact.UNCUT_COUNT: _OF_ENVELOPES,
    SealingFact.ENVELOPE_SEAL: _OF_ENVELOPES,
    SealingFact.ENVELOPE_PAPER_SEAL: _OF_ENVELOPES,
    SealingFact.BOX: _OF_ENVELOPES,
    SealingFact.PAPER: (SealingPlace.ENVELOPE, SealingPlace.STATION),
    SealingFact.SEAL_MAKER: (SealingPlace.ENVELOPE, SealingPlace.STATION),
    SealingFact.BOX_SEAL: (SealingPlace.BOX,),
    SealingFact.BOX_WEIGHT: (SealingPlace.BOX,),
}


@dataclass(frozen=True)
class SealingStep:
    """One line of the checklist of the sealing table.

    Attributes:
        name: its short name, once in the schedule.
        title: what is asked or done, as the custodian reads it.
        classes: the contents for which it is asked.
        caution: a caution shown at this step: ``sealing``, ``storing-units`` …
    """

    name: str
    title: str
    where: SealingPlace
    asked: Asked
    records: SealingFact = SealingFact.NONE
    required: bool = True
    classes: frozenset[ContentKind] = frozenset(ContentKind)
    caution: str = ""
    help: str = ""
    clause: str = ""


@dataclass(frozen=True)
class RoundRules:
    """How often a room is walked; in days. ``contested``: what a case holds."""

    every_days: int
    contested_every_days: int
    climate_every_days: int
    finding_due_days: int
    clause: str = ""


@dataclass(frozen=True)
class ClimateLimits:
    """Within which limits a room stays: whole °C and per cent relative humidity."""

    lowest_c: int
    highest_c: int
    lowest_humidity: int
    highest_humidity: int
    source: str


@dataclass(frozen=True)
class PaperLife:
    """After how many months from the poll an image on such paper is at risk."""

    paper: str
    warn_after_months: int
    at_risk_after_months: int
    source: str


@dataclass(frozen=True)
class KeepingRules:
    """What a schedule says of the daily keeping; what is None it does not say."""

    sealing_steps: tuple[SealingStep, ...] = ()
    rounds: RoundRules | None = None
    climate: ClimateLimits | None = None
    papers: tuple[PaperLife, ...] = ()
