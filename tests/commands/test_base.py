"""What every command shares: one clock, errors in one line, and exit codes."""

import subprocess
import sys
from datetime import UTC, datetime, timedelta

import pytest
from django.conf import settings
from django.core.management import CommandError
from django.core.management.base import SystemCheckError
from django.db import OperationalError

from registry.management.base import Refused, RegistryCommand, WrongUsage


class Sealing(RegistryCommand):
    """A command that fails as it is told to."""

    requires_system_checks = ()
    fails_with = None

    def add_arguments(self, parser):
        parser.add_argument("--box", required=True)

    def handle(self, *args, **options):
        if self.fails_with:
            raise self.fails_with
        self.stdout.write(f"sealed {options['box']}")


def run(capsys, fails_with=None, *arguments):
    command = Sealing()
    command.fails_with = fails_with
    code = 0
    try:
        command.run_from_argv(["manage.py", "sealing", "--box", "B", *arguments])
    except SystemExit as stop:
        code = stop.code
    out, err = capsys.readouterr()
    return code, out, err


def test_done_work_says_so_and_ends_with_0(capsys):
    assert run(capsys) == (0, "sealed B\n", "")


@pytest.mark.parametrize(
    ("error", "code", "line"),
    [
        (WrongUsage("no such box"), 2, "test_base: no such box\n"),
        (Refused("the case\nis pending"), 1, "test_base: the case is pending\n"),
        (CommandError("plain", returncode=3), 3, "test_base: plain\n"),
        (
            OperationalError("no such table: box\nLINE 1"),
            1,
            "test_base: the database cannot be used (no such table: box LINE 1): check "
            "DATABASE_URL, then run 'python3 manage.py migrate'\n",
        ),
    ],
)
def test_a_failure_is_one_line_with_its_exit_code(capsys, error, code, line):
    assert run(capsys, error) == (code, "", line)


@pytest.mark.parametrize(
    "error", [WrongUsage("no such box"), OperationalError("no such table")]
)
def test_traceback_shows_the_rest_to_who_asks_for_it(capsys, error):
    with pytest.raises(type(error), match="no such"):
        run(capsys, error, "--traceback")


def test_wrong_usage_seen_by_the_parser_is_shown_with_traceback_too(capsys):
    with pytest.raises(CommandError, match="unrecognized"):
        run(capsys, None, "--nonsense", "--traceback")


def test_system_checks_are_set_out_as_django_does(capsys):
    code, _, err = run(capsys, SystemCheckError("first\nsecond"))
    assert (code, err) == (1, "first\nsecond\n")


def test_a_fault_of_ours_is_not_dressed_up_as_the_users(capsys):
    with pytest.raises(ZeroDivisionError):
        run(capsys, ZeroDivisionError())


def test_options_are_never_guessed_from_their_beginnings(capsys):
    with pytest.raises(SystemExit) as stop:
        Sealing().run_from_argv(["manage.py", "sealing", "--bo", "B"])
    assert stop.value.code == 2
    assert "required: --box" in capsys.readouterr().err


def test_the_clock_is_read_once_as_the_command_begins(capsys, settings):
    settings.TIME_ZONE = "Asia/Kolkata"
    before = datetime.now(UTC)
    command = Sealing()
    command.run_from_argv(["manage.py", "sealing", "--box", "B"])
    assert before <= command.at <= datetime.now(UTC)
    assert command.at.utcoffset() is not None
    command.at = datetime(2026, 3, 1, 20, 0, tzinfo=UTC)
    # 20:00 UTC is 01:30 on the next day at UTC+05:30.
    assert command.today == (command.at + timedelta(hours=5, minutes=30)).date()


def test_a_reader_that_has_read_enough_sees_no_traceback():
    """As in `manage.py explain … | head -1`."""
    asked = ["deadline", "--from", "2026-03-02", "--length", "9", "--unit", "days"]
    process = subprocess.Popen(
        [sys.executable, "manage.py", *asked],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        cwd=settings.ROOT,
    )
    process.stdout.close()
    complaints = process.stderr.read()
    process.stderr.close()
    assert (process.wait(), complaints) == (0, b"")
