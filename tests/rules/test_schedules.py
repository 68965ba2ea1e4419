"""A schedule is data: what is right in it is read, all that is wrong is named."""

import re
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from registry.rules.cases import CaseEventKind, CourtLevel
from registry.rules.markings import Marking
from registry.rules.periods import Counting, IfClosed, MonthEnd, Period, Unit
from registry.rules.schedules import (
    Basis,
    ContentKind,
    Schedule,
    ScheduleError,
    Trigger,
    read_schedule,
)
from tests.rules.calvenna import SCHEDULE, TEXT


def with_line(old: str, new: str) -> tuple[str, int]:
    """Return the demo's schedule with one line replaced, and that line's number."""
    lines = TEXT.splitlines()
    at = next(n for n, line in enumerate(lines) if line.startswith(old))
    lines[at] = new
    return "\n".join(lines), at + 1


def problems_in(text: str) -> list[tuple[int, str, str]]:
    """Return the line, key and message of each problem found in the text."""
    with pytest.raises(ScheduleError) as caught:
        read_schedule(text, "mine.toml")
    found = caught.value.problems
    assert str(caught.value).splitlines() == [str(problem) for problem in found]
    assert all(str(problem).startswith("mine.toml, line ") for problem in found)
    return [(each.line, each.key, each.message) for each in found]


# --- what is right is read ---------------------------------------------------------


def test_the_demos_schedule_says_what_its_comments_say() -> None:
    slips = SCHEDULE.classes[ContentKind.POLL_SLIPS]
    window, minimum = slips.terms

    assert (SCHEDULE.code, SCHEDULE.version) == ("calvenna", 3)
    assert SCHEDULE.in_force_from == date(2024, 3, 1)
    assert window.triggers == (Trigger.RESULT_DECLARED,)
    assert window.period == Period(45, Unit.DAYS, if_closed=IfClosed.NEXT_OPEN)
    assert window.petition_window
    assert minimum.period == Period(12, Unit.MONTHS, if_closed=IfClosed.KEEP)
    assert (minimum.clause, minimum.source) == ("rule 9(1)", SCHEDULE.law)
    assert SCHEDULE.confirmation_required
    assert slips.destruction_level == "P-4"


def test_every_required_marking_of_the_trade_is_asked_for_on_poll_slips() -> None:
    # Source: the markings that issue 2 of this project names for an envelope.
    asked = SCHEDULE.classes[ContentKind.POLL_SLIPS].envelope_markings
    assert set(asked) == set(Marking)


def test_a_decision_may_open_several_windows() -> None:
    windows = SCHEDULE.windows_after(CaseEventKind.ABATED, CourtLevel.FIRST)
    assert {window.clause for window in windows} == {"rule 11(3)", "rule 10(2)"}


def test_a_term_may_wait_for_the_latest_of_several_events() -> None:
    packets = SCHEDULE.classes[ContentKind.STATUTORY_PACKET]
    assert packets.terms[1].triggers == (Trigger.POLLED, Trigger.COUNTED)


# Each fork is one that published law takes; the source stands beside it.
FORKS = {
    # India, Representation of the People Act 1951 s 81 with General Clauses Act s 10.
    'length = 45\nunit = "days"\nif_closed = "next-open"': Period(
        45, Unit.DAYS, if_closed=IfClosed.NEXT_OPEN
    ),
    # UK, Representation of the People Act 1983 sch 1 r 53A: the next working day
    # following the 21st day.
    'length = 21\nunit = "days"\nif_closed = "first-open-after"': Period(
        21, Unit.DAYS, if_closed=IfClosed.FIRST_OPEN_AFTER
    ),
    # Nigeria, Electoral Act 2006 s 141: the day of the declaration is counted.
    'length = 30\nunit = "days"\ncounting = "include-first"': Period(
        30, Unit.DAYS, counting=Counting.INCLUDE_FIRST
    ),
    # New Zealand, Legislation Act 2019 s 56: months run from the day after.
    'length = 3\nunit = "months"\ncounting = "day-after"': Period(
        3, Unit.MONTHS, counting=Counting.DAY_AFTER
    ),
    # Reg. (EC) 2245/2002 art 56(4): from a month's last day to a month's last day.
    'length = 1\nunit = "months"\nmonth_end = "last-to-last"': Period(
        1, Unit.MONTHS, month_end=MonthEnd.LAST_TO_LAST
    ),
    # USA, 52 U.S.C. 20701.
    'length = 22\nunit = "months"': Period(22, Unit.MONTHS),
    # Reg. 1182/71 art 3(5): two working days at least (rule from memory).
    'length = 2\nunit = "weeks"\nat_least_working_days = 2': Period(
        2, Unit.WEEKS, at_least_working_days=2
    ),
    # England, CPR 2.8(4): five days or fewer (rule from memory).
    'length = 5\nunit = "days"\nskip_closed_within = 5': Period(
        5, Unit.DAYS, skip_closed_within=5
    ),
}


@pytest.mark.parametrize(("keys", "period"), FORKS.items())
def test_the_forks_of_published_law_can_be_written(keys: str, period: Period) -> None:
    term = re.search(r"\[\[term\]\]\nname = \"minimum-slips\".*?\n\n", TEXT, re.DOTALL)
    assert term
    head = re.sub(
        r"length.*?if_closed = \"keep\"\n", f"{keys}\n", term[0], flags=re.DOTALL
    )

    schedule = read_schedule(TEXT.replace(term[0], head), "mine.toml")

    assert schedule.classes[ContentKind.POLL_SLIPS].terms[1].period == period


# --- all that is wrong is named, with file, line and key ---------------------------


@pytest.mark.parametrize(
    ("old", "new", "key", "advice"),
    [
        ("length = 45", 'length = "45"', "term.1.length", "whole number"),
        ("length = 45", "length = 0", "term.1.length", "from 1 to"),
        ("length = 45", "length = true", "term.1.length", "whole number"),
        ("length = 45", "length = 400000", "term.1.length", "to 36500"),
        ('unit = "days"', 'unit = "moons"', "term.1.unit", "working-days, weeks"),
        ("version = 3", 'version = "three"', "version", "whole number"),
        ("in_force_from", 'in_force_from = "soon"', "in_force_from", "2024-03-01"),
        (
            "in_force_from",
            "in_force_from = 2024-03-01T10:00:00",
            "in_force_from",
            "must be a date",
        ),
        ("title =", 'title = "  "', "title", "not empty"),
        ("required = true", 'required = "yes"', "confirmation.required", "true or"),
        (
            "destruction_level",
            'destruction_level = "P-9"',
            "class.poll-slips.destruction_level",
            "P-1, P-2",
        ),
        ("after = ", 'after = ["elected"]', "term.1.after", "result-declared"),
        ("after = ", "after = []", "term.1.after", "at least one"),
        ("after = ", 'after = "polled"', "term.1.after", "list"),
        ("after = ", "after = [[]]", "term.1.after", "may hold"),
        (
            'after = ["dismissed", "allowed", "fin',
            'after = ["filed"]',
            "appeal_window.1.after",
            "decides nothing",
        ),
        ('levels = ["first", "appeal"]', 'levels = ["top"]', "appeal_window.1.levels",
         "first, appeal, final"),
        ("counting =", 'counting = "clear"', "term.1.counting", "exclude-first"),
        ('if_closed = "keep"', 'if_closed = "previous-open"', "term.2.if_closed",
         "before the period is over"),
        ('name = "minimum-slips"', 'name = "petition-window"', "term.2.name",
         "stands twice"),
        ("petition_window", "petition_windw = true", "term.1.petition_windw",
         "not known here"),
        ("[class.mock-poll-slips]", "[class.ballots]", "class.ballots", "not known"),
    ],
)  # fmt: skip
def test_a_wrong_line_is_named_with_its_key_and_what_to_write(
    old: str, new: str, key: str, advice: str
) -> None:
    text, line = with_line(old, new)
    found = [each for each in problems_in(text) if each[1] == key]
    assert {(line, key)} == {each[:2] for each in found}
    assert advice in found[0][2]


@pytest.mark.parametrize(
    ("old", "key", "table"),
    [
        ("clause = \"rule 8(1)\"", "term.1.clause", "[[term]]"),
        ("length = 45", "term.1.length", "[[term]]"),
        ("required = true", "confirmation.required", "[confirmation]"),
    ],
)  # fmt: skip
def test_a_missing_key_is_named_at_the_head_of_its_table(
    old: str, key: str, table: str
) -> None:
    text, _ = with_line(old, "")
    line = text.splitlines().index(table) + 1
    found = [each for each in problems_in(text) if each[1] == key]
    assert [each[0] for each in found] == [line]
    assert "is missing" in found[0][2]


def test_every_problem_is_named_at_once_in_the_order_of_the_file() -> None:
    text = TEXT.replace("length = 45", "length = -1").replace('"keep"', '"wait"')
    text = text.replace('ordained_by = "Electoral Steward of Calvenna"', "")
    found = problems_in(text)
    keys = [key for _, key, _ in found]
    assert keys == ["ordained_by", "term.1.length", "term.2.if_closed",
                    "term.3.if_closed"]  # fmt: skip
    assert [line for line, _, _ in found] == sorted(line for line, _, _ in found)


def test_text_that_is_no_toml_is_named_by_its_line() -> None:
    text, line = with_line("length = 45", "length = = 45")
    assert [each[:2] for each in problems_in(text)] == [(line, "syntax")]


def test_a_key_that_stands_twice_is_refused() -> None:
    text, line = with_line("length = 45", "length = 45\nlength = 46")
    assert [each[:2] for each in problems_in(text)] == [(line + 1, "syntax")]


def test_an_empty_file_says_what_a_schedule_needs() -> None:
    keys = {key for _, key, _ in problems_in("")}
    assert {"code", "version", "title", "class", "confirmation"} <= keys


def test_words_inside_a_long_text_are_not_taken_for_keys() -> None:
    note = 'note = """\nlength = 1\n[[term]]\n"""'
    text, _ = with_line("note", note)
    text = text.replace("length = 45", 'length = "45"')
    line = text.splitlines().index('length = "45"') + 1
    assert [each[:2] for each in problems_in(text)] == [(line, "term.1.length")]


def test_a_class_without_a_term_is_refused_not_released_at_once() -> None:
    text = TEXT.replace('for = ["statutory-packet"]', 'for = ["poll-slips"]').replace(
        ', "statutory-packet"]', "]"
    )
    assert "no term binds it" in problems_in(text)[0][2]


def test_a_term_for_a_class_without_a_table_is_refused() -> None:
    start = TEXT.index("[class.statutory-packet]")
    text = TEXT[:start] + TEXT[TEXT.index("# ---", start) :]
    assert "add a table [class.statutory-packet]" in problems_in(text)[0][2]


def test_a_confirmation_must_know_which_window_it_waits_for() -> None:
    text, _ = with_line("petition_window", "")
    found = problems_in(text)
    assert {key for _, key, _ in found} == {f"class.{kind}" for kind in ContentKind}
    assert all("petition_window = true" in message for _, _, message in found)


def test_a_confirmation_that_is_asked_for_names_its_clause() -> None:
    text, _ = with_line('clause = "rule 13(1)"', "")
    (found,) = problems_in(text)
    assert found[1] == "confirmation.clause"
    assert "is missing" in found[2]


def test_a_file_without_any_class_says_so_once() -> None:
    start, end = TEXT.index("[class.poll-slips]"), TEXT.index("[[appeal_window]]")
    without = TEXT[:start] + TEXT[end:]
    assert [each[1] for each in problems_in(without)] == ["class"]
    empty = TEXT[:start] + "[class]\n" + TEXT[end:]
    (found,) = problems_in(empty)
    assert found[1] == "class.poll-slips"
    assert found[2] == "no class is told; add at least one [class.…]."


MESSAGES = [
    (
        "petition_window",
        "",
        "a confirmation is required, but no term of this class says which window it "
        "must reach past; write petition_window = true in that term.",
    ),
    (
        "counting =",
        'counting = "clear"',
        "clear days give a first free day, not a last day to keep; write "
        '"exclude-first" with the same length: it keeps through the same day.',
    ),
    (
        'if_closed = "keep"',
        'if_closed = "previous-open"',
        'would release containers before the period is over; write "keep" or '
        '"next-open".',
    ),
    (
        "length = 45",
        'length = 45\ndirection = "backward"',
        "backward counts towards what started the term; it can be written only where "
        'the term has after = ["next-poll"].',
    ),
    (
        'after = ["dismissed", "allowed", "fin',
        'after = ["filed"]',
        "filed decides nothing; a window opens after one of petitioner-died, "
        "dismissed, dismissed-for-default, withdrawn, abated, allowed, "
        "finally-disposed-of, no-longer-expected.",
    ),
]


@pytest.mark.parametrize(("old", "new", "message"), MESSAGES)
def test_a_problem_says_in_full_what_to_write(old: str, new: str, message: str) -> None:
    text, _ = with_line(old, new)
    assert {each[2] for each in problems_in(text)} == {message}


@pytest.mark.parametrize(
    ("old", "key", "most"),
    [
        ("version = 3", "version", 9_999),
        ("seal_check_within_days = 0", "seal_check_within_days", 365),
        ("petition_window = true", "skip_closed_within", 366),
        ("petition_window = true", "at_least_working_days", 366),
    ],
)
def test_numbers_have_a_greatest_value(old: str, key: str, most: int) -> None:
    keep = "" if old.startswith(key) else f"{old}\n"
    text, _ = with_line(old, f"{keep}{key} = {most}")
    assert isinstance(read_schedule(text, "mine.toml"), Schedule)
    text, _ = with_line(old, f"{keep}{key} = {most + 1}")
    (found,) = problems_in(text)
    assert f"to {most}." in found[2]


@pytest.mark.parametrize("key", ["inner_days", "outer_days"])
def test_a_margin_is_a_year_at_most(key: str) -> None:
    margin = f"\n[safety_margin]\n{key} = "
    assert read_schedule(TEXT + margin + "366", "mine.toml").margins
    (found,) = problems_in(TEXT + margin + "367")
    assert found[1] == f"safety_margin.{key}"


def test_what_is_not_written_is_empty() -> None:
    text, _ = with_line("note =", "")
    text = text.replace("required = true", "required = false")
    text = text.replace('clause = "rule 13(1)"', "")
    schedule = read_schedule(text, "mine.toml")
    assert (schedule.note, schedule.confirmation_clause) == ("", "")
    assert schedule.margins.clause == ""


RESTS = 'basis = "looked-up"\nlooked_up_in = "a page"\n'
CITED = f"""
[[appeal_window]]
name = "another"
after = ["dismissed"]
levels = ["first"]
length = 1
unit = "days"
clause = "s 1"
{RESTS}
[[authority]]
authority = "the court"
acts = ["open-box"]
for = ["poll-slips"]
states = ["free"]
clause = "s 2"
source = "another law"
{RESTS}
[[notice]]
name = "one"
title = "One"
act = "destroy"
length = 1
unit = "days"
clause = "s 3"
source = "a third law"
{RESTS}
[[notice]]
name = "two"
title = "Two"
act = "take-out"
length = 2
unit = "days"
clause = "s 4"
"""


def test_every_clause_says_what_it_rests_on_and_where_it_was_read() -> None:
    schedule = read_schedule(TEXT + CITED, "mine.toml")
    (authority,) = schedule.authorities
    one, two = schedule.notices
    window = schedule.appeal_windows[-1]
    for each in (window, authority, one):
        assert (each.basis, each.looked_up_in) == (Basis.LOOKED_UP, "a page")
    assert (two.basis, two.looked_up_in) == (Basis.ORDAINED, "")
    assert (authority.clause, authority.source) == ("s 2", "another law")
    assert (one.clause, one.source) == ("s 3", "a third law")
    assert (two.clause, two.source, two.title) == ("s 4", schedule.law, "Two")


def test_two_notices_of_one_name_are_refused() -> None:
    (found,) = problems_in(TEXT + CITED.replace('name = "two"', 'name = "one"'))
    assert found[1:] == ("notice.2.name", "'one' stands twice; rename one.")


def test_no_confirmation_need_name_no_clause() -> None:
    text, _ = with_line("required = true", "required = false")
    text = text.replace('clause = "rule 13(1)"', "")
    assert not read_schedule(text, "mine.toml").confirmation_required


def test_a_byte_order_mark_and_windows_line_ends_are_forgiven() -> None:
    text = "\ufeff" + TEXT.replace("\n", "\r\n")
    assert read_schedule(text, "mine.toml") == SCHEDULE


lines_of_the_demo = st.integers(0, len(TEXT.splitlines()) - 1)
some_values = st.sampled_from(
    ["", "x = 1", "[term]", "[[class]]", "[class]", "class = 3", "term = [1]", '"""',
     "length = 1e3", "unit = []", "for = [3]", "after = {}", "[[term]]", "= 4",
     "in_force_from = 07:30:00", "version = 99999999999999999999"]
)  # fmt: skip


@given(st.lists(st.tuples(lines_of_the_demo, some_values), min_size=1, max_size=4))
def test_whatever_is_written_is_read_or_refused_with_lines_that_exist(
    changes: list[tuple[int, str]],
) -> None:
    lines = TEXT.splitlines()
    for at, new in changes:
        lines[at] = new
    try:
        schedule = read_schedule("\n".join(lines), "mine.toml")
    except ScheduleError as error:
        assert error.problems
        assert all(1 <= each.line <= len(lines) + 1 for each in error.problems)
        assert all(each.key and each.message for each in error.problems)
    else:
        assert isinstance(schedule, Schedule)
        assert all(rules.terms for rules in schedule.classes.values())
