"""What arrives is recorded as it stands; whatever is wrong with it is named.

The markings and the duty to name each one that is missing or differs are the
project's own brief ("The records"); the ways in which containers really arrive are
common practice, no published source, unless another is named beside the check.
"""

from dataclasses import replace
from datetime import timedelta

import pytest

from registry.models import (
    Box,
    CustodyMovement,
    Discrepancy,
    Envelope,
    Seal,
    SealEvent,
)
from registry.rules.arrivals import SealEntry, SealKind
from registry.rules.markings import Marking
from registry.rules.powers import PowerMissing
from registry.rules.schedules import ContentKind
from registry.usecases import Mistaken, NotThere, intake
from tests import given

pytestmark = pytest.mark.django_db

MOCK = ContentKind.MOCK_POLL_SLIPS
PACKET = ContentKind.STATUTORY_PACKET


@pytest.fixture
def scene():
    return given.a_scene()


def kinds_on(number):
    rows = Discrepancy.objects.filter(envelope__number=number) | (
        Discrepancy.objects.filter(box__number=number)
    )
    return sorted(rows.filter(resolved_at=None).values_list("kind", "marking"))


def at_station_two(**changes):
    return given.an_envelope_on_the_table(
        **{
            "station": "002",
            "name": "Net Loft Hall",
            "control_unit": "CU-11002",
            "paper_trail_unit": "PT-AA-11002",
            "seal": "W-0002",
            **changes,
        }
    )


def test_an_envelope_that_is_as_it_must_be_is_held(scene):
    logged = given.logged(scene, given.an_envelope_on_the_table())
    envelope = Envelope.objects.get(number=logged.number)
    assert not logged.quarantined
    assert (envelope.state, envelope.whereabouts) == ("held", "intake")
    assert envelope.unit_set.paper_trail_serial == "PT-AA-11001"
    assert (envelope.slip_count, envelope.self_test_count) == (612, 7)


@pytest.mark.parametrize("marking", list(Marking))
def test_each_missing_marking_is_named(scene, marking):
    whole = given.an_envelope_on_the_table()
    logged = given.logged(scene, given.changed(whole, marking, None))
    assert logged.quarantined
    assert kinds_on(logged.number) == [("marking-missing", marking.value)]


@pytest.mark.parametrize("marking", list(Marking))
def test_each_unreadable_marking_is_named(scene, marking):
    whole = given.changed(given.an_envelope_on_the_table(), marking, None)
    arrival = replace(whole, unreadable=frozenset({marking}))
    logged = given.logged(scene, arrival)
    assert kinds_on(logged.number) == [("marking-unreadable", marking.value)]


WRONG = {
    Marking.ELECTION: "Local Election of Calvenna",
    Marking.CONSTITUENCY_NUMBER: "12",
    Marking.CONSTITUENCY_NAME: "Quillmoor",
    Marking.STATION_NUMBER: "002",
    Marking.STATION_NAME: "Net Loft Hall",
    Marking.CONTROL_UNIT: "CU-11002",
    Marking.PAPER_TRAIL_UNIT: "PT-AA-1100l",
    Marking.POLL_DATE: "01/01/2025",
    Marking.COUNTING_DATE: "31/02/2025",
}


@pytest.mark.parametrize(("marking", "text"), WRONG.items())
def test_each_differing_marking_is_named_and_kept_as_written(scene, marking, text):
    wrong = given.changed(given.an_envelope_on_the_table(), marking, text)
    logged = given.logged(scene, wrong)
    assert kinds_on(logged.number) == [("marking-differs", marking.value)]
    found = Discrepancy.objects.get()
    assert found.written == text
    assert Envelope.objects.get().written[marking] == text


@pytest.mark.parametrize(
    ("marking", "text"),
    [
        # Leading zeros, hyphens and case are habits of writing, not differences.
        (Marking.STATION_NUMBER, "1"),
        (Marking.CONTROL_UNIT, "cu 11001"),
        (Marking.PAPER_TRAIL_UNIT, "PTAA11001"),
        (Marking.CONSTITUENCY_NAME, "HARBOUR  REACH"),
        # Day before month, as dates are written by hand.
        (Marking.POLL_DATE, f"{given.POLLED:%d.%m.%Y}"),
        (Marking.COUNTING_DATE, f"{given.COUNTED:%d %B %Y}"),
    ],
)
def test_another_way_of_writing_is_no_difference(scene, marking, text):
    arrival = given.changed(given.an_envelope_on_the_table(), marking, text)
    assert not given.logged(scene, arrival).quarantined


def test_what_is_written_with_spaces_is_kept_as_it_stands_but_for_its_ends(scene):
    arrival = given.an_envelope_on_the_table(control_unit=" CU 11001 ")
    number = given.logged(scene, arrival).number
    assert Envelope.objects.get(number=number).written_control_unit == "CU 11001"


def test_a_second_envelope_of_the_same_units_marks_both(scene):
    first = given.logged(scene, given.an_envelope_on_the_table())
    second = given.logged(scene, given.an_envelope_on_the_table(seal="W-0009"))
    assert second.quarantined
    assert kinds_on(second.number) == [("duplicate-serial", "")]
    assert kinds_on(first.number) == [("duplicate-serial", "")]
    assert first.number in second.problems[0]


def test_a_double_of_one_that_stands_in_quarantine_is_named_too(scene):
    odd = given.changed(given.an_envelope_on_the_table(), Marking.POLL_DATE, None)
    first = given.logged(scene, odd)
    second = given.logged(scene, given.an_envelope_on_the_table(seal="W-0009"))
    assert kinds_on(second.number) == [("duplicate-serial", "")]
    assert ("duplicate-serial", "") in kinds_on(first.number)


def test_swapped_serials_are_recognised_by_the_paper_trail_unit(scene):
    """The slips come out of the paper-trail unit, so it goes first."""
    swapped = given.an_envelope_on_the_table(control_unit="CU-11002")
    logged = given.logged(scene, swapped)
    assert "001 Customs Quay School" in logged.recognised_as
    assert kinds_on(logged.number) == [("marking-differs", "control-unit")]


def test_a_container_nobody_expected_is_recorded_in_quarantine(scene):
    stranger = given.an_envelope_on_the_table(
        station="777", name="Elsewhere", control_unit="CU-0", paper_trail_unit="PT-0"
    )
    logged = given.logged(scene, stranger)
    assert logged.quarantined
    assert ("unexpected", "") in kinds_on(logged.number)
    assert Envelope.objects.get(number=logged.number).contest is None
    assert logged.recognised_as == ""


def test_an_envelope_with_nothing_on_it_is_recorded_with_a_remark(scene):
    bare = replace(
        given.an_envelope_on_the_table(),
        written={},
        seals=(),
        remarks="Nothing is written on it.",
    )
    logged = given.logged(scene, bare)
    missing = [m for kind, m in kinds_on(logged.number) if kind == "marking-missing"]
    assert set(missing) == {m.value for m in Marking}
    assert ("seal-missing", "") in kinds_on(logged.number)


def test_nothing_at_all_is_no_container(scene):
    nothing = replace(given.an_envelope_on_the_table(), written={}, seals=())
    with pytest.raises(Mistaken, match="at least one marking"):
        given.logged(scene, nothing)
    assert not Envelope.objects.exists()


def test_each_set_of_a_station_with_a_replaced_unit_has_its_envelope(scene):
    lamp = {"station": "003", "name": "Lamp House"}
    for serial, seal in (("11003", "W-1"), ("11903", "W-2")):
        logged = given.logged(
            scene,
            given.an_envelope_on_the_table(
                **lamp,
                control_unit=f"CU-{serial}",
                paper_trail_unit=f"PT-AA-{serial}",
                seal=seal,
            ),
        )
        assert not logged.quarantined, logged.problems


KEPT = """\
constituency_number,station_number,station_name,control_unit,paper_trail_unit,replaced
11,004,Sail Loft,CU-11004,PT-AA-11004,no
11,004,Sail Loft,CU-11004,PT-AA-11904,yes
11,005,Chart Room,CU-11005,PT-AA-11005,no
11,005,Chart Room,CU-11905,PT-AA-11005,yes
"""


@pytest.mark.parametrize(
    ("station", "name", "pairs"),
    [
        (
            "004",
            "Sail Loft",
            [("CU-11004", "PT-AA-11004"), ("CU-11004", "PT-AA-11904")],
        ),
        (
            "005",
            "Chart Room",
            [("CU-11005", "PT-AA-11005"), ("CU-11905", "PT-AA-11005")],
        ),
    ],
    ids=["control unit kept", "paper-trail unit kept"],
)
def test_where_one_unit_was_kept_both_sets_have_a_live_envelope(
    scene, station, name, pairs
):
    from registry.usecases import stations

    stations.load_stations(
        election=scene.election,
        content=KEPT.encode(),
        file_name="kept.csv",
        actor=scene.cast.administrator,
        at=given.NOW,
    )
    for index, (control, paper) in enumerate(pairs):
        logged = given.logged(
            scene,
            given.an_envelope_on_the_table(
                station=station,
                name=name,
                control_unit=control,
                paper_trail_unit=paper,
                seal=f"W-{index}",
            ),
        )
        assert not logged.quarantined, logged.problems
    assert len(set(Envelope.objects.values_list("unit_set", flat=True))) == 2


def test_mock_poll_slips_of_the_same_units_are_no_double(scene):
    given.logged(scene, given.an_envelope_on_the_table())
    mock = given.an_envelope_on_the_table(kind=MOCK, seal="W-0002")
    mock = given.changed(mock, Marking.COUNTING_DATE, None)
    assert not given.logged(scene, mock).quarantined


def test_several_packets_of_one_station_are_no_doubles(scene):
    for index in (1, 2):
        packet = given.an_envelope_on_the_table(kind=PACKET, seal=f"W-{index}")
        packet = replace(packet, description=f"Packet {index}")
        for unit in (Marking.CONTROL_UNIT, Marking.PAPER_TRAIL_UNIT):
            packet = given.changed(packet, unit, None)
        assert not given.logged(scene, packet).quarantined


def test_the_second_wave_is_sealed_and_received_days_after_the_count(scene):
    """Slips of units that were not counted are sealed days later (desks.md B.1)."""
    later = given.COUNTED + timedelta(days=10)
    arrival = replace(at_station_two(), sealed_on=later, received_on=later)
    number = given.logged(scene, arrival).number
    envelope = Envelope.objects.get(number=number)
    dates = (
        envelope.contest.polled_on,
        envelope.contest.counted_on,
        envelope.contest.declared_on,
        envelope.sealed_on,
        envelope.received_on,
    )
    assert dates == (given.POLLED, given.COUNTED, given.DECLARED, later, later)
    assert envelope.state == "held"


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"received_on": given.TODAY + timedelta(days=1)}, "received_on"),
        ({"sealed_on": given.COUNTED + timedelta(days=1)}, "sealed_on"),
    ],
)
def test_a_day_that_cannot_be_is_mistaken(scene, changes, field):
    arrival = replace(given.an_envelope_on_the_table(), **changes)
    with pytest.raises(Mistaken) as mistaken:
        given.logged(scene, arrival)
    assert list(mistaken.value.errors) == [field]


def test_a_writing_longer_than_the_register_takes_is_mistaken(scene):
    arrival = given.an_envelope_on_the_table(control_unit="C" * 81)
    with pytest.raises(Mistaken) as mistaken:
        given.logged(scene, arrival)
    assert list(mistaken.value.errors) == ["control_unit"]


# Seals


def sealed(*seals):
    return replace(given.an_envelope_on_the_table(), seals=seals)


def test_a_seal_has_a_life_of_its_own(scene):
    number = given.logged(scene, given.an_envelope_on_the_table()).number
    seal = Seal.objects.get(envelope__number=number)
    event = SealEvent.objects.get(seal=seal)
    assert (seal.state, event.act) == ("applied", "applied")
    assert event.occurred_on == given.COUNTED


def test_a_seal_number_on_two_containers_marks_both(scene):
    first = given.logged(scene, given.an_envelope_on_the_table())
    second = given.logged(scene, at_station_two(seal="w 0001"))
    assert kinds_on(second.number) == [("duplicate-seal", "")]
    assert kinds_on(first.number) == [("duplicate-seal", "")]


def test_a_container_that_doubles_serial_and_seal_marks_the_other_for_both(scene):
    first = given.logged(scene, given.an_envelope_on_the_table())
    given.logged(scene, given.an_envelope_on_the_table())
    assert kinds_on(first.number) == [("duplicate-seal", ""), ("duplicate-serial", "")]


@pytest.mark.parametrize(
    "other",
    [
        SealEntry(SealKind.WAX, "Returning Officer 12", "W-0001"),
        SealEntry(SealKind.PAPER, "Returning Officer 11", "W-0001", signed=True),
    ],
    ids=["another maker", "another kind"],
)
def test_a_number_is_unique_only_per_maker_and_kind(scene, other):
    given.logged(scene, given.an_envelope_on_the_table())
    second = replace(at_station_two(), seals=(other,))
    assert not given.logged(scene, second).quarantined


def test_plain_wax_seals_have_no_number_to_double(scene):
    plain = SealEntry(SealKind.WAX, "Returning Officer 11")
    for arrival in (given.an_envelope_on_the_table(), at_station_two()):
        assert not given.logged(scene, replace(arrival, seals=(plain,))).quarantined


@pytest.mark.parametrize(
    ("seals", "kind"),
    [
        ((), "seal-missing"),
        ((SealEntry(SealKind.PAPER, "Print", "P-1", signed=False),), "seal-unsigned"),
        ((SealEntry(SealKind.WAX, "RO", "W-1", broken=True),), "seal-broken"),
        ((SealEntry(SealKind.PAPER, "Print", "", signed=True),), "seal-missing"),
        ((SealEntry(SealKind.STRAP, "Strapworks", " - "),), "seal-missing"),
    ],
    ids=["none", "unsigned", "broken", "no number", "number unreadable"],
)
def test_what_is_wrong_with_a_seal_is_named(scene, seals, kind):
    logged = given.logged(scene, sealed(*seals))
    assert kinds_on(logged.number) == [(kind, "")]


def test_the_same_number_twice_on_one_container_is_named(scene):
    seal = given.paper_seal("P-1")
    assert kinds_on(given.logged(scene, sealed(seal, seal)).number) == [
        ("duplicate-seal", "")
    ]


def test_an_unsigned_seal_that_was_not_looked_at_is_not_accused(scene):
    seal = SealEntry(SealKind.PAPER, "Print", "P-1", signed=None)
    assert not given.logged(scene, sealed(seal)).quarantined


# Boxes


def test_an_open_box_needs_neither_seal_nor_station_list_yet(scene):
    box = given.changed(given.an_open_box(), Marking.STATION_NUMBER, None)
    assert not given.logged(scene, box).quarantined


def test_a_box_that_arrives_closed_needs_a_numbered_seal(scene):
    closed = replace(given.an_open_box(), closed=True)
    assert kinds_on(given.logged(scene, closed).number) == [("seal-missing", "")]
    waxed = replace(closed, seals=(SealEntry(SealKind.WAX, "RO"),), label="2 of 2")
    assert kinds_on(given.logged(scene, waxed).number) == [("seal-missing", "")]
    good = replace(closed, seals=(given.paper_seal(),), label="3 of 3")
    logged = given.logged(scene, good)
    assert not logged.quarantined
    assert Box.objects.get(number=logged.number).closed_on == given.COUNTED


def test_an_envelope_is_put_into_the_open_box_that_is_named(scene):
    box = given.logged(scene, given.an_open_box()).number
    logged = given.logged(scene, given.an_envelope_on_the_table(), box=box)
    assert logged.box == box
    acts = CustodyMovement.objects.filter(envelope__number=logged.number)
    assert list(acts.order_by("id").values_list("act", flat=True)) == [
        "received",
        "boxed",
    ]


@pytest.mark.parametrize(
    ("arrival", "why"),
    [
        (
            given.an_envelope_on_the_table(
                "001", ("12", "Quillmoor"), "Peat Works Canteen", "CU-12001",
                "PT-AA-12001",
            ),
            "11 Harbour Reach",
        ),
        (
            given.changed(
                given.an_envelope_on_the_table(), Marking.STATION_NAME, None
            ),
            "quarantine",
        ),
    ],
    ids=["another constituency", "in quarantine"],
)  # fmt: skip
def test_an_envelope_that_does_not_belong_there_is_logged_all_the_same(
    scene, arrival, why
):
    box = given.logged(scene, given.an_open_box()).number
    logged = given.logged(scene, arrival, box=box)
    assert Envelope.objects.get(number=logged.number).box is None
    assert why in logged.not_boxed[0]


# Who and where


@pytest.mark.parametrize("who", ["legal", "authority", "auditor", "administrator"])
def test_only_a_custodian_logs(scene, who):
    with pytest.raises(PowerMissing):
        intake.log_container(
            arrival=given.an_envelope_on_the_table(),
            election=scene.election,
            room=scene.room,
            actor=getattr(scene.cast, who),
            at=given.NOW,
        )


def test_a_custodian_takes_in_only_where_he_has_charge(scene):
    with pytest.raises(NotThere):
        intake.begin_intake(
            room=scene.other_room,
            delivered_by="Rowan Fenn",
            actor=scene.cast.custodian,
            at=given.NOW,
        )


def test_an_intake_of_another_room_is_not_there(scene):
    keeper = given.appointed(
        scene.cast.administrator, "gil.keeper", "custodian", rooms=(scene.other_room,)
    )
    number = intake.begin_intake(
        room=scene.other_room, delivered_by="Rowan Fenn", actor=keeper, at=given.NOW
    )
    for act in (
        lambda: intake.look_at_intake(
            intake=number, actor=scene.cast.custodian, at=given.NOW
        ),
        lambda: given.logged(scene, given.an_envelope_on_the_table(), intake=number),
    ):
        with pytest.raises(NotThere):
            act()


def test_the_page_of_an_intake_tells_what_became_of_the_last(scene):
    act = {"actor": scene.cast.custodian, "at": given.NOW}
    number = intake.begin_intake(room=scene.room, delivered_by="Rowan Fenn", **act)
    given.logged(scene, given.an_open_box(), intake=number)
    odd = given.changed(given.an_envelope_on_the_table(), Marking.POLL_DATE, None)
    last = given.logged(scene, odd, intake=number)
    file = intake.look_at_intake(intake=number, **act)
    assert (file.boxes, file.envelopes, file.quarantined) == (1, 1, 1)
    assert file.last.number == last.number
    assert file.last.problems == ("Date of poll: missing.",)
    assert file.last.written["constituency-name"] == "Harbour Reach"
