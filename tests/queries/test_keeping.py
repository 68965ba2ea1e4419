"""One answer to "held until when" wherever it is asked; no decision on stale facts."""

import threading
from datetime import UTC, date, datetime

import pytest
from django.db import connection, connections
from django.test.utils import CaptureQueriesContext

from registry.models import Box, Case, Envelope
from registry.queries.keeping import Keeper
from registry.usecases import Refused, cases, disposals, looks
from registry.usecases.case_looks import look_at_case
from tests import given

WHY = {"because": "The petition names one station.", "authority": "HB order 3"}
LONGEST_WAIT = 30  # seconds; more than the database itself waits for a lock


def several_boxes(scene):
    """Boxes of two constituencies, one of them still empty, and a loose envelope."""
    given.a_shelved_box(scene)
    given.logged(scene, given.an_open_box(stations="002", label="2 of 2"))
    quill = given.an_open_box(("12", "Quillmoor"), stations="001")
    box = given.logged(scene, quill).number
    given.logged(
        scene,
        given.an_envelope_on_the_table(
            "001", ("12", "Quillmoor"), "Peat Works Canteen", "CU-12001",
            "PT-AA-12001", seal="W-12001",
        ),
        box=box,
    )  # fmt: skip
    given.logged(
        scene,
        given.an_envelope_on_the_table(
            "002", name="Net Loft Hall", control_unit="CU-11002",
            paper_trail_unit="PT-AA-11002", seal="W-11002",
        ),
    )  # fmt: skip


COVERS = {
    "a constituency": lambda s: cases.Covers(contests=(s.contests["11"],)),
    "one station": lambda s: cases.Covers(stations=("11/002",), **WHY),
    "stations of two constituencies": lambda s: cases.Covers(
        stations=("11/001", "12/002"), **WHY
    ),
    "a constituency and a station": lambda s: cases.Covers(
        contests=(s.contests["12"],), stations=("11/002",), **WHY
    ),
    "the whole election": lambda s: cases.Covers(whole_election=True),
    "nothing that is known": lambda s: cases.Covers(not_known=True),
}


@pytest.mark.django_db
@pytest.mark.parametrize("covers", COVERS)
def test_the_list_the_page_and_the_case_give_one_answer(covers):
    scene = given.a_scene()
    several_boxes(scene)
    case = given.a_case(scene, covers=COVERS[covers](scene))
    act = {"actor": scene.cast.auditor, "at": given.NOW}
    wanted = looks.Wanted()
    boxes = looks.list_boxes(wanted=wanted, **act).rows
    envelopes = looks.list_envelopes(wanted=wanted, **act).rows
    pages = [looks.look_at_box(box=row.number, **act) for row in boxes]
    pages += [looks.look_at_envelope(envelope=row.number, **act) for row in envelopes]
    told = [(page.number, page.retention.held_until) for page in pages]
    listed = [(row.number, row.held_until) for row in (*boxes, *envelopes)]
    assert listed == told
    holds = look_at_case(case=case, **act).holds
    keeper = Keeper(given.TODAY)
    assert (holds.boxes, holds.envelopes) == (
        sum(_held_by(case, keeper.box(box)) for box in Box.objects.all()),
        sum(_held_by(case, keeper.envelope(each)) for each in Envelope.objects.all()),
    )


def _held_by(case, retention):
    return case in {hold.governed_by for hold in retention.holds}


@pytest.mark.django_db
def test_a_list_and_a_page_reckon_by_the_elections_own_day():
    """In a country ten hours ahead of UTC it is 2 November already: a petition heard
    of there today holds in the list too, though in UTC it is still 1 November."""
    scene = given.a_scene(legal_zone="Etc/GMT-10")
    box = given.a_shelved_box(scene)
    act = {"actor": scene.cast.legal, "at": datetime(2026, 11, 1, 15, 0, tzinfo=UTC)}
    cases.enter_case(
        election=scene.election,
        kind="election-petition",
        forum="High Bench of Calvenna",
        parties="Moss v. Returning Officer",
        covers=cases.Covers(contests=(scene.contests["11"],)),
        occurred_on=date(2026, 11, 2),
        **act,
    )
    (row,) = looks.list_boxes(wanted=looks.Wanted(), **act).rows
    page = looks.look_at_box(box=box.number, **act)
    assert row.held_until is None
    assert page.retention.held_until is None


@pytest.mark.django_db
def test_a_whole_list_costs_no_more_questions_than_a_short_one(
    django_assert_max_num_queries,
):
    """Cost grows with contests and cases, not with containers."""
    scene = given.a_scene()
    several_boxes(scene)
    given.a_case(scene)
    boxes = list(Box.objects.select_related("contest__election"))
    stations = {box.pk: list(box.envelopes.values_list("station_id")) for box in boxes}
    keeper = Keeper(given.TODAY)
    with django_assert_max_num_queries(10):
        for box in boxes * 20:
            keeper.box(box, [pk for (pk,) in stations[box.pk]])


class Apart(threading.Thread):
    """An act in a connection of its own, as another person's request is."""

    def __init__(self, act):
        super().__init__(daemon=True)
        self.act, self.failure = act, None

    def run(self):
        try:
            self.act()
        except Exception as failure:
            self.failure = failure
        finally:
            connections[connection.alias].close()


@pytest.fixture
def ready(transactional_db):
    """A box that may be disposed of this minute."""
    scene = given.a_scene()
    box = given.a_shelved_box(scene)
    given.a_confirmation(scene)
    permission = given.a_permission(scene, [box.number])
    given.a_checked_seal(scene, box.number)
    return scene, box, permission


def stopped_inside(monkeypatch, module, name):
    """Let an act stop where it holds its lock; returns (it is there, let it go on)."""
    there, go_on = threading.Event(), threading.Event()
    real = getattr(module, name)

    def wait_first(*args, **kwargs):
        there.set()
        assert go_on.wait(LONGEST_WAIT)
        return real(*args, **kwargs)

    monkeypatch.setattr(module, name, wait_first)
    return there, go_on


@pytest.mark.slow
def test_a_disposal_waits_for_a_petition_that_is_being_entered(ready, monkeypatch):
    """Failure mode 2: whoever comes second sees the other."""
    scene, box, permission = ready
    there, go_on = stopped_inside(monkeypatch, cases, "_refuse_known")
    entering = Apart(lambda: given.a_case(scene, occurred_on=given.TODAY))
    disposing = Apart(lambda: given.disposed_of(scene, box.number, permission))
    entering.start()
    assert there.wait(LONGEST_WAIT)
    disposing.start()
    disposing.join(0.5)
    assert disposing.is_alive(), "it must wait until the petition is entered"
    go_on.set()
    for thread in (entering, disposing):
        thread.join(LONGEST_WAIT)
    assert entering.failure is None
    assert isinstance(disposing.failure, Refused)
    assert Case.objects.get().number in str(disposing.failure)
    assert Box.objects.get(pk=box.pk).state == "held"


@pytest.mark.slow
def test_a_petition_waits_for_a_disposal_that_is_being_decided(ready, monkeypatch):
    scene, box, permission = ready
    there, go_on = stopped_inside(monkeypatch, disposals, "judge_disposal")
    disposing = Apart(lambda: given.disposed_of(scene, box.number, permission))
    entering = Apart(lambda: given.a_case(scene, occurred_on=given.TODAY))
    disposing.start()
    assert there.wait(LONGEST_WAIT)
    entering.start()
    entering.join(0.5)
    assert entering.is_alive(), "it must wait until the disposal is decided"
    go_on.set()
    for thread in (disposing, entering):
        thread.join(LONGEST_WAIT)
    assert disposing.failure is None
    assert entering.failure is None
    assert Box.objects.get(pk=box.pk).state == "disposed"
    assert Case.objects.count() == 1


def questions(client, address):
    with CaptureQueriesContext(connection) as captured:
        assert client.get(address).status_code == 200
    return len(captured)


@pytest.mark.django_db
def test_more_cases_cost_the_same_number_of_questions():
    scene = given.a_scene()
    covers = COVERS["stations of two constituencies"](scene)
    given.a_case(scene, covers=covers)
    client = given.browser_of(scene.cast.auditor)
    contest = f"/contests/{scene.contests['11']}/"
    few = [questions(client, address) for address in ("/cases/", contest)]
    for name in ("Rill", "Sedge", "Tarn", "Heron"):
        given.a_case(
            scene,
            parties=f"{name} v. Returning Officer",
            covers=covers,
        )
    many = [questions(client, address) for address in ("/cases/", contest)]
    assert many == few
