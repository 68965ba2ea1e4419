"""The invented country's schedule and court, and short words for dates and cases."""

from datetime import date, datetime
from pathlib import Path

from registry.rules.calendars import Calendar, Closure
from registry.rules.cases import CaseEventFact, CaseEventKind, CaseFact, CourtLevel
from registry.rules.retention import ContestDates, OrderFact, RetentionFacts
from registry.rules.schedules import ContentKind, Trigger, read_schedule

FILE = Path(__file__).parents[2] / "fixtures" / "schedules" / "calvenna-3.toml"
TEXT = FILE.read_text(encoding="utf-8")
SCHEDULE = read_schedule(TEXT, FILE.name)

SUNDAY = 6
# The Registry of the High Bench: closed on Sundays and in an invented vacation.
HIGH_BENCH = Calendar(
    weekdays=frozenset({SUNDAY}),
    closures=(
        Closure(date(2026, 7, 1), date(2026, 7, 12), "summer vacation", "HB 4/2026"),
    ),
)
EVERY_DAY_OPEN = Calendar()

FIRST, APPEAL, FINAL = CourtLevel.FIRST, CourtLevel.APPEAL, CourtLevel.FINAL

POLLED, COUNTED, DECLARED = date(2026, 5, 2), date(2026, 5, 4), date(2026, 5, 5)


def day(text: str) -> date:
    """Return the date written as 2026-05-04."""
    return date.fromisoformat(text)


def event(
    kind: str,
    on: str,
    level: CourtLevel = FIRST,
    *,
    recorded: str | None = None,
    struck: bool = False,
) -> CaseEventFact:
    """Return one event of a case; ``recorded`` is the day of its entry."""
    at = datetime.fromisoformat(f"{recorded}T10:00:00+00:00") if recorded else None
    return CaseEventFact(
        CaseEventKind(kind), day(on), level, recorded_at=at, struck=struck
    )


def case(*events: CaseEventFact, number: str = "CA-000001") -> CaseFact:
    """Return a case with these events."""
    return CaseFact(number, "Alder against the Returning Officer", events)


def harbour_reach(
    *,
    polled: date | None = POLLED,
    counted: date | None = COUNTED,
    declared: date | None = DECLARED,
) -> ContestDates:
    """Return constituency 11 with its dates; None leaves one unknown."""
    events = {
        Trigger.POLLED: polled,
        Trigger.COUNTED: counted,
        Trigger.RESULT_DECLARED: declared,
    }
    known = {trigger: on for trigger, on in events.items() if on is not None}
    return ContestDates("CT-000011", "11 Harbour Reach", known)


def slips(
    *,
    contest: ContestDates | None = None,
    cases: tuple[CaseFact, ...] = (),
    orders: tuple[OrderFact, ...] = (),
) -> RetentionFacts:
    """Return the facts of a box of poll slips from Harbour Reach."""
    return RetentionFacts(
        ContentKind.POLL_SLIPS, contest or harbour_reach(), cases, orders
    )
