"""The sealing table: what is asked of a station, in which order, and what is lacking.

The checklist is data (``Schedule.keeping.sealing_steps``); a schedule that names none
is worked by ``sealing_default``. Every unit set of the station is asked about, those
that were replaced included; one that is not on the table is stated absent with a
reason. (That each set gives an envelope of its own: issue 4 of this project and common
practice, no published source.)
"""

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby

from registry.rules.contents import ContentKind
from registry.rules.keeping_parts import (
    ABSENT,
    Asked,
    SealingFact,
    SealingPlace,
    SealingStep,
)
from registry.rules.markings import plain_station
from registry.rules.numbers import plain_serial

# A unit set gives one envelope of each; how many packets a station has nobody knows.
SEALED_AT_THE_TABLE = (ContentKind.POLL_SLIPS, ContentKind.MOCK_POLL_SLIPS)
# What is there and cannot be read, or cannot be told.
NOT_KNOWN = "?"
# No unit prints or counts more; a longer figure is a code scanned at the wrong place.
MOST_COUNTED = 99_999
# What is the same at the next station until somebody says otherwise.
CARRIED = frozenset({SealingFact.PAPER, SealingFact.SEAL_MAKER, SealingFact.BOX})

# Register number of a unit set ("" for the station) and the question's key → answer.
Answers = Mapping[tuple[str, str], str]


@dataclass(frozen=True)
class Unit:
    """A unit set as the register expects it.

    Attributes:
        sealed: contents of which it has an envelope on record already.
        votes_known: the votes that are on record for it, before the table.
    """

    number: str
    control_unit: str
    paper_trail_unit: str
    replaced: bool = False
    sealed: frozenset[ContentKind] = frozenset()
    votes_known: int | None = None


@dataclass(frozen=True)
class Station:
    """A station at the table, with every unit set that served there, in order."""

    number: str
    station_number: str
    units: tuple[Unit, ...]

    def unit(self, number: str) -> Unit:
        """Return the unit set of this register number."""
        return next(unit for unit in self.units if unit.number == number)


@dataclass(frozen=True)
class Question:
    """One step asked of one thing; ``unit`` is empty for the station itself."""

    step: SealingStep
    unit: str = ""
    kind: ContentKind | None = None

    @property
    def key(self) -> str:
        """Its name among the questions about the same unit set."""
        return f"{self.step.name}@{self.kind}" if self.kind else self.step.name

    @property
    def about(self) -> tuple[str, str]:
        """The unit set and the key, under which the answer is kept."""
        return self.unit, self.key

    @property
    def field(self) -> str:
        """Its name on a page."""
        return field_of(self.unit, self.key)


def field_of(unit: str, key: str) -> str:
    """Return the name under which a page asks this."""
    return f"{unit or 'station'}:{key}"


def kinds_sealed(steps: Sequence[SealingStep]) -> tuple[ContentKind, ...]:
    """Return the contents that the checklist makes envelopes of."""
    asked = [step for step in steps if step.where is SealingPlace.ENVELOPE]
    return tuple(
        kind for kind in SEALED_AT_THE_TABLE if any(kind in s.classes for s in asked)
    )


def questions(
    steps: Sequence[SealingStep], station: Station, answers: Answers
) -> tuple[Question, ...]:
    """Return what is asked, in the order in which hands do it.

    What the checklist asks of the station stands before or after its unit sets as the
    checklist has it. A set that is stated absent, or whose envelopes are on record, is
    asked nothing.
    """
    of_units = (SealingPlace.UNIT_SET, SealingPlace.ENVELOPE)
    at = [n for n, step in enumerate(steps) if step.where in of_units]
    first = at[0] if at else 0
    own = [
        (n, Question(step))
        for n, step in enumerate(steps)
        if step.where is SealingPlace.STATION
    ]
    return (
        *(question for n, question in own if n < first),
        *(q for unit in station.units for q in _of_unit(steps, unit, answers)),
        *(question for n, question in own if n >= first),
    )


def _of_unit(
    steps: Sequence[SealingStep], unit: Unit, answers: Answers
) -> Iterator[Question]:
    kinds = [kind for kind in kinds_sealed(steps) if kind not in unit.sealed]
    if not kinds or is_absent(answers, unit.number):
        return
    for where, group in groupby(steps, key=lambda step: step.where):
        run = list(group)
        if where is SealingPlace.UNIT_SET:
            yield from (
                Question(step, unit.number)
                for step in run
                if step.classes.intersection(kinds)
            )
        elif where is SealingPlace.ENVELOPE:
            yield from (
                Question(step, unit.number, kind)
                for kind in kinds
                for step in run
                if kind in step.classes
            )


def is_absent(answers: Answers, unit: str) -> bool:
    """Tell whether it was said why this unit set is not on the table."""
    return bool(answers.get((unit, ABSENT), "").strip())


def lacking(asked: Sequence[Question], answers: Answers) -> tuple[Question, ...]:
    """Return the questions that must be answered before the station is finished."""
    return tuple(
        question
        for question in asked
        if (question.step.required or answers.get(question.about, "").strip())
        and wrong_with(question, answers.get(question.about, ""))
    )


_SAY = {
    Asked.TICK: "Say yes or no.",
    Asked.SCAN: "Scan it, or type it; “?” where it cannot be read.",
    Asked.COUNT: "Enter a whole number; “?” where it is not known.",
    Asked.TEXT: "Fill this in; “?” where it is not known.",
    Asked.PAPER: "Choose the paper; “not known” is an answer.",
}
_PAPERS = ("thermal", "plain", "unknown")


def wrong_with(question: Question, answer: str) -> str:
    """Return what to do about an answer that is none; empty where it is one.

    What contradicts the register is an answer all the same.
    """
    said, asked = answer.strip(), question.step.asked
    if not said:
        return _SAY[asked]
    if asked is Asked.TICK and said not in ("yes", "no"):
        return _SAY[asked]
    if asked is Asked.PAPER and said not in _PAPERS:
        return _SAY[asked]
    if asked is Asked.COUNT and said != NOT_KNOWN and counted(said) is None:
        return f"“{said}” is no count up to {MOST_COUNTED:,}. {_SAY[asked]}"
    return ""


def counted(answer: str) -> int | None:
    """Return the count that was entered; None where it is none or not known."""
    figures = re.sub(r"[\s,.’']", "", answer)
    if not re.fullmatch(r"[0-9]{1,6}", figures):
        return None
    count = int(figures)
    return count if count <= MOST_COUNTED else None


def said(
    asked: Sequence[Question],
    answers: Answers,
    fact: SealingFact,
    unit: str,
    kind: ContentKind | None = None,
) -> str:
    """Return what was answered of a fact: of the envelope, else its unit, else all."""
    found = [
        question
        for question in asked
        if question.step.records is fact
        and question.unit in (unit, "")
        and question.kind in (kind, None)
    ]
    found.sort(key=lambda q: (q.kind is not None, bool(q.unit)), reverse=True)
    return next((a for q in found if (a := answers.get(q.about, "").strip())), "")


def tag_is_of(answer: str, station: Station, unit: Unit) -> bool:
    """Tell whether what was read on an address tag names this station.

    A tag bears the station's number, or a register number of ours, or the serial of
    one of the units it hangs on. (What tags bear: common practice, no published
    source.)
    """
    if plain_station(answer) == plain_station(station.station_number):
        return True
    names = (station.number, unit.number, unit.control_unit, unit.paper_trail_unit)
    return plain_serial(answer) in {plain_serial(name) for name in names}
