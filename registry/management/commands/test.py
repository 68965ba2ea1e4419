"""Run all tests, on SQLite and then on PostgreSQL."""

import importlib.util
import os
import re
import signal
import subprocess
import sys
import time
from argparse import ArgumentParser, Namespace
from collections.abc import Iterator
from contextlib import contextmanager
from types import FrameType

from django.conf import settings

from registry import bootstrap, machine
from registry.management.base import Refused, RegistryCommand
from registry.management.private_postgres import ServerFailed, private_postgres

DATABASES = {"sqlite": "SQLite", "postgresql": "PostgreSQL"}
WORKERS = ("-n", "2", "--dist", "loadscope")
RESULT = re.compile(rb"\d+ (?:passed|failed|errors?)\b.* in [\d.]+s[^=\n]*")
COLOURS = re.compile(rb"\x1b\[[\d;]*m")


class Command(RegistryCommand):
    """Take the place of Django's `test`; what it does not know goes to pytest."""

    help = "Run all tests on both databases; further arguments are handed to pytest."
    requires_system_checks = ()

    def run_from_argv(self, argv: list[str]) -> None:
        parser = ArgumentParser(
            prog=f"{argv[0]} test", description=self.help, allow_abbrev=False
        )
        parser.add_argument("--only", choices=DATABASES, help="one database only")
        chosen, pytest_arguments = parser.parse_known_args(argv[2:])
        signal.signal(signal.SIGTERM, _stop)
        try:
            provide_what_tests_need()
            results = run_on_each(chosen, pytest_arguments)
        except (Refused, machine.SetUpError) as error:
            self._stop(str(error), 2)
        except KeyboardInterrupt:
            self._stop("stopped", 130)
        for name, (_, closing_line) in results.items():
            self.stdout.write(f"{name}: {closing_line}")
        sys.exit(max(code for code, _ in results.values()))


def provide_what_tests_need() -> None:
    """See to pytest, PostgreSQL and Chromium; raise with the line that brings them."""
    machine.provide_packages("test")
    if bootstrap.Environment().is_running():
        bootstrap.prepare("test")
    if importlib.util.find_spec("pytest") is None:
        raise Refused(
            "pytest is missing here: run "
            "'pip install --require-hashes -r requirements.lock'"
        )


def run_on_each(
    chosen: Namespace, pytest_arguments: list[str]
) -> dict[str, tuple[int, str]]:
    """Run pytest on each chosen database; return its exit code and closing line."""
    results = {}
    for key, name in DATABASES.items():
        if chosen.only in (None, key):
            with database_url(key) as url:
                print(f"\n== {name} ==", flush=True)
                results[name] = run_pytest(pytest_arguments, url)
    return results


@contextmanager
def database_url(key: str) -> Iterator[str]:
    """Yield the DATABASE_URL to test on: the one given if it fits, else our own."""
    given = os.environ.get("DATABASE_URL", "")
    programs = machine.postgres_programs()
    if key == "sqlite":
        yield ""
    elif given.startswith(("postgres://", "postgresql://")):
        yield given
    elif programs is None:
        raise Refused("PostgreSQL is missing: apt-get install -y postgresql")
    else:
        try:
            with private_postgres(programs) as url:
                yield url
        except ServerFailed as error:
            raise Refused(str(error)) from error


def run_pytest(arguments: list[str], url: str) -> tuple[int, str]:
    """Run pytest to its end, showing what it says; return code and closing line."""
    # A run of a few named tests is over before a second worker has started.
    workers = () if any(not a.startswith("-") for a in arguments) else WORKERS
    environment = os.environ | {
        "REGISTRY_MODE": "test",
        "DATABASE_URL": url,
        "REGISTRY_CHROMIUM": machine.chromium() or "",
    }
    command = [sys.executable, "-m", "pytest", *workers, *arguments]
    started = time.monotonic()
    with subprocess.Popen(
        command,
        cwd=settings.ROOT,
        env=environment,
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        start_new_session=True,  # Ctrl-C reaches pytest once, and from here
    ) as run:
        try:
            tail = show(run)
        except (KeyboardInterrupt, SystemExit):
            run.send_signal(signal.SIGINT)
            show(run)
            raise
    closing = RESULT.findall(COLOURS.sub(b"", tail))
    words = closing[-1].decode(errors="replace").strip() if closing else "no test ran"
    taken = round(time.monotonic() - started)
    code = run.returncode if run.returncode >= 0 else 128 - run.returncode
    return code, f"{words} (exit code {code}, {taken} s in all)"


def show(run: subprocess.Popen[bytes]) -> bytes:
    """Pass on what a process prints, until it has done; return the end of it."""
    assert run.stdout is not None
    tail = b""
    while piece := os.read(run.stdout.fileno(), 65536):
        sys.stdout.buffer.write(piece)
        sys.stdout.flush()
        tail = (tail + piece)[-65536:]
    return tail


def _stop(signum: int, frame: FrameType | None) -> None:
    sys.exit(128 + signum)
