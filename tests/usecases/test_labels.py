"""Labels: of any selection, decoded and read again; each print is counted.

Failure mode 79: a label prints twice; the code of box A on box B.
"""

from dataclasses import replace

import pytest
import zxingcpp

from registry.models import AccessEntry, Bay, PollingStation
from registry.rules.markings import Marking
from registry.rules.powers import PowerMissing
from registry.usecases import Mistaken, NotThere, Refused, intake, labels
from tests import given
from tests.documents.papers import pictures, reader, text_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def scene():
    return given.a_scene()


@pytest.fixture
def act(scene):
    return {"actor": scene.cast.custodian, "at": given.NOW}


def begun(scene, act):
    return intake.begin_intake(
        room=scene.room, delivered_by="Rowan Fenn, sector officer", **act
    )


def printed(number, act, **how):
    return labels.print_labels(things=[number], **how, **act)


def words(paper):
    return " ".join(text_of(paper.content).split())


def codes(paper):
    return [
        code.text
        for picture in pictures(paper.content, 150)
        for code in zxingcpp.read_barcodes(picture)
    ]


def test_a_label_says_every_marking_and_its_code_the_number_alone(scene, act):
    number = given.logged(scene, given.an_envelope_on_the_table()).number
    paper = printed(number, act, stock="single-105x74")
    said = words(paper)
    for text in (
        number, given.ELECTION_NAME, "11 Harbour Reach", "001 Customs Quay School",
        "CU-11001", "PT-AA-11001", "W-0001", "12 months after declaration",
        "rule 9(1)", "longer while a case",
    ):  # fmt: skip
        assert text in said, text
    codes = zxingcpp.read_barcodes(pictures(paper.content, 200)[0])
    assert [code.text for code in codes] == [number]
    assert AccessEntry.objects.get(act="label.print").subject == number


def test_a_label_bears_no_date_until_which_it_is_kept(scene, act):
    """A case may move the date after printing."""
    number = given.logged(scene, given.an_envelope_on_the_table()).number
    said = words(printed(number, act))
    kept_until = given.DECLARED.replace(year=given.DECLARED.year + 1)
    assert f"{kept_until:%-d %B %Y}" not in said


def test_a_box_is_printed_with_all_its_envelopes(scene, act):
    box = given.a_shelved_box(scene)
    alone = printed(box.number, act)
    whole = printed(box.number, act, with_contents=True)
    envelope = given.an_envelope_in(box)
    assert envelope.number not in words(alone)
    assert envelope.number in words(whole)


def test_an_unknown_container_is_labelled_with_what_is_written_on_it(scene, act):
    stranger = given.an_envelope_on_the_table(
        station="777", name="Elsewhere", control_unit="CU-0", paper_trail_unit="PT-0"
    )
    number = given.logged(scene, stranger).number
    said = words(printed(number, act))
    for text in ("777 Elsewhere", "CU-0", "Keep until it is known what this is"):
        assert text in said


def test_a_packet_has_no_units_on_its_label(scene, act):
    packet = given.an_envelope_on_the_table(kind=given.ContentKind.STATUTORY_PACKET)
    for unit in (Marking.CONTROL_UNIT, Marking.PAPER_TRAIL_UNIT):
        packet = given.changed(packet, unit, None)
    number = given.logged(scene, replace(packet, description="Marked roll copy")).number
    said = words(printed(number, act))
    assert "Marked roll copy" in said
    assert "Control unit" not in said


def test_the_labels_of_an_intake_are_all_there(scene, act):
    number = begun(scene, act)
    logged = [
        given.logged(scene, given.an_open_box(label=str(n)), intake=number).number
        for n in range(9)
    ]
    paper = labels.print_labels(things=[number], **act)
    assert len(reader(paper.content).pages) == 2
    assert all(one in words(paper) for one in logged)


def test_a_second_print_is_known_before_and_said_on_the_label(scene, act):
    number = given.logged(scene, given.an_envelope_on_the_table()).number
    assert labels.look_at_labels(things=[number], **act)[0].printed == 0
    assert "copy" not in words(printed(number, act))
    [row] = labels.look_at_labels(things=[number], **act)
    assert (row.printed, row.last_at, row.last_by) == (1, given.NOW, "Cora Keeper")
    said = words(printed(number, act, copies=2, stock="single-100x50"))
    assert "copy 2" in said
    assert "copy 3" in said
    assert labels.look_at_labels(things=[number], **act)[0].printed == 3


def test_a_refused_print_is_not_counted(scene, act):
    number = given.logged(scene, given.an_envelope_on_the_table()).number
    with pytest.raises(Mistaken, match="8 places"):
        printed(number, act, first_place=9)
    assert labels.look_at_labels(things=[number], **act)[0].printed == 0


def test_each_print_tells_who_printed_what_and_how_often(scene, act):
    number = given.logged(scene, given.an_envelope_on_the_table()).number
    printed(number, act, copies=2)
    entry = AccessEntry.objects.get(act="label.print")
    assert (entry.name, entry.subject) == ("Cora Keeper", number)
    assert (entry.detail["copies"], entry.detail["stock"]) == (2, "a4-2x4")


def test_a_contest_stands_for_everything_of_it_that_is_still_there(scene, act):
    box = given.a_shelved_box(scene)
    other = given.logged(scene, given.an_open_box(("12", "Quillmoor"))).number
    found = codes(labels.print_labels(things=[scene.contests["11"]], **act))
    assert set(found) == {box.number, given.an_envelope_in(box).number}
    assert other not in found


def test_a_room_its_bays_and_its_shelves_are_labelled(scene, act):
    paper = labels.print_labels(things=[scene.room], with_contents=True, **act)
    bay = Bay.objects.get(room__number=scene.room).number
    assert set(codes(paper)) == {scene.room, bay, *scene.shelves}
    for text in ("A / 1", "Bay A, shelf 2", "Customs House strong room"):
        assert text in words(paper)
    assert set(codes(labels.print_labels(things=[bay], **act))) == {bay}


def test_the_unit_sets_of_a_station_are_labelled(scene, act):
    station = PollingStation.objects.get(name="Lamp House")
    paper = labels.print_labels(things=[station.number], **act)
    assert set(codes(paper)) == set(station.unit_sets.values_list("number", flat=True))
    for text in ("CU-11903", "PT-AA-11903", "replacement", "003 Lamp House"):
        assert text in words(paper)


def test_a_list_of_numbers_is_printed_in_its_order_each_once(scene, act):
    box = given.a_shelved_box(scene)
    shelf = scene.shelves[0]
    rows = labels.look_at_labels(things=[shelf, box.number, shelf], **act)
    assert [row.number for row in rows] == [shelf, box.number]


@pytest.mark.parametrize(
    ("how", "said"),
    [
        ({"stock": "nonsense"}, "lie in the printer"),
        ({"copies": 6}, "1 to 5 of each"),
        ({"copies": 0}, "1 to 5 of each"),
        ({"first_place": 0}, "8 places"),
    ],
)
def test_what_cannot_be_printed_is_told(scene, act, how, said):
    number = given.logged(scene, given.an_envelope_on_the_table()).number
    with pytest.raises(Mistaken, match=said):
        printed(number, act, **how)


def test_nothing_named_and_nothing_there_are_told_apart(scene, act):
    with pytest.raises(Mistaken, match="at least one number"):
        labels.print_labels(things=[], **act)
    with pytest.raises(Refused, match="Nothing is logged there yet"):
        labels.print_labels(things=[begun(scene, act)], **act)
    for number in ("BX-000001-9", scene.election, "nonsense"):
        with pytest.raises(NotThere):
            labels.print_labels(things=[number], **act)


def test_a_name_too_long_for_a_small_label_asks_for_a_larger(scene, act):
    name = "Elsewhere, lower hall, " * 8
    stranger = given.an_envelope_on_the_table(
        station="777", name=name, control_unit="4" * 60, paper_trail_unit="5" * 60
    )
    number = given.logged(scene, stranger).number
    with pytest.raises(Refused, match="Choose a larger label"):
        printed(number, act, stock="single-62x29")
    assert number in words(printed(number, act, stock="single-100x150"))


@pytest.mark.parametrize("who", ["legal", "authority", "auditor", "administrator"])
def test_only_custodians_print_labels(scene, who):
    box = given.a_shelved_box(scene)
    act = {"actor": getattr(scene.cast, who), "at": given.NOW}
    for attempt in (labels.print_labels, labels.look_at_labels):
        with pytest.raises(PowerMissing):
            attempt(things=[box.number], **act)


def test_what_is_in_another_room_gets_no_label(scene):
    box = given.a_shelved_box(scene)
    stranger = replace(scene.cast.custodian, rooms=frozenset())
    for thing in (box.number, scene.room, scene.shelves[0]):
        with pytest.raises(NotThere):
            labels.print_labels(things=[thing], actor=stranger, at=given.NOW)
