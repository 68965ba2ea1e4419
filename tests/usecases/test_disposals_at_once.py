"""Two acts at one moment: whichever comes second sees what the first has done."""

from threading import Event, Thread

import pytest
from django.db import connection

from registry.models import Box, DisposalBatch
from registry.usecases import (
    Mistaken,
    Refused,
    _certificates,
    cases,
    incidents,
    permissions,
)
from tests import given

pytestmark = pytest.mark.django_db(transaction=True)

A_WHILE = 0.4  # seconds in which the other act would get ahead, were it not held up
LONG = 30


@pytest.fixture
def ready():
    scene = given.a_scene()
    box = given.a_shelved_box(scene)
    given.a_confirmation(scene)
    permission = given.a_permission(scene, [box.number])
    given.a_checked_seal(scene, box.number)
    return scene, box, permission


class Slowed:
    """A step of an act that says when it is reached and then takes a while."""

    def __init__(self, step):
        self.step, self.reached, self.other_done = step, Event(), Event()
        self.was_overtaken = False

    def __call__(self, *args, **kwargs):
        self.reached.set()
        self.was_overtaken = self.other_done.wait(A_WHILE)
        return self.step(*args, **kwargs)


def beside(act):
    """Do an act in a thread, with a connection of its own; returns its outcome."""
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


def test_a_petition_entered_first_stops_a_disposal_that_waited(ready, monkeypatch):
    scene, box, permission = ready
    slow = Slowed(cases.note_access)
    monkeypatch.setattr(cases, "note_access", slow)
    thread, entered = beside(lambda: given.a_case(scene, occurred_on=given.TODAY))
    assert slow.reached.wait(LONG)
    with pytest.raises(Refused) as refused:
        given.disposed_of(scene, box.number, permission)
    slow.other_done.set()
    thread.join(LONG)
    assert not slow.was_overtaken
    assert entered[0] in " ".join(refused.value.reasons)
    assert Box.objects.get(pk=box.pk).state == "held"


def test_a_revocation_entered_first_stops_a_disposal_that_waited(ready, monkeypatch):
    """Failure mode 37: revoked between."""
    scene, box, permission = ready
    slow = Slowed(permissions.the)
    monkeypatch.setattr(permissions, "the", lambda *a: slowly_after(slow, *a))
    thread, _ = beside(
        lambda: permissions.revoke_permission(
            permission=permission,
            because="ESC/ORD/9",
            actor=scene.cast.authority,
            at=given.NOW,
        )
    )
    assert slow.reached.wait(LONG)
    with pytest.raises(Refused, match="revoked"):
        given.disposed_of(scene, box.number, permission)
    slow.other_done.set()
    thread.join(LONG)
    assert not slow.was_overtaken


def slowly_after(slow, *args):
    """Take the lock first, and a while afterwards."""
    found = slow.step(*args)
    slow.reached.set()
    slow.was_overtaken = slow.other_done.wait(A_WHILE)
    return found


def test_two_custodians_dispose_of_one_box_once(ready, monkeypatch):
    """Failure mode 39: two custodians at once."""
    scene, box, permission = ready
    slow = Slowed(_certificates.certificate_pdf)
    monkeypatch.setattr(_certificates, "certificate_pdf", slow)
    thread, first = beside(lambda: given.disposed_of(scene, box.number, permission))
    assert slow.reached.wait(LONG)
    with pytest.raises(Refused, match="already been disposed of"):
        given.disposed_of(scene, box.number, permission)
    slow.other_done.set()
    thread.join(LONG)
    assert not slow.was_overtaken
    assert first[0].startswith("CF-")
    assert DisposalBatch.objects.count() == 1


def test_an_incident_reported_first_stops_a_disposal_that_waited(ready, monkeypatch):
    """Failure mode 51 at the moment of a disposal: the hold is there at once."""
    scene, box, permission = ready
    slow = Slowed(incidents.note_access)
    monkeypatch.setattr(incidents, "note_access", slow)
    thread, reported = beside(lambda: a_broken_seal(scene, box))
    assert slow.reached.wait(LONG)
    with pytest.raises(Refused) as refused:
        given.disposed_of(scene, box.number, permission)
    slow.other_done.set()
    thread.join(LONG)
    assert not slow.was_overtaken
    assert reported[0] in " ".join(refused.value.reasons)
    assert Box.objects.get(pk=box.pk).state == "held"


def test_an_incident_reported_second_finds_the_box_gone(ready, monkeypatch):
    scene, box, permission = ready
    slow = Slowed(_certificates.certificate_pdf)
    monkeypatch.setattr(_certificates, "certificate_pdf", slow)
    thread, disposed = beside(lambda: given.disposed_of(scene, box.number, permission))
    assert slow.reached.wait(LONG)
    with pytest.raises(Mistaken, match="disposed of"):
        a_broken_seal(scene, box)
    slow.other_done.set()
    thread.join(LONG)
    assert not slow.was_overtaken
    assert disposed[0].startswith("CF-")


def a_broken_seal(scene, box):
    return incidents.report_incident(
        room=scene.room,
        kind="seal",
        what="The seal hangs by one corner.",
        noticed_at=given.NOW,
        noticed_by="Cora Keeper, custodian",
        containers=[incidents.Touched(box.number)],
        actor=scene.cast.custodian,
        at=given.NOW,
    )
