"""Serve the registry for real use, with a production WSGI server."""

import signal
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from types import FrameType
from typing import Any

import waitress
from django.conf import settings
from django.contrib.staticfiles.finders import get_finders
from django.core import checks
from django.core.management import call_command
from django.core.management.base import CommandParser
from django.core.wsgi import get_wsgi_application
from django.db import connection
from django.db.migrations.executor import MigrationExecutor

from registry.management.base import Refused, RegistryCommand, WrongUsage

LOOPBACK = {"127.0.0.1", "::1", "localhost"}
# Room round an uploaded file for the rest of its form.
FORM_BYTES = 1024 * 1024


class Command(RegistryCommand):
    help = "Serve the registry with a production server (REGISTRY_MODE=production)."
    requires_system_checks = ()  # done in handle(), one line for each problem

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--host", default="127.0.0.1", help="address to listen on")
        parser.add_argument("--port", type=int, default=8000, help="port to listen on")

    def handle(self, *, host: str, port: int, **options: Any) -> None:
        if settings.MODE != "production" and host not in LOOPBACK:
            raise WrongUsage(
                f"in {settings.MODE} mode only 127.0.0.1 may be listened on; "
                "set REGISTRY_MODE=production"
            )
        refuse_pending_migrations()
        refuse_failing_checks()
        collect_static_files()
        line = f"serve: listening on http://{host}:{port}/"
        listen(host, port, settings.THREADS, lambda: self.stdout.write(line))


def refuse_pending_migrations() -> None:
    """Raise Refused if the database is not up to date with the code."""
    executor = MigrationExecutor(connection)
    plan = executor.migration_plan(executor.loader.graph.leaf_nodes())
    if plan:
        raise Refused(
            f"{len(plan)} migrations are not applied: back up the database, then run "
            "'python3 manage.py migrate'"
        )


def refuse_failing_checks() -> None:
    """Raise Refused if Django's checks, or ours, find an error."""
    found = checks.run_checks(
        include_deployment_checks=settings.MODE == "production",
        databases=["default"],
    )
    errors = [
        f"{e.id} {e.msg}" for e in found if e.is_serious() and not e.is_silenced()
    ]
    if errors:
        raise Refused("; ".join(errors))


def collect_static_files() -> None:
    """Collect and compress style sheets and scripts, if any is new since last time."""
    manifest = Path(settings.STATIC_ROOT) / "staticfiles.json"
    if settings.MODE != "production":
        return
    collected = manifest.stat().st_mtime if manifest.exists() else 0
    if any(path.stat().st_mtime > collected for path in _static_sources()):
        call_command("collectstatic", interactive=False, clear=True, verbosity=0)


def _static_sources() -> Iterator[Path]:
    for finder in get_finders():
        for name, storage in finder.list([]):
            yield Path(storage.path(name))


def listen(
    host: str, port: int, threads: int, when_ready: Callable[[], object]
) -> None:
    """Serve until Ctrl-C or SIGTERM.

    when_ready: called once, when the port is ours and before the first request.
    Raises Refused: the port cannot be had.
    """
    application = get_wsgi_application()
    try:
        server = waitress.create_server(
            application,
            host=host,
            port=port,
            threads=threads,
            ident=None,
            max_request_body_size=settings.UPLOAD_LIMIT + FORM_BYTES,
            **_proxy_options(),
        )
    except (OSError, OverflowError, ValueError) as error:
        raise Refused(
            f"cannot listen on {host}:{port} ({error}): choose another with --port"
        ) from error
    signal.signal(signal.SIGTERM, _stop)
    when_ready()
    try:
        server.run()  # Ctrl-C and SystemExit end it when the requests at hand are done
    finally:
        server.close()


def _proxy_options() -> dict[str, Any]:
    """Believe X-Forwarded-… from the one named proxy alone."""
    if not settings.PROXY:
        return {}
    return {
        "trusted_proxy": settings.PROXY,
        "trusted_proxy_headers": {"x-forwarded-for", "x-forwarded-proto"},
        "clear_untrusted_proxy_headers": True,
    }


def _stop(signum: int, frame: FrameType | None) -> None:
    sys.exit(0)
