"""Station lists as offices send them. (Habits of the files: common practice.)"""

import io

import pytest
from openpyxl import Workbook

from registry.models import PollingStation, UnitSet
from registry.usecases import Mistaken, NotThere, Refused
from registry.usecases.stations import check_stations, load_stations
from tests import given

HEAD = "constituency_number,station_number,station_name,control_unit,paper_trail_unit"
pytestmark = pytest.mark.django_db


@pytest.fixture
def scene():
    return given.a_scene()


def read(scene, content, name="list.csv", act=check_stations, election=None):
    if isinstance(content, str):
        content = content.encode()
    return act(
        election=election or scene.election,
        content=content,
        file_name=name,
        actor=scene.cast.administrator,
        at=given.NOW,
    )


def loaded(scene, content, name="list.csv"):
    read(scene, content, name, load_stations)
    return PollingStation.objects.order_by("-id").first()


def reasons(scene, *lines, head=HEAD):
    found = read(scene, "\n".join([head, *lines]))
    return {line.number: " ".join(line.reasons) for line in found.refused}


def test_leading_zeros_survive(scene):
    station = loaded(scene, f"{HEAD}\n11,007,Old Ferry House,000123,PT-0007\n")
    assert station.station_number == "007"
    assert station.unit_sets.get().control_unit_serial == "000123"


def test_leading_zeros_survive_in_xlsx(scene):
    book = Workbook()
    book.active.append(["PS No", "Const No", "CU Serial", "Printer Serial", "PS Name"])
    book.active.append(["007", 11, "000123", "PT-0007", "Old Ferry House"])
    content = io.BytesIO()
    book.save(content)
    station = loaded(scene, content.getvalue(), "list.xlsx")
    assert (station.station_number, station.name) == ("007", "Old Ferry House")
    assert station.unit_sets.get().control_unit_serial == "000123"
    assert station.contest.constituency_number == "11"


def test_columns_in_another_order_and_other_words(scene):
    content = "printer;CU no;PS name;ps no.;constituency\nPT-7;CU-7;Ferry;7;11\n"
    assert loaded(scene, content).name == "Ferry"


@pytest.mark.parametrize(
    ("encoding", "told"),
    [
        ("utf-8", "CSV, UTF-8"),
        ("utf-8-sig", "CSV, UTF-8"),
        ("cp1252", "CSV, Windows-1252"),
        ("utf-16", "CSV, UTF-16"),
    ],
)
def test_encodings_of_real_files(scene, encoding, told):
    content = f"{HEAD}\n11,7,Café “Étoile”,CU-7,PT-7\n".encode(encoding)
    assert read(scene, content).read_as == told
    assert loaded(scene, content).name == "Café “Étoile”"


def test_blank_lines_are_passed_over_and_lines_keep_their_numbers(scene):
    found = reasons(scene, "", "11,7,Ferry,CU-7,PT-7", "", ",,,,", "11,8,Quay,,PT-8")
    assert list(found) == [6]
    assert "control unit is missing" in found[6]


def test_a_station_with_a_replaced_unit_has_several_pairs(scene):
    head = f"{HEAD},replaced,note"
    station = loaded(
        scene,
        f"{head}\n11,7,Ferry,CU-7,PT-7,no,\n"
        "11,7,Ferry,CU-7,PT-907,yes,printer jammed\n",
    )
    first, second = station.unit_sets.order_by("sequence")
    assert (first.replaced, second.replaced) == (False, True)
    assert (second.control_unit_kept, second.paper_trail_kept) == (True, False)
    assert second.replacement_note == "printer jammed"


@pytest.mark.parametrize(
    ("lines", "line", "why"),
    [
        (["99,7,Ferry,CU-7,PT-7"], 2, "no constituency 99"),
        ([",7,Ferry,CU-7,PT-7"], 2, "names no constituency"),
        (["11,,Ferry,CU-7,PT-7"], 2, "no station number"),
        (["11,7,Ferry,CU-7,PT-7", "11,8,Quay,cu 7,PT-8"], 3, "stands at stations 7, 8"),
        (["11,7,Ferry,CU-7,PT-7"] * 2, 3, "same pair of units"),
        (["11,7,Ferry,CU-7,PT-7", "11,07,Quay,CU-8,PT-8"], 3, "bears two names"),
        (["11,1,Ferry,CU-7,PT-7"], 2, "already entered"),
        (["11,7,Ferry,CU-11001,PT-7"], 2, "already entered, at station 001"),
        (["11,7,Ferry,1.23457E+11,PT-7"], 2, "mangled by a spreadsheet"),
        (["11,7,Ferry,CU-7,PT-7,stray"], 2, "more cells"),
    ],
)
def test_each_refused_line_has_its_reason(scene, lines, line, why):
    assert why in reasons(scene, *lines)[line]


def test_all_or_nothing(scene):
    before = PollingStation.objects.count(), UnitSet.objects.count()
    with pytest.raises(Refused, match="Line 3") as refused:
        read(scene, f"{HEAD}\n11,7,Ferry,CU-7,PT-7\n11,8,Quay,,PT-8\n",
             act=load_stations)  # fmt: skip
    assert "Nothing was entered" in str(refused.value)
    assert (PollingStation.objects.count(), UnitSet.objects.count()) == before


def test_a_check_enters_nothing_and_shows_how_it_was_read(scene):
    before = PollingStation.objects.count()
    found = read(scene, f"{HEAD},colour\n11,7,Ferry,CU-7,PT-7,blue\n")
    assert (found.stations, found.unit_sets, found.is_clean) == (1, 1, True)
    assert found.unknown_columns == ("colour",)
    assert found.preview[0]["station_name"] == "Ferry"
    assert PollingStation.objects.count() == before


@pytest.mark.parametrize(
    ("content", "why"),
    [
        (b"", "empty"),
        (b"station_number,station_name\n7,Ferry\n", "lacks the column"),
        (b"PK\x03\x04 no archive", "cannot be read as XLSX"),
        (b"\x00\x01\x02", "neither CSV nor XLSX"),
    ],
)
def test_what_is_no_list_is_refused_with_what_to_do(scene, content, why):
    with pytest.raises(Mistaken, match=why):
        read(scene, content)


def test_an_election_is_named_by_code_or_number(scene):
    line = f"{HEAD}\n11,7,Ferry,CU-7,PT-7\n"
    assert read(scene, line, election="general").is_clean
    with pytest.raises(NotThere, match="no election other"):
        read(scene, line, election="other")
