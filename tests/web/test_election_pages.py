"""Set-up on screen: elections, contests, stations, schedules, calendars, rooms."""

import re

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

from registry.models import (
    Contest,
    CourtCalendar,
    Election,
    PollingStation,
    RetentionSchedule,
    StrongRoom,
)
from tests import given

pytestmark = pytest.mark.django_db
OTHERS = ("custodian", "legal", "authority", "countersigner", "auditor")
HEAD = "constituency_number,station_number,station_name,control_unit,paper_trail_unit"


@pytest.fixture
def scene():
    return given.a_scene()


@pytest.fixture
def admin(scene):
    return given.browser_of(scene.cast.administrator)


def a_file(name, text):
    return SimpleUploadedFile(name, text.encode())


@pytest.mark.parametrize("who", OTHERS)
def test_others_may_look_but_not_set_up(scene, who):
    client = given.browser_of(getattr(scene.cast, who))
    calendar = CourtCalendar.objects.get().number
    schedule = RetentionSchedule.objects.get().number
    for address in (
        "/elections/", f"/elections/{scene.election}/", "/schedules/",
        f"/schedules/{schedule}/", f"/calendars/{calendar}/", "/rooms/",
        f"/rooms/{scene.room}/", f"/contests/{scene.contests['11']}/stations/",
    ):  # fmt: skip
        assert client.get(address).status_code == 200, address
    for address in (
        "/elections/new/", f"/elections/{scene.election}/contests/new/",
        f"/elections/{scene.election}/stations/", "/schedules/adopt/",
        "/calendars/new/", f"/calendars/{calendar}/closed/", "/rooms/new/",
        f"/rooms/{scene.room}/bays/",
    ):  # fmt: skip
        assert client.get(address).status_code == 403, address
        assert client.post(address, {}).status_code == 403, address


def test_a_room_that_is_not_in_ones_charge_is_not_there(scene):
    client = given.browser_of(scene.cast.custodian)
    assert client.get(f"/rooms/{scene.other_room}/").status_code == 404
    assert "Old Granary" not in client.get("/rooms/").content.decode()


def test_an_election_that_is_not_ones_own_is_not_there(scene):
    other = given.appointed(scene.cast.administrator, "len.law", given.Role.LEGAL)
    client = given.browser_of(other)
    assert client.get(f"/elections/{scene.election}/").status_code == 404
    contest = scene.contests["11"]
    assert client.get(f"/contests/{contest}/stations/").status_code == 404


def test_an_election_is_entered(scene, admin):
    pinned = Election.objects.get()
    answer = admin.post(
        "/elections/new/",
        {
            "code": "by-2026",
            "name": "By-election of Calvenna",
            "schedule": pinned.schedule.number,
            "calendar": pinned.calendar.number,
            "legal_zone": "UTC",
        },
    )
    one = Election.objects.get(code="by-2026")
    assert (answer.status_code, answer["Location"]) == (
        302,
        f"/elections/{one.number}/",
    )


def test_what_is_mistaken_is_told_beside_the_field(scene, admin):
    answer = admin.post("/elections/new/", {"code": "general", "name": "x"})
    page = answer.content.decode()
    assert answer.status_code == 400
    assert "Choose the schedule that binds this election." in page
    assert 'value="general"' in page


def test_a_contest_is_entered(scene, admin):
    address = f"/elections/{scene.election}/contests/new/"
    form = {"constituency_number": "13", "constituency_name": "Saltmere"}
    assert admin.post(address, form).status_code == 302
    assert Contest.objects.get(constituency_number="13").declared_on is None
    again = admin.post(address, form)
    assert again.status_code == 400
    assert "has a constituency of this number" in again.content.decode()


def test_a_station_list_is_checked_first_and_then_loaded(scene, admin):
    address = f"/elections/{scene.election}/stations/"
    before = PollingStation.objects.count()
    lines = f"{HEAD}\n11,007,Ferry House,CU-7,PT-7\n"
    page = admin.post(address, {"file": a_file("list.csv", lines)}).content.decode()
    assert "1 station, 1 pair of units, 0 lines refused" in page
    assert PollingStation.objects.count() == before
    carried = re.search(r'name="carried" value="([^"]+)"', page)[1]
    answer = admin.post(address, {"carried": carried})
    assert answer["Location"] == f"/elections/{scene.election}/"
    assert PollingStation.objects.get(station_number="007").name == "Ferry House"
    # The same list a second time contradicts what is entered now.
    again = admin.post(address, {"carried": carried})
    assert again.status_code == 409
    assert "already entered" in again.content.decode()


def test_refused_lines_are_shown_with_their_reasons(scene, admin):
    lines = f"{HEAD}\n11,7,Ferry,CU-7,PT-7\n99,8,Quay,,PT-8\n"
    page = admin.post(
        f"/elections/{scene.election}/stations/", {"file": a_file("l.csv", lines)}
    ).content.decode()
    assert "Line 3" in page
    assert "no constituency 99" in page
    assert "control unit is missing" in page
    assert 'name="carried"' not in page


def test_a_carried_list_that_was_altered_is_refused(scene, admin):
    answer = admin.post(
        f"/elections/{scene.election}/stations/", {"carried": "made:up:list"}
    )
    assert answer.status_code == 409
    assert "check it again" in answer.content.decode()


@pytest.mark.parametrize("content", ["", "neither,head\n1,2\n"])
def test_a_file_that_is_no_list_is_told(scene, admin, content):
    answer = admin.post(
        f"/elections/{scene.election}/stations/", {"file": a_file("l.csv", content)}
    )
    assert answer.status_code == 400


def test_the_stations_of_a_contest_show_replaced_units(scene, admin):
    contest = scene.contests["11"]
    page = admin.get(f"/contests/{contest}/stations/").content.decode()
    assert "CU-11903 with PT-AA-11903, replacement (replaced at 11:20)" in page


def test_a_schedule_is_adopted_and_shown_to_the_letter(scene, admin):
    text = given.SCHEDULE_FILE.read_text().replace("version = 3", "version = 4")
    answer = admin.post("/schedules/adopt/", {"text": a_file("c-4.toml", text)})
    page = admin.get(answer["Location"]).content.decode()
    assert "45 days after the declaration of the result" in page
    assert RetentionSchedule.objects.get(version=4).text == text


def test_every_error_of_a_schedule_stands_on_the_page(scene, admin):
    text = given.SCHEDULE_FILE.read_text()
    text = text.replace("length = 45", "length = 0").replace('"P-5"', '"P-9"')
    answer = admin.post("/schedules/adopt/", {"text": a_file("wrong.toml", text)})
    page = answer.content.decode()
    assert answer.status_code == 400
    assert page.count("wrong.toml") >= 2
    assert "length" in page
    assert "P-9" in page


def test_a_calendar_is_entered(admin):
    form = {"name": "Registry of the Court of Final Appeal", "closed_weekdays": ["6"]}
    answer = admin.post("/calendars/new/", form)
    assert "Sunday" in admin.get(answer["Location"]).content.decode()


def test_a_strong_room_is_entered_and_extended(scene, admin):
    form = {"name": "Annexe", "site": "", "bays": "A, B", "shelves": 2, "capacity": 9}
    answer = admin.post("/rooms/new/", form)
    room = StrongRoom.objects.get(name="Annexe")
    assert answer["Location"] == f"/rooms/{room.number}/"
    address = f"/rooms/{room.number}/bays/"
    more = {"bays": "B", "shelves": 1, "capacity": 9}
    assert admin.post(address, more).status_code == 400
    assert admin.post(address, {**more, "bays": "C"}).status_code == 302
    page = admin.get(f"/rooms/{room.number}/").content.decode()
    assert "Bay C, shelf 1" in page
    assert "takes 9" in page


def test_shelves_show_what_lies_on_them_to_those_who_may_know(scene):
    given.a_shelved_box(scene)
    seen = given.browser_of(scene.cast.custodian).get(f"/rooms/{scene.room}/")
    assert "1 of 2" in seen.content.decode()
    seen = given.browser_of(scene.cast.administrator).get(f"/rooms/{scene.room}/")
    assert "1 of 2" not in seen.content.decode()
