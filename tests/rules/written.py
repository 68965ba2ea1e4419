"""Schedules written for one test: a head that is always the same, and its clauses."""

from registry.rules.calendars import Calendar
from registry.rules.cases import CaseFact
from registry.rules.periods import Computed, last_day_of_legs
from registry.rules.retention import (
    ContestDates,
    Retention,
    RetentionFacts,
    retention_of,
)
from registry.rules.schedules import ContentKind, Schedule, Term, Trigger, read_schedule
from tests.rules.calvenna import EVERY_DAY_OPEN, day

HEAD = """
code = "written"
version = 1
title = "A schedule written for a test"
law = "the law named beside the test"
ordained_by = "nobody"
order = "none"
in_force_from = 2000-01-01
seal_check_within_days = 0
{root}
[confirmation]
required = false
{confirmation}
[class.poll-slips]
destruction_level = "P-4"
envelope_markings = ["election"]
box_markings = ["election"]
"""

TERM = """
[[term]]
name = "the-term"
title = "The term"
for = ["poll-slips"]
clause = "the clause"
"""

ANY_TERM = TERM + 'after = ["polled"]\nlength = 1\nunit = "days"\n'


def written(clauses: str, *, root: str = "", confirmation: str = "") -> Schedule:
    """Return the schedule with these clauses for poll slips.

    Args:
        clauses: tables of terms, windows, authorities and notices.
        root: lines before the first table.
        confirmation: further lines of the table of that name.
    """
    head = HEAD.format(root=root, confirmation=confirmation)
    return read_schedule(head + clauses, "written.toml")


def term_of(keys: str) -> Term:
    """Return the only term, written with these keys."""
    (term,) = written(TERM + keys).classes[ContentKind.POLL_SLIPS].terms
    return term


def counted(keys: str, start: str, calendar: Calendar = EVERY_DAY_OPEN) -> Computed:
    """Count a term written with these keys from one day; its trigger is the poll."""
    term = term_of('after = ["polled"]\n' + keys)
    return last_day_of_legs([day(start)], term.legs, calendar)


def ends(keys: str, start: str, calendar: Calendar = EVERY_DAY_OPEN) -> str:
    """Return the last day of a term written with these keys, as text."""
    return counted(keys, start, calendar).last_day.isoformat()


def kept_by(
    schedule: Schedule,
    events: dict[str, str],
    on: str,
    *,
    calendar: Calendar = EVERY_DAY_OPEN,
    cases: tuple[CaseFact, ...] = (),
) -> Retention:
    """Return how long poll slips are kept; events are named as in a schedule."""
    dates = {Trigger(name): day(text) for name, text in events.items()}
    contest = ContestDates("CT-000011", "11 Harbour Reach", dates)
    facts = RetentionFacts(ContentKind.POLL_SLIPS, contest, cases)
    return retention_of(facts, schedule, calendar, day(on))
