"""The reconciliation of a contest, situation by situation.

The situations are those that the trade's own list of failures names; what is expected
of them is common practice, no published source.
"""

from dataclasses import replace
from datetime import UTC, date, datetime

import pytest
from hypothesis import given as generated
from hypothesis import strategies as st

from registry.rules.arrivals import DiscrepancyKind
from registry.rules.contents import ContentKind
from registry.rules.markings import Marking
from registry.rules.reconciliation import reconcile
from registry.rules.reconciliation_accounted import accounted_for
from registry.rules.reconciliation_facts import (
    Box,
    ContestFacts,
    DiscrepancyFacts,
    Envelope,
    Place,
    Seen,
    Standing,
    Station,
    Units,
    expected,
)
from registry.rules.reconciliation_findings import Reason, State

POLL, MOCK, PACKET = ContentKind
THEN = datetime(2026, 3, 4, 18, tzinfo=UTC)
LATER = datetime(2026, 6, 1, 9, tzinfo=UTC)
AT_TABLE = Seen(THEN, on_round=False)


def station(n, *, sets=1, **more):
    units = tuple(
        Units(f"US-{n}.{i}", f"CU-1{n}0{i}", f"PT-QX{n}{n}{i}") for i in range(sets)
    )
    return Station(f"ST-{n}", f"00{n}", f"Hall {n}", units, **more)


STATIONS = (station(1), station(2), station(3, sets=2))


def envelope(of, units=0, kind=POLL, **more):
    one = of.units[units]
    written = {
        Marking.STATION_NUMBER: of.station_number,
        Marking.CONTROL_UNIT: one.control_unit,
        Marking.PAPER_TRAIL_UNIT: one.paper_trail_unit,
        Marking.POLL_DATE: "01/03/2026",
        Marking.COUNTING_DATE: "04/03/2026",
    } | more.pop("written", {})
    made = Envelope(
        number=f"EN-{one.ref[3:]}-{kind[:1]}",
        kind=kind,
        place=Place.IN_BOX,
        box=f"BX-{kind[:1]}",
        seen=AT_TABLE,
        unit_set=one.ref,
        station=of.ref,
        written=written,
    )
    return replace(made, **more)


def box(kind=POLL, **more):
    made = Box(
        number=f"BX-{kind[:1]}",
        kind=kind,
        place=Place.SHELVED,
        seen=AT_TABLE,
        contest="CT-1",
        contest_title="11 Harbour Reach",
        is_closed=True,
        shelf="A1",
    )
    return replace(made, **more)


def complete(stations=STATIONS):
    """Every envelope of slips that must exist."""
    return [
        envelope(each, i, kind)
        for each in stations
        for i in range(len(each.units))
        for kind in (POLL, MOCK)
    ]


def contest(envelopes, **more):
    made = ContestFacts(
        number="CT-1",
        stations=STATIONS,
        envelopes=tuple(envelopes),
        boxes=(box(), box(MOCK)),
        polled_on=date(2026, 3, 1),
        counted_on=date(2026, 3, 4),
    )
    return replace(made, **more)


def with_changed(number, **changes):
    return [replace(e, **changes) if e.number == number else e for e in complete()]


def written_otherwise(envelopes, number, **written):
    marks = {Marking(name.replace("_", "-")): text for name, text in written.items()}
    return [
        replace(
            e,
            standing=Standing.QUARANTINED,
            written={**e.written, **marks},
        )
        if e.number == number
        else e
        for e in envelopes
    ]


def reasons(found):
    return [each.reason for each in found.differences]


def test_a_contest_where_all_is_there_is_at_zero():
    found = reconcile(contest(complete()))
    assert found.is_at_zero
    assert found.differences == ()
    numbers = {
        each.kind: (each.expected, each.registered, each.boxed, each.shelved, each.seen)
        for each in found.stages
    }
    assert numbers == {
        POLL: (4, 4, 4, 4, 4),
        MOCK: (4, 4, 4, 4, 4),
        PACKET: (None, 0, 0, 0, 0),
    }


def test_28_an_uncontested_seat_expects_nothing_and_is_short_of_nothing():
    found = reconcile(contest([], stations=(), boxes=()))
    assert found.is_at_zero
    assert [each.expected for each in found.stages] == [0, 0, None]


def test_what_is_there_for_an_uncontested_seat_is_surplus():
    stray = envelope(
        STATIONS[0], standing=Standing.QUARANTINED, unit_set="", station=""
    )
    (one,) = reconcile(contest([stray], stations=(), boxes=())).differences
    assert one.reason is Reason.SURPLUS
    assert "expects no envelope at all" in one.text


def test_56_of_a_printer_replaced_the_shortage_names_the_set_that_is_missing():
    envelopes = [e for e in complete() if e.number != "EN-3.1-p"]
    found = reconcile(contest(envelopes))
    (one,) = found.open
    assert one.reason is Reason.MISSING
    assert "station 003 Hall 3, units CU-1301 with PT-QX331" in one.text
    assert one.about == (expected("US-3.1", POLL),)
    assert (found.stages[0].expected, found.stages[0].missing) == (4, 1)


@pytest.mark.parametrize(
    ("marking", "what"),
    [("control_unit", "control-unit"), ("paper_trail_unit", "paper-trail")],
)
def test_serials_of_two_stations_swapped_are_one_swap(marking, what):
    one, two = STATIONS[0].units[0], STATIONS[1].units[0]
    of = Marking(marking.replace("_", "-"))
    envelopes = written_otherwise(complete(), "EN-1.0-p", **{marking: two.serial(of)})
    envelopes = written_otherwise(envelopes, "EN-2.0-p", **{marking: one.serial(of)})
    found = reconcile(contest(envelopes))
    assert reasons(found) == [Reason.SWAPPED]
    (swap,) = found.differences
    assert f"the {what} serials of station 001 Hall 1 and station 002" in swap.text
    assert swap.stations == ("ST-1", "ST-2")
    assert found.stages[0].in_quarantine == 2


def test_both_serials_swapped_are_one_swap_too():
    one, two = STATIONS[0].units[0], STATIONS[1].units[0]
    envelopes = complete()
    for number, of in (("EN-1.0-p", two), ("EN-2.0-p", one)):
        envelopes = written_otherwise(
            envelopes,
            number,
            control_unit=of.control_unit,
            paper_trail_unit=of.paper_trail_unit,
        )
    # The register takes each for the station of its serials.
    envelopes = [
        replace(e, unit_set={"EN-1.0-p": two.ref, "EN-2.0-p": one.ref}[e.number])
        if e.number in ("EN-1.0-p", "EN-2.0-p")
        else e
        for e in envelopes
    ]
    (swap,) = reconcile(contest(envelopes)).differences
    assert swap.reason is Reason.SWAPPED
    assert "Swapped: both serials of station 001" in swap.text


def test_serials_that_went_round_three_stations_are_one_ring():
    units = [each.units[0] for each in STATIONS]
    envelopes = complete()
    for n in range(3):
        envelopes = written_otherwise(
            envelopes,
            f"EN-{n + 1}.0-p",
            paper_trail_unit=units[(n + 1) % 3].paper_trail_unit,
        )
    (ring,) = reconcile(contest(envelopes)).differences
    assert ring.reason is Reason.SWAPPED
    assert ring.text.startswith("Changed round among 3: the paper-trail serials")


def test_units_swapped_between_two_sets_of_one_station():
    of = STATIONS[2].units
    envelopes = written_otherwise(
        complete(), "EN-3.0-p", paper_trail_unit=of[1].paper_trail_unit
    )
    envelopes = written_otherwise(
        envelopes, "EN-3.1-p", paper_trail_unit=of[0].paper_trail_unit
    )
    (one,) = reconcile(contest(envelopes)).differences
    assert one.reason is Reason.SWAPPED
    assert one.stations == ("ST-3",)


def test_50_a_serial_that_differs_by_one_digit_is_named_and_never_corrected():
    envelopes = written_otherwise(complete(), "EN-1.0-p", paper_trail_unit="PT-QX1I0")
    found = reconcile(contest(envelopes))
    (one,) = found.differences
    assert one.reason is Reason.NEAR_MISS
    assert "“PT-QX1I0”; most likely PT-QX110 of station 001" in one.text
    assert one.written == "PT-QX1I0"
    assert found.stages[0].in_quarantine == 1


def test_the_likely_serial_is_not_named_where_another_envelope_bears_it():
    stray = envelope(
        STATIONS[0],
        number="EN-X",
        unit_set="",
        standing=Standing.QUARANTINED,
        written={Marking.PAPER_TRAIL_UNIT: "PT-QX1I0", Marking.CONTROL_UNIT: ""},
    )
    found = reconcile(contest([*complete(), stray]))
    (one,) = found.differences
    assert one.reason is Reason.UNKNOWN_SERIAL
    assert "which no unit of this contest has" in one.text


def test_a_near_miss_on_an_envelope_that_nobody_expected_makes_nothing_missing():
    envelopes = [e for e in complete() if e.number != "EN-2.0-p"]
    stray = envelope(
        STATIONS[1],
        unit_set="",
        station="",
        place=Place.INTAKE,
        box="",
        standing=Standing.QUARANTINED,
        written={
            Marking.STATION_NUMBER: "",
            Marking.CONTROL_UNIT: "",
            Marking.PAPER_TRAIL_UNIT: "PT-QX22O",
        },
    )
    found = reconcile(contest([*envelopes, stray]))
    assert reasons(found) == [Reason.NEAR_MISS]
    assert found.stages[0].missing == 0
    assert found.stages[0].in_quarantine == 1


def test_a_serial_on_two_envelopes_is_one_difference():
    twin = envelope(STATIONS[0], number="EN-X", standing=Standing.QUARANTINED)
    (one,) = reconcile(contest([*complete(), twin])).differences
    assert one.reason is Reason.DUPLICATE
    assert one.about == ("EN-1.0-p", "EN-X")
    assert "control-unit serial CU-1100 and the paper-trail serial PT-QX110" in one.text


def test_a_control_unit_that_was_kept_stands_rightly_on_two_envelopes():
    first = Units("US-4.0", "CU-1400", "PT-QX440")
    second = replace(first, ref="US-4.1", paper_trail_unit="PT-QX441",
                     control_unit_kept=True)  # fmt: skip
    four = Station("ST-4", "004", "Hall 4", (first, second))
    found = reconcile(contest(complete((four,)), stations=(four,)))
    assert found.is_at_zero


def test_an_envelope_written_for_another_station():
    envelopes = written_otherwise(complete(), "EN-1.0-p", station_number="002")
    (one,) = reconcile(contest(envelopes)).differences
    assert one.reason is Reason.WRONG_STATION
    assert "written for station 002 Hall 2" in one.text
    assert "of station 001 Hall 1" in one.text


def test_wrong_dates_are_named_with_the_right_ones():
    envelopes = written_otherwise(
        complete(), "EN-1.0-p", poll_date="1 March 2025", counting_date="04.03.2026"
    )
    (one,) = reconcile(contest(envelopes)).differences
    assert one.reason is Reason.WRONG_DATE
    assert (one.written, one.expected) == ("1 March 2025", "2026-03-01")
    assert one.markings == ("poll-date",)


def test_24_an_adjourned_poll_has_its_own_date_at_its_station():
    adjourned = replace(STATIONS[0], polled_on=date(2026, 3, 8))
    stations = (adjourned, *STATIONS[1:])
    found = reconcile(contest(complete(), stations=stations))
    assert reasons(found) == [Reason.WRONG_DATE, Reason.WRONG_DATE]
    right = [
        replace(e, written={**e.written, Marking.POLL_DATE: "08/03/2026"})
        if e.station == "ST-1"
        else e
        for e in complete()
    ]
    assert reconcile(contest(right, stations=stations)).is_at_zero


def test_55_an_unreadable_serial_is_in_quarantine_and_not_missing():
    envelopes = [
        replace(
            e,
            standing=Standing.QUARANTINED,
            unreadable=frozenset({Marking.PAPER_TRAIL_UNIT}),
        )
        if e.number == "EN-1.0-p"
        else e
        for e in complete()
    ]
    found = reconcile(contest(envelopes))
    assert reasons(found) == [Reason.QUARANTINE]
    assert found.stages[0].registered == 3
    assert found.stages[0].in_quarantine == 1


def test_surplus_what_no_station_of_the_contest_has():
    stray = envelope(
        STATIONS[0],
        number="EN-X",
        unit_set="",
        station="",
        standing=Standing.QUARANTINED,
        written={
            Marking.STATION_NUMBER: "099",
            Marking.CONTROL_UNIT: "ZZ-9",
            Marking.PAPER_TRAIL_UNIT: "ZZ-8",
        },
    )
    (one,) = reconcile(contest([*complete(), stray])).differences
    assert one.reason is Reason.SURPLUS
    assert "station 099 is written on it" in one.text


def test_an_envelope_in_another_contests_box():
    foreign = box(number="BX-F", contest="CT-2", contest_title="12 Quillmoor")
    envelopes = with_changed("EN-1.0-p", box="BX-F", standing=Standing.QUARANTINED)
    (one,) = reconcile(
        contest(envelopes, boxes=(box(), box(MOCK), foreign))
    ).differences
    assert one.reason is Reason.OTHER_CONTESTS_BOX
    assert "BX-F, a box of 12 Quillmoor" in one.text


@pytest.mark.parametrize(
    ("envelopes", "poll_box", "reason", "stages"),
    [
        (
            with_changed("EN-1.0-p", place=Place.INTAKE, box=""),
            box(),
            Reason.NOT_BOXED,
            (4, 3, 3, 3),
        ),
        (
            complete(),
            box(place=Place.INTAKE, is_closed=False),
            Reason.BOX_NOT_CLOSED,
            (4, 4, 0, 0),
        ),
        (complete(), box(place=Place.INTAKE), Reason.NOT_SHELVED, (4, 4, 0, 0)),
        (complete(), box(seen=None), Reason.NEVER_SEEN, (4, 4, 4, 4)),
        (
            complete(),
            box(seen=Seen(LATER, where="Old Granary, bay B", as_registered=False)),
            Reason.SEEN_ELSEWHERE,
            (4, 4, 4, 0),
        ),
        (
            complete(),
            box(seen=Seen(LATER, found=False)),
            Reason.NOT_FOUND,
            (4, 4, 4, 0),
        ),
        (
            complete(),
            box(place=Place.MISSING, not_found_at=LATER),
            Reason.NOT_FOUND,
            (4, 4, 0, 0),
        ),
    ],
)  # fmt: skip
def test_how_far_it_came_and_why_no_farther(envelopes, poll_box, reason, stages):
    found = reconcile(contest(envelopes, boxes=(poll_box, box(MOCK))))
    assert reasons(found) == [reason]
    of = found.stages[0]
    assert (of.registered, of.boxed, of.shelved, of.seen) == stages


def test_61_a_missing_box_stays_and_only_the_authority_writes_it_off():
    (one,) = reconcile(
        contest(complete(), boxes=(box(place=Place.MISSING), box(MOCK)))
    ).differences
    assert "only the authority writes it off" in one.remedy


def test_60_what_was_found_and_is_on_no_register_is_pointed_at():
    envelopes = [e for e in complete() if e.number != "EN-1.0-p"]
    (one,) = reconcile(
        contest(envelopes, found_strange=(("DC-7", "envelope, PT QX110"),))
    ).differences
    assert one.reason is Reason.MISSING
    assert one.remedy.startswith("DC-7 was found and is on no register")


def test_what_is_superseded_counts_through_its_successor():
    old = envelope(
        STATIONS[0],
        number="EN-OLD",
        standing=Standing.SUPERSEDED,
        place=Place.REPLACED,
        superseded_by="EN-1.0-p",
    )
    envelopes = [
        replace(e, unit_set="") if e.number == "EN-1.0-p" else e for e in complete()
    ]
    found = reconcile(contest([old, *envelopes]))
    assert found.is_at_zero
    assert found.stages[0].registered == 4


def test_a_superseded_one_without_its_successor_is_missing():
    old = envelope(STATIONS[0], standing=Standing.SUPERSEDED, place=Place.REPLACED)
    rest = [e for e in complete() if e.number != old.number]
    (one,) = reconcile(contest([old, *rest])).differences
    assert one.reason is Reason.MISSING
    assert "was superseded" in one.remedy


def test_what_is_disposed_of_out_or_kept_is_accounted_for():
    gone = with_changed(
        "EN-1.0-p",
        standing=Standing.DISPOSED,
        place=Place.GONE,
        where="certificate CF-1",
    )
    away = box(MOCK, place=Place.KEPT, where="High Bench, under PM-2")
    facts = contest(gone, boxes=(box(), away))
    found = reconcile(facts)
    assert found.is_at_zero
    assert [(s.registered, s.seen, s.elsewhere, s.disposed) for s in found.stages] == [
        (4, 4, 0, 1),
        (4, 4, 4, 0),
        (0, 0, 0, 0),
    ]
    assert [(a.number, a.where, a.envelopes) for a in accounted_for(facts)] == [
        ("BX-m", "in the custody of a court, High Bench, under PM-2", 4),
        ("EN-1.0-p", "disposed of, certificate CF-1", 0),
    ]


def packet(n, of=STATIONS[0], **more):
    made = Envelope(
        number=f"EN-K{n}",
        kind=PACKET,
        place=Place.IN_BOX,
        box="BX-s",
        seen=AT_TABLE,
        station=of.ref,
        written={Marking.STATION_NUMBER: of.station_number},
    )
    return replace(made, **more)


def test_packets_are_expected_as_the_schedule_says():
    facts = contest(
        [*complete(), packet(1), packet(2), packet(3, STATIONS[1])],
        packets_per_station=1,
        boxes=(box(), box(MOCK), box(PACKET)),
    )
    found = reconcile(facts)
    assert reasons(found) == [Reason.MISSING, Reason.SURPLUS]
    missing, surplus = found.differences
    assert missing.about == (expected("ST-3", PACKET),)
    assert surplus.about == ("EN-K1", "EN-K2")
    assert (found.stages[2].expected, found.stages[2].registered) == (3, 2)


def test_where_the_schedule_does_not_say_packets_are_only_counted():
    facts = contest(
        [*complete(), packet(1), packet(2)],
        boxes=(box(), box(MOCK), box(PACKET)),
    )
    found = reconcile(facts)
    assert found.is_at_zero
    assert (found.stages[2].expected, found.stages[2].registered) == (None, 2)


def with_votes(**votes):
    return tuple(
        replace(
            s,
            units=tuple(
                replace(u, votes=votes.get(u.ref.replace("-", "_").replace(".", "_")))
                for u in s.units
            ),
        )
        for s in STATIONS
    )


@pytest.mark.parametrize(
    ("slips", "uncut", "votes", "amount"),
    [
        (612, None, 612, 0),
        (611, 1, 612, 0),
        (610, 1, 612, -1),
        (613, None, 612, 1),
        (0, None, 0, 0),
    ],
)
def test_slips_and_uncut_slips_against_votes_with_their_sign(
    slips, uncut, votes, amount
):
    envelopes = with_changed("EN-1.0-p", slips=slips, uncut=uncut)
    found = reconcile(contest(envelopes, stations=with_votes(US_1_0=votes)))
    (count,) = found.counts
    assert count.amount == amount
    if amount:
        (one,) = found.differences
        assert one.reason is Reason.COUNT_DIFFERS
        assert one.amount == amount
        assert f"{amount:+d}." in one.text
    else:
        assert found.is_at_zero


def test_votes_or_slips_not_given_are_not_compared():
    envelopes = with_changed("EN-2.0-p", slips=10)
    found = reconcile(contest(envelopes, stations=with_votes(US_1_0=5)))
    assert found.counts == ()
    assert found.is_at_zero


def test_a_control_unit_that_was_kept_is_compared_with_the_slips_of_both_sets():
    first = Units("US-4.0", "CU-1400", "PT-QX440")
    second = Units("US-4.1", "CU-1400", "PT-QX441", 300, control_unit_kept=True)
    four = Station("ST-4", "004", "Hall 4", (first, second))
    envelopes = [
        replace(e, slips=200 if e.unit_set == "US-4.0" else 98)
        for e in complete((four,))
    ]
    (count,) = reconcile(contest(envelopes, stations=(four,))).counts
    assert (count.slips, count.votes, count.amount) == (298, 300, -2)


def answer(kind, about, **more):
    return DiscrepancyFacts("DC-1", kind, about, opened_at=THEN, **more)


def test_a_difference_in_hand_is_open_until_the_discrepancy_is_resolved():
    envelopes = [e for e in complete() if e.number != "EN-1.0-p"]
    about = expected("US-1.0", POLL)
    for given, state in (
        ((), State.UNEXPLAINED),
        ((answer(DiscrepancyKind.MISSING, about),), State.IN_HAND),
        (
            (answer(DiscrepancyKind.MISSING, about, resolved_at=LATER),),
            State.EXPLAINED,
        ),
        ((answer(DiscrepancyKind.OTHER, about),), State.UNEXPLAINED),
        (
            (answer(DiscrepancyKind.MISSING, expected("US-1.0", MOCK)),),
            State.UNEXPLAINED,
        ),
    ):
        found = reconcile(contest(envelopes, discrepancies=given))
        (one,) = found.differences
        assert one.state is state
        assert found.is_at_zero == (state is State.EXPLAINED)


def test_what_explained_other_figures_does_not_explain_these():
    envelopes = with_changed("EN-1.0-p", slips=610)
    for votes, state in ((612, State.EXPLAINED), (615, State.UNEXPLAINED)):
        given = answer(
            DiscrepancyKind.COUNT_DIFFERS,
            "EN-1.0-p",
            written="610",
            expected="612",
            resolved_at=LATER,
        )
        (one,) = reconcile(
            contest(
                envelopes, stations=with_votes(US_1_0=votes), discrepancies=(given,)
            )
        ).differences
        assert one.state is state


def test_what_was_explained_before_it_was_missed_again_does_not_count():
    boxes = (box(seen=Seen(LATER, found=False)), box(MOCK))
    for resolved_at, state in ((THEN, State.UNEXPLAINED), (LATER, State.EXPLAINED)):
        given = answer(DiscrepancyKind.NOT_FOUND, "BX-p", resolved_at=resolved_at)
        (one,) = reconcile(
            contest(complete(), boxes=boxes, discrepancies=(given,))
        ).differences
        assert one.state is state


def test_quarantine_is_not_explained_away():
    envelopes = with_changed("EN-1.0-p", standing=Standing.QUARANTINED)
    given = answer(DiscrepancyKind.OTHER, "EN-1.0-p", resolved_at=LATER)
    (one,) = reconcile(contest(envelopes, discrepancies=(given,))).open
    assert one.reason is Reason.QUARANTINE
    assert one.state is State.UNEXPLAINED


def test_a_swap_that_was_released_is_explained_by_what_was_resolved_on_both():
    one, two = STATIONS[0].units[0], STATIONS[1].units[0]
    envelopes = complete()
    for number, of in (("EN-1.0-p", two), ("EN-2.0-p", one)):
        envelopes = written_otherwise(
            envelopes, number, paper_trail_unit=of.paper_trail_unit
        )
    released = [replace(e, standing=Standing.HELD) for e in envelopes]
    given = tuple(
        answer(
            DiscrepancyKind.MARKING_DIFFERS,
            number,
            marking="paper-trail-unit",
            resolved_at=LATER,
        )
        for number in ("EN-1.0-p", "EN-2.0-p")
    )
    found = reconcile(contest(released, discrepancies=given))
    assert found.is_at_zero
    assert [each.reason for each in found.explained] == [Reason.SWAPPED]


LIVES = st.sampled_from(
    [
        None,
        {},
        {"standing": Standing.QUARANTINED},
        {"place": Place.INTAKE, "box": ""},
        {"place": Place.OUT},
        {"standing": Standing.DISPOSED, "place": Place.GONE},
        {"seen": None},
        {"place": Place.MISSING},
    ]
)


@generated(st.lists(LIVES, min_size=8, max_size=8), st.booleans(), st.booleans())
def test_the_numbers_always_agree(lives, shelved, seen):
    envelopes = [
        replace(each, **life)
        for each, life in zip(complete(), lives, strict=True)
        if life is not None
    ]
    where = {"place": Place.SHELVED if shelved else Place.INTAKE}
    boxes = tuple(
        box(kind, seen=AT_TABLE if seen else None, **where) for kind in (POLL, MOCK)
    )
    found = reconcile(contest(envelopes, boxes=boxes))
    for of in found.stages[:2]:
        assert of.expected == of.registered + of.in_quarantine + of.missing == 4
        assert of.registered >= of.boxed >= of.shelved >= of.seen >= of.seen_on_shelf
        assert of.elsewhere + of.disposed <= of.seen
        if of.seen < 4:
            assert any(d.kind is of.kind for d in found.open), "short, and not named"
    missing = [d for d in found.open if d.reason is Reason.MISSING]
    assert len(missing) == sum(of.missing for of in found.stages)
    assert len({d.key for d in found.differences}) == len(found.differences)


@generated(st.permutations(range(8)))
def test_however_serials_were_exchanged_nothing_is_called_missing(order):
    stations = tuple(station(n) for n in range(1, 9))
    envelopes = [
        replace(
            envelope(each),
            standing=Standing.QUARANTINED if to != n else Standing.HELD,
            written={
                **envelope(each).written,
                Marking.PAPER_TRAIL_UNIT: stations[to].units[0].paper_trail_unit,
            },
        )
        for n, (each, to) in enumerate(zip(stations, order, strict=True))
    ]
    found = reconcile(contest(envelopes, stations=stations))
    poll = [d for d in found.differences if d.kind is POLL]
    moved = {n for n, to in enumerate(order) if n != to}
    assert {d.reason for d in poll} <= {Reason.SWAPPED}
    assert {ref for d in poll for ref in d.stations} == {stations[n].ref for n in moved}
