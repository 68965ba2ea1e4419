"""What a schedule says of the daily keeping: read, refused with its line, compared.

The keys are told in ``registry.rules.schedules``.
"""

import pytest

from registry.rules.keeping_parts import ClimateLimits, PaperLife, RoundRules
from registry.rules.schedule_changes import compare
from registry.rules.schedules import ScheduleError, read_schedule
from tests.rules.calvenna import TEXT

STEP = """
[[sealing_step]]
name = "extra"
title = "Extra"
where = "unit-set"
asked = "tick"
"""
TABLES = {
    "inspection": "every_days = 90\ncontested_every_days = 30\n",
    "climate": "lowest_c = 13\nhighest_c = 23\nlowest_humidity = 35\n"
    'highest_humidity = 60\nsource = "S"\n',
}


def without(text, header):
    """The schedule without the tables of this header."""
    kept, leaving = [], False
    for line in text.splitlines():
        if line.startswith("["):
            leaving = line.strip() in (f"[{header}]", f"[[{header}]]")
        if not leaving:
            kept.append(line)
    return "\n".join(kept) + "\n"


BARE = without(TEXT, "sealing_step")
for each in (*TABLES, "paper"):
    BARE = without(BARE, each)
PAPER = (
    '[[paper]]\nname = "thermal"\nwarn_after_months = 36\n'
    'at_risk_after_months = 60\nsource = "S"\n'
)
FULL = BARE + STEP + "".join(f"[{n}]\n{t}" for n, t in TABLES.items()) + PAPER


def read(text):
    return read_schedule(text, "mine.toml")


def changes(old, new):
    return {change.about: change for change in compare(read(old), read(new))}


def test_a_schedule_may_say_nothing_of_the_keeping():
    keeping = read(BARE).keeping
    assert keeping.sealing_steps == ()
    assert (keeping.rounds, keeping.climate, keeping.papers) == (None, None, ())


def test_what_is_said_is_read():
    keeping = read(FULL).keeping
    assert [step.name for step in keeping.sealing_steps] == ["extra"]
    assert keeping.rounds == RoundRules(90, 30, 7, 7)
    assert keeping.climate == ClimateLimits(13, 23, 35, 60, "S")
    assert keeping.papers == (PaperLife("thermal", 36, 60, "S"),)


# What is written wrong, and a word of what is answered.
WRONG = {
    ('where = "unit-set"', 'where = "shelf"'): "must be one of",
    ('asked = "tick"', 'asked = "click"'): "must be one of",
    ('asked = "tick"', 'asked = "tick"\nrecords = "slip-count"'): "is told by count",
    ('asked = "tick"', 'asked = "count"\nrecords = "slip-count"'): "of envelope",
    ('asked = "tick"', 'asked = "tick"\ncaution = "acid"'): "must be one of sealing",
    ('asked = "tick"', 'asked = "tick"\nfor = ["ballots"]'): "it may hold",
    ('name = "extra"', 'name = "absent"'): "the table's own word",
    ('name = "extra"', 'name = "envelope"'): "the table's own word",
    ('name = "extra"', 'name = "Slips @ all"'): "small letters",
    ('name = "extra"', f'name = "{"x" * 41}"'): "at most 40",
    ('title = "Extra"', ""): "is missing",
    ('title = "Extra"', 'title = "Extra"\nmandatory = true'): "is not known here",
    ("every_days = 90", "every_days = 0"): "whole number from 1",
    ("highest_c = 23", "highest_c = 12"): "below lowest_c",
    ("highest_humidity = 60", "highest_humidity = 30"): "below lowest_humidity",
    ("at_risk_after_months = 60", "at_risk_after_months = 35"): "before the warning",
}


@pytest.mark.parametrize(("change", "told"), WRONG.items(), ids=lambda x: str(x)[:40])
def test_what_is_wrong_is_named_with_its_line(change, told):
    assert change[0] in FULL
    with pytest.raises(ScheduleError) as refused:
        read(FULL.replace(change[0], change[1], 1))
    words = str(refused.value)
    assert told in words
    assert "mine.toml, line " in words


def test_a_step_named_twice_is_refused():
    with pytest.raises(ScheduleError, match="stands twice"):
        read(FULL + STEP)


# What changes in the file, and under what the comparison tells it.
CHANGES = {
    ('asked = "tick"', 'asked = "tick"\nrequired = false'): (
        ("sealing table", "Extra", "asked"),
        "may be left empty",
    ),
    ('asked = "tick"', 'asked = "tick"\nfor = ["poll-slips"]'): (
        ("sealing table", "Extra", "asked for"),
        "poll slips",
    ),
    ('asked = "tick"', 'asked = "tick"\ncaution = "storing-units"'): (
        ("sealing table", "Extra", "caution"),
        "storing units",
    ),
    ("\nevery_days = 90", "\nevery_days = 60"): (
        ("inspection rounds", "every"),
        "60 days",
    ),
    ("highest_humidity = 60", "highest_humidity = 55"): (
        ("climate of a room", "relative humidity"),
        "from 35 to 55 per cent",
    ),
    ("warn_after_months = 36", "warn_after_months = 24"): (
        ("thermal paper", "warned of after"),
        "24 months from the poll",
    ),
}


@pytest.mark.parametrize(("change", "told"), CHANGES.items(), ids=lambda x: str(x)[:40])
def test_a_comparison_tells_changes_of_the_keeping(change, told):
    assert change[0] in FULL
    found = changes(FULL, FULL.replace(change[0], change[1], 1))
    assert list(found) == [told[0]]
    assert found[told[0]].new.endswith(told[1])


def test_a_comparison_tells_what_is_new_and_what_falls_away():
    found = changes(BARE, FULL)
    abouts = {about[0] for about in found}
    assert abouts == {
        "sealing table",
        "inspection rounds",
        "climate of a room",
        "thermal paper",
    }
    assert all(not change.old for change in found.values())
    assert all(not change.new for change in changes(FULL, BARE).values())


def test_a_checklist_in_another_order_is_a_change():
    other = STEP.replace("extra", "other").replace("Extra", "Other")
    found = changes(BARE + STEP + other, BARE + other + STEP)
    assert list(found) == [("sealing table", "order of the steps")]
    assert found["sealing table", "order of the steps"].new == "Other, Extra"
