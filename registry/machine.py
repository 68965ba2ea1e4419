"""Find on this machine the programs and libraries that pip cannot install.

The standard library only: this runs before Django can be imported. What is missing
is installed with apt where that is allowed; else the exact line to run is named.
"""

from __future__ import annotations

import ctypes
import ctypes.util
import importlib.util
import os
import shutil
import subprocess
import sys
from pathlib import Path

# The commands that print paper; the others must not fail for want of Pango.
PAPER_COMMANDS = frozenset({"demo", "serve", "test", "retention-report"})
LIBRARIES = {
    "libpango-1.0.so.0": "libpango-1.0-0",
    "libpangoft2-1.0.so.0": "libpangoft2-1.0-0",
}
CHROMIUM_NAMES = ("chromium", "chromium-browser", "google-chrome")


class SetUpError(Exception):
    """What a command needs cannot be had; the message says in one line what to do."""

    def __init__(self, message: str, exit_code: int = 2) -> None:
        super().__init__(message)
        self.exit_code = exit_code


def say(line: str) -> None:
    """Tell the person waiting what is happening; standard output stays clean."""
    print(f"[set-up] {line}", file=sys.stderr, flush=True)


def missing_packages(command: str, *, makes_environment: bool = False) -> list[str]:
    """Return the Debian packages that a command needs and this machine lacks."""
    missing = []
    if makes_environment and importlib.util.find_spec("ensurepip") is None:
        missing.append("python3-venv")  # Debian keeps ensurepip in there
    if command in PAPER_COMMANDS:
        missing += [deb for name, deb in LIBRARIES.items() if not has_library(name)]
    if command == "test":
        missing += [] if postgres_programs() else ["postgresql"]
        missing += [] if chromium() else ["chromium"]
    return missing


def has_library(name: str) -> bool:
    """Say whether a shared library can be loaded, under this name or the system's."""
    try:
        ctypes.CDLL(name)
    except OSError:
        stem = name.removeprefix("lib").partition(".so")[0]
        return ctypes.util.find_library(stem) is not None
    return True


def postgres_programs() -> Path | None:
    """Return the directory that holds `initdb` and `postgres`, the newest first."""
    debian = sorted(
        Path("/usr/lib/postgresql").glob("[0-9]*/bin"),
        key=lambda directory: float(directory.parent.name),
        reverse=True,
    )
    elsewhere = shutil.which("initdb")
    found = [*debian, *([Path(elsewhere).resolve().parent] if elsewhere else [])]
    for directory in found:
        if all((directory / name).exists() for name in ("initdb", "postgres")):
            return directory
    return None


def chromium() -> str | None:
    """Return the path of a Chromium browser, if there is one."""
    return next(filter(None, map(shutil.which, CHROMIUM_NAMES)), None)


def provide_packages(command: str, *, makes_environment: bool = False) -> None:
    """Install with apt, as root, what a command lacks; else say which line does it.

    Raises SetUpError: apt is missing, failed, or may not be used.
    """
    missing = missing_packages(command, makes_environment=makes_environment)
    if not missing:
        return
    line = f"apt-get install -y --no-install-recommends {' '.join(missing)}"
    if shutil.which("apt-get") is None:
        raise SetUpError(
            f"this machine lacks {', '.join(missing)} (so they are called in Debian): "
            "install them with your system's package manager and start again"
        )
    if os.geteuid() != 0:
        raise SetUpError(f"first run: sudo {line}")
    say(f"installing {', '.join(missing)} with apt")
    _apt(line)
    importlib.invalidate_caches()
    if still := missing_packages(command, makes_environment=makes_environment):
        raise SetUpError(f"apt brought no usable {', '.join(still)}; try: {line}")


def _apt(line: str) -> None:
    """Install; only where that fails, bring the package lists up to date first."""
    for attempt in (line, "apt-get update", line):
        done = subprocess.run(
            attempt.split(),
            env=os.environ | {"DEBIAN_FRONTEND": "noninteractive"},
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
            errors="replace",
        )
        if done.returncode == 0 and attempt == line:
            return
    sys.stderr.write(done.stdout)
    raise SetUpError(f"apt failed, its words stand above; try by hand: {line}", 1)
