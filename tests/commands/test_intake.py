"""``manage.py intake FILE``: what other programs call, so its words are steady.

The first line and the exit codes are the project's own brief ("Commands").
"""

import csv
import os
import subprocess
import sys
from pathlib import Path

import pytest
from django.core.management import call_command

from registry.management.base import Refused, WrongUsage
from registry.models import AccessEntry, Envelope, PollingStation
from tests import given
from tests.usecases.test_intake_files import a_line, as_csv, as_xlsx

ROOT = Path(__file__).parents[2]

pytestmark = pytest.mark.django_db


@pytest.fixture
def scene():
    return given.a_scene()


@pytest.fixture
def run(scene, tmp_path, capsys):
    """Run the command on a file of this content: (first line, rest, refusal)."""

    def take(content, *options, name="list.csv", room=True):
        path = tmp_path / name
        path.write_bytes(content)
        where = ["--room", scene.room] if room else []
        refusal = None
        try:
            call_command("intake", str(path), *where, *options)
        except (Refused, WrongUsage) as error:
            refusal = error
        first, _, rest = capsys.readouterr().out.partition("\n")
        return first, rest, refusal

    return take


def test_a_clean_list_is_taken(run):
    first, rest, refusal = run(as_csv(a_line(), a_line("002")))
    assert (first, refusal) == ("accepted 2, refused 0", None)
    assert "CSV, UTF-8" in rest
    assert Envelope.objects.count() == 2


def test_refused_lines_go_to_a_file_with_their_reasons(run, tmp_path):
    out = tmp_path / "refused.csv"
    first, _, refusal = run(
        as_csv(a_line(), a_line("002", slips="?", station_name="Hé")),
        "--refused-to",
        str(out),
    )
    assert first == "accepted 1, refused 1"
    assert refusal.returncode == 1
    with out.open(encoding="utf-8-sig", newline="") as file:
        row = next(csv.DictReader(file))
    assert (row["line"], row["station_name"], row["station_number"]) == (
        "3", "Hé", "002",
    )  # fmt: skip
    assert "? (slips) is not a count." in row["reason"]


def test_a_check_enters_nothing(run):
    first, rest, refusal = run(as_csv(a_line(station_name="x")), "--check")
    assert (first, refusal) == ("accepted 1, refused 0", None)
    assert "1 into quarantine" in rest
    assert not Envelope.objects.exists()


def test_an_xlsx_list_is_taken(run):
    assert run(as_xlsx(a_line()), name="list.xlsx")[0] == "accepted 1, refused 0"


def test_the_terminal_answers_for_what_it_takes_in(run):
    run(as_csv(a_line()))
    entry = AccessEntry.objects.get(act="intake.take_file")
    assert (entry.person, entry.channel, entry.role) == (None, "command", "custodian")


def test_a_named_custodian_answers_in_person(run):
    run(as_csv(a_line()), "--as", "cora.keeper", room=False)
    entry = AccessEntry.objects.get(act="intake.take_file")
    assert entry.name == "Cora Keeper"


@pytest.mark.parametrize("who", ["lena.law", "aron.steward", "otto.audit", "admin"])
def test_who_is_no_custodian_is_refused(run, who):
    _, _, refusal = run(as_csv(a_line()), "--as", who)
    assert refusal.returncode == 1
    assert not Envelope.objects.exists()


@pytest.mark.parametrize(
    ("content", "options", "says"),
    [
        (b"", (), "is empty"),
        (as_csv(a_line()), ("--as", "nobody"), "Nobody with an appointment"),
        (as_csv(a_line()), ("--election", "third"), "no election third"),
        (b"a,b\r\n1,2\r\n", (), "--election CODE"),
        (
            as_csv(a_line()),
            ("--refused-to", "/nowhere/at/all.csv"),
            "cannot be written",
        ),
    ],
)
def test_wrong_usage_ends_in_two_and_says_what_to_do(run, content, options, says):
    _, _, refusal = run(content, *options)
    assert refusal.returncode == 2
    assert says in str(refusal)
    assert not Envelope.objects.exists()


def test_without_a_room_it_asks_for_one(run):
    _, _, refusal = run(as_csv(a_line()), room=False)
    assert (refusal.returncode, "which strong room" in str(refusal)) == (2, True)


STATIONS = b"""station_number,station_name,constituency_number,cu,printer
010,Kelp Store,11,CU-11010,PT-AA-11010
011,Rope Walk,11,CU-11011,PT-AA-11011
"""


def test_a_list_of_polling_stations_is_known_by_its_columns(run):
    before = PollingStation.objects.count()
    first, _, refusal = run(STATIONS, "--election", "general", room=False)
    assert (first, refusal) == ("accepted 2, refused 0", None)
    assert PollingStation.objects.count() == before + 2


def test_a_list_of_polling_stations_goes_in_whole_or_not_at_all(run, tmp_path):
    before = PollingStation.objects.count()
    out = tmp_path / "refused.csv"
    broken = STATIONS.replace(b"PT-AA-11011", b"")
    first, _, refusal = run(
        broken, "--election", "general", "--refused-to", str(out), room=False
    )
    assert (first, refusal.returncode) == ("accepted 0, refused 1", 1)
    assert PollingStation.objects.count() == before
    assert "is missing" in out.read_text(encoding="utf-8-sig")


def test_a_file_that_is_not_there_ends_in_one_line_and_two(tmp_path):
    done = subprocess.run(
        [sys.executable, "manage.py", "intake", str(tmp_path / "none.csv")],
        cwd=ROOT,
        capture_output=True,
        text=True,
        env=os.environ | {"REGISTRY_DATA": str(tmp_path)},
    )
    assert done.returncode == 2
    assert len(done.stderr.strip().splitlines()) == 1
    assert "cannot be read" in done.stderr
    assert done.stdout == ""
