"""The sealing table: a station comes, is answered for, and leaves as envelopes.

What is asked at such a table: issue 4 of this project; the order of the steps is common
practice, no published source. The failure modes are those of the project's own list.
"""

import pytest

from registry.models import (
    Box,
    CustodyMovement,
    Discrepancy,
    Envelope,
    Seal,
    SealingAnswer,
    StationSealing,
    UnitSet,
)
from registry.rules.powers import PowerMissing
from registry.usecases import Mistaken, NotThere, Refused, sealing
from tests import given

pytestmark = pytest.mark.django_db

TICKS = ("power-pack", "slips-out", "shown-empty")


@pytest.fixture
def scene():
    return given.a_scene()


def act_of(scene, who="custodian"):
    return {"actor": getattr(scene.cast, who), "at": given.NOW}


def second_keeper(scene):
    return given.appointed(
        scene.cast.administrator, "gil.keeper", "custodian", rooms=(scene.room,)
    )


def begun(scene, scanned="001", constituency="11", **more):
    """A station on the table."""
    return sealing.begin_sealing(
        scanned=scanned,
        room=scene.room,
        contest=scene.contests[constituency] if constituency else "",
        **{**act_of(scene), **more},
    ).number


def unit_of(control_unit):
    return UnitSet.objects.get(control_unit_serial=control_unit).number


def answers_for(control_unit="CU-11001", paper_trail="PT-AA-11001", **changes):
    """What is answered of one unit set whose slips are as many as its votes."""
    unit = unit_of(control_unit)
    said = {
        "tag": changes.pop("tag", "001"),
        "control-unit": control_unit,
        "paper-trail-unit": paper_trail,
        **dict.fromkeys(TICKS, "yes"),
        "uncut@poll-slips": "0",
        "slips@poll-slips": "612",
        "self-test@poll-slips": "7",
        "votes": "612",
        "marked@poll-slips": "yes",
        "seal@poll-slips": f"W-{control_unit}",
        "die@poll-slips": "Returning Officer 11",
        "paper@poll-slips": "thermal",
        "box@poll-slips": "",
    }
    said |= {name.replace("_", "-"): text for name, text in changes.items()}
    unknown = set(changes) - {"power_pack", "shown_empty", "votes"} - set(said)
    assert not unknown
    return {f"{unit}:{key}": text for key, text in said.items()}


WASTE = {"station:waste": "yes"}


def slips(**changes):
    """Changes to the questions about the envelope."""
    return {f"{name}@poll-slips": text for name, text in changes.items()}


def kept(scene, number, answers, **more):
    return sealing.keep_answers(
        sealing=number, answers=answers, **{**act_of(scene), **more}
    )


def finished(scene, number, answers=None, **more):
    if answers is not None:
        kept(scene, number, {**answers, **WASTE})
    return sealing.finish_sealing(sealing=number, **{**act_of(scene), **more})


def open_box(scene, constituency=("11", "Harbour Reach")):
    return given.logged(scene, given.an_open_box(constituency)).number


def test_a_station_leaves_the_table_as_a_sealed_envelope_in_its_box(scene):
    box = open_box(scene)
    number = begun(scene)
    done = finished(
        scene, number, answers_for(**slips(box=box, uncut="2", slips="610"))
    )
    envelope = Envelope.objects.get()
    assert [e.number for e in done.envelopes] == [envelope.number]
    assert envelope.state == "held"
    assert not Discrepancy.objects.exists()
    assert envelope.box == Box.objects.get(number=box)
    assert (envelope.slip_count, envelope.self_test_count) == (610, 7)
    assert (envelope.uncut_count, envelope.paper) == (2, "thermal")
    assert envelope.unit_set.votes_recorded == 612
    assert number in envelope.unit_set.votes_source
    assert envelope.sealed_on == envelope.received_on == given.TODAY
    assert envelope.written_control_unit == "CU-11001"
    assert envelope.written_station_name == "Customs Quay School"
    seal = Seal.objects.get()
    assert (seal.kind, seal.serial, seal.maker) == (
        "wax",
        "W-CU-11001",
        "Returning Officer 11",
    )
    came, boxed = CustodyMovement.objects.filter(envelope=envelope).order_by("id")
    assert came.act == "received"
    assert came.to_place.endswith("sealing table")
    assert (boxed.act, boxed.to_place) == ("boxed", f"box {box}")
    of = StationSealing.objects.get()
    assert (of.state, of.ended_by_id) == ("done", scene.cast.custodian.person_id)


def test_the_scan_that_brings_a_station_answers_its_question(scene):
    """Fewer scans: what was read at the beginning is not asked again."""
    for scanned, question in (
        ("001", "tag"),
        ("cu 11002", "control-unit"),
        (unit_of("CU-11003"), "tag"),
    ):
        of = StationSealing.objects.get(number=begun(scene, scanned))
        row = SealingAnswer.objects.get(sealing=of)
        assert (row.question, row.answer) == (question, scanned)


def test_a_serial_finds_its_station_without_a_constituency(scene):
    of = StationSealing.objects.get(number=begun(scene, "PT-AA-12002", ""))
    assert of.station.station_number == "002"
    assert of.station.contest.constituency_number == "12"


@pytest.mark.parametrize(
    ("scanned", "constituency", "told"),
    [
        ("", "11", "Scan the unit"),
        ("099", "11", "has no station “099”"),
        ("001", "", "choose it first"),
        ("CU-12001", "11", "12 Quillmoor. Choose that constituency"),
        ("ST-000001-X", "11", "mistyped or misread"),
    ],
)
def test_a_scan_that_leads_nowhere_says_what_to_do(scene, scanned, constituency, told):
    with pytest.raises(Mistaken) as mistaken:
        begun(scene, scanned, constituency)
    assert told in " ".join(mistaken.value.errors["scanned"])
    assert not StationSealing.objects.exists()


def test_every_unit_set_of_a_station_must_be_accounted_for(scene):
    """Failure mode 56: a printer was replaced; two envelopes for one station."""
    number = begun(scene, "003")
    kept(scene, number, answers_for("CU-11003", "PT-AA-11003", tag="003") | WASTE)
    with pytest.raises(Mistaken) as mistaken:
        finished(scene, number)
    lacking = {name.partition(":")[0] for name in mistaken.value.errors}
    assert lacking == {unit_of("CU-11903")}
    assert not Envelope.objects.exists()

    kept(scene, number, answers_for("CU-11903", "PT-AA-11903", tag="003"))
    done = finished(scene, number)
    assert len(done.envelopes) == 2
    assert set(Envelope.objects.values_list("state", flat=True)) == {"held"}


def test_a_unit_set_that_is_not_there_is_stated_and_stays_missing(scene):
    """Failure mode 56: one of them is missing; the shortage is shown."""
    number = begun(scene, "003")
    absent = unit_of("CU-11903")
    answers = answers_for("CU-11003", "PT-AA-11003", tag="003")
    why = {f"{absent}:absent": "Not among the units that came from the count"}
    finished(scene, number, {**answers, **why})
    assert Envelope.objects.count() == 1
    missing = Discrepancy.objects.get()
    assert (missing.kind, missing.content) == ("missing", "poll-slips")
    assert missing.unit_set.number == absent
    assert missing.room.number == scene.room
    assert "Not among the units" in missing.detail


def test_a_serial_of_another_station_is_recorded_as_read(scene):
    """Failure mode 55: with a wrong serial: accepted, set apart, never corrected."""
    number = begun(scene)
    unit = unit_of("CU-11001")
    told = kept(scene, number, {f"{unit}:control-unit": "CU-11002"}).told
    assert "CU-11001 is expected here" in told[f"{unit}:control-unit"]
    answers = answers_for()
    answers[f"{unit}:control-unit"] = "CU-11002"
    done = finished(scene, number, answers)
    envelope = Envelope.objects.get()
    assert envelope.state == "quarantined"
    assert envelope.written_control_unit == "CU-11002"
    assert done.envelopes[0].quarantined
    kinds = set(Discrepancy.objects.values_list("kind", "marking"))
    assert ("marking-differs", "control-unit") in kinds


def test_a_serial_that_cannot_be_read_says_so(scene):
    """Failure mode 55: illegible."""
    number = begun(scene)
    answers = answers_for() | {f"{unit_of('CU-11001')}:paper-trail-unit": "?"}
    finished(scene, number, answers)
    envelope = Envelope.objects.get()
    assert envelope.state == "quarantined"
    assert envelope.unreadable == "paper-trail-unit"
    assert Discrepancy.objects.get().kind == "marking-unreadable"


def test_a_tag_of_another_station_sets_the_envelope_apart(scene):
    number = begun(scene, "CU-11001")
    finished(scene, number, answers_for(tag="002"))
    assert Envelope.objects.get().state == "quarantined"
    found = Discrepancy.objects.get()
    assert (found.written, found.expected) == ("002", "001")
    assert "Address tag" in found.detail


def test_slips_that_are_not_as_many_as_the_votes_set_it_apart(scene):
    box = open_box(scene)
    number = begun(scene)
    answers = answers_for(**slips(slips="609", uncut="2", box=box))
    done = finished(scene, number, answers)
    envelope = Envelope.objects.get()
    assert (envelope.state, envelope.slip_count) == ("quarantined", 609)
    found = Discrepancy.objects.get()
    assert (found.kind, found.written, found.expected) == (
        "count-differs",
        "611",
        "612",
    )
    # It is kept apart: it lies in no box, and that is said.
    assert envelope.box is None
    assert "kept apart" in done.envelopes[0].not_boxed[0]


def test_an_empty_envelope_is_registered_as_nil_content(scene):
    """Failure mode 59: an empty envelope is content of its own class, registered."""
    number = begun(scene)
    finished(scene, number, answers_for(votes="0", **slips(slips="0")))
    envelope = Envelope.objects.get()
    assert (envelope.state, envelope.slip_count) == ("held", 0)
    assert "Nil content" in envelope.description


def test_waste_that_two_persons_did_not_look_through_stays_open(scene):
    """Failure mode 68: the bin taken out of the room on the day of intake."""
    number = begun(scene)
    kept(scene, number, answers_for())
    with pytest.raises(Mistaken) as mistaken:
        finished(scene, number)
    assert list(mistaken.value.errors) == ["station:waste"]
    kept(scene, number, {"station:waste": "no"})
    done = finished(scene, number)
    assert not done.envelopes[0].quarantined
    found = Discrepancy.objects.get()
    assert "Waste" in found.detail
    assert found.station.station_number == "001"
    assert found.envelope is None
    assert "Waste" in done.found[0]


def test_a_power_pack_left_in_touches_no_envelope(scene):
    number = begun(scene)
    finished(scene, number, answers_for(power_pack="no"))
    assert Envelope.objects.get().state == "held"
    assert "Power packs" in Discrepancy.objects.get().detail


def test_a_unit_not_shown_empty_sets_the_envelope_apart(scene):
    number = begun(scene)
    finished(scene, number, answers_for(shown_empty="no"))
    assert Envelope.objects.get().state == "quarantined"


def test_what_is_not_known_is_an_answer(scene):
    number = begun(scene)
    finished(scene, number, answers_for(votes="?", **slips(slips="?")))
    envelope = Envelope.objects.get()
    assert envelope.slip_count is None
    assert "not known" in envelope.remarks
    assert UnitSet.objects.get(number=unit_of("CU-11001")).votes_recorded is None


def test_a_count_that_is_none_is_not_taken(scene):
    number = begun(scene)
    unit = unit_of("CU-11001")
    told = kept(scene, number, answers_for(**slips(slips="PT-AA-11001")) | WASTE).told
    assert "is no count" in told[f"{unit}:slips@poll-slips"]
    with pytest.raises(Mistaken):
        finished(scene, number)


def test_a_box_that_is_none_is_named_and_nothing_is_lost(scene):
    number = begun(scene)
    kept(scene, number, answers_for(**slips(box="BX-000009-9")) | WASTE)
    with pytest.raises(Mistaken) as mistaken:
        finished(scene, number)
    assert list(mistaken.value.errors) == [f"{unit_of('CU-11001')}:box@poll-slips"]
    assert not Envelope.objects.exists()
    assert SealingAnswer.objects.count() > 10


def test_each_answer_is_a_row_and_the_latest_counts(scene):
    """Failure mode 90: a half-entered intake is never lost, nor what stood before."""
    number = begun(scene)
    field = f"{unit_of('CU-11001')}:slips@poll-slips"
    first = kept(scene, number, {field: "61"})
    kept(scene, number, {field: "61"}, seen=first.seen)
    kept(scene, number, {field: "612"}, seen=first.seen)
    rows = SealingAnswer.objects.filter(question="slips@poll-slips").order_by("id")
    assert [row.answer for row in rows] == ["61", "612"]
    page = sealing.look_at_sealing(sealing=number, **act_of(scene))
    shown = {q.field: q.answer for s in page.sections for q in s.questions}
    assert shown[field] == "612"
    assert page.left == len([q for q in shown.values() if not q]) - 3  # optional ones


def test_an_answer_to_what_is_not_asked_is_mistaken(scene):
    number = begun(scene)
    for field in ("US-000001-1:slips@poll-slips", "station:anything", "x"):
        with pytest.raises(Mistaken):
            kept(scene, number, {field: "1"})
    with pytest.raises(Mistaken):
        kept(scene, number, {"station:waste": "y" * 401})


def test_two_people_at_one_station_are_told_of_one_another(scene):
    number = begun(scene)
    gil = second_keeper(scene)
    joined = sealing.begin_sealing(
        scanned="CU-11001", room=scene.room, actor=gil, at=given.NOW
    )
    assert (joined.number, joined.joined) == (number, True)
    field = f"{unit_of('CU-11001')}:votes"
    by_gil = kept(scene, number, {field: "612"}, actor=gil)
    assert [other.name for other in by_gil.others] == [scene.cast.custodian.name]
    by_cora = kept(scene, number, WASTE)
    assert [other.name for other in by_cora.others] == ["Gil Keeper"]
    # What the other entered is shown here as well.
    assert by_cora.answers[field] == "612"


def test_an_answer_over_anothers_unseen_one_is_shown_and_not_kept(scene):
    """Failure mode 81: an edit conflict shows both."""
    number = begun(scene)
    field = f"{unit_of('CU-11001')}:votes"
    seen = sealing.look_at_sealing(sealing=number, **act_of(scene)).seen
    kept(scene, number, {field: "613"}, actor=second_keeper(scene))
    told = kept(scene, number, {field: "612", **WASTE}, seen=seen)
    assert "Gil Keeper entered “613”" in told.conflicts[field]
    assert told.answers[field] == "613"
    assert told.answers["station:waste"] == "yes"
    # An empty field of a page that was loaded before does not empty the other's.
    assert not kept(scene, number, {field: ""}, seen=seen).conflicts
    again = kept(scene, number, {field: "612"}, seen=told.seen)
    assert again.answers[field] == "612"


def test_what_was_said_at_the_station_before_is_proposed_at_the_next(scene):
    box = open_box(scene)
    finished(scene, begun(scene), answers_for(**slips(box=box)))
    page = sealing.look_at_sealing(sealing=begun(scene, "002"), **act_of(scene))
    assert sorted(page.carried.values()) == sorted(
        [box, "Returning Officer 11", "thermal"]
    )


def test_a_closed_box_is_not_proposed(scene):
    box = open_box(scene)
    finished(scene, begun(scene), answers_for(**slips(box=box)))
    given.boxes.close_box(
        box=box, seals=[given.paper_seal()], sealed_on=given.COUNTED, **act_of(scene)
    )
    page = sealing.look_at_sealing(sealing=begun(scene, "002"), **act_of(scene))
    assert box not in page.carried.values()


def test_a_second_finishing_is_told_who_finished_it(scene):
    number = begun(scene)
    finished(scene, number, answers_for())
    with pytest.raises(Refused, match=r"no longer at the table.*Cora Keeper"):
        finished(scene, number)
    with pytest.raises(Refused):
        kept(scene, number, WASTE)
    assert Envelope.objects.count() == 1


def test_a_sealed_station_is_not_brought_again(scene):
    finished(scene, begun(scene), answers_for())
    with pytest.raises(Mistaken, match="has its envelope on record"):
        begun(scene)
    assert StationSealing.objects.count() == 1


def test_what_came_in_at_intake_is_not_asked_again(scene):
    given.logged(scene, given.an_envelope_on_the_table())
    with pytest.raises(Mistaken, match="has its envelope on record"):
        begun(scene)


def test_a_station_is_left_off_with_a_reason_and_can_come_again(scene):
    number = begun(scene)
    kept(scene, number, {f"{unit_of('CU-11001')}:votes": "612"})
    with pytest.raises(Mistaken):
        sealing.leave_off(sealing=number, because=" ", **act_of(scene))
    sealing.leave_off(sealing=number, because="Unit went back", **act_of(scene))
    of = StationSealing.objects.get()
    assert (of.state, of.left_because) == ("left", "Unit went back")
    assert of.answers.count() == 2
    assert begun(scene) != number


def test_progress_counts_what_was_sealed_whichever_way_it_came_in(scene):
    given.logged(scene, given.an_envelope_on_the_table())
    number = begun(scene, "003")
    gone = {
        f"{unit_of('CU-11003')}:absent": "lost",
        f"{unit_of('CU-11903')}:absent": "lost",
    }
    finished(scene, number, gone)
    table = sealing.look_at_sealing_table(**act_of(scene))
    harbour = table.contests[0]
    assert (harbour.sealed, harbour.stations, harbour.next_up) == (2, 3, ("002",))


def test_a_box_marked_for_another_constituency_is_not_filled(scene):
    box = open_box(scene, ("12", "Quillmoor"))
    done = finished(scene, begun(scene), answers_for(**slips(box=box)))
    assert "holds 12 Quillmoor" in done.envelopes[0].not_boxed[0]
    assert Envelope.objects.get().box is None


def test_the_table_of_a_schedule_without_checklist_is_the_houses(scene, monkeypatch):
    from types import SimpleNamespace

    from registry.queries import sealings
    from registry.rules.keeping_parts import KeepingRules
    from registry.rules.sealing_default import DEFAULT_STEPS

    bare = SimpleNamespace(keeping=KeepingRules())
    monkeypatch.setattr(sealings, "schedule_of", lambda _: bare)
    page = sealing.look_at_sealing(sealing=begun(scene), **act_of(scene))
    assert page.house
    asked = {q.step.name for s in page.sections for q in s.questions}
    assert asked == {s.name for s in DEFAULT_STEPS if s.where != "box"}


@pytest.mark.parametrize(
    "who", ["legal", "authority", "countersigner", "auditor", "administrator"]
)
def test_only_a_custodian_works_at_the_table(scene, who):
    number = begun(scene)
    mine = act_of(scene, who)
    for act in (
        lambda: begun(scene, "002", **mine),
        lambda: kept(scene, number, WASTE, **mine),
        lambda: finished(scene, number, **mine),
        lambda: sealing.leave_off(sealing=number, because="x", **mine),
    ):
        with pytest.raises(PowerMissing):
            act()
    if who == "administrator":
        with pytest.raises(PowerMissing):
            sealing.look_at_sealing(sealing=number, **mine)
    else:
        assert sealing.look_at_sealing(sealing=number, **mine).state == "open"


def test_a_station_at_another_rooms_table_is_not_there(scene):
    number = begun(scene)
    other = given.appointed(
        scene.cast.administrator, "ola.keeper", "custodian", rooms=(scene.other_room,)
    )
    with pytest.raises(NotThere):
        kept(scene, number, WASTE, actor=other)
    with pytest.raises(Mistaken, match="is being sealed at Customs House"):
        sealing.begin_sealing(
            scanned="CU-11001", room=scene.other_room, actor=other, at=given.NOW
        )
