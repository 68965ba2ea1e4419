"""A change of the law while something is disposed of: the second sees the first."""

from datetime import timedelta

import pytest

from registry.models import Box, CourtCalendar
from registry.usecases import Refused, calendars, schedule_changes
from registry.usecases.schedules import adopt_schedule
from tests import given
from tests.usecases.test_disposals_at_once import LONG, Slowed, beside

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def ready():
    scene = given.a_scene()
    box = given.a_shelved_box(scene)
    given.a_confirmation(scene)
    permission = given.a_permission(scene, [box.number])
    given.a_checked_seal(scene, box.number)
    return scene, box, permission


def refused_meanwhile(scene, box, permission, slow, change) -> str:
    """Begin a change, try the disposal meanwhile, and return why it was refused."""
    thread, outcome = beside(change)
    assert slow.reached.wait(LONG)
    with pytest.raises(Refused) as refused:
        given.disposed_of(scene, box.number, permission)
    slow.other_done.set()
    thread.join(LONG)
    assert not slow.was_overtaken
    assert outcome
    assert not isinstance(outcome[0], Refused)
    assert Box.objects.get(pk=box.pk).state == "held"
    return " ".join(refused.value.reasons)


def test_a_disposal_waits_for_a_change_of_schedule(ready, monkeypatch):
    scene, box, permission = ready
    act = {"actor": scene.cast.administrator, "at": given.NOW}
    text = given.SCHEDULE_FILE.read_text().replace("version = 3", "version = 4")
    longer = adopt_schedule(
        text=text.replace("length = 12", "length = 24"), file_name="c-4.toml", **act
    )
    seen = schedule_changes.Counts(later=2, earlier=0, unchanged=0)
    slow = Slowed(schedule_changes.enter)
    monkeypatch.setattr(schedule_changes, "enter", slow)
    why = refused_meanwhile(
        scene,
        box,
        permission,
        slow,
        lambda: schedule_changes.change_election_schedule(
            election="general", schedule=longer, order="ESC/4", seen=seen, **act
        ),
    )
    assert "Least time of keeping slips" in why


def test_a_disposal_waits_for_an_extension_of_limits(ready, monkeypatch):
    scene, box, permission = ready
    extension = calendars.LimitsExtended(
        from_on=given.DECLARED + timedelta(days=40),
        made_on=given.TODAY,
        notification="HB/General/4",
    )
    calendar = CourtCalendar.objects.get().number
    slow = Slowed(calendars.planned)
    monkeypatch.setattr(calendars, "planned", slow)
    why = refused_meanwhile(
        scene,
        box,
        permission,
        slow,
        lambda: calendars.change_calendar(
            calendar=calendar,
            change=extension,
            actor=scene.cast.administrator,
            at=given.NOW,
        ),
    )
    assert "Window for election petitions" in why
