"""Setting up: schedules, calendars, elections, contests, strong rooms."""

from datetime import date, timedelta

import pytest

from registry.models import Contest, Election, RetentionSchedule, Shelf
from registry.queries.keeping import Keeper
from registry.rules.powers import PowerMissing
from registry.rules.schedules import ContentKind
from registry.usecases import Mistaken, schedules, set_up_looks, setting_up
from tests import given

pytestmark = pytest.mark.django_db
TEXT = given.SCHEDULE_FILE.read_text()


@pytest.fixture
def scene():
    return given.a_scene()


@pytest.fixture
def act(scene):
    return {"actor": scene.cast.administrator, "at": given.NOW}


def adopt(text, act, name="calvenna.toml"):
    return setting_up.adopt_schedule(text=text, file_name=name, **act)


def test_every_error_of_a_schedule_is_listed(act):
    wrong = TEXT.replace("version = 3", 'version = "three"').replace(
        "length = 45", "length = 0"
    )
    with pytest.raises(Mistaken) as mistaken:
        adopt(wrong, act)
    said = mistaken.value.errors["text"]
    assert len(said) == 2
    assert any("version" in line for line in said)
    assert any("length" in line for line in said)


def test_a_version_never_changes_its_text(act):
    with pytest.raises(Mistaken, match="another text"):
        adopt(TEXT.replace("length = 45", "length = 30"), act)
    assert RetentionSchedule.objects.get().text == TEXT


def test_the_same_file_twice_is_the_same_schedule(act):
    assert adopt(TEXT, act) == adopt(TEXT, act)


def test_a_schedule_is_shown_in_words_and_to_the_letter(scene, act):
    number = RetentionSchedule.objects.get().number
    file = schedules.look_at_schedule(schedule=number, **act)
    terms = {term.title: term for one in file.classes for term in one.terms}
    window = terms["Window for election petitions"]
    assert window.words.startswith("45 days after the declaration of the result")
    assert "next open day" in window.words
    assert window.clause == "rule 8(1)"
    assert file.text == TEXT
    assert len(file.digest) == 64


def test_an_election_needs_a_code_and_a_real_time_zone(scene, act):
    election = Election.objects.get()
    with pytest.raises(Mistaken) as mistaken:
        setting_up.set_up_election(
            code="no good!",
            name=" ",
            schedule=election.schedule.number,
            calendar=election.calendar.number,
            legal_zone="Nowhere/Here",
            **act,
        )
    assert set(mistaken.value.errors) == {"code", "name", "legal_zone"}


def test_a_date_to_come_is_not_recorded(scene, act):
    with pytest.raises(Mistaken, match="has not come yet"):
        setting_up.set_up_contest(
            election=scene.election,
            constituency_number="13",
            constituency_name="Saltmere",
            days=setting_up.ContestDays(declared_on=given.TODAY + timedelta(days=1)),
            **act,
        )


def test_one_contest_for_each_constituency(scene, act):
    with pytest.raises(Mistaken, match="this number"):
        setting_up.set_up_contest(
            election=scene.election,
            constituency_number="11",
            constituency_name="Harbour Reach again",
            **act,
        )


def test_closed_days_move_a_window_that_ends_on_them(scene, act):
    contest = set_up_looks.look_at_election(election=scene.election, **act).contests[0]
    calendar = Election.objects.get().calendar
    ends = contest.declared_on + timedelta(days=45)
    while ends.weekday() >= 5:  # the registry of the scene is closed at weekends
        ends += timedelta(days=1)
    setting_up.record_closed_days(
        calendar=calendar.number,
        first_day=ends,
        last_day=ends,
        reason="storm",
        notification="HB/N/3",
        **act,
    )

    one = Contest.objects.get(number=contest.number)
    answer = Keeper(given.TODAY).contest(one, ContentKind.POLL_SLIPS)
    window = next(h for h in answer.holds if h.governed_by == "petition-window")
    assert window.through > ends
    assert any("storm" in step.text for step in window.steps)


def test_a_closure_ends_after_it_begins(scene, act):
    calendar = Election.objects.get().calendar.number
    with pytest.raises(Mistaken, match="before the first"):
        setting_up.record_closed_days(
            calendar=calendar,
            first_day=date(2026, 5, 2),
            last_day=date(2026, 5, 1),
            reason="vacation",
            notification="",
            **act,
        )


def test_a_registry_is_open_on_one_weekday_at_least(act):
    with pytest.raises(Mistaken, match="at least one weekday"):
        setting_up.set_up_calendar(name="Never open", closed_weekdays=range(7), **act)


def test_bays_are_added_once(scene, act):
    plan = setting_up.BayPlan("B", (("1", 5),))
    setting_up.add_bays(room=scene.room, bays=[plan], **act)
    shelf = Shelf.objects.get(bay__code="B", bay__room__number=scene.room)
    assert shelf.capacity == 5
    with pytest.raises(Mistaken, match="There is a bay B"):
        setting_up.add_bays(room=scene.room, bays=[plan], **act)


def test_a_room_tells_what_its_shelves_hold(scene):
    given.a_shelved_box(scene)
    auditor = {"actor": scene.cast.auditor, "at": given.NOW}
    file = set_up_looks.look_at_room(room=scene.room, **auditor)
    assert [shelf.boxes for bay in file.bays for shelf in bay.shelves] == [1, 0]
    row = set_up_looks.list_rooms(**auditor)[0]
    assert (row.boxes, row.capacity, row.bays) == (1, 22, 1)
    admin = {"actor": scene.cast.administrator, "at": given.NOW}
    assert (
        set_up_looks.look_at_room(room=scene.room, **admin).bays[0].shelves[0].boxes
        is None
    )


def test_an_election_tells_how_far_it_is(scene):
    given.a_shelved_box(scene)
    auditor = {"actor": scene.cast.auditor, "at": given.NOW}
    first = set_up_looks.look_at_election(election=scene.election, **auditor).contests[
        0
    ]
    # Three stations, one with a replaced pair of units: four pairs (tests/given.py).
    assert (first.stations, first.expected, first.received) == (3, 4, 1)
    (row,) = set_up_looks.list_elections(**auditor)
    assert (row.contests, row.declared, row.stations) == (2, 2, 5)


@pytest.mark.parametrize("who", ["custodian", "legal", "authority", "auditor"])
def test_nobody_else_sets_up(scene, who):
    with pytest.raises(PowerMissing):
        setting_up.set_up_room(
            name="Annexe",
            site="",
            bays=[],
            actor=getattr(scene.cast, who),
            at=given.NOW,
        )


def test_a_refused_room_name_leaves_nothing_behind(scene, act):
    with pytest.raises(Mistaken, match="at least one box"):
        setting_up.set_up_room(
            name="Annexe",
            site="",
            bays=[setting_up.BayPlan("A", (("1", 0),))],
            **act,
        )
    assert "Annexe" not in [r.name for r in set_up_looks.list_rooms(**act)]


@pytest.mark.parametrize("name", ["declared_on", "return_made_on", "next_poll_on"])
def test_nothing_that_follows_the_poll_is_dated_before_it(scene, act, name):
    """A year mistyped would let everything go; a poll comes before its result."""
    early = given.POLLED.replace(year=given.POLLED.year - 20)
    days = setting_up.ContestDays(polled_on=given.POLLED, **{name: early})
    with pytest.raises(Mistaken, match="follows the poll"):
        setting_up.record_contest_dates(
            contest=scene.contests["11"], days=days, source="Declaration", **act
        )
