"""The account of seals: every number in one class, gaps and reuse named.

What an account must show: Johnston and Warner, "How to Choose and Use Seals" (Journal
of Physical Security 6(1), 2012), the seal use protocol, as the trade's seal rules S1,
S2 and S9 put it; the words are ours.
"""

from datetime import date
from itertools import pairwise

import pytest
from hypothesis import given as generated
from hypothesis import strategies as st

from registry.rules.material_facts import (
    Answered,
    Applied,
    End,
    Fate,
    Issue,
    MaterialFacts,
)
from registry.rules.material_troubles import MUST_BE, Trouble
from registry.rules.materials import accounts
from registry.rules.numbers import plain_serial
from registry.rules.seal_numbers import (
    NoRange,
    SealNumber,
    in_ranges,
    seal_number,
    seal_range,
)

DAY = date(2026, 2, 1)


def issue(first, last, ref="MI-1", contest="CT-1", maker="print works"):
    numbers = seal_range(first, last)
    return Issue(ref, contest, "paper", len(numbers), DAY, maker, numbers)


def end(first, last, fate=Fate.SPOILT, ref="ME-1", of="MI-1"):
    numbers = seal_range(first, last)
    return End(ref, of, fate, len(numbers), numbers)


def applied(serial, on="BX-1", contest="CT-1", maker="print works", ref=None):
    return Applied(
        ref or f"SL-{serial}-{on}",
        contest,
        "paper",
        serial,
        plain_serial(serial),
        on,
        maker,
    )


def account(issues=(), ends=(), seals=(), contest="CT-1", **more):
    facts = MaterialFacts(tuple(issues), tuple(ends), tuple(seals), **more)
    return accounts(facts, ["CT-1", "CT-2"])[contest]


def troubles(found):
    return [(d.trouble, d.written) for d in found.differences]


def test_a_serial_is_parted_and_keeps_its_zeros():
    assert seal_number("PS-0041") == SealNumber("PS-", 41, 4)
    assert str(seal_number("P40001")) == "P40001"
    assert seal_number("0007") == SealNumber("", 7, 4)
    assert seal_number("A1B02") == SealNumber("A1B", 2, 2)


@pytest.mark.parametrize(
    ("first", "last", "told"),
    [
        ("PS-0041", "PT-0043", "do not begin alike"),
        ("PS-0043", "PS-0041", "comes before"),
        ("PS-041", "PS-0043", "leading zeros"),
        ("PS-1", "PS-999999", "more than 100,000"),
        ("RED", "BLUE", "does not end in a number"),
    ],
)
def test_what_is_no_range_is_told(first, last, told):
    with pytest.raises(NoRange, match=told):
        seal_range(first, last)


def test_a_number_without_zeros_grows_by_a_digit():
    assert [str(n) for n in seal_range("PS-9", "PS-11")] == ["PS-9", "PS-10", "PS-11"]


@generated(st.sets(st.integers(0, 60), min_size=1))
def test_ranges_hold_just_the_numbers_they_were_made_of(values):
    ranges = in_ranges(SealNumber("PS-", value, 4) for value in values)
    assert [n.value for each in ranges for n in each] == sorted(values)
    for one, following in pairwise(ranges):
        assert following.first.value > one.last.value + 1


def test_gaps_are_named_as_ranges():
    seals = [applied(f"PS-00{n}") for n in (40, 44, 46)]
    found = account([issue("PS-0040", "PS-0047")], seals=seals)
    assert troubles(found) == [
        (Trouble.GAP, "PS-0041 to PS-0043"),
        (Trouble.GAP, "PS-0045"),
        (Trouble.GAP, "PS-0047"),
    ]
    assert "3 seals are issued and neither applied" in found.differences[0].text


def test_a_lot_that_is_all_accounted_for_has_nothing_open():
    found = account(
        [issue("PS-0041", "PS-0044")],
        [
            end("PS-0042", "PS-0042"),
            end("PS-0043", "PS-0043", Fate.RETURNED, "ME-2"),
            end("PS-0044", "PS-0044", Fate.LOST, "ME-3"),
        ],
        [applied("PS 0041")],
    )
    assert found.differences == ()
    (lot,) = found.lots
    assert set(lot.fates.values()) == {0, 1}
    assert lot.fates[Fate.UNACCOUNTED] == 0


def test_a_seal_on_two_containers_at_different_times():
    found = account(
        [issue("PS-0041", "PS-0041")],
        seals=[applied("PS-0041"), applied("PS-0041", on="BX-2")],
    )
    assert troubles(found) == [(Trouble.APPLIED_TWICE, "PS-0041")]
    assert "on BX-1 and BX-2" in found.differences[0].text


def test_a_seal_that_was_put_on_the_same_box_again():
    seals = [applied("PS-0041", ref="SL-1"), applied("PS-0041", ref="SL-2")]
    found = account([issue("PS-0041", "PS-0041")], seals=seals)
    assert troubles(found) == [(Trouble.APPLIED_TWICE, "PS-0041")]


def test_a_seal_that_was_never_issued():
    found = account([issue("PS-0041", "PS-0041")], seals=[applied("PS-0041"),
                    applied("XX-1")])  # fmt: skip
    assert troubles(found) == [(Trouble.NEVER_ISSUED, "XX-1")]


def test_a_seal_issued_for_another_contest_stands_out_where_it_is():
    lots = [issue("PS-0041", "PS-0041", contest="CT-2")]
    seals = [applied("PS-0041")]
    assert troubles(account(lots, seals=seals)) == [
        (Trouble.ISSUED_ELSEWHERE, "PS-0041")
    ]
    assert troubles(account(lots, seals=seals, contest="CT-2")) == []


def test_numbers_issued_twice_are_named_for_both_contests():
    lots = [
        issue("PS-0041", "PS-0044"),
        issue("PS-0043", "PS-0046", "MI-2", contest="CT-2"),
    ]
    for contest in ("CT-1", "CT-2"):
        told = [t for t in troubles(account(lots, contest=contest))
                if t[0] is Trouble.ISSUED_TWICE]  # fmt: skip
        assert told == [(Trouble.ISSUED_TWICE, "PS-0043 to PS-0044")]


def test_49_two_makers_may_use_the_same_numbers():
    lots = [issue("0041", "0041"), issue("0041", "0041", "MI-2", maker="other works")]
    seals = [applied("0041"), applied("0041", on="BX-2", maker="other works")]
    found = account(lots, seals=seals)
    assert found.differences == ()


def test_a_maker_that_was_not_written_down_may_be_any():
    found = account([issue("0041", "0041")], seals=[applied("0041", maker="")])
    assert found.differences == ()


@pytest.mark.parametrize("fate", [Fate.SPOILT, Fate.RETURNED, Fate.LOST])
def test_what_was_handed_back_and_yet_applied(fate):
    found = account(
        [issue("PS-0041", "PS-0041")],
        [end("PS-0041", "PS-0041", fate)],
        [applied("PS-0041")],
    )
    assert troubles(found) == [(Trouble.ENDED_YET_APPLIED, "PS-0041")]
    assert found.lots[0].fates[Fate.APPLIED] == 1


def test_what_was_spoilt_and_returned():
    found = account(
        [issue("PS-0041", "PS-0041")],
        [
            end("PS-0041", "PS-0041"),
            end("PS-0041", "PS-0041", Fate.RETURNED, "ME-2"),
        ],
    )
    assert [t for t, _ in troubles(found)] == [Trouble.ENDED_TWICE]


@pytest.mark.parametrize(
    ("used", "told"),
    [
        (7, None),
        (5, "2 envelopes not accounted for"),
        (9, "2 envelopes more than were issued"),
    ],
)
def test_envelopes_by_count(used, told):
    lot = Issue("MI-1", "CT-1", "envelope", 10, DAY)
    found = account(
        [lot],
        [End("ME-1", "MI-1", Fate.SPOILT, 2), End("ME-2", "MI-1", Fate.RETURNED, 1)],
        used=(("CT-1", "envelope", used), ("CT-2", "envelope", 5)),
    )
    assert [d.written for d in found.differences] == ([told] if told else [])
    (pieces,) = found.pieces
    assert pieces.issued == (
        pieces.used + pieces.spoilt + pieces.returned + pieces.lost + pieces.unaccounted
    )


def answered(written, trouble=Trouble.GAP, resolved=False):
    return Answered("DC-1", "CT-1", written, MUST_BE[trouble], resolved)


@pytest.mark.parametrize(
    ("given", "state"),
    [
        ((), "unexplained"),
        ((answered("PS-0041 to PS-0043"),), "in hand"),
        ((answered("PS-0041 to PS-0043", resolved=True),), "explained"),
        ((answered("PS-0040 to PS-0049", resolved=True),), "explained"),
        ((answered("PS-0042 to PS-0043", resolved=True),), "unexplained"),
        ((answered("PS-0041 to PS-0043", Trouble.APPLIED_TWICE),), "unexplained"),
    ],
)
def test_a_gap_is_explained_by_a_discrepancy_that_covers_it(given, state):
    found = account([issue("PS-0041", "PS-0043")], answered=given)
    assert [d.state for d in found.differences] == [state]
    assert len(found.open) == (0 if state == "explained" else 1)


@generated(
    st.lists(
        st.tuples(
            st.sampled_from([None, *list(Fate)[:4]]),
            st.sampled_from([None, Fate.SPOILT, Fate.RETURNED, Fate.LOST]),
        ),
        min_size=1,
        max_size=20,
    )
)
def test_every_issued_number_is_in_one_class_and_the_sums_agree(lives):
    lot = issue("PS-0001", f"PS-{len(lives):04d}")
    ends, seals = [], []
    for n, life in enumerate(lives, start=1):
        serial = f"PS-{n:04d}"
        for fate in life:
            if fate is Fate.APPLIED:
                seals.append(applied(serial))
            elif fate:
                ends.append(end(serial, serial, fate, f"ME-{n}-{fate}"))
    found = account([lot], ends, seals)
    fates = found.lots[0].fates
    assert sum(fates.values()) == len(lives)
    assert fates[Fate.APPLIED] == sum(Fate.APPLIED in life for life in lives)
    assert fates[Fate.UNACCOUNTED] == sum(not any(life) for life in lives)
    named = [n.value for gap in found.lots[0].gaps for n in gap]
    assert named == [n for n, life in enumerate(lives, start=1) if not any(life)]
    clean = all(not (a and b and a is not b) for a, b in lives)
    doubled = {Trouble.ENDED_YET_APPLIED, Trouble.ENDED_TWICE}
    if clean and not any(a is b is not None for a, b in lives):
        assert not doubled & {d.trouble for d in found.differences}
