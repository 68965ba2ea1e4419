"""Votes that control units show, against the slips of their envelopes."""

import pytest

from registry.models import UnitSet
from registry.usecases import Mistaken, Refused, reconciliation, stations, votes
from tests import given

pytestmark = pytest.mark.django_db
SOURCE = "Account of votes recorded, station 001"


@pytest.fixture
def scene():
    scene = given.a_scene()
    given.a_shelved_box(scene)  # its envelope of station 001 holds 612 slips
    return scene


def act(scene, who="custodian"):
    return {"actor": getattr(scene.cast, who), "at": given.NOW}


def record(scene, n, unit="CU-11001", **more):
    return votes.record_votes(
        contest=scene.contests["11"],
        control_unit=unit,
        votes=n,
        source=more.pop("source", SOURCE),
        **act(scene),
    )


def taken(scene, text, **more):
    return votes.record_votes_list(
        contest=scene.contests["11"],
        content=text.encode(),
        file_name="votes.csv",
        source=SOURCE,
        **act(scene),
    )


def differing(scene):
    file = reconciliation.look_at_reconciliation(
        contest=scene.contests["11"], **act(scene)
    )
    return [r.text for r in file.open if r.reason == "count-differs"]


def test_votes_are_held_against_the_slips_with_their_sign(scene):
    record(scene, 612)
    assert differing(scene) == []
    record(scene, 614, "cu 11001")
    (text,) = differing(scene)
    assert "612 slips against 614 votes recorded: -2." in text
    units = UnitSet.objects.get(control_unit_serial="CU-11001")
    assert units.votes_source == SOURCE
    assert [v.votes_recorded for v in units.history.order_by("history_id")] == [
        None, 612, 614,
    ]  # fmt: skip


def test_a_unit_set_may_be_named_by_its_register_number(scene):
    units = UnitSet.objects.get(control_unit_serial="CU-11002")
    assert record(scene, 5, units.number) == units.number


@pytest.mark.parametrize(
    ("n", "more", "field"),
    [
        (5, {"unit": "CU-12001"}, "control_unit"),
        (5, {"source": "  "}, "source"),
        (-1, {}, "votes"),
        (20_001, {}, "votes"),
    ],
)
def test_what_cannot_be_right_is_told_at_its_field(scene, n, more, field):
    with pytest.raises(Mistaken) as mistaken:
        record(scene, n, **more)
    assert list(mistaken.value.errors) == [field]


def test_a_list_is_recorded_as_a_whole(scene):
    found = taken(
        scene,
        "Station No;CU No;Total votes\n001;CU-11001;612\n2;cu 11002;0\n",
    )
    assert (found.recorded, found.already) == (2, 0)
    again = taken(scene, "cu,votes\nCU-11001,612\n")
    assert (again.recorded, again.already) == (0, 1)


@pytest.mark.parametrize(
    ("lines", "told"),
    [
        ("001,CU-99999,5", "No control unit CU-99999 served here"),
        ("001,CU-11002,5", "served at station 002 Net Loft Hall, not at 001"),
        ("001,CU-11001,some", "must be a whole number"),
        ("001,CU-11001,-4", "must be a whole number"),
        ("001,CU-11001,99999", "not between 0 and 20,000"),
        ("001,,5", "names no control unit"),
        ("001,CU-11001,5\n001,CU 11001,5", "stands on line 2 as well"),
    ],
)
def test_75_of_a_list_with_one_bad_line_nothing_is_recorded(scene, lines, told):
    with pytest.raises(Refused, match=told):
        taken(scene, f"station,cu,votes\n{lines}\n003,CU-11003,7\n")
    assert not UnitSet.objects.filter(votes_recorded__isnull=False).exists()


def test_a_list_does_not_overwrite_what_was_recorded_otherwise(scene):
    record(scene, 612)
    with pytest.raises(Refused, match="612 votes are recorded for it already"):
        taken(scene, "cu,votes\nCU-11001,600\n")


def test_a_file_that_is_no_table_is_told(scene):
    with pytest.raises(Mistaken):
        taken(scene, "nothing of the kind\n")
    with pytest.raises(Refused, match="names no control unit"):
        taken(scene, "cu,votes\n")


def test_a_list_of_stations_may_bring_the_votes(scene):
    head = "constituency_number,station_number,control_unit,paper_trail_unit,votes\n"

    def load(text):
        return stations.load_stations(
            election=scene.election,
            content=(head + text).encode(),
            file_name="stations.csv",
            **act(scene, "administrator"),
        )

    load("11,021,CU-X21,PT-X21,431\n11,022,CU-X22,PT-X22,\n")
    assert UnitSet.objects.get(control_unit_serial="CU-X21").votes_recorded == 431
    assert UnitSet.objects.get(control_unit_serial="CU-X22").votes_recorded is None
    with pytest.raises(Refused, match="must be a whole number"):
        load("11,023,CU-X23,PT-X23,4.5\n")
