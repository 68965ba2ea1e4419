"""The forks that published law takes, each written in a schedule and counted.

Beside each stands its source, and whether it was looked up or is from memory. Years
that a source leaves open were chosen by us.
"""

from datetime import date

import pytest

from registry.rules.acts import Act, KeepingState
from registry.rules.calendars import Calendar, Closure, ClosureKind
from registry.rules.periods import (
    Direction,
    IfClosed,
    Period,
    PeriodError,
    RollsOn,
    Unit,
    last_day_of_legs,
)
from registry.rules.schedules import ContentKind, ScheduleError, Trigger
from tests.rules.calvenna import FINAL, FIRST, case, day, event
from tests.rules.written import ANY_TERM, TERM, counted, ends, kept_by, term_of, written

SATURDAY, SUNDAY = 5, 6


def closed(*spans: str, kind: ClosureKind = ClosureKind.UNSAID, by: str = "") -> tuple:
    """Return closures written as 2024-05-01 or 2024-05-01..2024-05-09."""
    made = []
    for span in spans:
        first, _, last = span.partition("..")
        made.append(Closure(day(first), day(last or first), "closed", by, kind=kind))
    return tuple(made)


# --- what starts it ----------------------------------------------------------------


@pytest.mark.parametrize(
    ("trigger", "source"),
    [
        ("result-declared", "India, RPA 1951 s 81(1): the election of the candidate"),
        ("gazetted", "Canada Elections Act s 527: published in the Gazette"),
        ("return-made", "UK RPA 1983 s 122(1): the return was made to the Clerk"),
        ("return-received", "Canada Elections Act s 540(1): sent with the return"),
        ("papers-received", "UK Electoral Commission guidance on rule 57: receipt"),
        ("polled", "Ireland, Electoral Act 1992 s 129(3): the date of the poll"),
        ("counted", "from memory: laws that count from the end of the count"),
    ],
)
def test_each_event_of_an_election_can_start_a_term(trigger: str, source: str) -> None:
    schedule = written(f'{TERM}after = ["{trigger}"]\nlength = 1\nunit = "years"\n')
    kept = kept_by(schedule, {trigger: "2023-06-01"}, "2023-07-01")
    assert kept.retain_through == date(2024, 6, 1), source
    # Nothing else that happened starts it.
    other = "polled" if trigger != "polled" else "counted"
    assert kept_by(schedule, {other: "2023-06-01"}, "2023-07-01").retain_through is None


@pytest.mark.parametrize(
    ("published", "declared"),
    [("2023-06-01", "2023-06-08"), ("2023-06-08", "2023-06-01")],
)
def test_the_later_of_two_events_may_start_it(published: str, declared: str) -> None:
    # The Lithuanian and Canadian pattern "the later of": Canada Elections Act s 527,
    # looked up at te.gob.mx (thirty days after the later of two days).
    schedule = written(
        f'{TERM}after = ["gazetted", "result-declared"]\nlength = 30\nunit = "days"\n'
    )
    kept = kept_by(
        schedule, {"gazetted": published, "result-declared": declared}, "2023-06-09"
    )
    assert kept.retain_through == date(2023, 7, 8)


# --- the first day, and where months end -------------------------------------------


def test_the_first_day_is_left_out_or_counted_in() -> None:
    # Rows NG-02 and NG-03 of deadline_cases.csv: the Nigerian Electoral Act 2006 s 141
    # counts the day in, the Interpretation Act s 15(2)(a) leaves it out.
    days = 'length = 30\nunit = "days"\n'
    assert ends(days + 'counting = "include-first"', "2007-04-28") == "2007-05-27"
    assert ends(days, "2007-04-28") == "2007-05-28"


def test_months_end_in_three_ways() -> None:
    month = 'length = 1\nunit = "months"\n'
    # Dodds v Walker [1981]: corresponding date (row DODDS-01 for the rule).
    assert ends(month, "2003-02-28") == "2003-03-28"
    # Reg. (EC) 2245/2002 art 56(4), row EUDES-01: last day to last day.
    last = month + 'month_end = "last-to-last"'
    assert ends(last, "2003-02-28") == "2003-03-31"
    # New Zealand Legislation Act 2019 s 56, row NZ-03: from the day after.
    after = 'length = 3\nunit = "months"\ncounting = "day-after"'
    assert ends(after, "2021-09-30") == "2021-12-31"


# --- legs --------------------------------------------------------------------------

TEN_DAYS = '[[term.legs]]\nlength = 10\nunit = "days"\n'
TWO_MONTHS = '[[term.legs]]\nlength = 2\nunit = "months"\n'


def test_ten_days_and_two_months_are_not_two_months_and_ten_days() -> None:
    # EPO Board of Appeal T 2056/08, rows EPC-02 and EPC-03: the order of counting
    # decided an appeal.
    assert ends(TEN_DAYS + TWO_MONTHS, "2008-07-21") == "2008-09-30"
    assert ends(TWO_MONTHS + TEN_DAYS, "2008-07-21") == "2008-10-01"


def test_an_end_in_between_does_not_roll() -> None:
    # Row EPC-07 (EPC practice): six months run from the due date, not from the day to
    # which it rolled. 31 October 2020 is a Saturday.
    weekend = Calendar(frozenset({SATURDAY, SUNDAY}))
    legs = (
        'if_closed = "next-open"\n[[term.legs]]\nlength = 10\nunit = "days"\n'
        '[[term.legs]]\nlength = 6\nunit = "months"\n'
    )
    got = counted(legs, "2020-10-21", weekend)
    assert got.last_day == date(2021, 4, 30)
    between = [s for s in got.steps if s.code == "period.next-leg"]
    assert [s.date for s in between] == [date(2020, 10, 31)]
    assert sum(step.decides for step in got.steps) == 1


def test_the_last_leg_rolls_as_the_term_says() -> None:
    weekend = Calendar(frozenset({SATURDAY, SUNDAY}))
    legs = 'if_closed = "next-open"\n' + TEN_DAYS + TEN_DAYS
    # 3 + 10 + 10 = Sunday 23 June 2024.
    assert ends(legs, "2024-06-03", weekend) == "2024-06-24"
    assert ends(TEN_DAYS + TEN_DAYS, "2024-06-03", weekend) == "2024-06-23"


def test_three_legs_are_counted_in_their_order() -> None:
    one_day = '[[term.legs]]\nlength = 1\nunit = "days"\n'
    # 31 January + 1 day, + 2 months, + 10 days.
    assert ends(one_day + TWO_MONTHS + TEN_DAYS, "2024-01-31") == "2024-04-11"
    assert len(term_of('after = ["polled"]\n' + one_day * 3).legs) == 3


def test_a_time_of_no_legs_is_refused() -> None:
    with pytest.raises(PeriodError, match="at least one leg"):
        last_day_of_legs([date(2024, 1, 1)], [])


def test_three_months_from_the_end_of_the_petition_window() -> None:
    # Nepal, s 70(4) of the act named in row NP-02: three months from the date of the
    # expiry of the limitation. The length of the limitation here is ours.
    legs = (
        '[[term.legs]]\nlength = 35\nunit = "days"\n'
        '[[term.legs]]\nlength = 3\nunit = "months"\n'
    )
    assert ends(legs, "2013-09-26") == "2014-01-31"


@pytest.mark.parametrize(
    ("keys", "line", "key", "advice"),
    [
        ('length = 3\nunit = "days"\n' + TEN_DAYS, -5, "term.1.length", "not known"),
        ('[[term.legs]]\nlength = 0\nunit = "days"\n', -1, "term.1.legs.1.length", "1"),
        (TEN_DAYS + 'if_closed = "keep"\n', 0, "term.1.legs.1.if_closed", "not known"),
    ],
)
def test_a_wrong_leg_is_named_with_its_line(
    keys: str, line: int, key: str, advice: str
) -> None:
    text = TERM + 'after = ["polled"]\n' + keys
    with pytest.raises(ScheduleError) as caught:
        written(text)
    (problem,) = [each for each in caught.value.problems if each.key == key]
    assert advice in problem.message
    last = 20 + len(text.splitlines())
    assert last - 8 <= problem.line <= last + 1


def test_the_second_leg_of_the_second_term_is_found_in_the_file() -> None:
    bad = '[[term.legs]]\nlength = 1\nunit = "moons"\n'
    text = ANY_TERM + TERM.replace("the-term", "other") + 'after = ["polled"]\n'
    text += TEN_DAYS + bad
    with pytest.raises(ScheduleError) as caught:
        written(text)
    (problem,) = caught.value.problems
    assert problem.key == "term.2.legs.2.unit"
    # The head has a line for the root keys and one for the confirmation's, left empty.
    head = written_head_lines()
    assert problem.line == head + len(text.splitlines())


def written_head_lines() -> int:
    from tests.rules.written import HEAD

    return len(HEAD.format(root="", confirmation="").splitlines())


# --- which closed days move a last day ---------------------------------------------

# Friday 14 June 2024 was declared a day without receipt by a named paper; Saturday and
# Sunday are closed weekdays; Monday 17 June is a holiday; 18 June lies in a vacation.
REGISTRY = Calendar(
    weekdays=frozenset({SATURDAY, SUNDAY}),
    closures=(
        *closed("2024-06-14", kind=ClosureKind.EVENT, by="N 7/2024 (storm)"),
        *closed("2024-06-17", kind=ClosureKind.HOLIDAY),
        *closed("2024-06-18..2024-06-20", kind=ClosureKind.VACATION),
    ),
)
TEN = 'length = 10\nunit = "days"\n'


@pytest.mark.parametrize(
    ("rule", "friday", "saturday", "sunday", "tuesday"),
    [
        # India, General Clauses Act s 10 (looked up): whenever the office is closed.
        ('if_closed = "next-open"', "21", "21", "21", "21"),
        # Hukumdev v L.N. Mishra (desks.md B.2): a Saturday on which the registry works
        # moves nothing; only a day on which it received nothing does.
        (
            'if_closed = "next-open"\nrolls_on = "not-receiving"',
            "21",
            "15",
            "16",
            "18",
        ),
        # Canada, Interpretation Act s 26 (from memory): a holiday, which a Sunday is
        # and a Saturday is not.
        (
            'if_closed = "next-open"\nrolls_on = "sundays-and-holidays"',
            "14",
            "15",
            "18",
            "18",
        ),
        # Austria, e.g. Carinthian municipal election code s 55(2) as published at
        # gesetzefinden.at (looked up): the day stays, the office must be reachable.
        ('if_closed = "keep"', "14", "15", "16", "18"),
    ],
)
def test_a_last_day_rolls_always_or_seldom_or_never(
    rule: str, friday: str, saturday: str, sunday: str, tuesday: str
) -> None:
    starts = ["2024-06-04", "2024-06-05", "2024-06-06", "2024-06-08"]
    got = [ends(TEN + rule, start, REGISTRY) for start in starts]
    assert got == [f"2024-06-{d}" for d in (friday, saturday, sunday, tuesday)]


def test_a_weekend_without_a_notification_is_no_day_without_receipt() -> None:
    # "Registry closed for filing" is recorded, never inferred from a weekend.
    no_paper = Calendar(frozenset({SUNDAY}), closed("2024-06-14"))
    rule = TEN + 'if_closed = "next-open"\nrolls_on = "not-receiving"'
    assert ends(rule, "2024-06-04", no_paper) == "2024-06-14"
    got = counted(rule, "2024-06-04", no_paper)
    assert "only days on which, by a notification" in got.steps[-1].text


def test_every_kind_of_stay_is_told() -> None:
    rule = TEN + 'if_closed = "next-open"\nrolls_on = "sundays-and-holidays"'
    told = counted(rule, "2024-06-05", REGISTRY).steps[-1]
    assert "only Sundays and holidays move the last day" in told.text


@pytest.mark.parametrize("limit", [5, 6, 7])
def test_short_periods_leave_closed_days_out_up_to_a_limit(limit: int) -> None:
    # 5: E&W CPR 2.8(4) (row CPR-01). 6: Rules of the Supreme Court of Canada s 5(2),
    # "less than six" read as five, and Kenya, Constitution art 259(6), six or less
    # (looked up at wazua.co.ke). 7: UK RPA 1983 s 119(1)(b), not more than seven
    # (looked up at legislation.gov.uk).
    weekend = Calendar(frozenset({SATURDAY, SUNDAY}))
    monday = "2024-06-03"
    keys = 'length = {}\nunit = "days"\nskip_closed_within = {}'
    within = ends(keys.format(limit, limit), monday, weekend)
    beyond = ends(keys.format(limit + 1, limit), monday, weekend)
    assert within == {5: "2024-06-10", 6: "2024-06-11", 7: "2024-06-12"}[limit]
    assert beyond == f"2024-06-{3 + limit + 1:02}"


# --- backward ----------------------------------------------------------------------

NOTICE = """
[[notice]]
name = "parties"
title = "Notice to the parties"
act = "destroy"
clause = "s 5"
length = 10
unit = "days"
"""


def notice_day(keys: str, act_on: str, calendar: Calendar) -> str:
    schedule = written(ANY_TERM + NOTICE + keys)
    (notice,) = schedule.notices_before(Act.DESTROY)
    assert schedule.notices_before(Act.OPEN_BOX) == ()
    return notice.last_day(day(act_on), calendar).last_day.isoformat()


LABOUR_DAY = Calendar(frozenset({SATURDAY, SUNDAY}), closed("2007-09-03"))


def test_backward_counts_roll_backward_or_not_at_all() -> None:
    # US Fed. R. App. P. 26, 2009 Committee Note, row FRAP-02 (published value).
    back = 'if_closed = "previous-open"\n'
    assert notice_day(back, "2007-09-11", LABOUR_DAY) == "2007-08-31"
    # Reg. 1182/71 art 3(4), row EU-04 (from memory): a backward count stays.
    assert notice_day("", "2023-06-20", LABOUR_DAY) == "2023-06-10"


def test_a_closed_registry_on_the_rolled_day_runs_forward_again() -> None:
    # Fed. R. Civ. P. 6(a)(3) (from memory): where the clerk's office is inaccessible on
    # the last day the time runs to the first accessible day, counted forward or not.
    storm = Calendar(
        LABOUR_DAY.weekdays,
        (
            *LABOUR_DAY.closures,
            *closed("2007-08-31", kind=ClosureKind.EVENT, by="order of 31 August"),
        ),
    )
    keys = 'if_closed = "previous-open"\nforward_if_not_receiving = true\n'
    assert notice_day(keys, "2007-09-11", storm) == "2007-09-04"
    assert notice_day(keys, "2007-09-11", LABOUR_DAY) == "2007-08-31"


def test_forward_again_needs_a_day_without_receipt() -> None:
    keys = TEN + "forward_if_not_receiving = true\n"
    # Friday 14 June: by a named paper nothing was received.
    assert ends(keys, "2024-06-04", REGISTRY) == "2024-06-21"
    assert ends(keys, "2024-06-05", REGISTRY) == "2024-06-15"


def test_only_an_event_by_a_named_paper_runs_forward_again() -> None:
    keys = TEN + "forward_if_not_receiving = true\n"
    vacation = closed("2024-06-14", kind=ClosureKind.VACATION, by="the calendar")
    no_paper = closed("2024-06-14", kind=ClosureKind.EVENT)
    for closures in (vacation, no_paper):
        assert ends(keys, "2024-06-04", Calendar(closures=closures)) == "2024-06-14"


def test_running_forward_again_is_told() -> None:
    keys = TEN + "forward_if_not_receiving = true\n"
    told = counted(keys, "2024-06-04", REGISTRY).steps[-1]
    assert told.date == date(2024, 6, 21)
    assert told.text == (
        "14 June 2024 to 20 June 2024 are closed (closed (N 7/2024 (storm)); Saturday; "
        "Sunday; closed), and nothing was received: the day runs on to the next open "
        "day, 21 June 2024."
    )


def test_the_first_open_day_after_may_run_forward_again() -> None:
    keys = 'length = 9\nunit = "days"\nif_closed = "first-open-after"\n'
    # Nine days: Thursday 13 June; the first open day after it is the day of the storm.
    assert ends(keys, "2024-06-04", REGISTRY) == "2024-06-21"
    keys += "forward_if_not_receiving = true\n"
    assert ends(keys, "2024-06-04", REGISTRY) == "2024-06-21"
    assert ends(keys, "2024-06-04") == "2024-06-14"


def test_a_wrong_roll_of_a_notice_is_named_with_its_line() -> None:
    text = ANY_TERM + NOTICE + 'if_closed = "next-open"\n'
    with pytest.raises(ScheduleError) as caught:
        written(text)
    (problem,) = caught.value.problems
    assert problem.key == "notice.1.if_closed"
    assert problem.line == written_head_lines() + len(text.splitlines())
    assert problem.message == (
        'would shorten the notice; write "keep" or "previous-open".'
    )


def test_a_notice_that_rolls_forward_would_be_too_short() -> None:
    for word in ("next-open", "first-open-after"):
        with pytest.raises(ScheduleError, match="would shorten the notice"):
            written(ANY_TERM + NOTICE + f'if_closed = "{word}"\n')


BEFORE_THE_NEXT = """
after = ["next-poll"]
direction = "backward"
length = 60
unit = "days"
counting = "clear"
"""


def test_material_may_be_kept_until_so_long_before_the_next_election() -> None:
    # Germany, Bundeswahlordnung s 90(3) (looked up at buzer.de): the other papers may
    # be destroyed 60 days before the election of the new Bundestag. 23 February 2025
    # is from memory; the day counted back from it is ours.
    schedule = written(TERM + BEFORE_THE_NEXT)
    kept = kept_by(schedule, {"next-poll": "2025-02-23"}, "2024-12-01")
    assert kept.may_be_disposed_from == date(2024, 12, 25)
    assert kept.retain_through == date(2024, 12, 24)
    assert "counted back from it" in kept.steps[0].text


def test_as_long_as_no_next_election_is_called_it_is_kept() -> None:
    assert (
        kept_by(written(TERM + BEFORE_THE_NEXT), {}, "2024-12-01").retain_through
        is None
    )


def test_a_next_election_that_lies_ahead_starts_no_forward_term() -> None:
    keys = 'after = ["next-poll"]\nlength = 1\nunit = "days"\n'
    ahead = kept_by(written(TERM + keys), {"next-poll": "2025-02-23"}, "2024-12-01")
    assert ahead.retain_through is None


def test_only_the_next_election_is_counted_back_from() -> None:
    text = TERM + BEFORE_THE_NEXT.replace("next-poll", "polled")
    with pytest.raises(ScheduleError) as caught:
        written(text)
    (problem,) = caught.value.problems
    assert problem.key == "term.1.direction"
    assert 'after = ["next-poll"]' in problem.message


def test_a_backward_term_does_not_roll_towards_an_earlier_day() -> None:
    text = TERM + BEFORE_THE_NEXT + 'if_closed = "previous-open"\n'
    with pytest.raises(ScheduleError) as caught:
        written(text)
    (problem,) = caught.value.problems
    assert problem.key == "term.1.if_closed"
    assert problem.line == written_head_lines() + len(text.splitlines())
    assert problem.message == (
        "would release containers before the day so counted; write "
        '"keep" or "next-open".'
    )


# --- a floor is no limit -----------------------------------------------------------


def test_a_retention_floor_keeps_two_values_and_does_not_roll() -> None:
    # Row UK-03: one year from the poll of 6 May 2010 ends on 6 May 2011. In the row
    # beside it the year ends on a Sunday and stays there.
    schedule = written(f'{TERM}after = ["polled"]\nlength = 1\nunit = "years"\n')
    weekend = Calendar(frozenset({SATURDAY, SUNDAY}))
    kept = kept_by(schedule, {"polled": "2010-05-08"}, "2010-06-01", calendar=weekend)
    assert kept.retain_through == date(2011, 5, 8)
    assert kept.retain_through.weekday() == SUNDAY
    assert kept.may_be_disposed_from == date(2011, 5, 9)


# --- the windows after a decision --------------------------------------------------

WINDOW = """
[[appeal_window]]
name = "appeal"
after = ["{after}"]
levels = ["{level}"]
clause = "s 9"
length = {length}
unit = "days"
{more}
"""


def window(after: str, level: str, length: int, more: str = "") -> str:
    text = WINDOW.replace('"appeal"', f'"appeal {after} {level}"')
    return text.format(after=after, level=level, length=length, more=more)


def settled_through(schedule, kind: str, level=FIRST) -> str:
    decided = case(event("filed", "2026-01-05"), event(kind, "2026-03-02", level))
    events = {"polled": "2025-11-03"}
    kept = kept_by(schedule, events, "2026-03-03", cases=(decided,))
    return kept.retain_through.isoformat() if kept.retain_through else "no end"


def test_the_appeal_window_depends_on_the_decision_and_on_the_court() -> None:
    # India: RPA 1951 s 116A, thirty days to the Supreme Court (row IN-13, from memory);
    # s 112(3), fourteen days for a substitute (looked up at advocatekhoj.com).
    schedule = written(
        ANY_TERM + window("dismissed", "first", 30) + window("abated", "first", 14)
    )
    assert settled_through(schedule, "dismissed") == "2026-04-01"
    assert settled_through(schedule, "abated") == "2026-03-16"
    assert settled_through(schedule, "allowed") == "no end"


def test_an_appeal_window_that_is_not_waited_for_is_shown_only() -> None:
    # Canada Elections Act s 540(1) waits for the end of the contestation; a law that
    # lets the decision settle at once is from memory.
    schedule = written(ANY_TERM + window("dismissed", "first", 30, "waits = false"))
    assert settled_through(schedule, "dismissed") == "2026-03-02"
    decided = case(event("filed", "2026-01-05"), event("dismissed", "2026-03-02"))
    kept = kept_by(schedule, {"polled": "2025-11-03"}, "2026-03-03", cases=(decided,))
    assert "runs through 1 April 2026, but the schedule does not wait" in " ".join(
        step.text for step in kept.steps
    )


def test_one_year_after_the_end_of_the_contestation() -> None:
    # Canada Elections Act s 540(1), row CA-06 (rule looked up, value derived).
    year = window("dismissed", "final", 1).replace('"days"', '"years"')
    decided = case(
        event("filed", "2022-01-05", FINAL), event("dismissed", "2023-02-28", FINAL)
    )
    kept = kept_by(
        written(ANY_TERM + year),
        {"polled": "2021-09-20"},
        "2023-03-01",
        cases=(decided,),
    )
    assert kept.retain_through == date(2024, 2, 28)


def test_an_appeal_window_may_have_legs() -> None:
    legs = window("dismissed", "first", 1)
    legs = legs.replace('length = 1\nunit = "days"\n', "")
    legs += '[[appeal_window.legs]]\nlength = 10\nunit = "days"\n'
    legs += '[[appeal_window.legs]]\nlength = 2\nunit = "months"\n'
    assert settled_through(written(ANY_TERM + legs), "dismissed") == "2026-05-12"


# --- the death of a sole petitioner -------------------------------------------------


def test_death_of_a_sole_petitioner_opens_a_window_before_abatement_is_final() -> None:
    # India, RPA 1951 s 112 (looked up): the petition abates on the death of a sole
    # petitioner; within fourteen days of the publication another may be substituted.
    schedule = written(
        ANY_TERM + window("petitioner-died", "first", 14) + window("abated", "first", 3)
    )
    died = (event("filed", "2026-01-05"), event("petitioner-died", "2026-03-02"))
    polled = {"polled": "2025-11-03"}
    pending = kept_by(schedule, polled, "2026-06-01", cases=(case(*died),))
    assert pending.retain_through is None

    abated = case(*died, event("abated", "2026-03-05"))
    kept = kept_by(schedule, polled, "2026-03-06", cases=(abated,))
    assert kept.retain_through == date(2026, 3, 16)

    substituted = case(
        *died, event("abated", "2026-03-05"), event("substituted", "2026-03-10")
    )
    again = kept_by(schedule, polled, "2026-03-11", cases=(substituted,))
    assert again.retain_through is None


# --- margins -----------------------------------------------------------------------

MARGIN = """
[safety_margin]
inner_days = 30
outer_days = 7
clause = "s 12"
"""
PETITION = """
[[term]]
name = "window"
title = "The window"
for = ["poll-slips"]
after = ["polled"]
clause = "s 1"
length = 21
unit = "days"
petition_window = true
"""


def test_the_inner_margin_follows_each_window_and_the_outer_one_everything() -> None:
    # Failure mode 1 of this project's reference: a margin after the window before
    # anything becomes eligible. The lengths are ours.
    kept = kept_by(written(PETITION + MARGIN), {"polled": "2026-01-05"}, "2026-01-06")
    # 21 days: 26 January; 30 more: 25 February; 7 more: 4 March.
    assert [hold.through for hold in kept.holds] == [
        date(2026, 2, 25),
        date(2026, 3, 4),
    ]
    assert kept.retain_through == date(2026, 3, 4)
    assert kept.governed_by == "safety-margin"
    assert kept.confirm_through == date(2026, 2, 25)
    said = " ".join(step.text for step in kept.steps)
    assert "A safety margin of 30 days after 26 January 2026" in said
    assert "a safety margin of 7 days beyond it (s 12)" in said


def test_the_outer_margin_keeps_until_it_is_over() -> None:
    schedule = written(PETITION + MARGIN)
    inside = kept_by(schedule, {"polled": "2026-01-05"}, "2026-03-04")
    after = kept_by(schedule, {"polled": "2026-01-05"}, "2026-03-05")
    assert not inside.is_over
    assert [hold.governed_by for hold in inside.running] == ["safety-margin"]
    assert after.is_over
    assert inside.state is KeepingState.STILL_KEPT
    assert after.state is KeepingState.FREE


def test_a_term_that_is_no_window_has_no_inner_margin() -> None:
    floor = PETITION.replace("petition_window = true", "")
    margin = MARGIN.replace("outer_days = 7", "")
    kept = kept_by(written(floor + margin), {"polled": "2026-01-05"}, "2026-01-06")
    assert kept.retain_through == date(2026, 1, 26)


def test_what_has_no_end_has_no_margin_either() -> None:
    kept = kept_by(written(PETITION + MARGIN), {}, "2026-01-06")
    assert kept.retain_through is None
    assert [hold.governed_by for hold in kept.holds] == ["window"]


def test_the_inner_margin_follows_an_appeal_window_too() -> None:
    schedule = written(PETITION + MARGIN + window("dismissed", "first", 30))
    decided = case(event("filed", "2026-01-06"), event("dismissed", "2026-03-02"))
    kept = kept_by(schedule, {"polled": "2026-01-05"}, "2026-03-03", cases=(decided,))
    assert kept.retain_through == date(2026, 5, 8)


# --- who may permit what -----------------------------------------------------------

AUTHORITIES = """
[[authority]]
authority = "the High Court"
acts = ["open-box", "open-envelope", "take-out"]
for = ["poll-slips"]
states = ["case-pending", "under-order", "still-kept"]
clause = "r 56(1)"
[[authority]]
authority = "the House"
acts = ["open-box"]
for = ["poll-slips"]
states = ["still-kept"]
clause = "r 56(1)(i)"
"""


def test_which_authority_may_permit_what_depends_on_act_class_and_state() -> None:
    # UK RPA 1983 sch 1 r 56 (looked up at legislation.gov.uk): the House of Commons, or
    # the High Court or a county court. The third state is ours.
    schedule = written(ANY_TERM + AUTHORITIES)

    def who(act: Act, state: KeepingState) -> list[str]:
        rules = schedule.authorities_for(act, ContentKind.POLL_SLIPS, state)
        return [rule.authority for rule in rules]

    assert who(Act.OPEN_BOX, KeepingState.STILL_KEPT) == ["the High Court", "the House"]
    assert who(Act.OPEN_ENVELOPE, KeepingState.CASE_PENDING) == ["the High Court"]
    assert who(Act.DESTROY, KeepingState.STILL_KEPT) == []
    packets = schedule.authorities_for(
        Act.OPEN_BOX, ContentKind.STATUTORY_PACKET, KeepingState.STILL_KEPT
    )
    assert packets == ()


def test_a_case_outranks_an_order_and_an_order_a_term() -> None:
    pending = kept_by(
        written(ANY_TERM),
        {"polled": "2026-01-05"},
        "2026-01-06",
        cases=(case(event("filed", "2026-01-05")),),
    )
    assert pending.state is KeepingState.CASE_PENDING


def test_an_unknown_word_of_an_authority_is_named() -> None:
    text = ANY_TERM + AUTHORITIES.replace('"take-out"', '"burn"')
    with pytest.raises(ScheduleError) as caught:
        written(text)
    (problem,) = caught.value.problems
    assert problem.key == "authority.1.acts"
    assert "destroy" in problem.message


# --- what a clause rests on --------------------------------------------------------


def test_what_was_looked_up_says_where() -> None:
    with pytest.raises(ScheduleError, match="looked_up_in"):
        written(ANY_TERM + 'basis = "looked-up"\n')
    term = term_of(
        'after = ["polled"]\nlength = 1\nunit = "days"\nbasis = "looked-up"\n'
        'looked_up_in = "a gazette"\n'
    )
    assert (term.basis, term.looked_up_in) == ("looked-up", "a gazette")


def test_the_words_of_the_law_reach_the_period() -> None:
    term = term_of(
        'after = ["gazetted"]\nlength = 5\nunit = "days"\nif_closed = "next-open"\n'
        'rolls_on = "not-receiving"\nforward_if_not_receiving = true\n'
    )
    assert term.triggers == (Trigger.GAZETTED,)
    assert term.period == Period(
        5,
        Unit.DAYS,
        direction=Direction.FORWARD,
        if_closed=IfClosed.NEXT_OPEN,
        rolls_on=RollsOn.NOT_RECEIVING,
        forward_if_not_receiving=True,
    )


def test_an_express_order_may_stand_in_for_the_confirmation() -> None:
    # India, r 94 proviso (from memory): subject to any direction of the Commission or
    # of a competent court. The key itself is this project's.
    schedule = written(ANY_TERM, confirmation="or_express_order = true")
    assert schedule.express_order_suffices
    assert not written(ANY_TERM).express_order_suffices


def test_a_reference_is_marked_as_not_confirmed() -> None:
    assert written(ANY_TERM, root="to_be_confirmed = true").to_be_confirmed
    assert not written(ANY_TERM).to_be_confirmed


def test_the_end_of_a_leg_in_between_is_not_rolled_whatever_that_leg_says():
    """The next leg begins on the counted day (EPO Board of Appeal T 2056/08, in
    cases/deadline_cases.csv: ten days, then two months of the tenth day)."""
    thursday = date(2026, 3, 5)  # ten days on is Sunday 15 March
    legs = (
        Period(10, Unit.DAYS, if_closed=IfClosed.NEXT_OPEN),
        Period(2, Unit.MONTHS),
    )
    sundays = Calendar(weekdays=frozenset({6}))
    counted = last_day_of_legs([thursday], legs, sundays)
    assert counted.last_day == date(2026, 5, 15)
    assert all(step.text for step in counted.steps)
