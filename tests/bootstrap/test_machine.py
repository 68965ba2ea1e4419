"""What cannot be installed with pip: asked for in one exact line, or brought by apt."""

import subprocess

import pytest

from registry import machine
from registry.machine import SetUpError, missing_packages, provide_packages


@pytest.fixture
def bare_debian(monkeypatch):
    """A machine with apt and Python, but neither Pango nor PostgreSQL nor Chromium."""
    monkeypatch.setattr(machine, "has_library", lambda name: False)
    monkeypatch.setattr(machine, "postgres_programs", lambda: None)
    monkeypatch.setattr(machine, "chromium", lambda: None)
    monkeypatch.setattr(machine.importlib.util, "find_spec", lambda name: None)
    monkeypatch.setattr(machine.shutil, "which", lambda name: f"/usr/bin/{name}")


def test_each_command_asks_only_for_what_it_needs(bare_debian):
    pango = ["libpango-1.0-0", "libpangoft2-1.0-0"]
    assert missing_packages("deadline") == []
    assert missing_packages("demo") == pango
    assert missing_packages("demo", makes_environment=True) == ["python3-venv", *pango]
    assert missing_packages("test") == [*pango, "postgresql", "chromium"]


def test_whoever_is_not_root_is_told_the_exact_line(bare_debian, monkeypatch):
    monkeypatch.setattr(machine.os, "geteuid", lambda: 1000)
    with pytest.raises(SetUpError) as refused:
        provide_packages("demo", makes_environment=True)
    assert refused.value.exit_code == 2
    assert str(refused.value) == (
        "first run: sudo apt-get install -y --no-install-recommends "
        "python3-venv libpango-1.0-0 libpangoft2-1.0-0"
    )


def test_without_apt_the_missing_things_are_named(bare_debian, monkeypatch):
    monkeypatch.setattr(machine.shutil, "which", lambda name: None)
    with pytest.raises(SetUpError, match="postgresql, chromium"):
        provide_packages("test")


def test_root_has_apt_bring_its_lists_up_to_date_only_when_it_must(
    bare_debian, monkeypatch
):
    ran = []

    def apt(command, **options):
        ran.append(" ".join(command[:2]))
        installed = ran.count("apt-get install") == 2
        monkeypatch.setattr(machine, "has_library", lambda name: installed)
        return subprocess.CompletedProcess(command, 0 if installed else 100, "")

    monkeypatch.setattr(machine.os, "geteuid", lambda: 0)
    monkeypatch.setattr(machine.subprocess, "run", apt)
    provide_packages("demo")
    assert ran == ["apt-get install", "apt-get update", "apt-get install"]


def test_apt_that_fails_is_quoted(bare_debian, monkeypatch, capsys):
    monkeypatch.setattr(machine.os, "geteuid", lambda: 0)
    monkeypatch.setattr(
        machine.subprocess,
        "run",
        lambda command, **options: subprocess.CompletedProcess(command, 1, "no disk\n"),
    )
    with pytest.raises(SetUpError, match="try by hand: apt-get install"):
        provide_packages("demo")
    assert "no disk" in capsys.readouterr().err


def test_a_library_is_really_loaded_before_it_counts():
    assert machine.has_library("libpango-1.0.so.0")
    assert not machine.has_library("libno-such-thing-1.0.so.0")
