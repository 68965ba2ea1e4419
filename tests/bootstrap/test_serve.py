"""The server for real use: what it refuses, and what it says to a browser."""

import http.client
import os
import socket
import subprocess
import sys
from contextlib import closing, contextmanager

import pytest

from registry.bootstrap import ROOT

SETTINGS = {
    "REGISTRY_MODE": "production",
    "REGISTRY_SECRET_KEY": "mT2-qX9_" * 8,
    "REGISTRY_HOSTS": "registry.example.org",
    "REGISTRY_PROXY": "127.0.0.1",
    "DATABASE_URL": "",
}


def manage(directory, *arguments, **options):
    # Not test mode's own directory: production keeps its files where it is told.
    kept = {k: v for k, v in os.environ.items() if not k.startswith("DJANGO_")}
    return subprocess.Popen(
        [sys.executable, "-u", "manage.py", *arguments],
        cwd=ROOT,
        env=kept | SETTINGS | {"REGISTRY_DATA": str(directory)} | options,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )


@pytest.fixture(scope="module")
def migrated(tmp_path_factory):
    directory = tmp_path_factory.mktemp("production")
    process = manage(directory, "migrate", "--verbosity", "0")
    assert process.wait() == 0, process.stderr.read()
    return directory


def free_port():
    with closing(socket.socket()) as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


@contextmanager
def serving(directory):
    port = free_port()
    process = manage(directory, "serve", "--port", str(port))
    try:
        line = process.stdout.readline()
        assert line == f"serve: listening on http://127.0.0.1:{port}/\n", (
            process.stderr.read()
        )
        yield port
    finally:
        process.terminate()
        process.wait()


def answer(port, path, **headers):
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=10)
    sent = {"Host": "registry.example.org", "X-Forwarded-Proto": "https"}
    connection.request("GET", path, headers=sent | headers)
    response = connection.getresponse()
    body = response.read()
    connection.close()
    return response, body


def test_a_database_that_is_not_up_to_date_is_not_served(tmp_path):
    process = manage(tmp_path, "serve")
    _, words = process.communicate()
    assert process.returncode == 1
    assert "run 'python3 manage.py migrate'" in words
    assert words.count("\n") == 1


def test_a_port_in_use_is_said_in_one_line(migrated):
    with closing(socket.socket()) as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        process = manage(migrated, "serve", "--port", str(port))
        _, words = process.communicate()
    assert process.returncode == 1
    assert "choose another with --port" in words
    assert words.count("\n") == 1


def test_without_production_settings_only_this_machine_is_served(migrated):
    process = manage(
        migrated, "serve", "--host", "0.0.0.0", REGISTRY_MODE="development"
    )
    _, words = process.communicate()
    assert process.returncode == 2
    assert "set REGISTRY_MODE=production" in words


def test_a_browser_is_told_to_be_strict(migrated):
    with serving(migrated) as port:
        page, _ = answer(port, "/")
        plain, _ = answer(port, "/", **{"X-Forwarded-Proto": "http"})
        stranger, _ = answer(port, "/", Host="elsewhere.example.com")

    assert page.status in {200, 302}
    policy = page.headers["Content-Security-Policy"]
    assert "default-src 'self'" in policy
    assert "unsafe" not in policy
    assert page.headers["X-Frame-Options"] == "DENY"
    assert page.headers["Referrer-Policy"] == "same-origin"
    assert page.headers["Strict-Transport-Security"].startswith("max-age=31536000")
    assert plain.status == 301
    assert plain.headers["Location"] == "https://registry.example.org/"
    assert stranger.status == 400


def test_style_sheets_are_sent_compressed_and_kept_for_good(migrated):
    with serving(migrated) as port:
        sheets = [
            path.relative_to(migrated)
            for path in (migrated / "static" / "registry").rglob("*.css")
            if path.name.count(".") == 2
        ]
        assert sheets
        response, _ = answer(port, f"/{sheets[0]}", **{"Accept-Encoding": "gzip"})
    assert response.status == 200
    assert response.headers["Content-Encoding"] == "gzip"
    assert "immutable" in response.headers["Cache-Control"]
