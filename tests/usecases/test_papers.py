"""Labels, receipts and reasonings printed from the register; each is entered.

Labels are read back by a decoder and by their text, as a scanner and a person would.
"""

from dataclasses import replace

import pytest

from registry.models import AccessShown, Box
from registry.rules.markings import Marking
from registry.rules.powers import PowerMissing
from registry.usecases import NotThere, Refused, intake, papers
from tests import given
from tests.documents.papers import text_of

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


def words(printed):
    return " ".join(text_of(printed.content).split())


def test_a_receipt_names_each_container_its_seals_and_what_is_open(scene, act):
    number = begun(scene, act)
    box = given.logged(scene, given.an_open_box(), intake=number).number
    odd = given.changed(given.an_envelope_on_the_table(), Marking.POLL_DATE, None)
    envelope = given.logged(scene, odd, intake=number).number
    printed = papers.print_receipt(intake=number, **act)
    said = words(printed)
    for text in (
        number, box, envelope, "W-0001", "Rowan Fenn", "Cora Keeper", "In quarantine",
        "Date of poll: missing", "Customs House strong room", "11 Harbour Reach",
        "612",
    ):  # fmt: skip
        assert text in said, text
    shown = AccessShown.objects.filter(entry__act="receipt.print")
    assert set(shown.values_list("number", flat=True)) == {box, envelope}


def test_an_intake_that_brought_nothing_has_no_receipt(scene, act):
    number = begun(scene, act)
    with pytest.raises(Refused, match="Nothing was logged"):
        papers.print_receipt(intake=number, **act)


def test_the_reasoning_on_paper_is_that_of_the_register(scene, act):
    box = given.a_shelved_box(scene)
    case = given.a_case(scene)
    said = words(papers.print_reasoning(container=box.number, **act))
    for text in (box.number, case, "no end date: keep", "rule 9(1)",
                 "This step decides", "Registry of the High Bench", "aid"):  # fmt: skip
        assert text in said, text


def test_the_reasoning_answers_for_the_day_that_is_asked(scene, act):
    box = given.a_shelved_box(scene)
    given.a_case(scene, occurred_on=given.TODAY)
    day = given.DECLARED.replace(day=given.DECLARED.day + 1)
    said = words(papers.print_reasoning(container=box.number, as_of=day, **act))
    assert "CA-" not in said
    assert f"{given.DECLARED.replace(year=given.DECLARED.year + 1):%-d %B %Y}" in said


def test_without_a_contest_there_is_nothing_to_reckon_with(scene, act):
    stranger = given.an_envelope_on_the_table(
        station="777", control_unit="CU-0", paper_trail_unit="PT-0"
    )
    number = given.logged(scene, stranger).number
    with pytest.raises(Refused, match="so it is kept"):
        papers.print_reasoning(container=number, **act)


@pytest.mark.parametrize("who", ["legal", "authority", "auditor", "administrator"])
def test_who_prints_what(scene, who):
    box = given.a_shelved_box(scene)
    act = {"actor": getattr(scene.cast, who), "at": given.NOW}
    if who == "administrator":
        with pytest.raises(PowerMissing):
            papers.print_reasoning(container=box.number, **act)
    else:
        assert (
            papers.print_reasoning(container=box.number, **act).content[:5] == b"%PDF-"
        )


def test_papers_of_another_room_are_not_there(scene):
    box = Box.objects.get(number=given.a_shelved_box(scene).number)
    stranger = replace(scene.cast.custodian, rooms=frozenset())
    with pytest.raises(NotThere):
        papers.print_reasoning(container=box.number, actor=stranger, at=given.NOW)
