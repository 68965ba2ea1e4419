"""Lists of containers as they really come, taken in without losing a line.

Column order, byte-order marks, Windows-1252, semicolons and Excel's own habits are
common practice, no published source, unless one is named beside the check.
"""

import csv
import io
from datetime import UTC, date, datetime

import pytest
from openpyxl import Workbook

from registry.models import Box, Discrepancy, Envelope, Intake, Seal
from registry.rules.powers import PowerMissing
from registry.usecases import Mistaken, NotThere, Refused, intake_files
from tests import given

pytestmark = pytest.mark.django_db

HEAD = (
    "container", "content", "election", "constituency_number", "constituency_name",
    "station_number", "station_name", "control_unit", "paper_trail_unit", "poll_date",
    "counting_date", "sealed_on", "slips", "seal_kind", "seal_maker", "seal_number",
    "seal_signed", "box", "remarks", "paper",
)  # fmt: skip
STATIONS = {
    "001": ("Customs Quay School", "11001"),
    "002": ("Net Loft Hall", "11002"),
    "003": ("Lamp House", "11003"),
}


@pytest.fixture
def scene():
    return given.a_scene()


def a_line(station="001", **changes):
    name, serial = STATIONS[station]
    return {
        "container": "envelope",
        "content": "poll slips",
        "election": given.ELECTION_NAME,
        "constituency_number": "11",
        "constituency_name": "Harbour Reach",
        "station_number": station,
        "station_name": name,
        "control_unit": f"CU-{serial}",
        "paper_trail_unit": f"PT-AA-{serial}",
        "poll_date": f"{given.POLLED:%d/%m/%Y}",
        "counting_date": f"{given.COUNTED:%d/%m/%Y}",
        "sealed_on": given.COUNTED.isoformat(),
        "slips": "612",
        "seal_kind": "wax",
        "seal_maker": "RO 11",
        "seal_number": f"W-{station}",
        **changes,
    }


def a_box_line(stations="001, 002", label="1 of 1", **changes):
    line = a_line(seal_kind="paper", seal_number="PS-1; PS-2", seal_signed="yes")
    return {
        **line,
        "container": "box",
        "station_number": stations,
        "station_name": "",
        "control_unit": "",
        "paper_trail_unit": "",
        "slips": "",
        "box": label,
        **changes,
    }


def as_csv(*lines, head=HEAD, separator=",", encoding="utf-8"):
    text = io.StringIO()
    out = csv.DictWriter(text, head, delimiter=separator, extrasaction="ignore")
    out.writeheader()
    out.writerows(lines)
    return text.getvalue().encode(encoding)


def as_xlsx(*lines, head=HEAD, formats=()):
    book = Workbook()
    sheet = book.active
    sheet.append(list(head))
    for line in lines:
        sheet.append([line.get(name) for name in head])
    for name, number_format in formats:
        for row in sheet.iter_rows(min_row=2):
            row[head.index(name)].number_format = number_format
    content = io.BytesIO()
    book.save(content)
    return content.getvalue()


def call(scene, content, **more):
    return {
        "content": content,
        "file_name": more.pop("file_name", "list.csv"),
        "room": scene.room,
        "election": more.pop("election", "general"),
        "actor": more.pop("actor", scene.cast.custodian),
        "at": given.NOW,
    }


def taken(scene, *lines, **more):
    return intake_files.take_intake_file(**call(scene, as_csv(*lines), **more))


def reasons(read):
    return {line.number: " ".join(line.reasons) for line in read.refused}


# How files come


@pytest.mark.parametrize(
    ("content", "read_as"),
    [
        (as_csv(a_line()), "CSV, UTF-8"),
        (as_csv(a_line(), encoding="utf-8-sig"), "CSV, UTF-8"),
        (as_csv(a_line(), encoding="utf-16"), "CSV, UTF-16"),
        (as_csv(a_line(remarks="scellé"), encoding="cp1252"), "CSV, Windows-1252"),
        (as_csv(a_line(), separator=";"), "CSV, UTF-8"),
        (as_csv(a_line(), separator="\t"), "CSV, UTF-8"),
        (as_csv(a_line(), separator="|"), "CSV, UTF-8"),
        (as_csv(a_line(), head=HEAD[::-1]), "CSV, UTF-8"),
        (b"\r\n\r\n" + as_csv(a_line()).replace(b"\r\n", b"\r\n,,,\r\n"), "CSV, UTF-8"),
        (as_xlsx(a_line()), "XLSX"),
    ],
    ids=[
        "UTF-8", "byte-order mark", "UTF-16", "Windows-1252", "semicolons", "tabs",
        "bars", "other order", "blank lines", "XLSX",
    ],
)  # fmt: skip
def test_a_list_is_read_however_it_was_saved(scene, content, read_as):
    read = intake_files.take_intake_file(**call(scene, content))
    assert (read.accepted, read.refused, read.quarantined) == (1, (), 0)
    assert read.read_as == read_as
    envelope = Envelope.objects.get()
    assert envelope.written_station_number == "001"


def test_letters_of_windows_1252_survive(scene):
    content = as_csv(a_line(remarks="Scellé par l’huissier"), encoding="cp1252")
    intake_files.take_intake_file(**call(scene, content))
    assert Envelope.objects.get().remarks == "Scellé par l’huissier"


def test_headings_go_by_their_everyday_names(scene):
    names = {
        "content": "Contents", "constituency_number": "Const. No.",
        "station_number": "PS No.", "control_unit": "CU Serial",
        "paper_trail_unit": "Printer", "seal_number": "Seal No",
    }  # fmt: skip
    line = {names.get(name, name): text for name, text in a_line().items()}
    content = as_csv(line, head=[names.get(name, name) for name in HEAD])
    read = intake_files.take_intake_file(**call(scene, content))
    assert (read.accepted, read.quarantined) == (1, 0)


def test_excel_dates_numbers_and_padded_numbers_mean_what_is_seen(scene):
    """Excel stores a date and 007 as numbers; their format says what is seen."""
    line = a_line(
        station_number=1,
        constituency_number=11.0,
        slips=612.0,
        poll_date=datetime.combine(given.POLLED, datetime.min.time()),
        sealed_on=given.COUNTED,
    )
    content = as_xlsx(line, formats=[("station_number", "000")])
    read = intake_files.take_intake_file(**call(scene, content))
    assert (read.accepted, read.quarantined) == (1, 0), read.problems
    envelope = Envelope.objects.get()
    assert envelope.written_station_number == "001"
    assert (envelope.written_constituency_number, envelope.slip_count) == ("11", 612)
    assert envelope.written_poll_date == given.POLLED.isoformat()
    assert envelope.sealed_on == given.COUNTED


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (b"", "is empty"),
        (b" \r\n ", "is empty"),
        (b"PK\x03\x04 and nothing that follows", "cannot be read as XLSX"),
        (as_xlsx(a_line())[:-300], "cannot be read as XLSX"),
        (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(600), "save it as XLSX"),
        (b"%PDF-1.7\n%\xe2\xe3\xcf\xd3\n\x00\x00", "neither CSV nor XLSX"),
        (b"station,name\r\n001,School\r\n", "lacks the column content"),
        (b"content,content\r\npoll slips,poll slips\r\n", "twice"),
        (b"content\r\n" + b'"' + b"x" * 200_000, "cannot be read"),
    ],
    ids=[
        "empty", "blank", "broken archive", "cut archive", "old Excel", "PDF",
        "other columns", "column twice", "huge cell",
    ],
)  # fmt: skip
def test_what_is_no_list_is_mistaken_and_says_what_to_do(scene, content, says):
    with pytest.raises(Mistaken, match=says):
        intake_files.take_intake_file(**call(scene, content))
    assert not Intake.objects.exists()


def test_a_file_beyond_all_measure_is_not_read(scene, monkeypatch):
    monkeypatch.setattr("registry.usecases._tables.LARGEST_FILE", 100)
    with pytest.raises(Mistaken, match="larger than"):
        intake_files.take_intake_file(**call(scene, as_csv(a_line())))


def test_an_archive_that_swells_is_not_unpacked(scene, monkeypatch):
    monkeypatch.setattr("registry.usecases._tables.LARGEST_UNPACKED", 1000)
    with pytest.raises(Mistaken, match="far too much"):
        intake_files.take_intake_file(**call(scene, as_xlsx(a_line())))


# Lines that cannot be recorded


@pytest.mark.parametrize(
    ("changes", "says"),
    [
        ({"content": "ballots"}, "none of poll slips"),
        ({"container": "sack"}, "an envelope or a box"),
        ({"sealed_on": "yesterday"}, "cannot be read"),
        ({"sealed_on": "2099-01-01"}, "sealed after it was received"),
        ({"slips": "6l2"}, "not a count"),
        ({"slips": "-1"}, "not a count"),
        ({"seal_kind": "chewing gum"}, "no kind of seal"),
        ({"seal_signed": "perhaps"}, "yes or no"),
        ({"control_unit": "C" * 81}, "the register takes 80"),
        ({"box": "9 of 9"}, "is not in this list"),
        ({"paper": "vellum"}, "“vellum” is no paper of slips: thermal, plain."),
        (
            {"paper": "thermal", "content": "statutory packet"},
            "say it on the lines of their envelopes",
        ),
    ],
)
def test_a_line_that_cannot_be_recorded_is_refused_with_its_reason(
    scene, changes, says
):
    read = taken(scene, a_line("002"), a_line(**changes))
    assert read.accepted == 1
    assert says in reasons(read)[3]
    assert Envelope.objects.count() == 1


@pytest.mark.parametrize(
    ("stands", "paper"),
    [
        ("thermal", "thermal"),
        ("Thermal paper", "thermal"),
        ("plain", "plain"),
        ("plain paper, ink or toner", "plain"),
        ("not known", ""),
        ("", ""),
    ],
)
def test_the_paper_of_the_slips_stands_in_a_column_of_its_own(scene, stands, paper):
    """Failure mode 67: thermal slips fade; the list says which they are."""
    content = as_csv(a_line(paper=stands), head=("paper", *HEAD[:-1]))
    read = intake_files.take_intake_file(**call(scene, content))
    assert not read.refused
    assert Envelope.objects.get().paper == paper


def test_the_paper_is_read_from_a_workbook_under_its_other_name(scene):
    head = tuple("Paper of the slips" if name == "paper" else name for name in HEAD)
    line = a_line() | {"Paper of the slips": "Thermal"}
    intake_files.take_intake_file(
        **call(scene, as_xlsx(line, head=head), file_name="list.xlsx")
    )
    assert Envelope.objects.get().paper == "thermal"


def test_the_paper_is_not_that_of_a_box(scene):
    read = taken(scene, a_box_line(paper="thermal"))
    assert "lines of their envelopes" in reasons(read)[2]
    assert not Box.objects.exists()


def test_a_line_with_a_stray_separator_is_given_back_whole(scene):
    content = (
        as_csv(a_line())
        + b"envelope,poll slips,a,b,c,d,e,f,g,h,i,j,k,l,m,n,o,p,q,r,s,t\n"
    )
    read = intake_files.take_intake_file(**call(scene, content))
    assert "more cells" in reasons(read)[3]
    given_back = read.refused_lines.decode("utf-8-sig")
    assert "s | t" in given_back
    assert '"poll slips"' in given_back


def test_what_is_wrong_with_a_container_is_no_reason_to_refuse_its_line(scene):
    read = taken(
        scene,
        a_line(station_name="Custom Key School"),
        a_line("002", paper_trail_unit="", seal_number="", seal_kind=""),
        a_line("003", seal_kind="paper", seal_number=""),
    )
    assert (read.accepted, read.quarantined, read.refused) == (3, 3, ())
    assert Envelope.objects.filter(state="quarantined").count() == 3
    assert set(Discrepancy.objects.values_list("kind", flat=True)) == {
        "marking-differs",
        "marking-missing",
        "seal-missing",
    }


def test_a_check_tells_the_same_and_enters_nothing(scene):
    content = as_csv(
        a_line(), a_line("002", station_name="x"), a_line("003", slips="?")
    )
    checked = intake_files.check_intake_file(**call(scene, content))
    assert not Envelope.objects.exists()
    done = intake_files.take_intake_file(**call(scene, content))
    assert (checked.accepted, checked.quarantined) == (2, 1)
    assert (checked.refused, checked.problems) == (done.refused, done.problems)


# Twice


def test_a_repeated_line_is_one_container(scene):
    read = taken(scene, a_line(), a_line())
    assert read.accepted == 1
    assert reasons(read) == {3: "It repeats line 2; a container is entered once."}


def test_two_lines_with_the_same_units_mark_both(scene):
    read = taken(scene, a_line(), a_line(seal_number="W-9", slips="611"))
    assert (read.accepted, read.quarantined) == (2, 1)
    first, second = Envelope.objects.order_by("id")
    assert (first.state, second.state) == ("held", "quarantined")
    for one, other in ((first, second), (second, first)):
        found = one.discrepancies.get()
        assert found.kind == "duplicate-serial"
        assert one is first or other.number in found.detail
        assert "line" not in found.detail


def test_a_seal_number_on_two_lines_marks_both(scene):
    taken(scene, a_line(), a_line("002", seal_number="W-001"))
    kinds = Discrepancy.objects.values_list("envelope__written_station_number", "kind")
    assert set(kinds) == {("001", "duplicate-seal"), ("002", "duplicate-seal")}


def test_the_same_file_is_taken_once(scene):
    number = taken(scene, a_line()).intake
    with pytest.raises(Refused, match=number):
        taken(scene, a_line(), file_name="another-name.csv")
    assert Envelope.objects.count() == 1
    content = as_csv(a_line())
    assert intake_files.check_intake_file(**call(scene, content)).taken_before == number


def test_a_mended_list_can_be_handed_in_whole(scene):
    """Nothing is entered twice, whether it is held, set apart or was never expected."""
    odd = a_line("002", station_name="x")
    stranger = a_line(
        "003", control_unit="CU-0", paper_trail_unit="PT-0", station_number="88",
        seal_kind="wax", seal_number="",
    )  # fmt: skip
    first = taken(scene, a_line(), odd, stranger, a_line("003", slips="?"))
    assert (first.accepted, len(first.refused)) == (3, 1)
    again = taken(scene, a_line(), odd, stranger, a_line("003"))
    assert again.accepted == 1
    assert all("in the register already" in why for why in reasons(again).values())
    assert Envelope.objects.count() == 4
    assert not Discrepancy.objects.filter(kind="duplicate-serial").exists()


def test_the_refused_lines_are_mended_and_handed_in_alone(scene):
    read = taken(scene, a_line(), a_line("002", slips="?", remarks="=1+1"))
    lines = read.refused_lines.decode("utf-8-sig")
    row = next(csv.DictReader(io.StringIO(lines)))
    assert row["line"] == "3"
    assert "not a count" in row["reason"]
    # OWASP, "CSV Injection": no cell of ours is taken for a formula.
    assert row["remarks"] == "'=1+1"
    mended = lines.replace('"?"', '"611"').encode("utf-8-sig")
    again = intake_files.take_intake_file(**call(scene, mended))
    assert (again.accepted, again.refused) == (1, ())
    assert again.unknown_columns == ("line", "reason")
    envelope = Envelope.objects.get(written_station_number="002")
    assert (envelope.slip_count, envelope.remarks) == (611, "=1+1")


# Boxes


def test_a_box_comes_in_with_what_lies_in_it_and_all_its_seals(scene):
    lines = (a_line(box="1 of 1"), a_box_line(), a_line("002", box="1 OF 1"))
    read = taken(scene, *lines)
    assert (read.accepted, read.quarantined) == (3, 0), read.problems
    box = Box.objects.get()
    assert {e.station.station_number for e in box.envelopes.all()} == {"001", "002"}
    assert sorted(Seal.objects.filter(box=box).values_list("serial", "signed")) == [
        ("PS-1", True),
        ("PS-2", True),
    ]


def test_an_envelope_to_be_cleared_up_lies_in_its_sealed_box_all_the_same(scene):
    taken(scene, a_box_line(), a_line(box="1 of 1"),
          a_line("002", box="1 of 1", station_name="x"))  # fmt: skip
    envelope = Envelope.objects.get(state="quarantined")
    assert (envelope.box, envelope.whereabouts) == (Box.objects.get(), "in-box")


def test_a_box_that_names_other_stations_than_lie_in_it_is_named(scene):
    read = taken(scene, a_box_line("1-3"), a_line(box="1 of 1"),
                 a_line("002", box="1 of 1"))  # fmt: skip
    assert read.quarantined == 1
    found = Discrepancy.objects.get()
    assert (found.box.state, found.written, found.expected) == (
        "quarantined", "1-3", "1, 2",
    )  # fmt: skip


def test_a_box_goes_in_whole_or_not_at_all(scene):
    """What is left out of a sealed box could be put in only by opening it."""
    lines = [a_box_line(), a_line(box="1 of 1"), a_line("002", box="1 of 1", slips="?")]
    read = taken(scene, *lines, a_line("003"))
    assert (read.accepted, sorted(reasons(read))) == (1, [2, 3, 4])
    assert "Line 4, of the same box" in reasons(read)[2]
    assert not Box.objects.exists()
    lines[2]["slips"] = "611"
    assert taken(scene, *lines, a_line("003")).accepted == 3
    assert Box.objects.get().envelopes.count() == 2


# Elections, rooms, people


def test_of_several_elections_a_line_must_name_its_own(scene):
    from registry.models import CourtCalendar, RetentionSchedule
    from registry.usecases import setting_up

    setting_up.set_up_election(
        code="second", name="Second Election of Calvenna",
        schedule=RetentionSchedule.objects.get().number,
        calendar=CourtCalendar.objects.get().number,
        actor=scene.cast.administrator, at=given.NOW,
    )  # fmt: skip
    read = taken(scene, a_line(), a_line("002", election="Third"), election="")
    assert read.accepted == 1
    assert "Name the election for the whole file" in reasons(read)[3]
    with pytest.raises(Mistaken, match="no election third"):
        taken(scene, a_line("003"), election="third")


def test_a_custodian_of_two_rooms_says_which(scene):
    both = given.appointed(
        scene.cast.administrator, "gil.keeper", "custodian",
        rooms=(scene.room, scene.other_room),
    )  # fmt: skip
    with pytest.raises(Mistaken, match="which strong room"):
        intake_files.take_intake_file(
            **call(scene, as_csv(a_line()), actor=both) | {"room": ""}
        )
    with pytest.raises(NotThere):
        intake_files.take_intake_file(
            **call(scene, as_csv(a_line())) | {"room": scene.other_room}
        )


@pytest.mark.parametrize("who", ["legal", "authority", "auditor", "administrator"])
def test_only_a_custodian_takes_in_a_list(scene, who):
    with pytest.raises(PowerMissing):
        taken(scene, a_line(), actor=getattr(scene.cast, who))


# Between check and taking


def test_a_checked_list_is_kept_for_its_owner_alone(scene):
    content = as_csv(a_line(), a_line("002", slips="?"))
    digest = intake_files.check_intake_file(**call(scene, content)).digest
    act = {"digest": digest, "at": given.NOW}
    other = given.appointed(
        scene.cast.administrator, "gil.keeper", "custodian", rooms=(scene.room,)
    )
    with pytest.raises(NotThere):
        intake_files.read_refused_lines(actor=other, **act)
    with pytest.raises(NotThere):
        intake_files.take_kept_file(actor=other, **act)
    mine = {"actor": scene.cast.custodian, **act}
    assert b"not a count" in intake_files.read_refused_lines(**mine)
    read = intake_files.take_kept_file(room=scene.room, election="general", **mine)
    assert (read.accepted, read.file_name) == (1, "list.csv")


@pytest.mark.parametrize("digest", ["", "../../../etc/passwd", "0" * 64, "z" * 64])
def test_no_other_file_is_reached_by_a_guessed_digest(scene, digest):
    with pytest.raises(NotThere):
        intake_files.read_refused_lines(
            digest=digest, actor=scene.cast.custodian, at=given.NOW
        )


def test_the_day_of_receipt_is_the_legal_day_where_none_is_written(scene):
    late = datetime(2026, 11, 2, 23, 30, tzinfo=UTC)
    read = intake_files.take_intake_file(**call(scene, as_csv(a_line())) | {"at": late})
    assert Envelope.objects.get(number=read.numbers[0]).received_on == date(2026, 11, 2)


def test_a_list_takes_few_queries_however_long(scene, django_assert_max_num_queries):
    """A list of a whole constituency must not take a query for each line."""
    lines = [
        a_line(seal_number=f"W-{n}", slips=str(n), remarks=str(n)) for n in range(60)
    ]
    content = as_csv(*lines)
    with django_assert_max_num_queries(40):
        intake_files.check_intake_file(**call(scene, content))
