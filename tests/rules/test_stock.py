"""The stock account adds up, whatever happened to each container.

That a closing stock is the opening one, plus what came, less what went, is the rule of
any stock ledger (common practice, no published source); it is checked here against
counting the containers one by one.
"""

from collections import Counter

from hypothesis import given
from hypothesis import strategies as st

from registry.rules.stock import COMING, Class, Flow, Held, account, flows_between

ROOMS = (1, 2)
KINDS = ("poll-slips", "mock-poll-slips")


@st.composite
def lives(draw):
    """Containers, each with versions before the period and in it."""
    before, changes = {}, []
    for container in range(draw(st.integers(0, 8))):
        versions = [
            Held(
                container,
                draw(st.sampled_from(ROOMS)),
                draw(st.sampled_from(("box", "envelope"))),
                draw(st.sampled_from(KINDS)),
                draw(st.sampled_from((None, None, None, *ENDS))),
                succeeds=draw(st.booleans()),
            )
            for _ in range(draw(st.integers(1, 5)))
        ]
        known = draw(st.integers(0, len(versions)))
        if known:
            before[container] = versions[known - 1]
        changes += versions[known:]
    return before, changes


ENDS = (Flow.DISPOSED, Flow.SUPERSEDED)


def counted(held):
    return Counter(one.stock for one in held if one.stock)


@given(lives())
def test_opening_and_flows_make_the_closing_stock(life):
    before, changes = life
    at_the_end = before | {one.container: one for one in changes}
    lines = account(
        counted(before.values()),
        flows_between(before, changes),
        counted(at_the_end.values()),
        {},
    )
    assert all(line.agrees for line in lines), lines
    assert sum(line.closing for line in lines) == sum(
        counted(at_the_end.values()).values()
    )


@given(lives())
def test_what_is_taken_from_one_class_is_brought_to_another(life):
    flows = flows_between(*life)
    taken = sum(n for (_, flow), n in flows.items() if flow is Flow.TAKEN)
    brought = sum(n for (_, flow), n in flows.items() if flow is Flow.BROUGHT)
    assert brought >= taken  # more where a container that had left was put back


def test_what_came_and_went_in_one_period_is_told_as_both():
    box = Held(1, 1, "box", "poll-slips")
    gone = Held(1, 1, "box", "poll-slips", Flow.DISPOSED)
    (line,) = account({}, flows_between({}, [box, box, gone]), {}, {})
    assert line.flows[Flow.RECEIVED] == line.flows[Flow.DISPOSED] == 1
    assert line.closing == line.counted == 0


def test_a_transfer_leaves_one_room_and_comes_into_another():
    here, there = Held(1, 1, "box", "poll-slips"), Held(1, 2, "box", "poll-slips")
    flows = flows_between({1: here}, [there, here, there])
    assert flows[here.stock, Flow.TAKEN] == 2
    assert flows[here.stock, Flow.BROUGHT] == 1
    assert flows[there.stock, Flow.BROUGHT] == 2


def test_what_is_sealed_anew_is_not_received_twice():
    old = Held(1, 1, "envelope", "poll-slips", Flow.SUPERSEDED)
    new = Held(2, 1, "envelope", "poll-slips", succeeds=True)
    flows = flows_between({1: Held(1, 1, "envelope", "poll-slips")}, [old, new])
    assert flows == {
        (new.stock, Flow.SUPERSEDED): 1,
        (new.stock, Flow.SEALED_ANEW): 1,
    }


def test_a_count_that_differs_stands_out():
    of = Class(1, "box", "poll-slips")
    (line,) = account({of: 5}, {(of, Flow.DISPOSED): 1}, {of: 5}, {})
    assert (line.closing, line.counted, line.agrees) == (4, 5, False)


def test_every_flow_is_coming_or_going():
    assert set(Flow) - COMING == {Flow.TAKEN, *ENDS}
