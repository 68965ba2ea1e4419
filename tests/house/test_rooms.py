"""The rules of the house that imports and ruff cannot see (DEVELOPERS.md)."""

import ast
import pkgutil
import re
import subprocess
import sys
from pathlib import Path

import pytest
from django.conf import settings

import registry.rules

ROOT = settings.ROOT
CODE = ROOT / "registry"
WRITES = {
    *("save", "create", "bulk_create", "update", "bulk_update", "delete"),
    *("get_or_create", "update_or_create", "select_for_update"),
    *("asave", "acreate", "aupdate", "adelete", "bulk_create_with_history"),
}
FORBIDDEN_NAMES = {
    *("utils", "helpers", "common", "managers", "signals", "exceptions", "admin"),
}
CLOCK_ROOMS = {"web/middleware.py", "management/base.py"}


def calls(tree: ast.AST) -> set[str]:
    """Return the names of the methods called anywhere in a module."""
    return {
        node.func.attr
        for node in ast.walk(tree)
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute)
    }


def test_queries_never_write():
    guilty = {
        path.name: found
        for path in (CODE / "queries").rglob("*.py")
        if (found := calls(ast.parse(path.read_text())) & WRITES)
    }
    assert not guilty


def test_rules_import_where_django_cannot():
    names = [
        module.name
        for module in pkgutil.walk_packages(registry.rules.__path__, "registry.rules.")
    ]
    assert names
    program = "import sys; sys.modules['django'] = None\n" + "\n".join(
        f"import {name}" for name in names
    )
    subprocess.run([sys.executable, "-c", program], cwd=ROOT, check=True)


def test_rooms_import_only_what_their_contracts_allow():
    done = subprocess.run(
        [sys.executable, "-c", "from importlinter.cli import lint_imports as l; "
         "raise SystemExit(l(no_cache=True))"],
        cwd=ROOT,
        capture_output=True,
        text=True,
    )  # fmt: skip
    assert done.returncode == 0, done.stdout


def test_there_is_no_second_door():
    assert not [app for app in settings.INSTALLED_APPS if "django.contrib.admin" in app]


def test_no_module_is_a_drawer_for_odds_and_ends():
    assert not [p for p in CODE.rglob("*.py") if p.stem in FORBIDDEN_NAMES]


def test_the_clock_is_read_in_two_places_only():
    readers = {
        str(path.relative_to(CODE))
        for path in CODE.rglob("*.py")
        if re.search(r"noqa:.*TID251", path.read_text())
    }
    assert readers <= CLOCK_ROOMS


def test_the_local_day_is_only_worked_out_from_a_given_moment():
    bare = re.compile(r"\b(?:localdate|localtime|now|today|utcnow)\(\)")
    guilty = {
        str(path.relative_to(CODE)): found
        for path in CODE.rglob("*.py")
        if (found := bare.findall(path.read_text()))
    }
    assert guilty.keys() <= CLOCK_ROOMS


@pytest.mark.parametrize("folder", ["registry/rules", "registry/queries"])
def test_every_module_says_what_it_is_for(folder):
    silent = [
        path.name
        for path in Path(ROOT, folder).glob("*.py")
        if path.read_text().strip()
        and not ast.get_docstring(ast.parse(path.read_text()))
    ]
    assert not silent
