"""Making the environment: real venvs and a real pip, in a directory of their own."""

import hashlib
import json
import os
import signal
import subprocess
import sys
import time
import zipfile
from pathlib import Path

import pytest

from registry import bootstrap
from registry.bootstrap import TESTS_ONLY, Environment, lock_parts
from registry.machine import SetUpError

ROOT = bootstrap.ROOT
PREPARE = (
    "import sys; from pathlib import Path; from registry import bootstrap; "
    "bootstrap.prepare(sys.argv[2], root=Path(sys.argv[1]))"
)


def a_wheel(directory: Path, name: str) -> str:
    """Write the smallest wheel there can be; return its line for a lock."""
    path = directory / f"{name}-1.0-py3-none-any.whl"
    with zipfile.ZipFile(path, "w") as wheel:
        wheel.writestr(f"{name}.py", "")
        info = f"{name}-1.0.dist-info"
        wheel.writestr(
            f"{info}/METADATA", f"Metadata-Version: 2.1\nName: {name}\nVersion: 1.0\n"
        )
        tags = "Root-Is-Purelib: true\nTag: py3-none-any\n"
        wheel.writestr(f"{info}/WHEEL", f"Wheel-Version: 1.0\nGenerator: us\n{tags}")
        wheel.writestr(f"{info}/RECORD", "")
    digest = hashlib.sha256(path.read_bytes()).hexdigest()
    return f"{path} --hash=sha256:{digest}\n"


def write_lock(root: Path, *, run: str, test: str) -> None:
    (root / "requirements.lock").write_text(f"{run}{TESTS_ONLY}\n{test}")


def start(root: Path, command: str = "demo") -> subprocess.Popen[str]:
    return subprocess.Popen(
        [sys.executable, "-c", PREPARE, str(root), command],
        cwd=ROOT,
        stderr=subprocess.PIPE,
        text=True,
    )


def can_import(root: Path, name: str) -> bool:
    python = Environment(root).python
    return subprocess.run([python, "-c", f"import {name}"], check=False).returncode == 0


def until(condition, seconds=30):
    end = time.monotonic() + seconds
    while not condition():
        assert time.monotonic() < end, "waited in vain"
        time.sleep(0.02)


@pytest.fixture
def root(tmp_path):
    write_lock(
        tmp_path,
        run=a_wheel(tmp_path, "forrunning"),
        test=a_wheel(tmp_path, "fortesting"),
    )
    return tmp_path


def test_a_command_gets_its_part_and_the_tests_get_the_rest_later(root):
    bootstrap.prepare("demo", root=root)
    assert can_import(root, "forrunning")
    assert not can_import(root, "fortesting")

    bootstrap.prepare("test", root=root)
    assert can_import(root, "fortesting")

    inode = (root / ".venv").stat().st_ino
    bootstrap.prepare("demo", root=root)
    assert (root / ".venv").stat().st_ino == inode


def test_a_start_killed_midway_is_made_good_by_the_next(root):
    victim = start(root)
    until(Environment(root).stamp.exists)
    victim.send_signal(signal.SIGKILL)
    victim.wait()
    assert not Environment(root).is_ready("demo")

    next_start = start(root)
    assert next_start.wait() == 0
    assert Environment(root).is_ready("demo")
    assert can_import(root, "forrunning")
    assert [path.name for path in root.glob(".venv*")] == [".venv"]


def test_of_two_starts_one_works_and_the_other_waits(root):
    starts = [start(root), start(root)]
    words = [process.communicate()[1] for process in starts]
    assert [process.returncode for process in starts] == [0, 0]
    assert sum("making .venv" in said for said in words) == 1
    assert can_import(root, "forrunning")


def test_a_changed_lock_is_installed_anew(root):
    bootstrap.prepare("demo", root=root)
    write_lock(root, run=a_wheel(root, "another"), test="")
    assert not Environment(root).is_ready("demo")

    bootstrap.prepare("demo", root=root)
    assert can_import(root, "another")
    assert not can_import(root, "forrunning")


def test_a_package_that_is_not_the_hashed_one_is_refused(root, capsys):
    write_lock(root, run=f"{root}/forrunning-1.0-py3-none-any.whl --hash=sha256:"
               + "0" * 64 + "\n", test="")  # fmt: skip
    with pytest.raises(SetUpError, match="could not be made"):
        bootstrap.prepare("demo", root=root)
    assert "DO NOT MATCH THE HASHES" in capsys.readouterr().err
    assert not Environment(root).is_ready("demo")


def test_an_environment_made_by_hand_is_left_alone(root):
    (root / ".venv").mkdir()
    bootstrap.prepare("demo", root=root)
    assert list((root / ".venv").iterdir()) == []


def test_the_parts_of_the_real_lock_are_told_apart():
    parts = lock_parts((ROOT / "requirements.lock").read_text())
    assert "\ndjango==" in parts["run"]
    assert "\npytest==" in parts["test"]
    assert "\npytest==" not in parts["run"]


def test_a_lock_that_lost_its_mark_is_refused():
    with pytest.raises(SetUpError, match=r"\.ci/lock"):
        lock_parts("django==5.2\n")


def test_an_unfinished_stamp_is_never_taken_for_a_whole_one(root):
    environment = Environment(root)
    environment.directory.mkdir()
    environment.stamp.write_text(json.dumps({}))
    assert not environment.is_ready("demo")
    assert not environment.is_by_hand()


def test_the_hand_over_is_counted_for_this_process_alone(monkeypatch):
    monkeypatch.setenv(bootstrap.HANDED_OVER, f"{os.getpid()}:2")
    assert bootstrap._hand_overs() == 2
    monkeypatch.setenv(bootstrap.HANDED_OVER, f"{os.getppid()}:2")
    assert bootstrap._hand_overs() == 0
