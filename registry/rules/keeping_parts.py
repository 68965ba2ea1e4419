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
    """What an answer tells of the unit, the envelope or the box; most tell nothing."""

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
    BOX = "box"
    BOX_SEAL = "box-seal"
    BOX_WEIGHT = "box-weight"
    SIGNED = "signed"


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
