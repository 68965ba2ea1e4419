"""Make the environment in which Django can be imported; the standard library only.

manage.py comes here when Django is missing. The environment is `.venv`; what goes
into it is named, with hashes, in requirements.lock; then the same command is started
again inside it.

A stamp in `.venv` holds digests of what was installed. An environment that was left
unfinished, or whose lock has changed, is made anew; one that somebody made by hand
bears no stamp: it is used as it is and never changed.
"""

from __future__ import annotations

import hashlib
import json
import os
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import NoReturn

from registry.machine import SetUpError, provide_packages, say

ROOT = Path(__file__).resolve().parent.parent
OLDEST_PYTHON = (3, 11)
TESTS_ONLY = "# ---- from here on: what only the tests need ----"
HANDED_OVER = "REGISTRY_HANDED_OVER"


def lock_parts(text: str) -> dict[str, str]:
    """Split the lock's text into its two parts, `run` and `test`."""
    run, marker, test = text.partition(TESTS_ONLY)
    if not marker:
        raise SetUpError("requirements.lock is not whole: make it again with .ci/lock")
    return {"run": run, "test": test}


def digests(parts: dict[str, str]) -> dict[str, str]:
    """Return the SHA-256 of each part of the lock, in hexadecimal."""
    return {
        name: hashlib.sha256(text.encode()).hexdigest() for name, text in parts.items()
    }


class Environment:
    """The project's own `.venv`, the lock it is made from, and its stamp."""

    def __init__(self, root: Path = ROOT) -> None:
        self.directory = root / ".venv"
        self.python = self.directory / "bin" / "python"
        self.stamp = self.directory / "set-up.json"
        self.turn = root / ".data" / "set-up.turn"
        self.lock = lock_parts((root / "requirements.lock").read_text())
        self.current = digests(self.lock)

    def wanted(self, command: str) -> dict[str, str]:
        """Return the digests of the parts of the lock that a command needs."""
        if command == "test":
            return self.current
        return {"run": self.current["run"]}

    def installed(self) -> dict[str, str] | None:
        """Return the stamp's digests: {} while unfinished, None without a stamp."""
        try:
            return dict(json.loads(self.stamp.read_text()))
        except FileNotFoundError:
            return None

    def is_by_hand(self) -> bool:
        """Say whether somebody else made `.venv`."""
        return self.directory.exists() and self.installed() is None

    def is_ready(self, command: str) -> bool:
        """Say whether all that a command needs is there, from this very lock."""
        installed = self.installed() or {}
        whole = self.wanted(command).items() <= installed.items()
        return self.is_by_hand() or (whole and self.python.exists())

    def is_running(self) -> bool:
        """Say whether this very process runs inside `.venv`."""
        return Path(sys.prefix).resolve() == self.directory.resolve()


def prepare(command: str, *, anew: bool = False, root: Path = ROOT) -> None:
    """See to it that `.venv` holds what a command needs.

    anew: make it again even if its stamp is in order.
    Raises SetUpError: it cannot be made.
    """
    environment = Environment(root)
    if environment.is_ready(command) and not anew:
        return
    with _one_at_a_time(environment.turn) as turn:
        if environment.is_ready(command) and not anew:
            return
        installed = {} if anew else environment.installed() or {}
        if not installed or not installed.items() <= environment.current.items():
            installed = {}
            say("making .venv")
            _start_afresh(environment)
            base = getattr(sys, "_base_executable", sys.executable)
            _run([base, "-m", "venv", str(environment.directory)], turn)
        wanted = environment.wanted(command)
        _write_stamp(environment.stamp, {})
        _install(environment, sorted(wanted.keys() - installed.keys()), turn)
        _write_stamp(environment.stamp, installed | wanted)
        say("the environment is ready")


@contextmanager
def _one_at_a_time(path: Path) -> Iterator[int]:
    """Hold the file at `path` against other starts; yield its descriptor.

    The installing child inherits the descriptor: if its parent is killed, the next
    start waits for the child's end instead of working in the same directory.
    """
    import fcntl  # here, so that other systems get a line of words, not an ImportError

    path.parent.mkdir(mode=0o700, exist_ok=True)
    with path.open("w") as turn:
        try:
            fcntl.flock(turn, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            say("another start is making the environment; waiting for it")
            fcntl.flock(turn, fcntl.LOCK_EX)
        yield turn.fileno()


def _start_afresh(environment: Environment) -> None:
    """Put an empty `.venv`, stamped as unfinished, in the place of the present one.

    By renaming only, so that there is no instant at which a killed start leaves a
    `.venv` without a stamp, which would pass for one made by hand.
    """
    directory = environment.directory
    fresh = directory.with_name(f".venv.{os.getpid()}.new")
    fresh.mkdir()
    _write_stamp(fresh / environment.stamp.name, {})
    if directory.exists():
        directory.rename(directory.with_name(f".venv.{os.getpid()}.old"))
    fresh.rename(directory)
    for suffix in ("old", "new"):
        for left_over in directory.parent.glob(f".venv.*.{suffix}"):
            shutil.rmtree(left_over, ignore_errors=True)


def _write_stamp(path: Path, content: dict[str, str]) -> None:
    """Replace the stamp in one step."""
    fresh = path.with_suffix(".new")
    fresh.write_text(json.dumps(content))
    fresh.replace(path)


def _install(environment: Environment, parts: Sequence[str], turn: int) -> None:
    """Install parts of the lock, each requirement pinned and hashed, with pip."""
    requirements = "".join(environment.lock[part] for part in parts)
    say("installing requirements.lock, hashes checked (about half a minute)")
    listed = environment.directory / "wanted.txt"
    listed.write_text(requirements)
    pip = [str(environment.python), "-m", "pip", "--disable-pip-version-check"]
    # The lock is complete, so pip need not look for dependencies; and wheels alone,
    # since building a source distribution would fetch tools that carry no hash.
    pip += ["install", "--no-deps", "--only-binary=:all:", "--require-hashes"]
    _run([*pip, "--no-input", "-r", str(listed)], turn)


def _run(command: Sequence[str], turn: int) -> None:
    """Run a step in silence; show what it said only if it fails."""
    with tempfile.TemporaryFile() as output:
        done = subprocess.run(
            command,
            stdin=subprocess.DEVNULL,
            stdout=output,
            stderr=subprocess.STDOUT,
            pass_fds=[turn],
        )
        if done.returncode == 0:
            return
        output.seek(0)
        sys.stderr.write(output.read().decode(errors="replace"))
    raise SetUpError(
        "the environment could not be made, for the reason above; start again when "
        "it is mended (every start begins afresh)",
        1,
    )


def hand_over(argv: Sequence[str]) -> NoReturn:
    """Start a command again where Django can be imported; never return.

    argv: as in sys.argv, the path of manage.py first.
    """
    set_up(argv[1] if len(argv) > 1 else "help")
    python = str(Environment().python)
    # An exec keeps the process's number and a child has its own: so the mark counts
    # the starts of this very command, and means nothing to what it starts itself.
    os.environ[HANDED_OVER] = f"{os.getpid()}:{_hand_overs() + 1}"
    try:
        os.execv(python, [python, *argv])
    except OSError as error:
        sys.exit(f"Set-up: {python} cannot be started ({error}); move .venv away")


def set_up(command: str) -> None:
    """Provide what a command needs; end the process with one line if it cannot be."""
    try:
        _refuse_what_cannot_work()
        environment = Environment()
        # Handed over and yet no Django: so it is after an upgrade of the system's
        # Python, which no longer looks where the old one put the packages.
        anew = environment.is_running() or _hand_overs() > 0
        making = anew or not environment.is_ready(command)
        provide_packages(command, makes_environment=making)
        prepare(command, anew=anew)
    except SetUpError as error:
        print(f"Set-up: {error}", file=sys.stderr)
        sys.exit(error.exit_code)
    except KeyboardInterrupt:
        print("Set-up: stopped; the next start begins afresh", file=sys.stderr)
        sys.exit(130)


def _hand_overs() -> int:
    """Return how often this process has been handed over already."""
    process, _, count = os.environ.get(HANDED_OVER, "").partition(":")
    return int(count) if process == str(os.getpid()) else 0


def _refuse_what_cannot_work() -> None:
    """Refuse an old Python, and a hand-over that would lead back here for ever."""
    if sys.version_info < OLDEST_PYTHON:
        wanted, found = (
            ".".join(map(str, version))
            for version in (OLDEST_PYTHON, sys.version_info[:3])
        )
        raise SetUpError(f"Python {wanted} or later is needed; this is {found}")
    if os.name != "posix":
        raise SetUpError(
            "on this system make an environment by hand (python -m venv, then pip "
            "install --require-hashes -r requirements.lock) and use its python"
        )
    environment = Environment()
    inside = environment.is_running() or _hand_overs() > 0
    if inside and environment.is_by_hand():
        raise SetUpError(
            ".venv was made by hand and lacks Django: install requirements.lock into "
            "it with pip, or move it away and start again"
        )
    if _hand_overs() > 1:
        raise SetUpError("Django cannot be imported from .venv; remove it, try again")


if __name__ == "__main__":  # python3 -m registry.bootstrap test: set up, no more
    set_up(sys.argv[1] if len(sys.argv) > 1 else "help")
