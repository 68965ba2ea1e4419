"""Totals counted by the database are those of the containers asked one by one."""

from collections import Counter

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from registry.models import Box, Envelope
from registry.queries.keeping import Keeper
from registry.queries.kept_totals import answers, groups, totals
from registry.usecases import cases
from tests import given
from tests.queries.test_keeping import COVERS, WHY, several_boxes

pytestmark = pytest.mark.django_db


def one_by_one(keeper):
    containers = [*Box.objects.all(), *Envelope.objects.all()]
    told = [keeper.container(each) for each in containers]
    return Counter(one.reason.value if one else "unknown-input" for one in told)


@pytest.mark.parametrize("covers", COVERS)
def test_totals_are_those_of_the_containers_one_by_one(covers):
    scene = given.a_scene()
    several_boxes(scene)
    stray = given.changed(
        given.an_envelope_on_the_table(seal="W-9"), given.Marking.STATION_NUMBER, "777"
    )
    given.logged(scene, given.changed(stray, given.Marking.CONTROL_UNIT, "CU-9"))
    given.a_case(scene, covers=COVERS[covers](scene))
    given.a_case(
        scene,
        parties="Rill v. Tarn",
        covers=cases.Covers(stations=("12/001",), **WHY),
    )
    keeper = Keeper(given.TODAY)
    found = totals(keeper, Box.objects.all(), Envelope.objects.all())
    assert found == one_by_one(Keeper(given.TODAY))
    assert found.total() == Box.objects.count() + Envelope.objects.count()


@pytest.mark.parametrize("covers", COVERS)
def test_streamed_answers_are_those_of_each_envelope(covers):
    scene = given.a_scene()
    several_boxes(scene)
    given.a_case(scene, covers=COVERS[covers](scene))
    keeper = Keeper(given.TODAY)
    told = dict(answers(keeper, Envelope.objects.all()))
    assert told == {each.pk: keeper.envelope(each) for each in Envelope.objects.all()}


def test_an_envelope_of_an_unknown_station_makes_its_box_unknown():
    scene = given.a_scene()
    box = given.a_shelved_box(scene)
    given.a_case(scene, covers=cases.Covers(stations=("11/002",), **WHY))
    in_sight = dict(groups(Box.objects.all(), Envelope.objects.none()))
    assert all(group[2] for group in in_sight)
    with connection.cursor() as cursor:
        cursor.execute(
            "UPDATE registry_envelope SET station_id = NULL, unit_set_id = NULL, "
            "state = 'quarantined' WHERE box_id = %s",
            [box.pk],
        )
    hidden = dict(groups(Box.objects.all(), Envelope.objects.none()))
    assert list(hidden) == [(box.contest_id, "poll-slips", frozenset())]


def test_more_containers_ask_no_more_questions():
    scene = given.a_scene()
    given.a_shelved_box(scene)
    given.a_case(scene, covers=cases.Covers(stations=("11/002",), **WHY))

    def questions():
        with CaptureQueriesContext(connection) as captured:
            totals(Keeper(given.TODAY), Box.objects.all(), Envelope.objects.all())
        return len(captured)

    few = questions()
    given.a_shelved_box_of_station_two(scene)
    assert questions() == few
