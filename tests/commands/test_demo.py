"""The demo: an election of an invented country, alive on whatever day it is started."""

import fcntl
from datetime import UTC, date, datetime, timedelta

import pytest
from django.contrib.auth.hashers import check_password
from django.core.management import call_command
from django.core.management.base import CommandError

from registry.management.demo import scenario
from registry.management.demo.files import FILES, file_of, poll_day
from registry.models import (
    Box,
    Certificate,
    Contest,
    Discrepancy,
    DoorSession,
    FallbackForm,
    Incident,
    Permission,
    PollingStation,
    Seal,
    StationSealing,
    StockTake,
    Transfer,
    UnitSet,
    User,
)
from registry.queries.keeping import Keeper
from registry.rules.powers import Role
from registry.rules.retention import Reason
from registry.rules.schedules import ContentKind
from registry.usecases.disposal_looks import preview_disposal
from registry.usecases.people import person_by_username
from registry.usecases.production_looks import list_productions
from registry.usecases.round_looks import look_before_round

NOW = datetime(2028, 2, 29, 6, 30, tzinfo=UTC)  # early, and on a leap day


@pytest.fixture
def demo():
    said = []
    scenario.load(NOW.date(), NOW, said.append)
    return said


def reason(number: str, kind: ContentKind = ContentKind.POLL_SLIPS) -> Reason:
    contest = Contest.objects.select_related("election").get(constituency_number=number)
    return Keeper(NOW.date()).contest(contest, kind).reason


@pytest.mark.django_db
def test_the_scenario_shows_what_an_office_meets(demo):
    general = PollingStation.objects.exclude(contest__constituency_number="15")
    assert general.count() == 120
    replaced = UnitSet.objects.filter(replaced=True, station__in=general)
    assert replaced.count() == 8
    assert {u.role for u in User.objects.all()} == {r.value for r in Role}
    assert check_password(scenario.PASSWORD, User.objects.first().password)
    assert reason("11") is Reason.PERIOD_OVER
    assert reason("12") is Reason.CASE_PENDING
    assert reason("13") is Reason.APPEAL_WINDOW
    assert reason("14") is Reason.TERM
    declared = Contest.objects.exclude(declared_on=None).latest("declared_on")
    assert declared.constituency_number == "14"
    assert Permission.objects.filter(revoked_at__isnull=False).count() == 1
    assert Permission.objects.filter(countersigned_at__isnull=True).count() == 1
    assert Seal.objects.filter(events__finding="open").count() == 1
    assert Box.objects.filter(state="disposed").count() == 2
    assert Certificate.objects.count() == 1
    assert Discrepancy.objects.filter(resolved_at__isnull=True).count() >= 6
    assert not any("refused 0" not in line for line in demo if "accepted" in line)


@pytest.mark.django_db
def test_every_page_of_the_strong_rooms_has_something_to_show(demo):
    cora = person_by_username("cora", address="test", channel="web")
    today = {"actor": cora, "at": NOW}
    assert DoorSession.objects.filter(closed_at=None).count() == 1
    assert DoorSession.objects.filter(second_key=None).count() == 1
    assert {row.state for row in FallbackForm.objects.all()} >= {
        "blank",
        "in-entry",
        "entered",
        "spoilt",
        "lost",
    }
    assert sorted(row.state for row in StockTake.objects.all()) == [
        "concluded",
        "frozen",
    ]
    assert Incident.objects.filter(closed_at=None).count() == 1
    assert Transfer.objects.filter(ended_at=None).count() == 1
    assert [row.due < NOW.date() for row in list_productions(**today).out] == [True]
    assert UnitSet.objects.filter(votes_recorded__isnull=False).count() == 4
    assert StationSealing.objects.filter(state="open").count() == 1
    (due,) = look_before_round(**today)
    assert due.is_overdue


@pytest.mark.django_db
def test_the_clear_constituency_lacks_only_what_is_done_on_the_day(demo):
    """Its seals are looked at on the very day; all else is in order."""
    box = Box.objects.filter(contest__constituency_number="11", kind="poll-slips")[0]
    permission = Permission.objects.get(order_ref="Order 31")
    actor = person_by_username("cora", address="test", channel="web")
    standing = preview_disposal(
        container=box.number, permission=permission.number, actor=actor, at=NOW
    ).standing
    assert [o.text for o in standing.obstacles if "seal" not in o.text] == []
    assert standing.obstacles


def test_dates_move_by_whole_weeks_and_nothing_else_moves():
    today = date(2031, 7, 9)
    moved = poll_day(today)
    assert moved.weekday() == date(2025, 3, 1).weekday()
    assert timedelta(days=420) <= today - moved < timedelta(days=427)
    as_sent = (FILES / "intake-12-first-wave.csv").read_bytes()
    copy = file_of("intake-12-first-wave.csv", today)
    assert len(copy) == len(as_sent)
    assert f"{moved:%d.%m.%Y}".encode() in copy
    assert b"01.03.2025" not in copy
    assert "Brême".encode("cp1252") in copy


def test_a_second_start_does_not_take_the_first_for_cut_short(tmp_path, settings):
    """Two starts at once: the second says so and touches nothing."""
    settings.MODE, settings.DATA = "demo", tmp_path
    with (tmp_path / "set-up.lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        with pytest.raises(CommandError, match="another start"):
            call_command("demo", "--no-serve")
    assert [path.name for path in tmp_path.iterdir()] == ["set-up.lock"]
