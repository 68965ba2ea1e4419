"""Two keepers take over the same container at the same moment: one is told."""

from datetime import timedelta
from threading import Event, Thread

import pytest
from django.db import connection

from registry.models import Box, CustodyMovement
from registry.usecases import Refused, transfers
from tests import given

pytestmark = pytest.mark.django_db(transaction=True)

A_WHILE, LONG = 0.4, 30
LATER = given.NOW + timedelta(hours=2)


@pytest.fixture
def ready():
    scene = given.a_scene()
    keepers = [
        given.appointed(
            scene.cast.administrator, name, "custodian", rooms=(scene.other_room,)
        )
        for name in ("gil.keeper", "una.keeper")
    ]
    box = given.a_shelved_box(scene)
    number = transfers.hand_over_for_transfer(
        journey=transfers.Journey(scene.other_room, "ESC/MOVE/7", "Tove Brand, driver"),
        containers=[transfers.Sent(box.number, ("PS-0001",))],
        actor=scene.cast.custodian,
        at=given.NOW,
    ).number
    return scene, keepers, box, number


def beside(act):
    outcome = []

    def run():
        try:
            outcome.append(act())
        except Refused as refused:
            outcome.append(refused)
        finally:
            connection.close()

    thread = Thread(target=run)
    thread.start()
    return thread, outcome


def slowed(monkeypatch):
    """Let the first who reads the seal take a while; the other must wait for it."""
    reached, done = Event(), Event()
    overtaken = []
    step = transfers.record_reading

    def slowly(*args):
        if not reached.is_set():
            reached.set()
            overtaken.append(done.wait(A_WHILE))
        return step(*args)

    monkeypatch.setattr(transfers, "record_reading", slowly)
    return reached, done, overtaken


def test_of_two_keepers_one_takes_it_over_and_one_is_told(ready, monkeypatch):
    _, (gil, una), box, number = ready
    reached, done, overtaken = slowed(monkeypatch)

    def taking(who):
        return transfers.take_over(
            transfer=number,
            arrived=transfers.Arrived(box.number, "PS-0001", "intact-matches"),
            actor=who,
            at=LATER,
        )

    thread, first = beside(lambda: taking(gil))
    assert reached.wait(LONG)
    with pytest.raises(Refused, match=f"taken over, by {gil.name}"):
        taking(una)
    done.set()
    thread.join(LONG)
    assert overtaken == [False]
    assert first == ["intact, number matches"]
    acts = CustodyMovement.objects.filter(box=box, act="taken-over")
    assert [move.to_person for move in acts] == [gil.name]


def test_taken_over_there_and_taken_back_here_at_once(ready, monkeypatch):
    scene, (gil, _), box, number = ready
    reached, done, overtaken = slowed(monkeypatch)
    thread, first = beside(
        lambda: transfers.take_over(
            transfer=number,
            arrived=transfers.Arrived(box.number, "PS-0001", "intact-matches"),
            actor=gil,
            at=LATER,
        )
    )
    assert reached.wait(LONG)
    with pytest.raises(Refused, match="taken over"):
        transfers.came_back(
            transfer=number,
            container=box.number,
            note="Bridge closed.",
            actor=scene.cast.custodian,
            at=LATER,
        )
    done.set()
    thread.join(LONG)
    assert overtaken == [False]
    assert len(first) == 1
    assert Box.objects.get(pk=box.pk).room.number == scene.other_room
