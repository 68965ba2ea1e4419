"""`load-schedule`, `list-schedules` and `compare-schedules`: read by programs too."""

import json
from io import StringIO

import pytest
from django.core.management import call_command
from django.core.management.base import CommandError

from registry.models import Election, RetentionSchedule
from tests import given

pytestmark = pytest.mark.django_db

TEXT = given.SCHEDULE_FILE.read_text()


def ran(*words: str) -> str:
    out = StringIO()
    call_command(*words, stdout=out)
    return out.getvalue()


@pytest.fixture
def longer(tmp_path) -> str:
    """The next version, in which slips are kept for two years."""
    path = tmp_path / "calvenna-4.toml"
    text = TEXT.replace("version = 3", "version = 4")
    path.write_text(text.replace("length = 12", "length = 24"))
    return str(path)


def test_a_schedule_is_loaded_once(longer):
    told = json.loads(ran("load-schedule", longer, "--json"))
    assert set(told) == {"number", "code", "version", "in_force_from", "sha256"}
    assert (told["code"], told["version"]) == ("calvenna", 4)
    assert told["number"] in ran("load-schedule", longer)
    assert RetentionSchedule.objects.count() == 1


def test_every_problem_names_file_line_and_key(tmp_path):
    path = tmp_path / "draft.toml"
    path.write_text(TEXT.replace("length = 45", "length = 0").replace("P-5", "P-9"))
    with pytest.raises(CommandError) as refused:
        ran("load-schedule", str(path))
    assert refused.value.returncode == 1
    assert str(refused.value).count("draft.toml, line ") == 2
    out = StringIO()
    with pytest.raises(CommandError):
        call_command("load-schedule", str(path), "--json", stdout=out)
    assert len(json.loads(out.getvalue())["problems"]) == 2
    assert not RetentionSchedule.objects.exists()


def test_a_version_with_another_text_is_refused(tmp_path, longer):
    ran("load-schedule", longer)
    path = tmp_path / "other.toml"
    path.write_text(TEXT.replace("version = 3", "version = 4"))
    with pytest.raises(CommandError, match="Give the amended schedule a new version"):
        ran("load-schedule", str(path))


@pytest.mark.parametrize("content", [None, b"\xff\xfe\x00"])
def test_a_file_that_cannot_be_read_is_wrong_usage(tmp_path, content):
    path = tmp_path / "draft.toml"
    if content is not None:
        path.write_bytes(content)
    with pytest.raises(CommandError) as wrong:
        ran("load-schedule", str(path))
    assert wrong.value.returncode == 2


def test_schedules_are_listed(longer):
    assert "No schedule" in ran("list-schedules")
    number = json.loads(ran("load-schedule", longer, "--json"))["number"]
    (row,) = json.loads(ran("list-schedules", "--json"))
    assert (row["number"], row["version"], row["elections"]) == (number, 4, 0)
    assert row["to_be_confirmed"] is False
    assert "calvenna:4" in ran("list-schedules")


def test_two_versions_are_compared_and_what_the_change_does(longer):
    scene = given.a_scene()
    given.a_shelved_box(scene)
    ran("load-schedule", longer)
    told = json.loads(
        ran("compare-schedules", "calvenna:3", "calvenna:4", "--json",
            "--election", "general")
    )  # fmt: skip
    assert set(told) == {"before", "after", "changes", "effect", "note"}
    assert {c["about"][0] for c in told["changes"]} == {
        "poll slips",
        "mock-poll slips",
    }
    effect = told["effect"]
    assert (effect["later"], effect["earlier"], effect["unchanged"]) == (2, 0, 0)
    held = [row for row in effect["rows"] if row["containers"]]
    assert [(row["effect"], row["containers"]) for row in held] == [("later", 2)]
    assert Election.objects.get().schedule.version == 3
    text = ran("compare-schedules", "calvenna:3", "calvenna:4", "--election", "general")
    assert "later 2, earlier 0, unchanged 0" in text


def test_a_file_is_compared_before_it_is_loaded(longer):
    given.a_scene()
    text = ran("compare-schedules", "calvenna:3", longer)
    assert "was: 12 months" in text
    assert "is now: 24 months" in text
    assert not RetentionSchedule.objects.filter(version=4).exists()


@pytest.mark.parametrize(
    "words",
    [
        ("calvenna:3", "calvenna:9"),
        ("calvenna:3", "nowhere.toml"),
        ("calvenna:3", "calvenna:3", "--election", "nowhere"),
    ],
)
def test_what_is_not_there_is_wrong_usage(words):
    given.a_scene()
    with pytest.raises(CommandError) as wrong:
        ran("compare-schedules", *words)
    assert wrong.value.returncode == 2


def test_the_effect_is_shown_against_the_version_that_is_pinned(longer):
    given.a_scene()
    ran("load-schedule", longer)
    with pytest.raises(CommandError, match="is pinned to calvenna, version 3"):
        ran("compare-schedules", "calvenna:4", "calvenna:3", "--election", "general")
