"""`manage.py retention-report`, as other programs call it."""

import json
import subprocess
import sys

import pytest
from django.conf import settings
from django.core.management import call_command
from pypdf import PdfReader

from registry.management.base import WrongUsage
from registry.models import AccessEntry, Election
from registry.usecases import setting_up
from tests import given

pytestmark = pytest.mark.django_db


@pytest.fixture
def scene():
    scene = given.a_scene()
    given.a_shelved_box(scene)
    return scene


def run(tmp_path, *args, form="json"):
    output = tmp_path / f"report.{form}"
    call_command("retention-report", *args, "--format", form, "--output", output)
    return output


def test_each_format_is_written(scene, tmp_path, capsys):
    assert json.loads(run(tmp_path).read_text())["totals"]["containers"] == 2
    assert "2 containers written to" in capsys.readouterr().out
    text = run(tmp_path, form="csv").read_bytes().decode("utf-8-sig")
    assert text.count("\r\n") == 3
    assert len(PdfReader(run(tmp_path, form="pdf")).pages) >= 1


def test_of_a_contest_and_as_of_a_day(scene, tmp_path):
    args = ("--election", "general", "--contest", "11", "--as-of")
    before = run(tmp_path, *args, str(given.POLLED))
    assert json.loads(before.read_text())["rows"] == []
    after = json.loads(run(tmp_path, *args, str(given.DECLARED)).read_text())
    assert after["as_of"] == str(given.DECLARED)
    assert len(after["rows"]) == 2


def test_of_a_room_as_a_person(scene, tmp_path):
    run(tmp_path, "--room", scene.room, "--as", "cora.keeper")
    entry = AccessEntry.objects.get(act="report.retention")
    assert (entry.name, entry.channel, entry.subject) == (
        scene.cast.custodian.name,
        "command",
        scene.room,
    )


@pytest.mark.parametrize(
    ("args", "why"),
    [
        (("--contest", "99"), "no constituency 99"),
        (("--election", "other"), "no election other"),
        (("--room", "RM-000001-3"), "mistyped"),
        (("--as", "nobody"), "Nobody with an appointment"),
    ],
)
def test_wrong_usage_leaves_no_file(scene, tmp_path, args, why):
    with pytest.raises(WrongUsage, match=why):
        run(tmp_path, *args)
    assert list(tmp_path.iterdir()) == []


def test_a_place_that_cannot_be_written(scene, tmp_path):
    with pytest.raises(WrongUsage, match="cannot be written"):
        run(tmp_path / "nowhere")


def test_an_earlier_report_stays_whole_where_the_new_one_fails(scene, tmp_path):
    output = run(tmp_path)
    before = output.read_bytes()
    with pytest.raises(WrongUsage):
        run(tmp_path, "--contest", "99")
    assert output.read_bytes() == before


def test_several_elections_ask_for_one(scene, tmp_path):
    act = {"actor": scene.cast.administrator, "at": given.NOW}
    election = Election.objects.get()
    setting_up.set_up_election(
        code="second",
        name="Second Election of Calvenna",
        schedule=election.schedule.number,
        calendar=election.calendar.number,
        **act,
    )
    with pytest.raises(WrongUsage, match="several elections"):
        run(tmp_path, "--contest", "11")


@pytest.mark.parametrize(
    "args",
    [
        ["--format", "docx", "--output", "x"],
        ["--format", "csv"],
        ["--format", "csv", "--output", "x", "--as-of", "31.12.2026"],
        ["--form", "csv", "--output", "x"],
    ],
)
def test_wrong_words_end_in_one_line_and_exit_two(args, tmp_path):
    done = subprocess.run(
        [sys.executable, settings.ROOT / "manage.py", "retention-report", *args],
        capture_output=True,
        text=True,
        cwd=tmp_path,
    )
    assert (done.returncode, done.stdout) == (2, "")
    assert done.stderr.startswith("retention-report: ")
    assert done.stderr.count("\n") == 1
    assert list(tmp_path.iterdir()) == []
