"""Two custodians move the same container at once: one succeeds, one is told.

Failure mode 81: a page that is older than the record; both are shown.
"""

from datetime import timedelta
from threading import Barrier, Thread

import pytest
from django.db import connection

from registry.models import Box, CustodyMovement, Envelope
from registry.usecases import Mistaken, Refused, boxes, custody, looks
from registry.usecases._seen import seen_of
from tests import given

LONG = 30  # seconds; nothing here takes so long


@pytest.fixture
def scene():
    return given.a_scene()


@pytest.fixture
def gil(scene):
    return given.appointed(
        scene.cast.administrator,
        "gil.keeper",
        given.Role.CUSTODIAN,
        rooms=(scene.room,),
    )


@pytest.fixture
def box(scene):
    return given.a_shelved_box(scene)


def seen(number, actor):
    """What a page of an act carries, for the person who opened it."""
    return looks.look_at_container_to_act(
        container=number, actor=actor, at=given.NOW
    ).seen


def together(*acts):
    """Do acts at one moment, each in a thread of its own; return their outcomes."""
    start, outcomes = Barrier(len(acts)), [None] * len(acts)

    def run(index, act):
        try:
            start.wait(LONG)
            outcomes[index] = act()
        except (Refused, Mistaken) as refused:
            outcomes[index] = refused
        finally:
            connection.close()

    threads = [Thread(target=run, args=pair) for pair in enumerate(acts)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(LONG)
    return outcomes


def one_succeeded(outcomes):
    refused = [o for o in outcomes if isinstance(o, Exception)]
    assert len(refused) == 1, outcomes
    return str(refused[0])


class TestOneAfterTheOther:
    pytestmark = pytest.mark.django_db

    def test_who_moved_it_when_and_whereto_is_told(self, scene, gil, box):
        page = seen(box.number, scene.cast.custodian)
        boxes.shelve_box(
            box=box.number,
            shelf=scene.shelves[1],
            as_seen=page,
            actor=gil,
            at=given.NOW,
        )
        with pytest.raises(Refused) as refused:
            boxes.shelve_box(
                box=box.number,
                shelf=scene.shelves[1],
                as_seen=page,
                actor=scene.cast.custodian,
                at=given.NOW + timedelta(minutes=1),
            )
        told = str(refused.value)
        for word in ("On your page: shelved, to Customs House strong room, bay A, "
                     "shelf 1", "Meanwhile: moved, to", "shelf 2", "Gil Keeper",
                     "2 November 2026 at 10:00", "open the page again"):  # fmt: skip
            assert word in told, word

    def test_a_page_that_is_fresh_moves_it(self, scene, box):
        act = {"actor": scene.cast.custodian, "at": given.NOW}
        boxes.shelve_box(
            box=box.number,
            shelf=scene.shelves[1],
            as_seen=seen(box.number, act["actor"]),
            **act,
        )
        custody.hand_over(
            container=box.number,
            to_person="Gil Keeper",
            as_seen=seen(box.number, act["actor"]),
            **act,
        )
        assert seen_of(box) == box.movements.latest("id").number

    def test_a_box_is_not_closed_over_an_envelope_put_in_meanwhile(self, scene, gil):
        box = given.logged(scene, given.an_open_box()).number
        page = seen(box, scene.cast.custodian)
        late = given.logged(scene, given.an_envelope_on_the_table()).number
        boxes.put_into_box(envelope=late, box=box, actor=gil, at=given.NOW)
        with pytest.raises(Refused, match=f"{late} put into a box"):
            boxes.close_box(
                box=box,
                seals=[given.paper_seal()],
                sealed_on=given.COUNTED,
                empty=True,
                as_seen=page,
                actor=scene.cast.custodian,
                at=given.NOW,
            )
        assert Box.objects.get(number=box).closed_on is None

    def test_the_form_carries_what_its_reader_saw(self, scene, gil, box, monkeypatch):
        given.clock_at(monkeypatch, given.NOW)
        cora = given.browser_of(scene.cast.custodian)
        address = f"/containers/{box.number}/shelve/"
        page = cora.get(address).context["form"]["as_seen"].value()
        given.browser_of(gil).post(
            address, {"shelf": scene.shelves[1], "as_seen": page}
        )
        answer = cora.post(address, {"shelf": scene.shelves[1], "as_seen": page})
        assert answer.status_code == 409
        assert "Gil Keeper" in answer.content.decode()
        assert Box.objects.get(pk=box.pk).shelf.number == scene.shelves[1]


@pytest.mark.django_db(transaction=True)
class TestAtOnce:
    def test_two_shelves(self, scene, gil, box):
        cora = scene.cast.custodian
        page = seen(box.number, cora)
        outcomes = together(
            *(
                lambda who=who: boxes.shelve_box(
                    box=box.number,
                    shelf=scene.shelves[1],
                    as_seen=page,
                    actor=who,
                    at=given.NOW,
                )
                for who in (cora, gil)
            )
        )
        assert "moved while your page was open" in one_succeeded(outcomes)
        assert box.movements.filter(act="moved").count() == 1

    def test_shelving_and_handing_over(self, scene, gil, box):
        cora = scene.cast.custodian
        page = seen(box.number, cora)
        before = box.movements.count()
        outcomes = together(
            lambda: boxes.shelve_box(
                box=box.number,
                shelf=scene.shelves[1],
                as_seen=page,
                actor=cora,
                at=given.NOW,
            ),
            lambda: custody.hand_over(
                container=box.number,
                to_person="Cora Keeper",
                as_seen=page,
                actor=gil,
                at=given.NOW,
            ),
        )
        one_succeeded(outcomes)
        assert box.movements.count() == before + 1

    def test_an_envelope_into_two_boxes(self, scene, gil):
        first, second = (
            given.logged(scene, given.an_open_box(label=label)).number
            for label in ("1 of 2", "2 of 2")
        )
        envelope = given.logged(scene, given.an_envelope_on_the_table()).number
        page = seen(envelope, gil)
        outcomes = together(
            *(
                lambda box=box, who=who: boxes.put_into_box(
                    envelope=envelope, box=box, as_seen=page, actor=who, at=given.NOW
                )
                for box, who in ((first, scene.cast.custodian), (second, gil))
            )
        )
        one_succeeded(outcomes)
        lies = Envelope.objects.get(number=envelope)
        moves = CustodyMovement.objects.filter(envelope=lies, act="boxed")
        assert [m.to_place for m in moves] == [f"box {lies.box.number}"]

    def test_the_last_place_on_a_shelf(self, scene, gil):
        """A shelf of two, one on it: one of two boxes finds room."""
        shelf = scene.shelves[0]
        on_it, first, second = (
            given.logged(scene, given.an_open_box(label=str(n))).number
            for n in range(3)
        )
        act = {"at": given.NOW}
        boxes.shelve_box(box=on_it, shelf=shelf, actor=gil, **act)
        outcomes = together(
            *(
                lambda box=box, who=who: boxes.shelve_box(
                    box=box, shelf=shelf, actor=who, **act
                )
                for box, who in ((first, scene.cast.custodian), (second, gil))
            )
        )
        assert "is full" in one_succeeded(outcomes)
        assert Box.objects.filter(shelf__number=shelf).count() == 2
