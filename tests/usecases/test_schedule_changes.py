"""An election moved to another version: shown first, adopted by an order, as known."""

from datetime import timedelta

import pytest

from registry.models import Contest, Election, ScheduleChange
from registry.queries.keeping import Keeper
from registry.rules.powers import PowerMissing
from registry.rules.schedules import ContentKind
from registry.usecases import Mistaken, NotThere, Refused
from registry.usecases.schedule_changes import (
    Counts,
    change_election_schedule,
    look_at_election_schedule,
    preview_schedule_change,
)
from registry.usecases.schedules import (
    ScheduleText,
    adopt_schedule,
    compare_schedules,
)
from tests import given

pytestmark = pytest.mark.django_db

TEXT = given.SCHEDULE_FILE.read_text()
TWELVE = 'length = 12\nunit = "months"'
assert TWELVE in TEXT


@pytest.fixture
def scene():
    return given.a_scene()


@pytest.fixture
def act(scene):
    return {"actor": scene.cast.administrator, "at": given.NOW}


def version(act, number: int, months: int = 12, **changes: str) -> str:
    """Another version, in which slips are kept for so many months."""
    text = TEXT.replace("version = 3", f"version = {number}")
    text = text.replace(TWELVE, f'length = {months}\nunit = "months"')
    for old, new in changes.values():
        assert old in text
        text = text.replace(old, new)
    return adopt_schedule(text=text, file_name=f"calvenna-{number}.toml", **act)


def pinned() -> str:
    return Election.objects.get().schedule.number


def test_two_years_in_place_of_one_keep_what_is_held_longer(scene, act):
    """Failure mode 31: the rule of law changes from one year to two."""
    given.a_shelved_box(scene)
    longer = version(act, 4, months=24)
    found = preview_schedule_change(election="general", schedule=longer, **act)
    assert found.counts == Counts(later=2, earlier=0, unchanged=0)
    (held,) = [row for row in found.effects.rows if row.containers]
    assert held.contest == "11 Harbour Reach"
    assert held.before is not None
    assert held.after == held.before.replace(year=held.before.year + 1)
    assert pinned() != longer
    change = change_election_schedule(
        election="general",
        schedule=longer,
        order="ESC/Evidence/2026/4",
        seen=found.counts,
        **act,
    )
    assert pinned() == longer
    row = ScheduleChange.objects.get(number=change)
    assert (row.later, row.earlier, row.unchanged) == (2, 0, 0)
    told = look_at_election_schedule(election=scene.election, **act)
    assert told.changes[0].order == "ESC/Evidence/2026/4"


def test_an_earlier_end_is_never_applied_without_saying_so(scene, act):
    given.a_shelved_box(scene)
    shorter = version(act, 4, months=6)
    found = preview_schedule_change(election="general", schedule=shorter, **act)
    assert found.counts == Counts(later=0, earlier=2, unchanged=0)
    asked = {
        "election": "general",
        "schedule": shorter,
        "order": "ESC/Evidence/2026/4",
        "seen": found.counts,
    }
    before = pinned()
    with pytest.raises(Mistaken) as mistaken:
        change_election_schedule(**asked, **act)
    assert set(mistaken.value.errors) == {"earlier_accepted_because"}
    assert pinned() == before
    assert not ScheduleChange.objects.exists()
    because = "section 4 of the amending order names what is held already"
    change_election_schedule(**asked, earlier_accepted_because=because, **act)
    assert ScheduleChange.objects.get().earlier_accepted_because == because
    assert pinned() == shorter


def test_a_shorter_time_for_what_is_still_to_come_in_is_said_as_well(scene, act):
    """Nothing is held yet, but what comes in would be let go earlier."""
    shorter = version(act, 4, months=6)
    asked = {"election": "general", "schedule": shorter, "order": "ESC/4"}
    with pytest.raises(Mistaken, match="earlier"):
        change_election_schedule(**asked, seen=Counts(0, 0, 0), **act)


def test_what_is_adopted_is_what_was_looked_at(scene, act):
    longer = version(act, 4, months=24)
    seen = preview_schedule_change(election="general", schedule=longer, **act).counts
    given.a_shelved_box(scene)
    with pytest.raises(Refused, match="changed since the preview"):
        change_election_schedule(
            election="general", schedule=longer, order="ESC/4", seen=seen, **act
        )


def test_what_was_known_before_the_change_rests_on_the_version_of_then(scene, act):
    longer = version(act, 4, months=24)
    later = {"actor": act["actor"], "at": given.NOW + timedelta(hours=1)}
    change_election_schedule(
        election="general",
        schedule=longer,
        order="ESC/4",
        seen=Counts(0, 0, 0),
        **later,
    )
    contest = Contest.objects.select_related("election__schedule").get(
        number=scene.contests["11"]
    )

    def free_from(known_at):
        keeper = Keeper(given.TODAY, known_at)
        return keeper.contest(contest, ContentKind.POLL_SLIPS).may_be_disposed_from

    assert free_from(given.NOW) + timedelta(days=365) == free_from(None)


def test_a_pending_case_holds_under_every_version(scene, act):
    """Later, earlier, unchanged: what has no end stays without one."""
    given.a_shelved_box(scene)
    given.a_case(scene)
    shorter = version(act, 4, months=6)
    found = preview_schedule_change(election="general", schedule=shorter, **act)
    assert found.counts == Counts(later=0, earlier=0, unchanged=2)


def test_a_change_names_its_order(scene, act):
    longer = version(act, 4, months=24)
    seen = Counts(0, 0, 0)
    for order in ("", "x" * 201):
        with pytest.raises(Mistaken) as mistaken:
            change_election_schedule(
                election="general", schedule=longer, order=order, seen=seen, **act
            )
        assert set(mistaken.value.errors) == {"order"}


def test_a_version_is_adopted_from_the_day_on_which_it_is_in_force(scene, act):
    coming = f"in_force_from = {given.TODAY + timedelta(days=1)}"
    later = version(act, 4, months=24, since=("in_force_from = 2024-03-01", coming))
    asked = {"election": "general", "schedule": later, "order": "ESC/4"}
    with pytest.raises(Refused, match="in force only from"):
        change_election_schedule(**asked, seen=Counts(0, 0, 0), **act)
    tomorrow = {"actor": act["actor"], "at": given.NOW + timedelta(days=1)}
    change_election_schedule(**asked, seen=Counts(0, 0, 0), **tomorrow)
    assert pinned() == later


def test_an_election_is_not_moved_to_where_it_stands(scene, act):
    with pytest.raises(Refused, match="already"):
        change_election_schedule(
            election="general",
            schedule="calvenna:3",
            order="ESC/4",
            seen=Counts(0, 0, 0),
            **act,
        )


def test_every_difference_of_two_versions_is_told(scene, act):
    longer = version(act, 4, months=24)
    found = compare_schedules(before="calvenna:3", after=longer, **act)
    assert {
        (change.about, change.old[:9], change.new[:9]) for change in found.changes
    } == {
        ((kind, "Least time of keeping slips", "time"), "12 months", "24 months")
        for kind in ("poll slips", "mock-poll slips")
    }


def test_a_file_is_compared_before_it_is_taken_in(scene, act):
    text = ScheduleText(TEXT.replace("length = 45", "length = 30"), "draft.toml")
    found = compare_schedules(before="calvenna:3", after=text, **act)
    assert found.after.number == ""
    assert {change.new.split(",")[0] for change in found.changes} == {"30 days"}


def test_a_file_with_problems_names_file_line_and_key(scene, act):
    text = ScheduleText(TEXT.replace("length = 45", "length = 0"), "draft.toml")
    with pytest.raises(Mistaken, match=r"draft\.toml, line \d+, .*length"):
        compare_schedules(before="calvenna:3", after=text, **act)


@pytest.mark.parametrize("named", ["calvenna:9", "calvenna", "nowhere:1", ":", "RS-1"])
def test_a_version_that_is_not_there(scene, act, named):
    with pytest.raises(NotThere):
        compare_schedules(before="calvenna:3", after=named, **act)


@pytest.mark.parametrize(
    "role", ["custodian", "legal", "authority", "countersigner", "auditor"]
)
def test_others_read_and_compare_but_neither_preview_nor_adopt(scene, act, role):
    longer = version(act, 4, months=24)
    who = {"actor": getattr(scene.cast, role), "at": given.NOW}
    assert compare_schedules(before="calvenna:3", after=longer, **who).changes
    assert look_at_election_schedule(election=scene.election, **who).pinned.version == 3
    with pytest.raises(PowerMissing):
        preview_schedule_change(election="general", schedule=longer, **who)
    with pytest.raises(PowerMissing):
        change_election_schedule(
            election="general",
            schedule=longer,
            order="ESC/4",
            seen=Counts(0, 0, 0),
            **who,
        )


def test_an_election_out_of_scope_is_not_there(scene, act):
    stranger = given.appointed(scene.cast.administrator, "len.law", given.Role.LEGAL)
    with pytest.raises(NotThere):
        look_at_election_schedule(election=scene.election, actor=stranger, at=given.NOW)
