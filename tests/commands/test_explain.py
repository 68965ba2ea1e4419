"""`manage.py explain`: the reasoning of a container, on any day, as then known."""

import json
from datetime import timedelta
from io import StringIO
from types import SimpleNamespace

import pytest
from django.core.management import call_command
from django.core.management.base import CommandError

from registry.models import DisposalItem
from registry.usecases.cases import record_case_event
from tests import given

pytestmark = pytest.mark.django_db

LONG_AGO = given.NOW - timedelta(days=300)
LATELY = given.NOW - timedelta(days=3)


def explained(number: str, *options: str) -> dict:
    out = StringIO()
    call_command("explain", number, "--json", *options, stdout=out)
    return json.loads(out.getvalue())


@pytest.fixture
def scene():
    return given.a_scene(at=LONG_AGO)


def test_exactly_one_step_decides_and_it_names_its_clause(scene):
    box = given.a_shelved_box(scene, at=LONG_AGO)
    told = explained(box.number, "--as-of", given.TODAY.isoformat())
    (deciding,) = [step for step in told["steps"] if step["decides"]]
    assert deciding["date"] == told["retain_through"]
    assert deciding["clause"]
    assert told["is_over"] is True


def test_what_was_entered_late_counts_but_was_not_known_before(scene):
    """Two clocks: when it happened, and when the register learnt of it."""
    box = given.a_shelved_box(scene, at=LONG_AGO)
    given.a_case(scene, occurred_on=given.DECLARED, at=LATELY)
    day = (given.NOW - timedelta(days=10)).date()
    now_known = explained(box.number, "--as-of", day.isoformat())
    then_known = explained(
        box.number, "--as-of", day.isoformat(), "--known-at", day.isoformat()
    )
    assert now_known["reason"] == "case-pending"
    assert then_known["reason"] == "period-over"


def test_a_decision_recorded_today_does_not_change_what_was_known_yesterday(scene):
    box = given.a_shelved_box(scene, at=LONG_AGO)
    case = given.a_case(scene, occurred_on=given.DECLARED, at=LATELY)
    yesterday = given.NOW - timedelta(days=1)
    before = explained(box.number, "--known-at", yesterday.isoformat())
    record_case_event(
        case=case,
        kind="finally-disposed-of",
        level="final",
        occurred_on=given.DECLARED + timedelta(days=90),
        paper="Judgment",
        actor=scene.cast.legal,
        at=given.NOW,
    )
    after = explained(box.number, "--known-at", yesterday.isoformat())
    assert before == after
    assert explained(box.number)["reason"] != "case-pending"


def test_a_container_is_not_known_before_it_was_logged(scene):
    box = given.a_shelved_box(scene, at=given.NOW)
    with pytest.raises(CommandError, match="not yet in the register"):
        explained(box.number, "--known-at", LONG_AGO.isoformat())


def disposed_box(scene):
    """A box disposed of on NOW, under a permission countersigned three days before."""
    box = given.a_shelved_box(scene, at=LONG_AGO)
    given.a_confirmation(scene, at=LATELY)
    permission = given.a_permission(
        scene,
        [box.number],
        at=LATELY,
        dated=LATELY.date(),
        valid_from=LATELY.date(),
    )
    given.a_checked_seal(scene, box.number)
    given.disposed_of(scene, box.number, permission)
    return box


LATER = given.NOW + timedelta(days=40)


def test_what_the_register_said_when_a_disposal_was_done_is_told_to_the_letter(
    scene, monkeypatch
):
    """Audit question 13: recompute as known then, and as known now (audit_questions.md,
    13): the reasoning that was stored with the disposal is the test."""
    box = disposed_box(scene)
    (stored,) = [item.reasoning for item in DisposalItem.objects.filter(box=box)]
    given.a_case(scene, occurred_on=given.DECLARED, at=LATER)
    monkeypatch.setattr(
        "registry.management.base.timezone", SimpleNamespace(now=lambda: LATER)
    )
    then = explained(box.number, "--when", "disposed")
    for name in set(stored) - {"steps"}:
        assert then[name] == stored[name], name
    assert [
        {name: step[name] for name in ("date", "text", "decides")}
        for step in then["steps"]
    ] == stored["steps"]
    now = explained(box.number, "--as-of", then["as_of"])
    assert (then["reason"], now["reason"]) == ("period-over", "case-pending")


def test_what_the_register_said_on_the_day_a_disposal_was_permitted(scene):
    """Issue 3: one command, exactly. A case that was entered between the permission
    and the disposal was not known when it was permitted."""
    box = given.a_shelved_box(scene, at=LONG_AGO)
    permission = given.a_permission(
        scene, [box.number], at=LATELY, dated=LATELY.date(), valid_from=LATELY.date()
    )
    said = explained(box.number, "--known-at", LATELY.isoformat())
    given.a_case(scene, occurred_on=given.DECLARED, at=given.NOW)
    assert explained(box.number)["reason"] == "case-pending"
    assert explained(box.number, "--when", "permitted") == said
    assert said["as_of"] == LATELY.date().isoformat()
    assert permission


@pytest.mark.parametrize("when", ["permitted", "disposed"])
def test_a_moment_that_never_was_is_no_question(scene, when):
    box = given.a_shelved_box(scene, at=LONG_AGO)
    with pytest.raises(CommandError, match=r"has (not )?been"):
        explained(box.number, "--when", when)
    with pytest.raises(CommandError, match="not both"):
        explained(box.number, "--when", when, "--known-at", "2026-01-01")
