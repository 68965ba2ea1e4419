"""`manage.py appoint`: the first administrator; and `manage.py load-stations`."""

import io
import sys

import pytest
from django.core.management import call_command

from registry.management.base import Refused, WrongUsage
from registry.models import PollingStation, User
from tests import given

pytestmark = pytest.mark.django_db
WHO = ("--username", "admin", "--name", "Ada Merrow")
HEAD = "constituency_number,station_number,control_unit,paper_trail_unit"


@pytest.fixture
def typed(monkeypatch):
    def type_in(text):
        monkeypatch.setattr(sys, "stdin", io.StringIO(text))

    return type_in


def test_the_first_administrator_is_appointed(typed, capsys):
    typed(f"{given.PASSWORD}\n")
    call_command("appoint", *WHO)
    user = User.objects.get()
    assert (user.username, user.role) == ("admin", "administrator")
    assert user.check_password(given.PASSWORD)
    assert user.number in capsys.readouterr().out


def test_there_is_only_one_first(typed):
    given.first_administrator()
    typed(f"{given.PASSWORD}\n")
    with pytest.raises(Refused, match="on screen"):
        call_command("appoint", *WHO)


@pytest.mark.parametrize("password", ["", "short\n", "12345678901234\n"])
def test_a_weak_password_is_refused(typed, password):
    typed(password)
    with pytest.raises(WrongUsage):
        call_command("appoint", *WHO)
    assert not User.objects.exists()


def test_stations_are_loaded_all_or_nothing(tmp_path, capsys):
    given.a_scene()
    good = tmp_path / "good.csv"
    good.write_text(f"{HEAD}\n11,7,CU-7,PT-7\n")
    call_command("load-stations", good, "--election", "general", "--check")
    assert PollingStation.objects.count() == 5
    call_command("load-stations", good, "--election", "general")
    assert PollingStation.objects.count() == 6
    assert "taken: stations 1, unit sets 1" in capsys.readouterr().out


def test_refused_lines_are_written_with_their_reasons(tmp_path):
    given.a_scene()
    bad = tmp_path / "bad.csv"
    bad.write_text(f"{HEAD}\n11,7,CU-7,PT-7\n11,8,,PT-8\n")
    refused = tmp_path / "refused.csv"
    with pytest.raises(Refused, match="refused 1; the first is line 3"):
        call_command(
            "load-stations", bad, "--election", "general", "--refused-to", refused
        )
    assert "control unit is missing" in refused.read_text()
    assert PollingStation.objects.count() == 5


@pytest.mark.parametrize(
    ("name", "election", "why"),
    [("missing.csv", "general", "No such file"), ("good.csv", "x", "no election x")],
)
def test_what_is_not_there_is_told(tmp_path, name, election, why):
    given.a_scene()
    (tmp_path / "good.csv").write_text(f"{HEAD}\n11,7,CU-7,PT-7\n")
    with pytest.raises(WrongUsage, match=why):
        call_command("load-stations", tmp_path / name, "--election", election)
