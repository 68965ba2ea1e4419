"""What the pages of the sealing table show."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from registry.models import ContainerState, Envelope, StationSealing
from registry.queries.expected import ExpectedContainers, Match, required_markings
from registry.queries.sealings import (
    AtTable,
    OtherPerson,
    carried_over,
    fields_of,
    made,
    on_record,
    others_at,
)
from registry.rules.arrivals import Arrival
from registry.rules.contents import ContentKind
from registry.rules.keeping_parts import ABSENT, SealingPlace, SealingStep
from registry.rules.markings import TITLES, Marking
from registry.rules.powers import Actor
from registry.rules.sealing import (
    Question,
    Unit,
    field_of,
    kinds_sealed,
    lacking,
)

# What stands on an envelope does not hang on what arrived: any arrival will do.
_ANY = Arrival(noun="envelope", kind=ContentKind.POLL_SLIPS, received_on=date.min)


@dataclass(frozen=True)
class AskedQuestion:
    """A question as the page asks it.

    Attributes:
        answer: the answer that counts; empty where there is none yet.
        told: what to tell the custodian about it.
        said_by: who answered, and ``said_at`` when.
    """

    question: Question
    answer: str
    told: str
    said_by: str
    said_at: datetime | None

    @property
    def field(self) -> str:
        """Its name on the page."""
        return self.question.field

    @property
    def step(self) -> SealingStep:
        """The line of the checklist that asks it."""
        return self.question.step


@dataclass(frozen=True)
class Section:
    """What is asked of one unit set, or of the station itself.

    Attributes:
        to_write: the markings that the envelope must bear: title and words.
        absent_field: where it is said why the set is not here; empty for the station.
        on_record: its envelopes that are registered already: content and number.
    """

    title: str
    note: str
    questions: tuple[AskedQuestion, ...]
    to_write: tuple[tuple[str, str], ...] = ()
    absent_field: str = ""
    absent: str = ""
    on_record: tuple[tuple[str, str], ...] = ()

    @property
    def may_be_absent(self) -> bool:
        """Whether it can be said that the set is not here; what is sealed was."""
        return bool(self.questions or self.absent)


@dataclass(frozen=True)
class SealingPage:
    """One station at the sealing table.

    Attributes:
        intake: number of the intake on whose receipt it stands; may be empty.
        carried: what was said at the station before, by field, to be looked at.
        seen: the newest answer that the page shows.
        left: how many questions must still be answered.
        box_steps: what the checklist asks when the box is closed.
    """

    number: str
    state: str
    state_word: str
    station_number: str
    station_name: str
    contest: str
    contest_number: str
    election: str
    room: str
    intake: str
    begun_by: str
    begun_at: datetime
    ended_by: str
    ended_at: datetime | None
    left_because: str
    house: bool
    sections: tuple[Section, ...]
    cautions: str
    carried: dict[str, str]
    others: tuple[OtherPerson, ...]
    seen: int
    left: int
    box_steps: tuple[SealingStep, ...]
    made: tuple[tuple[str, str], ...]
    in_quarantine: tuple[str, ...]

    @property
    def heading(self) -> str:
        """The station, as its page is headed."""
        return f"Station {self.station_number} {self.station_name}"

    @property
    def where(self) -> str:
        """The constituency, the election and the table."""
        return f"{self.contest}, {self.election}. Table of the {self.room}."

    @property
    def tone(self) -> str:
        """How pressing it is."""
        return {"open": "wait", "done": "clear"}.get(self.state, "ended")


def sealing_page(table: AtTable, actor: Actor) -> SealingPage:
    """Gather what the page of one station shows."""
    sealing = table.sealing
    station = sealing.station
    is_open = sealing.state == StationSealing.State.OPEN
    sealed_here = made(table)
    return SealingPage(
        number=sealing.number,
        state=sealing.state,
        state_word=sealing.get_state_display(),
        station_number=station.station_number,
        station_name=station.name,
        contest=str(station.contest),
        contest_number=station.contest.number,
        election=station.contest.election.name,
        room=str(sealing.room),
        intake=sealing.intake.number if sealing.intake else "",
        begun_by=sealing.begun_by.name,
        begun_at=sealing.begun_at,
        ended_by=sealing.ended_by.name if sealing.ended_by else "",
        ended_at=sealing.ended_at,
        left_because=sealing.left_because,
        house=table.house,
        sections=_sections(table, is_open),
        cautions=" ".join(dict.fromkeys(s.caution for s in table.steps if s.caution)),
        carried=carried_over(table, actor) if is_open else {},
        others=others_at(sealing, actor),
        seen=table.seen,
        left=len(lacking(table.asked, table.answers)),
        box_steps=box_steps(table.steps),
        made=sealed_here,
        in_quarantine=tuple(
            Envelope.objects.filter(
                number__in=[number for _, number in sealed_here],
                state=ContainerState.QUARANTINED,
            ).values_list("number", flat=True)
        ),
    )


def box_steps(steps: Sequence[SealingStep]) -> tuple[SealingStep, ...]:
    """Return what a checklist asks of the box, when it is closed."""
    return tuple(step for step in steps if step.where is SealingPlace.BOX)


def _sections(table: AtTable, is_open: bool) -> tuple[Section, ...]:
    told = table.told if is_open else {}
    asked = table.asked
    if not is_open:
        # The set's envelope is on record now, so nothing is asked of it any more:
        # what was answered is shown as it was asked.
        asked = _as_it_was_asked(table)
    shown = _shown(table, asked, told)
    units = [n for n, q in enumerate(asked) if q.unit]
    before = units[0] if units else len(asked)
    own = [(n, shown[n]) for n, question in enumerate(asked) if not question.unit]
    registered = on_record(table.station)
    marks = _Markings(table)
    sections = [
        Section("The station", "", tuple(a for n, a in own if n < before)),
        *(
            Section(
                title=_title(number, unit, len(table.station.units)),
                note=_units(unit),
                questions=tuple(a for a in shown if a.question.unit == unit.number),
                to_write=marks.of(unit) if is_open else (),
                absent_field=field_of(unit.number, ABSENT),
                absent=table.answers.get((unit.number, ABSENT), ""),
                on_record=tuple(registered[unit.number]),
            )
            for number, unit in enumerate(table.station.units, start=1)
        ),
        Section("The table", "", tuple(a for n, a in own if n >= before)),
    ]
    return tuple(s for s in sections if s.questions or s.absent_field)


def _as_it_was_asked(table: AtTable) -> tuple[Question, ...]:
    kinds = kinds_sealed(table.steps)
    every = [
        Question(step, unit.number, kind)
        for unit in table.station.units
        for step in table.steps
        for kind in (kinds if step.where is SealingPlace.ENVELOPE else (None,))
    ]
    every += [Question(step) for step in table.steps]
    return tuple(question for question in every if question.about in table.latest)


def _shown(
    table: AtTable, asked: Iterable[Question], told: dict[str, str]
) -> list[AskedQuestion]:
    shown = []
    for question in asked:
        row = table.latest.get(question.about)
        shown.append(
            AskedQuestion(
                question=question,
                answer=row.answer if row else "",
                told=told.get(question.field, ""),
                said_by=row.answered_by.name if row else "",
                said_at=row.answered_at if row else None,
            )
        )
    return shown


def _title(number: int, unit: Unit, of: int) -> str:
    replaced = " (replacement)" if unit.replaced else ""
    return f"Unit set {number} of {of}{replaced}"


def _units(unit: Unit) -> str:
    return f"Control unit {unit.control_unit}, paper-trail unit {unit.paper_trail_unit}"


class _Markings:
    """What must be written on the envelopes of a station."""

    def __init__(self, table: AtTable) -> None:
        self._station = table.sealing.station
        self._kinds = kinds_sealed(table.steps)
        self._expected = ExpectedContainers(self._station.contest.election, [])
        rows = self._station.unit_sets.all()
        self._sets = {row.number: row for row in rows}

    def of(self, unit: Unit) -> tuple[tuple[str, str], ...]:
        """Return title and words of each marking the schedule asks for."""
        if not self._kinds:
            return ()
        contest = self._station.contest
        match = Match(contest, self._station, self._sets[unit.number])
        written = self._expected.markings(match, _ANY)
        required = required_markings(contest.election, self._kinds[0], "envelope")
        return tuple((TITLES[m], written.get(m, "")) for m in Marking if m in required)


def answers_shown(table: AtTable) -> dict[str, str]:
    """Return the answers that count, by field, those of absent sets included."""
    absent = {
        field_of(unit.number, ABSENT): table.answers[unit.number, ABSENT]
        for unit in table.station.units
        if (unit.number, ABSENT) in table.answers
    }
    return fields_of(table, table.asked) | absent
