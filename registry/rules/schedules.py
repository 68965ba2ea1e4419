"""Retention schedules: how long each class of container is kept, as data.

A schedule is one TOML file per version. Nothing about a country's law stands in
code: a change of law is a new file with a higher ``version``. The keys are::

    code = "calvenna"             the schedule's own short name
    version = 3                   1, 2, 3 …; a version once in use is never edited
    title = "…"                   how it is called on screen and on paper
    law = "…"                     the law it rests on; the source of every clause
                                  that names no ``source`` of its own
    ordained_by = "…"             who ordained it
    order = "…"                   by which order
    in_force_from = 2024-03-01    from when
    seal_check_within_days = 0    how old a seal check may be on the day of an
                                  opening or disposal; 0 means made the same day
    note = "…"                    optional, shown with the schedule

    [confirmation]                the court registry's word that nothing is pending
    required = true
    clause = "…"                  the clause that asks for it; optional if not asked

    [class.poll-slips]            one for each class: poll-slips, mock-poll-slips,
                                  statutory-packet. A class left out is kept for ever
    destruction_level = "P-4"     P-1 to P-7 of ISO/IEC 21964: the coarsest allowed
    envelope_markings = ["…"]     what must stand on an envelope of the class
    box_markings = ["…"]          what must stand on a box

    [[term]]                      any number; for each container the latest governs
    name = "petition-window"      its short name, once per class
    title = "…"
    for = ["poll-slips"]          the classes it binds
    after = ["result-declared"]   what starts it: result-declared, return-made,
                                  return-received, gazetted, polled, counted; where
                                  several are named, the latest of them
    petition_window = true        optional: a confirmation must reach past its end
    clause = "…"
    source = "…"                  optional
    …                             the keys of a period, below

    [[appeal_window]]             after a decision nothing is settled before this
    name = "first-appeal"
    after = ["dismissed"]         the kinds of decision that open it
    levels = ["first"]            first, appeal, final: the court that decided
    clause = "…"
    source = "…"                  optional
    …                             the keys of a period

The keys of a period, as in ``manage.py deadline``: ``length`` and ``unit`` (days,
working-days, weeks, months, years) must stand there; ``counting`` (exclude-first),
``month_end`` (corresponding), ``if_closed`` (keep), ``skip_closed_within`` (none) and
``at_least_working_days`` (none) have the defaults named in brackets. A retention
floor does not roll: it says ``if_closed = "keep"`` or nothing. Two words of that
command are refused here: ``clear``, since N clear days are kept through exactly when
the period says ``exclude-first``; and ``previous-open``, which would release early.

A decision below the last court for which no appeal window stands in the schedule
keeps the containers without end: the schedule does not say when it is settled.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from registry.rules.case_events import DECISIONS, CaseEventKind, CourtLevel
from registry.rules.markings import Marking
from registry.rules.periods import (
    Counting,
    Direction,
    IfClosed,
    MonthEnd,
    Period,
    Unit,
)
from registry.rules.toml_tables import Problem, Table, read_document


class ContentKind(StrEnum):
    """What a container holds."""

    POLL_SLIPS = "poll-slips"
    MOCK_POLL_SLIPS = "mock-poll-slips"
    STATUTORY_PACKET = "statutory-packet"


class Trigger(StrEnum):
    """What starts a term."""

    RESULT_DECLARED = "result-declared"
    RETURN_MADE = "return-made"
    RETURN_RECEIVED = "return-received"
    GAZETTED = "gazetted"
    POLLED = "polled"
    COUNTED = "counted"


class DestructionLevel(StrEnum):
    """Particle size after shredding paper, ISO/IEC 21964-1 (also DIN 66399-1)."""

    P1 = "P-1"
    P2 = "P-2"
    P3 = "P-3"
    P4 = "P-4"
    P5 = "P-5"
    P6 = "P-6"
    P7 = "P-7"


@dataclass(frozen=True)
class Term:
    """One period for which containers are kept; ``triggers``: the latest starts it."""

    name: str
    title: str
    triggers: tuple[Trigger, ...]
    period: Period
    clause: str
    source: str
    petition_window: bool = False


@dataclass(frozen=True)
class AppealWindow:
    """How long after a decision of this kind and level it is not yet settled."""

    name: str
    after: frozenset[CaseEventKind]
    levels: frozenset[CourtLevel]
    period: Period
    clause: str
    source: str


@dataclass(frozen=True)
class ClassRules:
    """What the schedule says about one class of content."""

    kind: ContentKind
    terms: tuple[Term, ...]
    envelope_markings: tuple[Marking, ...]
    box_markings: tuple[Marking, ...]
    destruction_level: DestructionLevel


@dataclass(frozen=True)
class Schedule:
    """One version of a retention schedule; the module's docstring tells its keys."""

    code: str
    version: int
    title: str
    law: str
    ordained_by: str
    order: str
    in_force_from: date
    classes: Mapping[ContentKind, ClassRules]
    appeal_windows: tuple[AppealWindow, ...]
    confirmation_required: bool
    confirmation_clause: str
    seal_check_within_days: int
    note: str = ""

    def windows_after(
        self, kind: CaseEventKind, level: CourtLevel
    ) -> tuple[AppealWindow, ...]:
        """Return every window that a decision of this kind and level opens."""
        return tuple(
            window
            for window in self.appeal_windows
            if kind in window.after and level in window.levels
        )


class ScheduleError(ValueError):
    """The text is no usable schedule; ``problems`` holds all that is wrong in it."""

    def __init__(self, problems: tuple[Problem, ...]) -> None:
        self.problems = problems
        super().__init__("\n".join(str(problem) for problem in problems))


# No retention period comes near these; a date beyond them is a slip of the finger.
_LONGEST = {
    Unit.DAYS: 36_500,
    Unit.WORKING_DAYS: 26_000,
    Unit.WEEKS: 5_200,
    Unit.MONTHS: 1_200,
    Unit.YEARS: 100,
}


def read_schedule(text: str, file: str) -> Schedule:
    """Read a schedule from the text of its TOML file.

    Args:
        text: the whole file; its keys are told in this module's docstring.
        file: the file's name, for the error.

    Raises:
        ScheduleError: with every problem, each naming file, line and key, and what
            to write instead.
    """
    document = read_document(text, file)
    if document.problems:
        raise ScheduleError(tuple(document.problems))
    schedule = _schedule(document.root)
    if document.problems:
        raise ScheduleError(tuple(sorted(document.problems)))
    return schedule


def _schedule(root: Table) -> Schedule:
    law = root.text("law")
    confirmation = root.table("confirmation")
    required = confirmation.flag("required")
    clause = confirmation.text("clause", None if required else "")
    schedule = Schedule(
        code=root.text("code"),
        version=root.whole("version", least=1, most=9_999),
        title=root.text("title"),
        law=law,
        ordained_by=root.text("ordained_by"),
        order=root.text("order"),
        in_force_from=root.day("in_force_from"),
        classes=_classes(root, _terms(root, law), required),
        appeal_windows=_appeal_windows(root, law),
        confirmation_required=required,
        confirmation_clause=clause,
        seal_check_within_days=root.whole("seal_check_within_days", least=0, most=365),
        note=root.text("note", ""),
    )
    confirmation.finish()
    root.finish()
    return schedule


def _terms(root: Table, law: str) -> dict[ContentKind, list[Term]]:
    """Return the terms by the classes they bind."""
    terms: dict[ContentKind, list[Term]] = {}
    for table in root.tables("term"):
        term = Term(
            name=table.text("name"),
            title=table.text("title"),
            triggers=table.words("after", Trigger),
            period=_period(table),
            clause=table.text("clause"),
            source=table.text("source", law),
            petition_window=table.flag("petition_window", False),
        )
        for kind in table.words("for", ContentKind):
            others = terms.setdefault(kind, [])
            if any(other.name == term.name for other in others):
                table.wrong("name", f"{term.name!r} stands twice for {kind}; rename.")
            others.append(term)
        table.finish()
    return terms


def _classes(
    root: Table, terms: Mapping[ContentKind, list[Term]], confirmed: bool
) -> dict[ContentKind, ClassRules]:
    headed = root.table("class")
    classes = {}
    for kind in ContentKind:
        if kind in headed.values:
            classes[kind] = _class(headed.table(kind), kind, terms.get(kind, []))
            _check_terms(headed, classes[kind], confirmed)
        elif kind in terms:
            message = f"a term binds {kind}; add a table [class.{kind}]."
            headed.wrong(kind, message)
        headed.read.add(kind)
    if "class" in root.values and not headed.values:
        headed.wrong("poll-slips", "no class is told; add at least one [class.…].")
    headed.finish()
    return classes


def _class(table: Table, kind: ContentKind, terms: list[Term]) -> ClassRules:
    rules = ClassRules(
        kind=kind,
        terms=tuple(terms),
        envelope_markings=table.words("envelope_markings", Marking),
        box_markings=table.words("box_markings", Marking),
        destruction_level=table.word("destruction_level", DestructionLevel),
    )
    table.finish()
    return rules


def _check_terms(headed: Table, rules: ClassRules, confirmed: bool) -> None:
    if not rules.terms:
        message = f"no term binds it; add a [[term]] with for = [{rules.kind.value!r}]."
        headed.wrong(rules.kind, message)
    elif confirmed and not any(term.petition_window for term in rules.terms):
        headed.wrong(
            rules.kind,
            "a confirmation is required, but no term of this class says which window "
            "it must reach past; write petition_window = true in that term.",
        )


def _appeal_windows(root: Table, law: str) -> tuple[AppealWindow, ...]:
    windows: list[AppealWindow] = []
    for table in root.tables("appeal_window"):
        after = table.words("after", CaseEventKind)
        for kind in sorted(set(after) - DECISIONS):
            known = ", ".join(kind for kind in CaseEventKind if kind in DECISIONS)
            message = f"{kind} decides nothing; a window opens after one of {known}."
            table.wrong("after", message)
        window = AppealWindow(
            name=table.text("name"),
            after=frozenset(after),
            levels=frozenset(table.words("levels", CourtLevel)),
            period=_period(table),
            clause=table.text("clause"),
            source=table.text("source", law),
        )
        if any(other.name == window.name for other in windows):
            table.wrong("name", f"{window.name!r} stands twice; rename one.")
        windows.append(window)
        table.finish()
    return tuple(windows)


def _period(table: Table) -> Period:
    unit = table.word("unit", Unit)
    return Period(
        length=table.whole("length", least=1, most=_LONGEST[unit]),
        unit=unit,
        counting=_counting(table),
        month_end=table.word("month_end", MonthEnd, MonthEnd.CORRESPONDING),
        direction=Direction.FORWARD,
        if_closed=_if_closed(table),
        skip_closed_within=table.whole("skip_closed_within", 0, least=0, most=366),
        at_least_working_days=table.whole(
            "at_least_working_days", 0, least=0, most=366
        ),
    )


def _counting(table: Table) -> Counting:
    counting = table.word("counting", Counting, Counting.EXCLUDE_FIRST)
    if counting is Counting.CLEAR:
        table.wrong(
            "counting",
            "clear days give a first free day, not a last day to keep; write "
            '"exclude-first" with the same length: it keeps through the same day.',
        )
    return counting


def _if_closed(table: Table) -> IfClosed:
    if_closed = table.word("if_closed", IfClosed, IfClosed.KEEP)
    if if_closed is IfClosed.PREVIOUS_OPEN:
        table.wrong(
            "if_closed",
            "would release containers before the period is over; write "
            '"keep" or "next-open".',
        )
    return if_closed
