"""What a new version changes: said in words, and counted over what is held."""

from dataclasses import replace
from datetime import UTC, date, datetime
from pathlib import Path

import pytest
from hypothesis import given

from registry.rules.calendars import Calendar
from registry.rules.retention import RetentionFacts, retention_of
from registry.rules.schedule_changes import (
    Change,
    Effect,
    compare,
    effect_of,
    effects_of,
)
from registry.rules.schedule_words import in_words, version_in_words
from registry.rules.schedules import ContentKind, Schedule, read_schedule
from tests.rules.calvenna import (
    HIGH_BENCH,
    SCHEDULE,
    TEXT,
    case,
    day,
    event,
    harbour_reach,
    slips,
)
from tests.rules.case_strategies import days, retention_facts

FOLDER = Path(__file__).parents[2] / "fixtures" / "schedules"


def version_4(*changes: tuple[str, str]) -> Schedule:
    """Return the demo's schedule with some of its lines changed."""
    text = TEXT.replace("version = 3", "version = 4", 1)
    for old, new in changes:
        assert old in text
        text = text.replace(old, new, 1)
    return read_schedule(text, "calvenna-4.toml")


TWO_YEARS = version_4(('length = 12\nunit = "months"', 'length = 2\nunit = "years"'))
THIRTY_DAYS = version_4(("length = 45", "length = 30"))
HALF_A_YEAR = version_4(("length = 12", "length = 6"))


def changes(new: Schedule) -> list[str]:
    return [change.text for change in compare(SCHEDULE, new)]


# --- in words ----------------------------------------------------------------------


def test_nothing_changed_says_nothing() -> None:
    assert compare(SCHEDULE, SCHEDULE) == ()
    # The version, its order and its date always differ and are no change of the law.
    assert compare(SCHEDULE, version_4()) == ()


def test_a_changed_length_is_said_for_each_class_it_binds() -> None:
    assert changes(TWO_YEARS) == [
        f"{kind}, Least time of keeping slips, time: was: 12 months, the first day not "
        "counted; is now: 2 years, the first day not counted."
        for kind in ("poll slips", "mock-poll slips")
    ]


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        (
            'if_closed = "next-open"',
            'if_closed = "next-open"\nrolls_on = "not-receiving"',
            "a closed last day: was: on any closed day it moves to the next open day; "
            "is now: on a day on which, by a notification, nothing is received it "
            "moves to the next open day.",
        ),
        (
            'after = ["result-declared"]',
            'after = ["result-declared", "gazetted"]',
            "starts with: was: declaration of the result; is now: declaration of the "
            "result and publication in the gazette, the later of them.",
        ),
        (
            'clause = "rule 8(1)"',
            'clause = "rule 8(2)"',
            "clause: was: rule 8(1), Evidence Rules of Calvenna 2024 (invented); is "
            "now: rule 8(2), Evidence Rules of Calvenna 2024 (invented).",
        ),
        (
            "required = true",
            "required = false",
            "was: asked for; is now: not asked for.",
        ),
        (
            "required = true",
            "required = true\nor_express_order = true",
            "or: new: the authority's express order may stand in its place.",
        ),
        ("within_days = 0", "within_days = 1", "was: at most 0 days old; is now: at"),
        ('"P-4"', '"P-5"', "destruction: was: P-4 or finer; is now: P-5 or finer."),
        (
            'levels = ["final"]',
            'levels = ["final"]\nwaits = false',
            "waited for: was: yes; is now: no, it is shown only.",
        ),
        (
            'levels = ["final"]',
            'levels = ["appeal", "final"]',
            "in: was: last court; is now: court of appeal, last court.",
        ),
        (
            'length = 14\nunit = "days"',
            'length = 14\nunit = "days"\nskip_closed_within = 7\n'
            "at_least_working_days = 2",
            "is now: 14 days, the first day not counted, closed days left out up to 7 "
            "days, holding 2 working days at least.",
        ),
        (
            'length = 12\nunit = "months"\ncounting = "exclude-first"',
            'length = 12\nunit = "months"\ncounting = "day-after"\n'
            'month_end = "last-to-last"',
            "12 months, counted from the day after, from a month's last day to a "
            "month's last day.",
        ),
        (
            "petition_window = true\n",
            "petition_window = true\nforward_if_not_receiving = true\n",
            "is now: on any closed day it moves to the next open day, and runs on "
            "where nothing is received then.",
        ),
    ],
)  # fmt: skip
def test_each_kind_of_change_is_said_in_plain_words(
    old: str, new: str, said: str
) -> None:
    told = changes(version_4((old, new)))
    assert told
    assert any(said in text for text in told), told


def test_a_term_that_falls_away_and_one_that_is_new_are_named() -> None:
    start = TEXT.index("# Rule 9(2)")
    end = TEXT.index("# -----", start)
    without = version_4((TEXT[start:end], ""))
    # Packets keep their petition window, so the file is still whole.
    gone = changes(without)
    back = [change.text for change in compare(without, SCHEDULE)]
    title = "statutory packets, Least time of keeping statutory packets"
    assert f"{title}, clause: falls away (it was: rule 9(2), {SCHEDULE.law})." in gone
    assert f"{title}, clause: new: rule 9(2), {SCHEDULE.law}." in back


def test_legs_margins_authorities_and_notices_are_said() -> None:
    more = """
[safety_margin]
inner_days = 30
outer_days = 7
[[authority]]
authority = "the High Bench"
acts = ["open-box"]
for = ["poll-slips"]
states = ["case-pending"]
clause = "rule 14"
[[authority]]
authority = "the Electoral Steward"
acts = ["open-box"]
for = ["poll-slips"]
states = ["case-pending"]
clause = "rule 15"
[[notice]]
name = "parties"
title = "Notice to the parties"
act = "destroy"
clause = "rule 16"
length = 14
unit = "days"
if_closed = "previous-open"
"""
    legs = (
        'length = 14\nunit = "days"\ncounting = "exclude-first"\n'
        'if_closed = "next-open"\nclause = "rule 11(3)"',
        'if_closed = "next-open"\nclause = "rule 11(3)"\n'
        '[[appeal_window.legs]]\nlength = 10\nunit = "days"\n'
        '[[appeal_window.legs]]\nlength = 2\nunit = "months"',
    )
    text = TEXT.replace(*legs) + more
    new = read_schedule(text, "more.toml")
    told = " ".join(changes(new))
    assert "safety margin, after a window: was: 0 days; is now: 30 days." in told
    assert (
        "who may permit, poll slips, open a box, while a case is pending or not yet "
        f"settled: new: the High Bench (rule 14, {SCHEDULE.law}) or the Electoral "
        f"Steward (rule 15, {SCHEDULE.law})." in told
    )
    assert (
        "Notice to the parties, time: new: 14 days, the first day not counted, counted "
        "back." in told
    )
    assert "10 days, the first day not counted, then 2 months, the first day" in told
    notice = {k[1]: v for k, v in in_words(new).items() if k[0].startswith("Notice")}
    assert notice == {
        "before": "destroy",
        "time": "14 days, the first day not counted, counted back",
        "a closed last day": "on any closed day it moves to the open day before",
        "clause": f"rule 16, {SCHEDULE.law}",
    }


@pytest.mark.parametrize("path", sorted(FOLDER.glob("*.toml")), ids=lambda p: p.stem)
def test_every_schedule_can_be_said(path: Path) -> None:
    schedule = read_schedule(path.read_text(encoding="utf-8"), path.name)
    said = in_words(schedule)
    assert all(words for words in said.values())
    assert all(about and all(about) for about in said)
    assert str(schedule.version) in version_in_words(schedule)


def test_the_demos_schedule_is_said_point_by_point() -> None:
    express = ("required = true", "required = true\nor_express_order = true")
    said = in_words(version_4(express))
    law = SCHEDULE.law
    window = "Window for election petitions"
    appeal = "appeal to the Court of Final Appeal"
    slips = SCHEDULE.classes[ContentKind.POLL_SLIPS]
    head = {key: words for key, words in said.items() if len(key) < 3}
    assert list(head.items())[:9] == [
        (("law",), law),
        (("confirmation of the registry",), "asked for"),
        (("confirmation of the registry", "clause"), "rule 13(1)"),
        (
            ("confirmation of the registry", "or"),
            "the authority's express order may stand in its place",
        ),
        (("seal check",), "at most 0 days old"),
        (("safety margin", "after a window"), "0 days"),
        (("safety margin", "after everything"), "0 days"),
        (("poll slips", "destruction"), "P-4 or finer"),
        (("poll slips", "markings on an envelope"), ", ".join(slips.envelope_markings)),
    ]
    assert said["poll slips", "markings on a box"] == ", ".join(slips.box_markings)
    about = {k[2]: v for k, v in said.items() if k[:2] == ("poll slips", window)}
    assert about == {
        "starts with": "declaration of the result",
        "time": "45 days, the first day not counted",
        "a closed last day": "on any closed day it moves to the next open day",
        "clause": f"rule 8(1), {law}",
        "the confirmation": "must reach past it",
    }
    assert {k[1]: v for k, v in said.items() if k[0] == appeal} == {
        "opens after": "a case is dismissed, allowed, finally disposed of",
        "in": "court of first instance, court of appeal",
        "time": "30 days, the first day not counted",
        "a closed last day": "on any closed day it moves to the next open day",
        "waited for": "yes",
        "clause": f"rule 10(1), {law}",
    }


def test_a_change_without_the_other_side_has_an_empty_one() -> None:
    more = version_4(("required = true", "required = true\nor_express_order = true"))
    (new,) = compare(SCHEDULE, more)
    (gone,) = compare(more, SCHEDULE)
    assert (new.old, gone.new) == ("", "")
    assert new.about == ("confirmation of the registry", "or")


def test_a_version_is_named_with_its_day() -> None:
    assert version_in_words(SCHEDULE) == (
        "Retention of sealed election evidence in Calvenna, version 3, in force from 1 "
        "March 2024"
    )


def test_a_change_reads_both_ways() -> None:
    assert Change(("a", "b"), "x", "y").text == "a, b: was: x; is now: y."


# --- for what is held --------------------------------------------------------------

HELD = {
    "BX-1": slips(),
    "BX-2": slips(contest=harbour_reach(declared=date(2026, 5, 20))),
    "BX-3": slips(cases=(case(event("filed", "2026-06-01")),)),
    "BX-4": slips(contest=harbour_reach(declared=None)),
}


def test_what_gets_later_earlier_and_stays_is_counted() -> None:
    moves = effects_of(HELD, SCHEDULE, TWO_YEARS, HIGH_BENCH, day("2026-07-20"))
    assert moves.with_effect(Effect.LATER) == ("BX-1", "BX-2")
    # What has no end under either stays as it is: unknown and pending alike.
    assert moves.with_effect(Effect.UNCHANGED) == ("BX-3", "BX-4")
    assert moves.with_effect(Effect.EARLIER) == ()


def test_the_effect_may_be_asked_for_as_known_at_a_moment() -> None:
    late = slips(cases=(case(event("filed", "2026-06-01", recorded="2026-07-10")),))
    known = datetime(2026, 7, 1, tzinfo=UTC)
    held = {"BX-1": late}
    on = day("2026-07-20")
    now = effects_of(held, SCHEDULE, TWO_YEARS, HIGH_BENCH, on)
    then = effects_of(held, SCHEDULE, TWO_YEARS, HIGH_BENCH, on, known)
    assert now.with_effect(Effect.UNCHANGED) == ("BX-1",)
    assert then.with_effect(Effect.LATER) == ("BX-1",)
    moved = then.by_key["BX-1"]
    assert moved.before.retain_through == date(2027, 5, 5)
    assert moved.after.retain_through == date(2028, 5, 5)


def test_an_earlier_end_is_never_hidden() -> None:
    # Failure mode 31: a change of law; the longer applies unless chosen otherwise.
    moved = effect_of(slips(), SCHEDULE, HALF_A_YEAR, HIGH_BENCH, day("2026-07-20"))
    assert moved.effect is Effect.EARLIER
    assert moved.before.retain_through == date(2027, 5, 5)
    assert moved.after.retain_through == date(2026, 11, 5)
    assert moved.longer is moved.before
    other_way = effect_of(slips(), HALF_A_YEAR, SCHEDULE, HIGH_BENCH, day("2026-07-20"))
    assert other_way.effect is Effect.LATER
    assert other_way.longer is other_way.after


def test_a_shorter_window_moves_no_end_but_the_confirmations() -> None:
    moved = effect_of(slips(), SCHEDULE, THIRTY_DAYS, HIGH_BENCH, day("2026-07-20"))
    assert moved.effect is Effect.UNCHANGED
    assert moved.before.confirm_through == date(2026, 6, 19)
    assert moved.after.confirm_through == date(2026, 6, 4)
    assert moved.longer is moved.after


def test_a_version_that_no_longer_provides_for_a_class_keeps_it() -> None:
    silent = replace(SCHEDULE, classes={})
    moved = effect_of(slips(), SCHEDULE, silent, HIGH_BENCH, day("2026-07-20"))
    assert moved.effect is Effect.LATER
    assert moved.after.retain_through is None


@given(retention_facts(), days)
def test_every_effect_is_what_the_two_answers_say(
    facts: RetentionFacts, on: date
) -> None:
    court = Calendar()
    moved = effect_of(facts, SCHEDULE, TWO_YEARS, court, on)
    before = retention_of(facts, SCHEDULE, court, on)
    after = retention_of(facts, TWO_YEARS, court, on)
    assert (moved.before, moved.after) == (before, after)
    assert moved.effect is not Effect.EARLIER
    assert (moved.effect is Effect.UNCHANGED) == (
        before.retain_through == after.retain_through
    )
