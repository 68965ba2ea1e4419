"""Reconciliation over the register: from what stands on the table down to zero."""

import csv
import io
import json
from dataclasses import replace

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from registry.models import (
    AccessEntry,
    ActInHand,
    Box,
    Discrepancy,
    Election,
    Envelope,
    Sighting,
    StrongRoom,
    act_in_hand,
)
from registry.rules.markings import Marking
from registry.rules.schedules import ContentKind
from registry.usecases import (
    Mistaken,
    NotThere,
    Refused,
    boxes,
    custody,
    discrepancies,
    setting_up,
    stations,
)
from registry.usecases import reconciliation as use
from tests import given

pytestmark = pytest.mark.django_db
UNITS = {
    "001": ("Customs Quay School", "CU-11001", "PT-AA-11001"),
    "002": ("Net Loft Hall", "CU-11002", "PT-AA-11002"),
    "003": ("Lamp House", "CU-11003", "PT-AA-11003"),
    "003b": ("Lamp House", "CU-11903", "PT-AA-11903"),
}
PACKET = ContentKind.STATUTORY_PACKET


@pytest.fixture
def scene():
    return given.a_scene()


def act(scene, who="custodian"):
    return {"actor": getattr(scene.cast, who), "at": given.NOW}


def an_envelope(station, kind=ContentKind.POLL_SLIPS):
    name, control, paper = UNITS[station]
    made = given.an_envelope_on_the_table(
        station=station[:3],
        name=name,
        control_unit=control,
        paper_trail_unit=paper,
        seal=f"W-{kind}-{station}",
        kind=kind,
    )
    return replace(made, slip_count=612, self_test_count=7)


def everything_put_away(scene, leave_out=(), changed=None):
    """Every envelope of constituency 11 in a closed box on its shelf."""
    for kind in ContentKind:
        apart = {s for k, s in (*leave_out, *(changed or {})) if k is kind}
        label = ", ".join(dict.fromkeys(s[:3] for s in UNITS if s not in apart))
        box = given.logged(scene, given.an_open_box(kind=kind, stations=label))
        for station in UNITS:
            if (kind is PACKET and station == "003b") or (kind, station) in leave_out:
                continue
            made = (changed or {}).get((kind, station)) or an_envelope(station, kind)
            if kind is PACKET:
                made = replace(made, slip_count=None, self_test_count=None)
            into = "" if (changed or {}).get((kind, station)) else box.number
            given.logged(scene, made, box=into)
        seal = given.paper_seal(f"PS-{kind}")
        boxes.close_box(
            box=box.number, seals=[seal], sealed_on=given.COUNTED, **act(scene)
        )
        boxes.shelve_box(box=box.number, shelf=scene.shelves[1], **act(scene))


def look(scene, who="custodian", contest="11"):
    return use.look_at_reconciliation(
        contest=scene.contests[contest], **act(scene, who)
    )


def stages(file):
    return [
        (s.stages.expected, s.stages.registered, s.stages.boxed, s.stages.shelved,
         s.stages.seen)
        for s in file.stages
    ]  # fmt: skip


def reasons(file):
    return [row.reason for row in file.open]


def test_an_empty_contest_is_short_of_everything(scene):
    file = look(scene)
    assert reasons(file) == ["missing"] * 11
    assert stages(file) == [(4, 0, 0, 0, 0), (4, 0, 0, 0, 0), (3, 0, 0, 0, 0)]


def test_a_contest_put_away_is_at_zero(scene):
    everything_put_away(scene)
    file = look(scene)
    assert file.is_at_zero
    assert stages(file) == [(4, 4, 4, 4, 4), (4, 4, 4, 4, 4), (3, 3, 3, 3, 3)]


def test_the_other_contest_is_reconciled_apart(scene):
    everything_put_away(scene)
    file = look(scene, contest="12")
    assert reasons(file) == ["missing"] * 6


def test_it_goes_down_to_zero_as_each_difference_is_explained(scene):
    lost = (ContentKind.POLL_SLIPS, "002")
    everything_put_away(scene, leave_out=[lost])
    (row,) = look(scene).open
    opened = use.open_difference(
        contest=scene.contests["11"], difference=row.key, **act(scene)
    )
    found = Discrepancy.objects.get(number=opened)
    assert (found.kind, found.content) == ("missing", "poll-slips")
    assert str(found.unit_set) == "CU-11002 with PT-AA-11002"
    assert found.room.number == scene.room
    assert found.owner_id == scene.cast.custodian.person_id
    assert found.due_on
    (row,) = look(scene).open
    assert row.state == "in hand"
    with pytest.raises(Refused, match="open for this difference already"):
        use.open_difference(
            contest=scene.contests["11"], difference=row.key, **act(scene)
        )
    discrepancies.resolve_discrepancy(
        discrepancy=opened,
        resolution="Statement of the returning officer: the station was not opened.",
        **act(scene),
    )
    file = look(scene)
    assert file.is_at_zero
    assert [r.reason for r in file.explained] == ["missing"]
    assert file.explained[0].answers[0].resolution.startswith("Statement")


def test_what_is_explained_stays_short_in_the_numbers(scene):
    test_it_goes_down_to_zero_as_each_difference_is_explained(scene)
    assert stages(look(scene))[0] == (4, 3, 3, 3, 3)


def test_two_envelopes_with_each_others_serials_are_one_swap(scene):
    one = given.changed(an_envelope("001"), Marking.PAPER_TRAIL_UNIT, "PT-AA-11002")
    two = given.changed(an_envelope("002"), Marking.PAPER_TRAIL_UNIT, "PT-AA-11001")
    poll = ContentKind.POLL_SLIPS
    everything_put_away(scene, changed={(poll, "001"): one, (poll, "002"): two})
    file = look(scene)
    assert reasons(file) == ["swapped"]
    assert "station 001 Customs Quay School and station 002" in file.open[0].text
    assert len(file.open[0].containers) == 2
    number = use.open_difference(
        contest=scene.contests["11"], difference=file.open[0].key, **act(scene)
    )
    assert Discrepancy.objects.get(number=number).kind == "swapped-serials"
    assert [row.state for row in look(scene).open] == ["in hand"]


def test_a_near_miss_names_the_serial_that_was_meant(scene):
    poll = ContentKind.POLL_SLIPS
    one = given.changed(an_envelope("001"), Marking.PAPER_TRAIL_UNIT, "PT-AA-1I0O1")
    one = given.changed(one, Marking.CONTROL_UNIT, "CU-110O1")
    one = given.changed(one, Marking.STATION_NUMBER, None)
    everything_put_away(scene, changed={(poll, "001"): one})
    # Nothing on it is right, so the register took it for something nobody expected.
    assert Envelope.objects.get(contest=None).state == "quarantined"
    file = look(scene)
    assert reasons(file) == ["near-miss", "near-miss"]
    assert "most likely PT-AA-11001 of station 001" in file.open[1].text
    assert file.stages[0].stages.missing == 0


def test_25_an_envelope_of_another_election_is_not_counted_here(scene):
    old = given.an_envelope_on_the_table()
    given.logged(scene, old)
    admin = act(scene, "administrator")
    election = setting_up.set_up_election(
        code="by-election",
        name="By-election of Harbour Reach",
        schedule=Election.objects.get().schedule.number,
        calendar=Election.objects.get().calendar.number,
        legal_zone="UTC",
        **admin,
    )
    contest = setting_up.set_up_contest(
        election=election,
        constituency_number="11",
        constituency_name="Harbour Reach",
        returning_officer="",
        days=setting_up.ContestDays(given.POLLED, given.COUNTED, given.DECLARED),
        source="Declaration of result",
        **admin,
    )
    stations.load_stations(
        election=election,
        content=given.STATIONS.splitlines(keepends=True)[0].encode()
        + b"11,Harbour Reach,001,Customs Quay School,,CU-11001,PT-AA-11001,no,\n",
        file_name="stations.csv",
        **admin,
    )
    file = use.look_at_reconciliation(contest=contest, **act(scene))
    assert reasons(file) == ["missing"] * 3
    assert look(scene).stages[0].stages.registered == 1


def test_28_a_seat_that_was_not_contested_is_at_zero(scene):
    contest = setting_up.set_up_contest(
        election=scene.election,
        constituency_number="14",
        constituency_name="Tarn Vale",
        returning_officer="",
        days=setting_up.ContestDays(),
        source="",
        **act(scene, "administrator"),
    )
    file = use.look_at_reconciliation(contest=contest, **act(scene))
    assert file.is_at_zero
    assert file.stations == 0


def test_60_61_what_is_not_found_is_missed_until_it_is_found(scene):
    everything_put_away(scene)
    box = Box.objects.get(kind="poll-slips").number
    custody.report_not_found(container=box, note="Shelf A 2 is empty", **act(scene))
    file = look(scene)
    assert [(row.reason, row.state) for row in file.open] == [("not-found", "in hand")]
    assert stages(file)[0] == (4, 4, 4, 0, 0)
    custody.report_found(container=box, note="Behind the door", **act(scene))
    (dc,) = Discrepancy.objects.filter(kind="not-found")
    discrepancies.resolve_discrepancy(
        discrepancy=dc.number, resolution="Found behind the door", **act(scene)
    )
    assert reasons(look(scene)) == ["not-shelved"]


def sighted(scene, box, **more):
    """What an inspection leaves behind."""
    token = act_in_hand.set(
        ActInHand("test.sight", scene.cast.custodian.person_id, given.NOW)
    )
    try:
        Sighting(
            box=box,
            scanned=box.number,
            seen_at=given.NOW,
            recorded_at=given.NOW,
            recorded_by_id=scene.cast.custodian.person_id,
            **{"room": box.room, "shelf": box.shelf, **more},
        ).save()
    finally:
        act_in_hand.reset(token)


def test_what_was_seen_on_its_shelf_and_what_was_seen_elsewhere(scene):
    everything_put_away(scene)
    poll, mock, packets = Box.objects.order_by("id")
    sighted(scene, poll)
    sighted(scene, mock, room=StrongRoom.objects.get(number=scene.other_room))
    sighted(scene, packets, found=False)
    file = look(scene)
    assert sorted(reasons(file)) == ["not-found", "seen-elsewhere"]
    assert stages(file) == [(4, 4, 4, 4, 4), (4, 4, 4, 4, 0), (3, 3, 3, 3, 0)]
    assert [s.stages.seen_on_shelf for s in file.stages] == [4, 0, 0]


def test_what_was_moved_after_it_was_seen_is_where_it_was_moved(scene):
    everything_put_away(scene)
    box = Box.objects.get(kind="poll-slips")
    sighted(scene, box, found=False, shelf=None)
    later = {"actor": scene.cast.custodian, "at": given.NOW.replace(hour=12)}
    boxes.shelve_box(box=box.number, shelf=scene.shelves[0], **later)
    assert look(scene).is_at_zero


def test_what_is_out_or_disposed_of_is_accounted_for(scene):
    everything_put_away(scene)
    box = Box.objects.get(kind="mock-poll-slips").number
    permission = given.a_permission(scene, [box], act="take-out", while_still_kept=True)
    given.handed_out(scene, {box: ("PS-mock-poll-slips",)}, permission)
    file = look(scene)
    assert file.is_at_zero
    assert stages(file)[1] == (4, 4, 4, 4, 4)
    assert file.stages[1].stages.elsewhere == 4
    (away,) = file.accounted
    assert (away.number, away.envelopes) == (box, 4)
    assert away.where == (
        "out under an order, Rhea Moor, clerk of the High Bench, Registry of the "
        f"High Bench, under {permission}"
    )


def test_a_custodian_of_another_room_sees_that_it_is_there_and_no_number(scene):
    poll = ContentKind.POLL_SLIPS
    one = given.changed(an_envelope("001"), Marking.POLL_DATE, "01/01/2020")
    everything_put_away(scene, changed={(poll, "001"): one})
    stranger = given.appointed(
        scene.cast.administrator,
        "gil.keeper",
        given.Role.CUSTODIAN,
        rooms=(scene.other_room,),
    )
    file = use.look_at_reconciliation(
        contest=scene.contests["11"], actor=stranger, at=given.NOW
    )
    text = repr(file)
    assert not [
        n for n in Envelope.objects.values_list("number", flat=True) if n in text
    ]
    assert not [n for n in Box.objects.values_list("number", flat=True) if n in text]
    (row,) = file.open
    assert row.text.startswith("On an envelope in Customs House strong room")
    assert row.key == ""
    hidden = look(scene).open[0].key
    with pytest.raises(Refused, match="no longer there"):
        use.open_difference(
            contest=scene.contests["11"],
            difference=hidden,
            actor=stranger,
            at=given.NOW,
        )


def test_the_report_tells_the_same_in_every_form(scene):
    poll = ContentKind.POLL_SLIPS
    one = given.changed(an_envelope("001"), Marking.POLL_DATE, "01/01/2020")
    everything_put_away(scene, changed={(poll, "001"): one}, leave_out=[(poll, "002")])
    file = look(scene)

    def made(form):
        return use.make_reconciliation_report(
            contest=scene.contests["11"], form=form, **act(scene, "auditor")
        ).content

    data = json.loads(made("json"))
    assert data["totals"] == {"unexplained": 1, "in_hand": 1, "explained": 0}
    assert data["stages"]["Poll slips"]["registered"] == 2
    assert [each["what"] for each in data["differences"]] == [
        row.text for row in file.open
    ]
    lines = list(csv.DictReader(io.StringIO(made("csv").decode("utf-8-sig"))))
    stage = {
        (line["content"], line["stage"]): line["number"]
        for line in lines
        if line["part"] == "stage"
    }
    assert stage["Poll slips", "expected"] == "4"
    assert stage["Poll slips", "registered"] == "2"
    told = [line["what"] for line in lines if line["part"] == "difference"]
    assert told == [row.text for row in file.open]
    assert made("pdf")[:5] == b"%PDF-"
    with pytest.raises(Mistaken, match="pdf, csv or json"):
        made("docx")


def test_whoever_looks_is_entered_with_what_was_shown(scene):
    poll = ContentKind.POLL_SLIPS
    one = given.changed(an_envelope("001"), Marking.POLL_DATE, "01/01/2020")
    everything_put_away(scene, changed={(poll, "001"): one})
    file = look(scene, "auditor")
    entry = AccessEntry.objects.filter(act="reconciliation.look").latest("id")
    assert entry.subject == scene.contests["11"]
    assert set(entry.shown.values_list("number", flat=True)) == set(file.containers)


def test_a_contest_of_another_election_is_not_there_for_a_legal_officer(scene):
    admin = act(scene, "administrator")
    other = setting_up.set_up_election(
        code="other",
        name="Other election",
        schedule=Election.objects.get().schedule.number,
        calendar=Election.objects.get().calendar.number,
        legal_zone="UTC",
        **admin,
    )
    stranger = given.appointed(
        scene.cast.administrator, "lars.law", given.Role.LEGAL, elections=(other,)
    )
    with pytest.raises(NotThere):
        use.look_at_reconciliation(
            contest=scene.contests["11"], actor=stranger, at=given.NOW
        )
    (standing,) = use.list_reconciliations(actor=stranger, at=given.NOW)
    assert standing.name == "Other election"


def test_the_overview_tells_the_same_as_the_pages(scene):
    everything_put_away(scene, leave_out=[(ContentKind.POLL_SLIPS, "002")])
    (election,) = use.list_reconciliations(**act(scene))
    assert [
        (c.title, c.unexplained, c.in_hand, c.expected, c.registered)
        for c in election.contests
    ] == [("11 Harbour Reach", 1, 0, 11, 10), ("12 Quillmoor", 6, 0, 6, 0)]


def test_the_overview_counts_what_names_no_contest(scene):
    stray = given.an_envelope_on_the_table(constituency=("77", "Nowhere"))
    stray = given.changed(stray, Marking.CONTROL_UNIT, "ZZ-1")
    stray = given.changed(stray, Marking.PAPER_TRAIL_UNIT, "ZZ-2")
    given.logged(scene, stray)
    (election,) = use.list_reconciliations(**act(scene))
    assert election.of_no_contest == 1


def queries_of(scene):
    with CaptureQueriesContext(connection) as caught:
        look(scene)
    return len(caught)


def test_it_takes_as_many_queries_for_many_stations_as_for_few(scene):
    given.a_shelved_box(scene)
    few = queries_of(scene)
    head = given.STATIONS.splitlines(keepends=True)[0]
    more = "".join(
        f"11,Harbour Reach,{n},Hall {n},,CU-X{n},PT-X{n},no,\n" for n in range(100, 400)
    )
    stations.load_stations(
        election=scene.election,
        content=(head + more).encode(),
        file_name="more.csv",
        **act(scene, "administrator"),
    )
    given.a_shelved_box_of_station_two(scene)
    assert queries_of(scene) == few
    assert look(scene).stations == 303
