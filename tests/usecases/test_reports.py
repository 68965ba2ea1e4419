"""The retention report: the same numbers everywhere, and facts as of a day."""

import csv
import io
import json
from collections import Counter
from dataclasses import replace
from datetime import date, timedelta

import pytest
from pypdf import PdfReader

from registry.models import AccessEntry, Election
from registry.rules.markings import Marking
from registry.rules.powers import PowerMissing
from registry.usecases import Mistaken, NotThere, cases, looks, reports, setting_up
from tests import given

pytestmark = pytest.mark.django_db
LATER = given.NOW + timedelta(days=1)


@pytest.fixture
def scene():
    return given.a_scene()


def made(scene, form, who="auditor", at=LATER, **wanted):
    out = io.BytesIO()
    reports.make_retention_report(
        wanted=reports.ReportWanted(**wanted),
        form=form,
        into=lambda: out,
        actor=getattr(scene.cast, who),
        at=at,
    )
    return out.getvalue()


def as_json(scene, **wanted):
    return json.loads(made(scene, "json", **wanted))


def numbers(report):
    return {row["number"] for row in report["rows"]}


def an_envelope_of_quillmoor(scene, **more):
    arrival = given.an_envelope_on_the_table(
        "001", ("12", "Quillmoor"), "Peat Works Canteen", "CU-12001", "PT-AA-12001",
        "W-0002",
    )  # fmt: skip
    return given.logged(scene, arrival, **more).number


def test_the_same_numbers_on_paper_in_csv_and_in_json(scene):
    box = given.a_shelved_box(scene)
    other = an_envelope_of_quillmoor(scene)
    given.a_case(scene, "12")
    data = as_json(scene)
    assert numbers(data) == {box.number, given.an_envelope_in(box).number, other}
    assert data["totals"]["by_reason"] == {"period-over": 2, "case-pending": 1}
    text = made(scene, "csv").decode("utf-8-sig")
    rows = list(csv.DictReader(io.StringIO(text)))
    assert Counter(row["reason"] for row in rows) == data["totals"]["by_reason"]
    assert {row["number"] for row in rows} == numbers(data)
    assert {(r["number"], r["why"]) for r in rows} == {
        (r["number"], r["why"]) for r in data["rows"]
    }
    pages = PdfReader(io.BytesIO(made(scene, "pdf"))).pages
    paper = " ".join(page.extract_text() for page in pages)
    for number in numbers(data):
        assert number in paper
    screen = reports.sum_up_retention(
        wanted=reports.ReportWanted(), actor=scene.cast.auditor, at=LATER
    )
    assert {code: n for code, _, n in screen.by_reason} == data["totals"]["by_reason"]
    assert screen.total == data["totals"]["containers"] == 3


def test_the_report_says_what_the_box_page_says(scene):
    box = given.a_shelved_box(scene)
    page = looks.look_at_box(box=box.number, actor=scene.cast.auditor, at=LATER)
    row = next(r for r in as_json(scene)["rows"] if r["number"] == box.number)
    assert row["retain_through"] == page.retention.held_until.isoformat()
    assert row["why"] == page.retention.why
    assert row["shelf"] == "bay A, shelf 1"


def test_of_one_contest_by_constituency_number_or_register_number(scene):
    given.a_shelved_box(scene)
    other = an_envelope_of_quillmoor(scene)
    assert numbers(as_json(scene, contest="12")) == {other}
    assert numbers(as_json(scene, contest=scene.contests["12"])) == {other}
    assert numbers(as_json(scene, contest="012", election="general")) == {other}


def test_of_a_strong_room_with_what_nobody_expected(scene):
    box = given.a_shelved_box(scene)
    strange = given.changed(
        given.an_envelope_on_the_table(seal="W-7"), Marking.ELECTION, None
    )
    strange = replace(strange, written={Marking.STATION_NUMBER: "77"})
    quarantined = given.logged(scene, strange).number
    report = as_json(scene, room=scene.room)
    assert {box.number, quarantined} <= numbers(report)
    row = next(r for r in report["rows"] if r["number"] == quarantined)
    assert (row["reason"], row["retain_through"]) == ("unknown-input", None)
    assert as_json(scene, room=scene.other_room)["rows"] == []


def test_as_of_a_day_counts_nothing_later(scene):
    """A dismissal of yesterday was not yet known to anybody the day before."""
    given.a_shelved_box(scene)
    case = given.a_case(scene)
    cases.record_case_event(
        case=case,
        kind="dismissed",
        level="first",
        occurred_on=given.TODAY - timedelta(days=1),
        paper="Order HB/31",
        actor=scene.cast.legal,
        at=given.NOW,
    )
    before = as_json(scene, as_of=given.TODAY - timedelta(days=2))
    assert before["totals"]["by_reason"] == {"case-pending": 2}
    now = as_json(scene, as_of=given.TODAY)
    assert now["totals"]["by_reason"] == {"appeal-window": 2}


def test_what_was_received_later_was_not_there(scene):
    box = given.a_shelved_box(scene)  # received when it was counted
    day_before = given.COUNTED - timedelta(days=1)
    assert as_json(scene, as_of=day_before)["rows"] == []
    assert box.number in numbers(as_json(scene, as_of=given.COUNTED))


def test_what_was_disposed_of_later_was_still_there(scene):
    box = given.a_shelved_box(scene)
    given.a_confirmation(scene)
    permission = given.a_permission(scene, [box.number])
    given.a_checked_seal(scene, box.number)
    given.disposed_of(scene, box.number, permission)
    assert as_json(scene)["rows"] == []
    then = as_json(scene, as_of=given.TODAY - timedelta(days=1))
    row = next(r for r in then["rows"] if r["number"] == box.number)
    assert row["state"] == "held"
    assert len(then["rows"]) == 2


def test_a_day_to_come_tells_what_will_be_over(scene):
    given.a_shelved_box(scene)
    given.a_case(scene, occurred_on=given.TODAY)
    report = as_json(scene, as_of=given.TODAY + timedelta(days=3000))
    assert report["totals"]["by_reason"] == {"case-pending": 2}


def test_each_sees_only_what_lies_within_the_own_scope(scene):
    box = given.a_shelved_box(scene)
    assert box.number in numbers(as_json(scene, who="custodian"))
    assert "in Customs House" in as_json(scene, who="custodian")["scope"]
    with pytest.raises(NotThere):
        made(scene, "json", who="custodian", room=scene.other_room)
    with pytest.raises(PowerMissing):
        made(scene, "json", who="administrator")


def test_a_report_is_entered_under_what_it_is_of(scene):
    box = given.a_shelved_box(scene)
    made(scene, "csv", contest="11")
    made(scene, "pdf", room=scene.room)
    entries = AccessEntry.objects.filter(act="report.retention").order_by("id")
    assert [(e.subject, e.detail["format"]) for e in entries] == [
        (scene.contests["11"], "csv"),
        (scene.room, "pdf"),
    ]
    page = looks.look_at_box(box=box.number, actor=scene.cast.auditor, at=LATER)
    assert [e.what for e in page.timeline].count("counted in a retention report") == 2


@pytest.mark.parametrize(
    ("wanted", "why"),
    [
        ({"election": "other"}, "no election other"),
        ({"contest": "99"}, "no constituency 99"),
        ({"as_of": date.min}, "slip of the finger"),
        ({"election": "general", "room": "RM-000001-2"}, "a strong room, or"),
    ],
)
def test_what_is_asked_amiss_is_told(scene, wanted, why):
    with pytest.raises(Mistaken, match=why):
        made(scene, "json", **wanted)


def test_with_several_elections_one_is_named(scene):

    one = Election.objects.get()
    setting_up.set_up_election(
        code="second",
        name="Second Election of Calvenna",
        schedule=one.schedule.number,
        calendar=one.calendar.number,
        actor=scene.cast.administrator,
        at=given.NOW,
    )
    with pytest.raises(Mistaken, match="several elections"):
        made(scene, "json", contest="11")
    assert made(scene, "json", election="general", contest="11")
