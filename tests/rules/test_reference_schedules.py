"""The reference schedules load, say what they rest on, and give worked dates.

Row ids are those of cases/deadline_cases.csv, each with its degree of confidence there.
A reference is no law: these tests check that the files say what they claim to say.
"""

from datetime import date
from pathlib import Path

import pytest

from registry.rules.acts import Act, KeepingState
from registry.rules.calendars import Calendar, Closure
from registry.rules.cases import CaseFact
from registry.rules.retention import Retention
from registry.rules.schedules import (
    Basis,
    ContentKind,
    Schedule,
    Trigger,
    read_schedule,
)
from tests.rules.calvenna import EVERY_DAY_OPEN, FINAL, case, day, event
from tests.rules.written import kept_by

FOLDER = Path(__file__).parents[2] / "fixtures" / "schedules"
FILES = sorted(FOLDER.glob("reference-*.toml"))
TEXTS = {path.stem: path.read_text(encoding="utf-8") for path in FILES}
REFERENCES = {name: read_schedule(text, name) for name, text in TEXTS.items()}

SATURDAY, SUNDAY = 5, 6
WEEKEND = frozenset({SATURDAY, SUNDAY})


def reference(name: str) -> Schedule:
    return REFERENCES[f"reference-{name}-1"]


def kept(
    name: str,
    events: dict[str, str],
    on: str,
    calendar: Calendar = EVERY_DAY_OPEN,
    cases: tuple[CaseFact, ...] = (),
) -> Retention:
    return kept_by(reference(name), events, on, calendar=calendar, cases=cases)


def term_ends(answer: Retention, term: str) -> date | None:
    (hold,) = [hold for hold in answer.holds if hold.governed_by == term]
    return hold.through


# --- every file --------------------------------------------------------------------


def test_there_are_at_least_eight_jurisdictions() -> None:
    assert len(REFERENCES) >= 8
    assert len({schedule.code for schedule in REFERENCES.values()}) == len(REFERENCES)


@pytest.mark.parametrize("name", REFERENCES)
def test_a_reference_says_what_it_is(name: str) -> None:
    schedule, head = REFERENCES[name], TEXTS[name].split("\ncode = ")[0]
    assert schedule.to_be_confirmed
    assert schedule.ordained_by.startswith("nobody")
    said = " ".join(head.replace("#", " ").split())
    assert "YOUR OWN COUNSEL MUST CONFIRM EVERY CLAUSE" in said
    for heading in ("Looked up (in stored copies", "From memory (not looked up"):
        assert heading in said
        # Each heading is followed by at least one point.
        assert "- " in said.split(heading)[1]


@pytest.mark.parametrize("name", REFERENCES)
def test_every_clause_is_cited_and_says_what_it_rests_on(name: str) -> None:
    schedule = REFERENCES[name]
    terms = {t.name: t for rules in schedule.classes.values() for t in rules.terms}
    cited = [*terms.values(), *schedule.appeal_windows, *schedule.authorities]
    assert cited
    for each in cited:
        assert each.clause
        assert each.source
        assert each.basis is not Basis.ORDAINED
        assert bool(each.looked_up_in) == (each.basis is Basis.LOOKED_UP)
    assert any(each.basis is Basis.LOOKED_UP for each in cited)


@pytest.mark.parametrize("name", REFERENCES)
def test_every_class_has_rules_and_is_kept_until_its_dates_are_known(name: str) -> None:
    schedule = REFERENCES[name]
    assert set(schedule.classes) == set(ContentKind)
    assert kept_by(schedule, {}, "2026-11-25").retain_through is None


def test_they_differ_in_what_starts_the_keeping_and_how_it_is_counted() -> None:
    terms = [
        term
        for schedule in REFERENCES.values()
        for rules in schedule.classes.values()
        for term in rules.terms
    ]
    assert {trigger for term in terms for trigger in term.triggers} >= {
        Trigger.RESULT_DECLARED,
        Trigger.RETURN_MADE,
        Trigger.GAZETTED,
        Trigger.POLLED,
        Trigger.PAPERS_RECEIVED,
        Trigger.NEXT_POLL,
    }
    periods = {term.period for term in terms}
    assert {period.unit for period in periods} >= {"days", "months", "years"}
    assert {period.counting for period in periods} >= {
        "exclude-first",
        "day-after",
        "clear",
    }
    assert {period.rolls_on for period in periods} >= {
        "any-closed-day",
        "sundays-and-holidays",
    }
    assert any(term.earlier_legs for term in terms)


# --- worked dates ------------------------------------------------------------------


def test_india() -> None:
    # IN-12 (rule seen; value derived) and IN-02 (published value).
    events = {"result-declared": "2024-06-04"}
    answer = kept("india", events, "2024-06-05", Calendar(frozenset({SUNDAY})))
    assert term_ends(answer, "petition-window") == date(2024, 7, 19)
    assert answer.retain_through == date(2025, 6, 4)
    old = kept("india", {"result-declared": "1974-04-30"}, "1974-05-01")
    assert term_ends(old, "petition-window") == date(1974, 6, 14)


def test_india_closed_on_the_last_day() -> None:
    # Hari Shanker Tripathi v Shiv Harsh (desks.md B.2): in time on the reopening.
    holiday = Calendar(closures=(Closure(day("1974-05-25"), day("1974-07-07")),))
    answer = kept("india", {"result-declared": "1974-04-30"}, "1974-05-01", holiday)
    assert term_ends(answer, "petition-window") == date(1974, 7, 8)


def test_india_a_substitute_for_a_petitioner_who_died() -> None:
    # IN-10 (published outcome; value derived): published 8 August 1978, applied on 21
    # August in time. The file waits for the longer appeal as well.
    died = case(event("filed", "1978-01-05"), event("abated", "1978-08-08"))
    answer = kept(
        "india", {"result-declared": "1977-12-01"}, "1978-08-09", cases=(died,)
    )
    said = " ".join(step.text for step in answer.steps)
    assert "is not settled before 22 August 1978 is over: substitution" in said


def test_united_kingdom() -> None:
    # UK-01 (published value), UK-04 (rule seen; value derived).
    events = {"return-made": "2010-05-07", "papers-received": "2010-05-08"}
    court = Calendar(WEEKEND, (Closure(day("2010-05-31"), day("2010-05-31")),))
    answer = kept("united-kingdom", events, "2010-05-10", court)
    assert term_ends(answer, "petition-window") == date(2010, 5, 28)
    assert answer.retain_through == date(2011, 5, 8)
    # UK-08 (rule seen; value derived): a Saturday, then a bank holiday on Monday.
    later = kept(
        "united-kingdom", {**events, "return-made": "2010-05-08"}, "2010-05-10", court
    )
    assert term_ends(later, "petition-window") == date(2010, 6, 1)


def test_canada() -> None:
    # CA-05 (rule seen; value derived).
    events = {"papers-received": "2021-10-15", "gazetted": "2021-10-08"}
    answer = kept("canada", events, "2021-10-16", Calendar(WEEKEND))
    assert answer.retain_through == date(2022, 10, 15)
    # Thirty days from 8 October 2021 are a Sunday; from 7 October a Saturday.
    assert term_ends(answer, "contest-window") == date(2021, 11, 8)
    saturday = kept(
        "canada", {**events, "gazetted": "2021-10-07"}, "2021-10-16", Calendar(WEEKEND)
    )
    assert term_ends(saturday, "contest-window") == date(2021, 11, 6)


def test_canada_contested() -> None:
    # CA-06 (rule seen; value derived): one year after the end of the contestation.
    ended = case(
        event("filed", "2021-11-01"), event("finally-disposed-of", "2023-02-28", FINAL)
    )
    events = {"papers-received": "2021-10-15", "gazetted": "2021-10-08"}
    assert kept("canada", events, "2023-03-01", cases=(ended,)).retain_through == date(
        2024, 2, 28
    )


@pytest.mark.parametrize(
    ("polled", "last"),
    [
        # US-01 (a forum post prints the day), US-02 and US-04 (rule seen).
        ("2020-11-03", date(2022, 9, 3)),
        ("2019-04-30", date(2021, 2, 28)),
        ("2024-11-05", date(2026, 9, 5)),
    ],
)
def test_united_states(polled: str, last: date) -> None:
    answer = kept("united-states-federal", {"polled": polled}, polled)
    assert answer.retain_through == last


def test_california() -> None:
    # US-06 (rule seen; value derived): so long as a contest is undetermined.
    events = {"polled": "2020-11-03", "result-declared": "2020-12-11"}
    quiet = kept("california", events, "2021-01-01")
    assert quiet.retain_through == date(2022, 9, 3)
    assert term_ends(quiet, "contest-window") == date(2021, 6, 11)
    decided = case(
        event("filed", "2021-01-04"), event("dismissed", "2022-12-15", FINAL)
    )
    contested = kept("california", events, "2022-12-16", cases=(decided,))
    assert contested.retain_through is None  # the court below has not decided
    ended = case(
        event("filed", "2021-01-04"), event("finally-disposed-of", "2022-12-15", FINAL)
    )
    assert kept("california", events, "2022-12-16", cases=(ended,)).retain_through == (
        date(2022, 12, 15)
    )


def test_texas() -> None:
    # US-09 gives 22 months from 5 November 2024: 5 September 2026. The sixty-first day
    # is the first on which the ballots may leave the locked box.
    events = {"polled": "2024-11-05", "result-declared": "2024-11-15"}
    answer = kept("texas", events, "2024-12-01")
    assert answer.retain_through == date(2026, 9, 5)
    assert term_ends(answer, "locked-room") == date(2025, 1, 4)
    assert date(2025, 1, 5).toordinal() - date(2024, 11, 5).toordinal() == 61


def test_virginia() -> None:
    # US-10 (rule seen; value derived): two years from arrival in the clerk's office.
    events = {"polled": "2024-11-05", "papers-received": "2024-11-06"}
    assert kept("virginia", events, "2024-11-07").retain_through == date(2026, 11, 6)


def test_new_south_wales() -> None:
    # NSW-01 and NSW-02 (rule seen; value derived): the latest of the terms, and the
    # determination of a petition.
    events = {"polled": "2023-03-25", "return-made": "2023-04-20"}
    answer = kept("new-south-wales", events, "2023-05-01", Calendar(WEEKEND))
    assert answer.retain_through == date(2023, 9, 25)
    assert term_ends(answer, "dispute-window") == date(2023, 5, 30)
    determined = case(
        event("filed", "2023-05-20", FINAL), event("dismissed", "2023-11-30", FINAL)
    )
    later = kept("new-south-wales", events, "2023-12-01", cases=(determined,))
    assert later.retain_through == date(2023, 11, 30)


def test_ireland() -> None:
    # IE-02 and IE-03 (rule seen; value derived).
    events = {"polled": "2020-02-08", "result-declared": "2020-02-10"}
    answer = kept("ireland", events, "2020-02-11")
    assert answer.retain_through == date(2020, 8, 8)
    assert term_ends(answer, "petition-window") == date(2020, 3, 9)


def test_new_zealand_counts_months_from_the_day_after() -> None:
    # NZ-03 gives the rule (rule seen; value derived): six months after 31 October run
    # from 1 November to 30 April; after 30 September to 31 March.
    events = {"papers-received": "2023-09-30", "result-declared": "2023-09-30"}
    assert kept("new-zealand", events, "2023-10-01").retain_through == date(2024, 3, 31)
    expected = case(event("expected", "2023-11-01"))
    held = kept("new-zealand", events, "2025-01-01", cases=(expected,))
    assert held.retain_through is None


def test_germany() -> None:
    # DE-01 (rule seen; value derived). The election of 23 February 2025 is from memory.
    answer = kept("germany", {"polled": "2021-09-26"}, "2021-10-01")
    assert term_ends(answer, "objection-window") == date(2021, 11, 26)
    assert answer.retain_through is None
    called = kept(
        "germany",
        {"polled": "2021-09-26", "next-poll": "2025-02-23"},
        "2024-12-25",
    )
    assert called.may_be_disposed_from == date(2024, 12, 25)
    assert called.is_over


def test_kenya() -> None:
    # KE-02 (rule seen; value derived).
    answer = kept("kenya", {"result-declared": "2013-03-07"}, "2013-03-08")
    assert term_ends(answer, "petition-window") == date(2013, 4, 4)


def test_nepal_counts_three_months_from_the_end_of_the_limitation() -> None:
    # NP-02 (rule seen; value derived): limitation over on 31 October 2013.
    answer = kept("nepal", {"result-declared": "2013-10-16"}, "2013-10-17")
    assert answer.retain_through == date(2014, 1, 31)


def test_the_court_may_open_what_the_keeper_may_not() -> None:
    # Canada Elections Act s 540(3); New Zealand Electoral Act 1993 s 189(1).
    for name, title in (
        ("canada", "a judge of a superior court"),
        ("new-zealand", "a court of competent jurisdiction"),
    ):
        rules = reference(name).authorities_for(
            Act.OPEN_ENVELOPE, ContentKind.STATUTORY_PACKET, KeepingState.STILL_KEPT
        )
        assert title in [rule.authority for rule in rules]
