"""The account of numbered forms (common practice, no published source)."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from registry.rules.paper_forms import (
    ACCOUNTED,
    Line,
    account_of,
    obstacle_to_ending,
)

STATES = [state for state, _ in ACCOUNTED]


def pad(**counts):
    lines, serial = [], 0
    for state, count in counts.items():
        for _ in range(count):
            serial += 1
            used = 1 if state in ("entered", "in_entry") else 0
            name = f"PF-{serial:06d}-X"
            lines.append(Line(name, state.replace("_", "-"), used))
    return lines


def test_the_account_reads_as_the_custodian_says_it():
    account = account_of(pad(entered=31, spoilt=2, blank=15, lost=2))
    said = "printed 50 = 31 entered + 2 spoilt + 15 in stock + 2 not accounted for"
    assert account.sentence == said
    assert not account.closes


def test_nothing_printed_is_an_account_too():
    assert account_of([]).sentence == "printed 0 = 0"
    assert account_of([]).closes


def test_a_blank_form_before_a_used_one_was_passed_over():
    lines = [
        Line("PF-1", "entered", 2),
        Line("PF-2", "blank"),
        Line("PF-3", "entered", 1),
    ]
    account = account_of(reversed(lines))
    assert account.skipped == ("PF-2",)
    assert not account.closes
    assert account_of([*lines[:1], Line("PF-4", "blank")]).skipped == ()


@given(st.lists(st.sampled_from(STATES), max_size=60))
def test_every_number_stands_in_exactly_one_part(states):
    lines = [Line(f"PF-{n:06d}", state) for n, state in enumerate(states)]
    account = account_of(lines)
    assert sum(account.parts.values()) == account.printed == len(states)


@pytest.mark.parametrize(
    ("state", "used", "end", "word"),
    [
        ("blank", 0, "entered", "Nothing was entered"),
        ("in-entry", 1, "returned", "1 of its lines was entered"),
        ("in-entry", 3, "spoilt", "3 of its lines were entered"),
        ("lost", 0, "returned", "found first"),
        ("entered", 1, "lost", "already"),
        ("returned", 0, "spoilt", "already"),
        ("in-entry", 1, "entered", ""),
        ("in-entry", 1, "lost", ""),
        ("blank", 0, "spoilt", ""),
        ("blank", 0, "returned", ""),
    ],
)
def test_how_a_form_may_end(state, used, end, word):
    said = obstacle_to_ending(state, used, end)
    assert (word in said) if word else said == ""
