"""Two people at the sealing table at one moment: one does it, one is told."""

import pytest

from registry.models import Envelope, SealingAnswer, StationSealing
from registry.usecases import Mistaken, Refused, sealing
from tests import given
from tests.usecases.test_disposals_at_once import LONG, Slowed, beside
from tests.usecases.test_sealing import (
    WASTE,
    answers_for,
    begun,
    finished,
    kept,
    second_keeper,
)

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def scene():
    return given.a_scene()


def test_two_finish_the_same_station_and_one_is_told(scene, monkeypatch):
    number = begun(scene)
    kept(scene, number, answers_for() | WASTE)
    gil = second_keeper(scene)
    slow = Slowed(sealing.enter_what_was_sealed)
    monkeypatch.setattr(sealing, "enter_what_was_sealed", slow)
    thread, outcome = beside(lambda: finished(scene, number))
    assert slow.reached.wait(LONG)
    with pytest.raises(Refused, match=r"no longer at the table.*Cora Keeper"):
        finished(scene, number, actor=gil)
    slow.other_done.set()
    thread.join(LONG)
    assert not slow.was_overtaken
    assert len(outcome[0].envelopes) == 1
    assert Envelope.objects.count() == 1
    assert StationSealing.objects.get().state == "done"


def test_an_answer_that_comes_while_it_is_finished_is_refused_and_not_half_in(
    scene, monkeypatch
):
    number = begun(scene)
    kept(scene, number, answers_for() | WASTE)
    gil = second_keeper(scene)
    slow = Slowed(sealing.enter_what_was_sealed)
    monkeypatch.setattr(sealing, "enter_what_was_sealed", slow)
    thread, _ = beside(lambda: finished(scene, number))
    assert slow.reached.wait(LONG)
    with pytest.raises(Refused, match="no longer at the table"):
        kept(scene, number, {"station:waste": "no"}, actor=gil)
    slow.other_done.set()
    thread.join(LONG)
    assert not SealingAnswer.objects.filter(answer="no").exists()


def test_two_bring_the_same_station_and_work_at_the_same_sealing(scene, monkeypatch):
    gil = second_keeper(scene)
    slow = Slowed(sealing.at_table)
    monkeypatch.setattr(sealing, "at_table", slow)
    thread, outcome = beside(lambda: begun(scene))
    assert slow.reached.wait(LONG)
    joined = sealing.begin_sealing(
        scanned="CU-11001", room=scene.room, actor=gil, at=given.NOW
    )
    slow.other_done.set()
    thread.join(LONG)
    assert joined.joined
    assert joined.number == outcome[0]
    assert StationSealing.objects.count() == 1


def test_what_intake_logged_meanwhile_is_not_sealed_twice(scene):
    number = begun(scene)
    kept(scene, number, answers_for() | WASTE)
    given.logged(scene, given.an_envelope_on_the_table())
    assert finished(scene, number).envelopes == ()
    assert Envelope.objects.count() == 1
    with pytest.raises(Mistaken):
        begun(scene)
