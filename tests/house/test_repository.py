"""What the repository holds: the named top level, no addresses, hashes for all."""

import re
import shutil
import subprocess
import tomllib

import pytest
from django.conf import settings

from registry.bootstrap import lock_parts

ROOT = settings.ROOT
TOP_LEVEL = {
    *("README.md", "DEVELOPERS.md", "LICENSE", "manage.py", "pyproject.toml"),
    *("requirements.lock", "registry", "templates", "fixtures", "tests"),
}
# Put together here, so that this file does not hold what it looks for.
REGISTRY_HOSTS = [
    ".".join(parts)
    for parts in (("pypi", "org"), ("pythonhosted", "org"), ("npmjs", "org"))
]
MACHINE_PATHS = ["/".join(("", *parts, "")) for parts in (("root",), ("work", "main"))]
INDEX_OPTION = re.compile(r"(?<!no-emit-)(?:extra-)?\bindex-url|--find-links")


def tracked_files():
    """Return what git tracks (whoever owns the clone), or all that was unpacked."""
    if not ((ROOT / ".git").exists() and shutil.which("git")):
        found = (path.relative_to(ROOT) for path in ROOT.rglob("*") if path.is_file())
        return [str(path) for path in found if path.parts[0][0] != "."]
    command = ["git", "-c", "safe.directory=*", "ls-files", "-z"]
    listed = subprocess.run(command, cwd=ROOT, capture_output=True, check=True)
    return [name for name in listed.stdout.decode().split("\0") if name]


def tracked_texts():
    for name in tracked_files():
        path = ROOT / name
        if path.is_file() and b"\0" not in (content := path.read_bytes()):
            yield name, content.decode(errors="replace")


def requirements(part):
    """Return {name: number of hashes} for one part of the lock."""
    text = lock_parts((ROOT / "requirements.lock").read_text())[part]
    entries = re.findall(r"^[a-z0-9].*\n(?:    .*\n)*", text, flags=re.MULTILINE)
    return {
        entry.partition("==")[0]: len(re.findall(r"--hash=sha256:[0-9a-f]{64}", entry))
        for entry in entries
    }


def named(dependencies):
    """Return the normalised names in a list of dependencies (PEP 503)."""
    names = (re.match(r"[\w.-]+", line).group() for line in dependencies)
    return {re.sub(r"[-_.]+", "-", name).lower() for name in names}


def test_the_visible_top_level_holds_only_what_was_agreed():
    visible = {name.split("/")[0] for name in tracked_files() if name[0] != "."}
    assert visible <= TOP_LEVEL


def test_what_is_written_at_run_time_is_never_tracked():
    lines = (ROOT / ".gitignore").read_text().split()
    assert {".data", ".venv"} <= {line.strip("/") for line in lines}


@pytest.mark.parametrize("address", REGISTRY_HOSTS + MACHINE_PATHS)
def test_no_file_names_a_package_index_or_a_machine_path(address):
    assert not [name for name, text in tracked_texts() if address in text]


def test_no_file_chooses_a_package_index():
    guilty = [name for name, text in tracked_texts() if INDEX_OPTION.search(text)]
    assert set(guilty) <= {"tests/house/test_repository.py"}


@pytest.mark.parametrize("part", ["run", "test"])
def test_every_requirement_in_the_lock_has_hashes(part):
    found = requirements(part)
    assert found
    assert all(found.values()), found


def test_the_lock_holds_what_the_project_asks_for():
    project = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]
    run, test = requirements("run"), requirements("test")
    assert named(project["dependencies"]) <= run.keys()
    assert named(project["optional-dependencies"]["test"]) <= run.keys() | test.keys()
