"""Read the clauses of a schedule: terms, windows, authorities, notices."""

from typing import NamedTuple

from registry.rules.acts import Act, KeepingState
from registry.rules.case_events import OPENS_A_WINDOW, CaseEventKind, CourtLevel
from registry.rules.periods import Direction
from registry.rules.schedule_parts import (
    AppealWindow,
    AuthorityRule,
    Basis,
    ContentKind,
    Notice,
    Term,
    Trigger,
)
from registry.rules.schedule_periods import read_legs, read_notice_period
from registry.rules.toml_tables import Table


class _Cited(NamedTuple):
    """Where a clause stands, and what it rests on."""

    clause: str
    source: str
    basis: Basis
    looked_up_in: str


def _cited(table: Table, law: str) -> _Cited:
    basis = table.word("basis", Basis, Basis.ORDAINED)
    needed = basis is Basis.LOOKED_UP
    return _Cited(
        table.text("clause"),
        table.text("source", law),
        basis,
        table.text("looked_up_in", None if needed else ""),
    )


def read_terms(root: Table, law: str) -> dict[ContentKind, list[Term]]:
    """Return the terms by the classes they bind."""
    terms: dict[ContentKind, list[Term]] = {}
    for table in root.tables("term"):
        term = _term(table, law)
        for kind in table.words("for", ContentKind):
            others = terms.setdefault(kind, [])
            if any(other.name == term.name for other in others):
                table.wrong("name", f"{term.name!r} stands twice for {kind}; rename.")
            others.append(term)
        table.finish()
    return terms


def _term(table: Table, law: str) -> Term:
    triggers = table.words("after", Trigger)
    direction = table.word("direction", Direction, Direction.FORWARD)
    if direction is Direction.BACKWARD and set(triggers) != {Trigger.NEXT_POLL}:
        table.wrong(
            "direction",
            "backward counts towards what started the term; it can be written only "
            'where the term has after = ["next-poll"].',
        )
    *earlier, period = read_legs(table, direction)
    cited = _cited(table, law)
    return Term(
        name=table.text("name"),
        title=table.text("title"),
        triggers=triggers,
        period=period,
        clause=cited.clause,
        source=cited.source,
        petition_window=table.flag("petition_window", False),
        earlier_legs=tuple(earlier),
        basis=cited.basis,
        looked_up_in=cited.looked_up_in,
    )


def read_appeal_windows(root: Table, law: str) -> tuple[AppealWindow, ...]:
    """Return the windows that decisions open, in the order of the file."""
    windows: list[AppealWindow] = []
    for table in root.tables("appeal_window"):
        window = _appeal_window(table, law)
        if any(other.name == window.name for other in windows):
            table.wrong("name", f"{window.name!r} stands twice; rename one.")
        windows.append(window)
        table.finish()
    return tuple(windows)


def _appeal_window(table: Table, law: str) -> AppealWindow:
    after = table.words("after", CaseEventKind)
    for kind in sorted(set(after) - OPENS_A_WINDOW):
        known = ", ".join(kind for kind in CaseEventKind if kind in OPENS_A_WINDOW)
        message = f"{kind} decides nothing; a window opens after one of {known}."
        table.wrong("after", message)
    *earlier, period = read_legs(table)
    cited = _cited(table, law)
    return AppealWindow(
        name=table.text("name"),
        after=frozenset(after),
        levels=frozenset(table.words("levels", CourtLevel)),
        period=period,
        clause=cited.clause,
        source=cited.source,
        waits=table.flag("waits", True),
        earlier_legs=tuple(earlier),
        basis=cited.basis,
        looked_up_in=cited.looked_up_in,
    )


def read_authorities(root: Table, law: str) -> tuple[AuthorityRule, ...]:
    """Return who may permit what, in the order of the file."""
    rules: list[AuthorityRule] = []
    for table in root.tables("authority"):
        cited = _cited(table, law)
        rule = AuthorityRule(
            authority=table.text("authority"),
            acts=frozenset(table.words("acts", Act)),
            classes=frozenset(table.words("for", ContentKind)),
            states=frozenset(table.words("states", KeepingState)),
            clause=cited.clause,
            source=cited.source,
            basis=cited.basis,
            looked_up_in=cited.looked_up_in,
        )
        rules.append(rule)
        table.finish()
    return tuple(rules)


def read_notices(root: Table, law: str) -> tuple[Notice, ...]:
    """Return what must be announced before an act, in the order of the file."""
    notices: list[Notice] = []
    for table in root.tables("notice"):
        cited = _cited(table, law)
        notice = Notice(
            name=table.text("name"),
            title=table.text("title"),
            act=table.word("act", Act),
            period=read_notice_period(table),
            clause=cited.clause,
            source=cited.source,
            basis=cited.basis,
            looked_up_in=cited.looked_up_in,
        )
        if any(other.name == notice.name for other in notices):
            table.wrong("name", f"{notice.name!r} stands twice; rename one.")
        notices.append(notice)
        table.finish()
    return tuple(notices)
