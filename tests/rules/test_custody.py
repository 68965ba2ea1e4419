"""Custody without gaps: each moment in one charge or in one named gap.

That every change of hands is signed for by giver and taker, and which breaks are asked
about: common practice in the custody of evidence, no published source. The property
tests hold the line against a second, plainer reckoning of who held what when.
"""

from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from registry.rules.custody import chain_of
from registry.rules.custody_facts import (
    ChargeEnded,
    CustodyFault,
    Move,
    MoveFact,
    same_name,
)

BEGIN = datetime(2026, 3, 2, 18, 0, tzinfo=UTC)
NOW = BEGIN + timedelta(days=100)


def at(hours):
    return BEGIN + timedelta(hours=hours)


def move(act, hours, seq=None, of="EN-000001-P", **more):
    happened = at(hours)
    facts = {
        "number": f"MV-{seq or int(hours * 10) + 1:06d}-X",
        "seq": seq or int(hours * 10) + 1,
        "of": of,
        "act": act,
        "at": happened,
        "recorded_at": happened,
        "recorder": "Cora Quill",
    }
    return MoveFact(**(facts | more))


def received(hours=0, by="Cora Quill", **more):
    return move(Move.RECEIVED, hours, to_person=by, to_place="intake table", **more)


def faults(chain):
    return [finding.fault for finding in chain.findings]


def test_a_container_received_and_shelved_is_in_one_charge_until_now():
    chain = chain_of([received(), move(Move.SHELVED, 1, to_place="A 1")], now=NOW)
    assert chain.is_whole
    assert [(s.holder, s.place) for s in chain.stretches] == [
        ("Cora Quill", "intake table"),
        ("Cora Quill", "A 1"),
    ]
    assert (chain.stretches[0].start, chain.stretches[-1].end) == (BEGIN, NOW)


def test_nobody_is_recorded_between_sealing_and_receipt():
    sealed = BEGIN - timedelta(days=2)
    chain = chain_of([received()], now=NOW, sealed_at=sealed)
    (gap,) = chain.findings
    assert (gap.fault, gap.start, gap.end) == (
        CustodyFault.NOT_RECEIVED,
        sealed,
        BEGIN,
    )


def test_a_container_taken_in_at_a_terminal_has_no_name_until_it_is_handed_over():
    listed = received(recorder="", by="terminal of setup")
    chain = chain_of(
        [listed, move(Move.RETURNED, 5, to_person="Gil Rush")],
        now=NOW,
    )
    assert faults(chain) == [CustodyFault.NO_NAME]
    assert chain.findings[0].end == at(5)
    assert chain.at(at(6)).holder == "Gil Rush"


def test_a_hand_over_by_somebody_who_did_not_hold_it_is_named():
    given_on = move(Move.HANDED_OVER, 4, from_person="Otto Brine", to_person="Gil Rush")
    chain = chain_of([received(), given_on], now=NOW)
    assert faults(chain) == [CustodyFault.NOT_HOLDER]
    assert "Otto Brine" in chain.findings[0].text
    assert "Cora Quill" in chain.findings[0].text
    # It is still in one person's charge: that of the one who signed for it.
    assert chain.at(at(5)).holder == "Gil Rush"


def test_who_took_it_over_this_very_moment_has_it_now():
    given_on = move(Move.HANDED_OVER, 3, from_person="Cora Quill", to_person="Gil")
    chain = chain_of([received(), given_on], now=at(3))
    assert chain.now.holder == "Gil"


def test_a_missing_container_is_in_nobodys_charge_until_it_is_found():
    moves = [received(), move(Move.NOT_FOUND, 10), move(Move.FOUND, 30)]
    chain = chain_of(moves, now=NOW)
    (gap,) = chain.findings
    assert (gap.fault, gap.start, gap.end) == (CustodyFault.MISSING, at(10), at(30))
    assert chain.at(at(31)).holder == "Cora Quill"


def test_a_missing_envelope_passes_to_nobody_with_the_box_it_is_missing_from():
    """The box is handed over meanwhile: the envelope's gap lasts until it is found.

    Common practice, no published source: a receiver answers for what was there.
    """
    box = "BX-000001-P"
    own = [
        received(),
        move(Move.BOXED, 1, into=box, to_place=f"box {box}"),
        move(Move.NOT_FOUND, 10),
        move(Move.FOUND, 30, to_person="Gil Rush", into=box, to_place=f"box {box}"),
    ]
    of_box = [received(of=box)]
    of_box += [
        move(Move.HANDED_OVER, hours, of=box, from_person="Cora Quill", to_person=taker)
        for hours, taker in ((20, "Gil Rush"), (40, "Una Pell"))
    ]
    chain = chain_of(own, now=NOW, boxes={box: of_box})
    gap = next(f for f in chain.findings if f.fault is CustodyFault.MISSING)
    assert (gap.start, gap.end) == (at(10), at(30))
    # Found in its box, it goes where the box goes again.
    assert chain.at(at(31)).holder == "Gil Rush"
    assert chain.at(at(41)).holder == "Una Pell"
    assert chain.at(at(41)).box == box


def test_an_envelope_found_without_its_box_does_not_follow_it_any_more():
    """Found at the table while its box is missing as well."""
    box = "BX-000001-P"
    own = [
        received(),
        move(Move.BOXED, 1, into=box, to_place=f"box {box}"),
        move(Move.NOT_FOUND, 10),
        move(Move.FOUND, 30, to_person="Cora Quill", to_place="intake table"),
    ]
    of_box = [
        received(of=box),
        move(Move.HANDED_OVER, 40, of=box, to_person="Una Pell"),
    ]
    chain = chain_of(own, now=NOW, boxes={box: of_box})
    standing = chain.at(at(41))
    assert (standing.holder, standing.place) == ("Cora Quill", "intake table")


def test_on_the_way_it_is_in_the_carriers_charge():
    """Failure mode 65: despatched, in transit, accepted; always with somebody."""
    moves = [
        received(),
        move(
            Move.DESPATCHED,
            10,
            from_person="Cora Quill",
            to_person="Dan Weir, driver",
        ),
        move(Move.TAKEN_OVER, 14, from_person="Dan Weir, driver", to_person="Gil Rush"),
    ]
    chain = chain_of(moves, now=NOW)
    assert chain.is_whole
    assert [s.holder for s in chain.stretches] == [
        "Cora Quill",
        "Dan Weir, driver",
        "Gil Rush",
    ]


def test_on_the_way_without_a_carrier_is_a_gap():
    chain = chain_of(
        [received(), move(Move.DESPATCHED, 10, from_person="Cora Quill")], now=NOW
    )
    assert faults(chain) == [CustodyFault.ON_WAY]


def test_out_past_its_expected_return_is_named_until_it_is_back():
    """Failure mode 62: out to court and never returned stays on the register."""
    out = move(
        Move.TAKEN_OUT,
        10,
        from_person="Cora Quill",
        to_person="Clerk of the High Bench",
        expected_back=at(48),
    )
    still_out = chain_of([received(), out], now=NOW)
    assert faults(still_out) == [CustodyFault.OVERDUE]
    assert (still_out.findings[0].start, still_out.findings[0].end) == (at(48), NOW)
    assert still_out.now.holder == "Clerk of the High Bench"
    back = move(Move.RETURNED, 60, to_person="Cora Quill")
    assert chain_of([received(), out, back], now=NOW).findings[0].end == at(60)
    in_time = move(Move.RETURNED, 40, to_person="Cora Quill")
    assert chain_of([received(), out, in_time], now=NOW).is_whole


def test_what_a_court_keeps_is_in_the_courts_charge():
    moves = [
        received(),
        move(Move.TAKEN_OUT, 5, from_person="Cora Quill", to_person="Clerk"),
        move(Move.KEPT, 9, to_person="High Bench of Calvenna"),
    ]
    assert chain_of(moves, now=NOW).now.holder == "High Bench of Calvenna"


def test_the_movements_of_its_box_count_while_it_lies_in_it():
    box = "BX-000002-7"
    of_box = [
        received(0, of=box, seq=1),
        move(
            Move.HANDED_OVER, 20, of=box, from_person="Cora Quill", to_person="Gil Rush"
        ),
        move(
            Move.HANDED_OVER, 50, of=box, from_person="Gil Rush", to_person="Bea Lock"
        ),
    ]
    own = [
        received(1),
        move(Move.BOXED, 2, to_place=f"box {box}", into=box),
        move(Move.TAKEN_OUT, 40, from_person="Gil Rush", to_person="Clerk"),
    ]
    chain = chain_of(own, now=NOW, boxes={box: of_box})
    assert chain.is_whole
    assert [(s.holder, s.box) for s in chain.stretches] == [
        ("Cora Quill", ""),
        ("Cora Quill", box),
        ("Gil Rush", box),
        ("Clerk", ""),
    ]


def test_two_charges_at_once_are_named():
    box = "BX-000002-7"
    own = [received(1), move(Move.BOXED, 2, to_place=f"box {box}", into=box)]
    other = [received(0, by="Gil Rush", of=box, recorder="Gil Rush")]
    chain = chain_of(own, now=NOW, boxes={box: other})
    assert faults(chain) == [CustodyFault.OVERLAP]
    assert chain.now.holder == "Gil Rush"
    apart = move(Move.HANDED_OVER, 9, from_person="Cora Quill", to_person="Gil Rush")
    same = [received(0, of=box)]
    chain = chain_of([*own, apart], now=NOW, boxes={box: same})
    assert faults(chain) == [CustodyFault.OVERLAP]


@pytest.mark.parametrize(("hours", "late"), [(24, False), (24.1, True)])
def test_what_is_entered_more_than_a_day_late_is_named(hours, late):
    entry = received(recorded_at=at(hours))
    assert (CustodyFault.RECORDED_LATE in faults(chain_of([entry], now=NOW))) is late


def test_a_holder_whose_charge_of_the_room_ended_is_named_from_then_on():
    ended = ChargeEnded("cora  QUILL", at(100), at(300))
    chain = chain_of([received()], now=NOW, charges_ended=[ended])
    (found,) = chain.findings
    assert (found.fault, found.start, found.end) == (
        CustodyFault.CHARGE_ENDED,
        at(100),
        at(300),
    )


def test_disposal_ends_the_chain():
    chain = chain_of([received(), move(Move.DISPOSED, 500)], now=NOW)
    assert (chain.ended, chain.now) == (True, None)
    assert chain.stretches[-1].end == at(500)


def test_names_are_compared_without_the_post():
    assert same_name("Dan Weir, driver", "dan  weir")
    assert not same_name("Dan Weir", "Dan Weirs")


# Whatever the order of steps: one charge or one named gap at each moment.

PEOPLE = ("Cora Quill", "Gil Rush", "Dan Weir, driver", "")
ACTS = [act for act in Move if act not in (Move.RECEIVED, Move.DISPOSED)]


@st.composite
def lives(draw):
    box = "BX-000002-7"
    own = [received(draw(st.integers(0, 5)), seq=1)]
    own += [
        move(
            act,
            draw(st.integers(0, 2000)) / 4,
            seq=index + 2,
            from_person=draw(st.sampled_from(PEOPLE)),
            to_person=draw(st.sampled_from(PEOPLE)),
            recorder=draw(st.sampled_from(PEOPLE)),
            into=box if act is Move.BOXED else "",
        )
        for index, act in enumerate(draw(st.lists(st.sampled_from(ACTS), max_size=9)))
    ]
    if draw(st.booleans()):
        own.append(move(Move.DISPOSED, 600, seq=40))
    of_box = [received(0, of=box, seq=50)] + [
        move(
            act,
            draw(st.integers(0, 2000)) / 4,
            seq=51 + index,
            of=box,
            to_person=draw(st.sampled_from(PEOPLE)),
        )
        for index, act in enumerate(
            draw(
                st.lists(
                    st.sampled_from([Move.HANDED_OVER, Move.SHELVED, Move.NOT_FOUND]),
                    max_size=4,
                )
            )
        )
    ]
    sealed = draw(st.none() | st.just(BEGIN - timedelta(days=1)))
    return own, {box: of_box}, sealed


@settings(deadline=None)
@given(lives())
def test_each_moment_is_in_one_charge_or_in_one_named_gap(life):
    own, boxes, sealed = life
    chain = chain_of(own, now=NOW, boxes=boxes, sealed_at=sealed)
    for stretch in chain.stretches:
        assert stretch.start < stretch.end
        assert bool(stretch.holder) is (stretch.gap is None)
    for one, following in zip(chain.stretches, chain.stretches[1:], strict=False):
        assert one.end == following.start
    first = min(m.at for m in own)
    if chain.stretches:
        assert chain.stretches[0].start == min(first, sealed or first)
        gone = [m.at for m in own if m.act is Move.DISPOSED]
        assert chain.stretches[-1].end == (gone[0] if gone else NOW)


@settings(deadline=None)
@given(lives())
def test_every_gap_is_among_the_findings_and_no_other_time_is(life):
    own, boxes, sealed = life
    chain = chain_of(own, now=NOW, boxes=boxes, sealed_at=sealed)
    gaps = {s.gap for s in chain.stretches if s.gap}
    length = sum((s.end - s.start for s in chain.stretches if s.gap), start=timedelta())
    found = [f for f in chain.findings if f.fault in gaps]
    assert {f.fault for f in found} == gaps
    assert sum((f.end - f.start for f in found), start=timedelta()) == length


def holder_by_hand(own, moment):
    """Who held a container that never lay in a box, reckoned from the newest back."""
    past = [m for m in own if m.at <= moment]
    for m in sorted(past, key=lambda m: m.key, reverse=True):
        if m.act in (Move.SHELVED, Move.MOVED):
            continue
        if m.act is Move.REPLACED and not m.to_person:
            continue
        if m.act is Move.NOT_FOUND:
            return ""
        if m.act is Move.RECEIVED:
            return m.to_person if m.recorder else ""
        if m.act is Move.FOUND:
            return m.to_person or m.recorder
        return m.to_person
    return ""


@settings(deadline=None)
@given(lives(), st.integers(0, 2400))
def test_the_holder_is_the_one_of_the_newest_change_of_hands(life, quarter_hours):
    own = [m for m in life[0] if m.act not in (Move.BOXED, Move.DISPOSED)]
    moment = at(quarter_hours / 4)
    chain = chain_of(own, now=NOW)
    found = chain.at(moment)
    assert (found.holder if found else "") == holder_by_hand(own, moment)
