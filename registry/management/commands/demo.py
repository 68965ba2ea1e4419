"""Set up the demo, once, and serve it on this machine alone."""

import fcntl
import hashlib
import shutil
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import CommandParser
from django.db import connection

from registry.management.base import Refused, RegistryCommand, WrongUsage
from registry.management.commands.serve import listen
from registry.management.demo import scenario
from registry.usecases.people import anybody_appointed

ADDRESS = "127.0.0.1"
DEFAULT_PORT = 8000


class Command(RegistryCommand):
    help = "Set up the demo of an invented country's election and serve it here."
    requires_system_checks = ()  # there may be no database yet

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--port", type=int, default=DEFAULT_PORT)
        parser.add_argument(
            "--no-serve", action="store_true", help="set up only, do not serve"
        )
        parser.add_argument(
            "--fresh", action="store_true", help="start over, after asking"
        )

    def handle(self, *, port: int, no_serve: bool, fresh: bool, **options: Any) -> None:
        if settings.MODE != "demo":
            raise Refused(f"the demo does not run with REGISTRY_MODE={settings.MODE}")
        if not 1 <= port <= 65535:
            raise WrongUsage("--port must lie between 1 and 65535")
        with self._alone():
            if fresh:
                self._ask_and_remove()
            self._set_up()
        if no_serve:
            self._tell(port)
            return
        listen(ADDRESS, port, settings.THREADS, lambda: self._tell(port))

    @contextmanager
    def _alone(self) -> Iterator[None]:
        """Set up one at a time, or a second start takes the first for cut short."""
        with (Path(settings.DATA) / "set-up.lock").open("w") as lock:
            try:
                fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
            except OSError as error:
                raise Refused(
                    "the demo is being set up by another start; wait for that one"
                ) from error
            yield

    @property
    def _mark(self) -> Path:
        """The file that says the scenario was loaded to its end, into this database."""
        named = settings.DATABASES["default"]
        where = [str(named.get(part) or "") for part in ("HOST", "PORT", "NAME")]
        digest = hashlib.sha256("\n".join(where).encode()).hexdigest()[:12]
        return Path(settings.DATA) / f"scenario-loaded-{digest}"

    def _set_up(self) -> None:
        call_command("migrate", verbosity=0, interactive=False)
        if anybody_appointed():
            if self._mark.exists():
                return
            # Killed while it was being loaded: half a scenario helps nobody.
            self._say("the last set-up was cut short; starting over")
            self._remove()
            call_command("migrate", verbosity=0, interactive=False)
        self._say("loading the scenario (half a minute, the first time only)")
        scenario.load(self.today, self.at, self._say)
        self._mark.touch()

    def _say(self, line: str) -> None:
        self.stdout.write(f"demo: {line}")
        self.stdout.flush()

    def _ask_and_remove(self) -> None:
        if not self._database().exists() and not self._mark.exists():
            return
        self.stdout.write(
            "This removes everything that was entered in the demo. Type yes to go on: ",
            ending="",
        )
        self.stdout.flush()
        if sys.stdin.readline().strip().lower() != "yes":
            raise Refused("nothing was removed")
        self._remove()

    def _database(self) -> Path:
        return Path(str(settings.DATABASES["default"]["NAME"]))

    def _remove(self) -> None:
        """Remove the demo's own files; never a database of somebody else's."""
        if connection.vendor != "sqlite":
            raise Refused(
                "the demo starts over only in its own SQLite file; drop and create "
                "the PostgreSQL database yourself, then start the demo again"
            )
        connection.close()
        self._mark.unlink(missing_ok=True)
        for ending in ("", "-wal", "-shm"):
            Path(f"{self._database()}{ending}").unlink(missing_ok=True)
        shutil.rmtree(settings.MEDIA_ROOT, ignore_errors=True)

    def _tell(self, port: int) -> None:
        lines = [
            "",
            f"The demo is at http://{ADDRESS}:{port}/",
            f"Log in with any of these names; the password is: {scenario.PASSWORD}",
        ]
        roles = {username: (name, post) for username, name, _, post in scenario.PEOPLE}
        for username in scenario.SHOWN_LOG_INS:
            name, post = roles[username]
            lines.append(f"  {username:<6} {name}, {post}")
        lines.append("Ctrl-C stops it. What you enter is kept for the next start.")
        for line in lines:
            self.stdout.write(line)
        self.stdout.flush()
