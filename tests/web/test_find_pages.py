"""The search box: any number, serial or name, and nothing beyond one's scope."""

from urllib.parse import quote

import pytest

from registry.models import (
    AccessEntry,
    AccessShown,
    Election,
    Permission,
    PollingStation,
)
from registry.rules.powers import Role
from registry.usecases import setting_up
from registry.usecases.documents import Upload
from tests import given

pytestmark = pytest.mark.django_db


@pytest.fixture
def scene():
    scene = given.a_scene()
    given.a_shelved_box(scene)
    return scene


def look_for(scene, text, who="auditor"):
    client = given.browser_of(getattr(scene.cast, who))
    return client.get(f"/find/?q={quote(text)}")


def said(answer):
    return answer.content.decode()


def a_box(scene):
    return given.Box.objects.get()


def test_a_register_number_opens_its_page(scene):
    box = a_box(scene)
    for typed in (box.number, box.number.lower().replace("-", " "), f" {box.number} "):
        answer = look_for(scene, typed)
        assert (answer.status_code, answer["Location"]) == (
            302,
            f"/boxes/{box.number}/",
        )


@pytest.mark.parametrize("place", range(2, 11))
def test_a_mistyped_number_leads_nowhere(scene, place):
    """ISO/IEC 7064 MOD 37-2 finds every single wrong character."""
    number = a_box(scene).number
    if number[place] == "-":
        return
    wrong = "7" if number[place] != "7" else "4"
    answer = look_for(scene, number[:place] + wrong + number[place + 1 :])
    assert answer.status_code == 400
    assert "mistyped or misread" in said(answer)
    assert number not in said(answer)


def test_dependent_records_open_with_what_they_belong_to(scene):
    box = a_box(scene)
    seal = box.seals.get()
    assert look_for(scene, seal.number)["Location"] == f"/boxes/{box.number}/"
    station = PollingStation.objects.first()
    contest = f"/contests/{station.contest.number}/"
    assert look_for(scene, station.number)["Location"] == contest
    assert look_for(scene, scene.shelves[0])["Location"] == (
        f"/shelves/{scene.shelves[0]}/"
    )


@pytest.mark.parametrize(
    ("typed", "expected"),
    [
        ("CU-11001", "EN-"),
        ("cu11001", "EN-"),
        ("PT AA 11001", "EN-"),
        ("W-0001", "EN-"),
        ("ps 0001", "BX-"),
        ("1 of 1", "BX-"),
        ("CU-11903", "replacement at"),
        ("quillmoor", "12 Quillmoor"),
        ("12", "12 Quillmoor"),
        ("heron", "Heron School"),
        ("general", "General Election of Calvenna"),
        ("Granary", "Old Granary strong room"),
    ],
)
def test_whatever_is_written_somewhere_is_found(scene, typed, expected):
    answer = look_for(scene, typed)
    assert answer.status_code == 200
    if expected == "replacement at":
        assert "003 Lamp House" in said(answer)
    else:
        assert expected in said(answer)
    assert "Did you mean" not in said(answer)


def test_orders_and_cases_are_found(scene):
    given.a_case(scene, court_number="EP/7/2026")
    box = a_box(scene)
    permission = given.a_recorded_permission(scene, [box.number], ref="ESC/ORD/77")
    assert "Moss v. Returning Officer" in said(look_for(scene, "EP/7"))
    assert permission in said(look_for(scene, "esc/ord/77"))


@pytest.mark.parametrize(
    "typed",
    [
        "CU-11010",  # neighbours swapped
        "CU-11002X",  # one too many
        "CU-1001",  # one missing
        "CU-11O01",  # letter O for zero
    ],
)
def test_a_near_miss_is_offered_as_a_question(scene, typed):
    page = said(look_for(scene, typed))
    assert "Nothing that you may see bears this text." in page
    assert "Did you mean" in page
    assert "CU" in page.partition("Did you mean")[2]


def test_two_slips_are_not_guessed(scene):
    assert "Did you mean" not in said(look_for(scene, "CU-99001"))


def test_nothing_is_found_beyond_ones_scope(scene):
    other = given.appointed(
        scene.cast.administrator, "olga.keeper", given.Role.CUSTODIAN,
        rooms=(scene.other_room,),
    )  # fmt: skip
    client = given.browser_of(other)
    box = a_box(scene)
    assert client.get(f"/find/?q={box.number}").status_code == 404
    for typed in ("PS-0001", "W-0001", "PS-0002", "1 of 1"):
        page = client.get(f"/find/?q={typed}").content.decode()
        assert "BX-" not in page, typed
        assert "EN-" not in page, typed


def test_an_administrator_finds_no_container(scene):
    page = said(look_for(scene, "CU-11001", "administrator"))
    assert "EN-" not in page
    assert "001 Customs Quay School" in page
    box = a_box(scene)
    assert look_for(scene, box.number, "administrator").status_code == 404


def test_a_search_is_entered_with_what_it_showed(scene):
    look_for(scene, "CU-11001")
    entry = AccessEntry.objects.get(act="register.find")
    assert entry.detail["asked"] == "CU-11001"
    shown = AccessShown.objects.filter(entry=entry).values_list("number", flat=True)
    assert list(shown) == [given.Envelope.objects.get().number]


def test_an_empty_box_is_no_error(scene):
    assert look_for(scene, "").status_code == 200


@pytest.mark.parametrize("typed", ["CU-11001\x00", "\x02CU-11001\x03\r", "CU-11001\t"])
def test_control_characters_of_a_scanner_are_passed_over(scene, typed):
    assert "EN-" in said(look_for(scene, typed))


def test_markup_in_a_search_stays_text(scene):
    page = said(look_for(scene, "<script>alert(1)</script>"))
    assert "<script>alert" not in page


def test_a_paper_of_another_election_is_not_there(scene):
    """Brief, roles: a legal officer is scoped to elections; numbers are guessed."""
    permission = given.a_recorded_permission(
        scene, [a_box(scene).number], document=Upload("Order", b"%PDF-1.4\n%%EOF\n")
    )
    paper = Permission.objects.get(number=permission).document.number
    known = Election.objects.get(number=scene.election)
    other = setting_up.set_up_election(
        code="by-election",
        name="By-election of Calvenna",
        schedule=known.schedule.number,
        calendar=known.calendar.number,
        actor=scene.cast.administrator,
        at=given.NOW,
    )
    stranger = given.appointed(
        scene.cast.administrator, "nils.law", Role.LEGAL, elections=(other,)
    )
    client = given.browser_of(stranger)
    assert client.get("/find/", {"q": paper}).status_code == 404
    insider = given.browser_of(scene.cast.legal)
    assert insider.get("/find/", {"q": paper}).status_code == 302
