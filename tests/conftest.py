"""What every test shares: a database that may be emptied, and nothing skipped."""

import os
from collections.abc import Iterator

import hypothesis
import pytest
from django.apps import apps
from django.conf import settings
from django.db import connections
from django.test import TransactionTestCase

from registry.models import guards

# A shared machine is slow at times; that says nothing about the code.
hypothesis.settings.register_profile("registry", deadline=None)
hypothesis.settings.load_profile("registry")


def pytest_configure(config: pytest.Config) -> None:
    if settings.MODE != "test":
        pytest.exit(f"REGISTRY_MODE is {settings.MODE}: unset it to run tests", 2)
    # Playwright's loop runs in the thread in which fixtures use the database.
    os.environ.setdefault("DJANGO_ALLOW_ASYNC_UNSAFE", "true")


def pytest_report_header() -> str:
    return f"database: {settings.DATABASES['default']['ENGINE'].rpartition('.')[2]}"


# A test that does not run proves nothing, and nobody reads a skip: it counts as a
# failure, and so does a test that is expected to fail.


def refuse_to_skip(report: pytest.TestReport | pytest.CollectReport) -> None:
    """Turn a skip, or an expected failure, into a failure that says so."""
    if report.skipped or hasattr(report, "wasxfail"):
        reason = getattr(report, "wasxfail", None) or report.longrepr
        report.outcome = "failed"
        report.longrepr = f"Nothing may be skipped here, yet this was: {reason}"
        vars(report).pop("wasxfail", None)


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport() -> Iterator[None]:
    report = yield
    refuse_to_skip(report)
    return report


@pytest.hookimpl(wrapper=True)
def pytest_make_collect_report() -> Iterator[None]:
    report = yield
    refuse_to_skip(report)
    return report


@pytest.fixture(scope="session", autouse=True)
def flush_past_the_guards() -> Iterator[None]:
    """Lift the triggers while a transactional test's tables are emptied.

    Django empties them with DELETE or TRUNCATE, which is just what they forbid.
    """
    empty_tables = TransactionTestCase._fixture_teardown

    def empty_tables_past_the_guards(case: TransactionTestCase) -> None:
        registry = apps.get_app_config("registry")
        for alias in case._databases_names(include_mirrors=False):
            guards.remove(connections[alias], registry)
        empty_tables(case)
        for alias in case._databases_names(include_mirrors=False):
            if guards.missing(connections[alias], registry):
                guards.install(connections[alias], registry)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(
            TransactionTestCase, "_fixture_teardown", empty_tables_past_the_guards
        )
        yield


@pytest.fixture(autouse=True)
def documents_apart(settings: object, tmp_path_factory: pytest.TempPathFactory) -> None:
    """Keep the papers that one test hands in away from every other test."""
    settings.MEDIA_ROOT = tmp_path_factory.mktemp("documents")


@pytest.fixture(scope="session")
def chromium_path() -> str:
    """The browser to walk the pages with; `manage.py test` sees to it."""
    from registry.machine import chromium

    path = chromium()
    assert path, "Chromium is missing: apt-get install -y chromium"
    return path
