"""A schedule said in plain words, clause by clause, for reading and for comparing."""

from collections.abc import Iterable

from registry.rules.acts import ACT_TITLES, STATE_TITLES
from registry.rules.case_events import EVENT_TITLES, LEVEL_TITLES
from registry.rules.keeping_words import keeping_in_words
from registry.rules.periods import (
    Counting,
    Direction,
    IfClosed,
    MonthEnd,
    Period,
    RollsOn,
)
from registry.rules.retention import TRIGGER_TITLES
from registry.rules.schedules import (
    AppealWindow,
    AuthorityRule,
    ClassRules,
    ContentKind,
    Notice,
    Schedule,
    Term,
)
from registry.rules.wording import shown, span

CLASS_TITLES = {
    ContentKind.POLL_SLIPS: "poll slips",
    ContentKind.MOCK_POLL_SLIPS: "mock-poll slips",
    ContentKind.STATUTORY_PACKET: "statutory packets",
}
_COUNTING = {
    Counting.EXCLUDE_FIRST: "the first day not counted",
    Counting.INCLUDE_FIRST: "the first day counted",
    Counting.DAY_AFTER: "counted from the day after",
    Counting.CLEAR: "clear days, neither end counted",
}
_IF_CLOSED = {
    IfClosed.KEEP: "stays where it falls",
    IfClosed.NEXT_OPEN: "moves to the next open day",
    IfClosed.PREVIOUS_OPEN: "moves to the open day before",
    IfClosed.FIRST_OPEN_AFTER: "is the first open day after the time has run",
}
_ROLLS_ON = {
    RollsOn.ANY_CLOSED_DAY: "on any closed day",
    RollsOn.NOT_RECEIVING: "on a day on which, by a notification, nothing is received",
    RollsOn.SUNDAYS_AND_HOLIDAYS: "on a Sunday or holiday",
}

Line = tuple[tuple[str, ...], str]


def in_words(schedule: Schedule) -> dict[tuple[str, ...], str]:
    """Return what the schedule says: by what it speaks of, in plain words.

    Each key runs from the whole to the part: the class, the clause's name, the point.
    """
    lines: list[Line] = list(_head(schedule))
    for kind in ContentKind:
        rules = schedule.classes.get(kind)
        if rules:
            lines += _class(rules)
    for window in schedule.appeal_windows:
        lines += _window(window)
    lines += _authorities(schedule.authorities)
    for notice in schedule.notices:
        lines += _notice(notice)
    lines += keeping_in_words(schedule.keeping)
    return dict(lines)


def time_in_words(legs: Iterable[Period]) -> str:
    """Say a time of one or several legs."""
    return ", then ".join(_leg(leg) for leg in legs)


def last_day_in_words(period: Period) -> str:
    """Say what becomes of a last day on which the office is closed."""
    words = _IF_CLOSED[period.if_closed]
    moves = period.if_closed in (IfClosed.NEXT_OPEN, IfClosed.PREVIOUS_OPEN)
    if moves:
        words = f"{_ROLLS_ON[period.rolls_on]} it {words}"
    if period.forward_if_not_receiving:
        words += ", and runs on where nothing is received then"
    return words


def _leg(leg: Period) -> str:
    words = [span(leg.length, str(leg.unit)), _COUNTING[leg.counting]]
    if leg.direction == Direction.BACKWARD:
        words.append("counted back")
    if leg.month_end == MonthEnd.LAST_TO_LAST:
        words.append("from a month's last day to a month's last day")
    if leg.skip_closed_within:
        words.append(f"closed days left out up to {leg.skip_closed_within} days")
    if leg.at_least_working_days:
        least = span(leg.at_least_working_days, "working-days")
        words.append(f"holding {least} at least")
    return ", ".join(words)


def _head(schedule: Schedule) -> Iterable[Line]:
    yield ("law",), schedule.law
    asked = "asked for" if schedule.confirmation_required else "not asked for"
    yield ("confirmation of the registry",), asked
    if schedule.confirmation_clause:
        yield ("confirmation of the registry", "clause"), schedule.confirmation_clause
    if schedule.express_order_suffices:
        words = "the authority's express order may stand in its place"
        yield ("confirmation of the registry", "or"), words
    within = span(schedule.seal_check_within_days, "days")
    yield ("seal check",), f"at most {within} old"
    margins = schedule.margins
    yield ("safety margin", "after a window"), span(margins.inner_days, "days")
    yield ("safety margin", "after everything"), span(margins.outer_days, "days")


def _class(rules: ClassRules) -> Iterable[Line]:
    title = CLASS_TITLES[rules.kind]
    yield (title, "destruction"), f"{rules.destruction_level} or finer"
    yield (title, "markings on an envelope"), ", ".join(rules.envelope_markings)
    yield (title, "markings on a box"), ", ".join(rules.box_markings)
    if rules.per_station is not None:
        yield (title, "expected from each station"), str(rules.per_station)
    for term in rules.terms:
        for point, words in _term(term):
            yield (title, term.title, point), words


def _term(term: Term) -> Iterable[tuple[str, str]]:
    starts = " and ".join(TRIGGER_TITLES[each] for each in term.triggers)
    later = ", the later of them" if len(term.triggers) > 1 else ""
    yield "starts with", f"{starts}{later}"
    yield "time", time_in_words(term.legs)
    yield "a closed last day", last_day_in_words(term.period)
    yield "clause", f"{term.clause}, {term.source}"
    if term.petition_window:
        yield "the confirmation", "must reach past it"


def _window(window: AppealWindow) -> Iterable[Line]:
    after = ", ".join(title for k, title in EVENT_TITLES.items() if k in window.after)
    courts = ", ".join(t for k, t in LEVEL_TITLES.items() if k in window.levels)
    points = (
        ("opens after", f"a case is {after}"),
        ("in", courts),
        ("time", time_in_words(window.legs)),
        ("a closed last day", last_day_in_words(window.period)),
        ("waited for", "yes" if window.waits else "no, it is shown only"),
        ("clause", f"{window.clause}, {window.source}"),
    )
    for point, words in points:
        yield (window.name, point), words


def _authorities(rules: Iterable[AuthorityRule]) -> Iterable[Line]:
    """Say for each act, class and state who may permit it."""
    who: dict[tuple[str, ...], list[str]] = {}
    for rule in rules:
        for act in sorted(rule.acts):
            for kind in sorted(rule.classes):
                for state in sorted(rule.states):
                    about = (CLASS_TITLES[kind], ACT_TITLES[act], STATE_TITLES[state])
                    said = f"{rule.authority} ({rule.clause}, {rule.source})"
                    who.setdefault(("who may permit", *about), []).append(said)
    for key, names in who.items():
        yield key, " or ".join(names)


def _notice(notice: Notice) -> Iterable[Line]:
    yield (notice.title, "before"), ACT_TITLES[notice.act]
    yield (notice.title, "time"), time_in_words([notice.period])
    yield (notice.title, "a closed last day"), last_day_in_words(notice.period)
    yield (notice.title, "clause"), f"{notice.clause}, {notice.source}"


def version_in_words(schedule: Schedule) -> str:
    """Name a version: "Schedule of …, version 3, in force from 1 March 2024"."""
    since = shown(schedule.in_force_from)
    return f"{schedule.title}, version {schedule.version}, in force from {since}"
