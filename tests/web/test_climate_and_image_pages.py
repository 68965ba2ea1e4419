"""Climate readings and images at risk, as each role sees and enters them.

Failure mode 67: thermal slips that fade while a case is pending are told to the legal
cell, which asks the court for directions; nobody copies on their own.
"""

from datetime import timedelta

import pytest

from registry.models import ClimateReading, Discrepancy, Envelope
from registry.rules.powers import PowerMissing
from registry.usecases import Mistaken, desks, images
from tests import given

pytestmark = pytest.mark.django_db


@pytest.fixture
def scene(monkeypatch):
    given.clock_at(monkeypatch, given.NOW)
    return given.a_scene()


@pytest.fixture
def box(scene):
    return given.a_shelved_box(scene)


@pytest.fixture
def keeper(scene):
    return given.browser_of(scene.cast.custodian)


def read(client, scene, celsius="24.5", humidity="45.0", **more):
    figures = {"temperature_c": celsius, "humidity_percent": humidity, **more}
    return client.post(f"/climate/{scene.room}/", figures)


def test_readings_out_of_limits_stand_out_and_two_in_a_row_open_a_discrepancy(
    scene, box, keeper
):
    first = keeper.post(
        f"/climate/{scene.room}/",
        {
            "temperature_c": "24.5",
            "humidity_percent": "45",
            "taken_at": "2026-11-01T09:00",
        },
        follow=True,
    )
    assert "24.5 °C is above 20 °C" in first.content.decode()
    assert not Discrepancy.objects.exists()
    assert read(keeper, scene).status_code == 302
    found = Discrepancy.objects.get()
    assert found.room.number == scene.room
    assert found.owner.name == scene.cast.custodian.name
    # It is told once while it is open.
    read(keeper, scene)
    assert Discrepancy.objects.count() == 1
    page = keeper.get(f"/climate/{scene.room}/").content.decode()
    assert "<svg" in page
    assert "rule 21(4)" in page
    assert "out of limits" in keeper.get("/climate/").content.decode()


def test_a_reading_from_paper_keeps_both_moments(scene, box, keeper):
    """Failure mode 90: occurred and recorded."""
    read(keeper, scene, "18", "45", taken_at="2026-10-31T08:15")
    row = ClimateReading.objects.get()
    assert row.recorded_at == given.NOW
    assert row.taken_at < row.recorded_at


@pytest.mark.parametrize(
    ("figures", "message"),
    [
        ({"celsius": ""}, "Give the temperature"),
        ({"celsius": "warm"}, "Write a figure"),
        ({"celsius": "95"}, "between -60 and 80"),
        ({"humidity": "101"}, "between 0 and 100"),
        ({"taken_at": "2026-11-03T10:00"}, "has not come yet"),
    ],
)
def test_a_figure_that_cannot_be_is_asked_for_again(scene, keeper, figures, message):
    answer = read(keeper, scene, **figures)
    assert answer.status_code == 400
    assert message in answer.content.decode()
    assert not ClimateReading.objects.exists()


@pytest.mark.parametrize("who", ["legal", "authority", "auditor", "administrator"])
def test_others_see_the_climate_and_enter_none(scene, who):
    client = given.browser_of(getattr(scene.cast, who))
    assert client.get("/climate/").status_code == 200
    page = client.get(f"/climate/{scene.room}/")
    assert page.status_code == 200
    assert "Enter a reading" not in page.content.decode()
    assert read(client, scene).status_code == 403


def test_another_rooms_climate_is_not_there(scene, keeper):
    assert keeper.get(f"/climate/{scene.other_room}/").status_code == 404


def test_a_reading_that_is_due_stands_on_the_desk(scene, box, keeper):
    desk = keeper.get("/").content.decode()
    assert "read the climate" in desk
    read(keeper, scene, "18", "45")
    assert "read the climate" not in keeper.get("/").content.decode()


def test_fading_slips_of_a_pending_case_are_told_to_the_legal_cell(scene, box):
    given.a_case(scene)
    lena = scene.cast.legal
    after = {years: given.NOW + timedelta(days=365 * years) for years in (0, 2, 5)}
    words = {
        years: [
            one.word
            for one in desks.look_at_desk(actor=lena, at=at)
            if one.page == "images-at-risk"
        ]
        for years, at in after.items()
    }
    assert words == {0: [], 2: ["Ask in time"], 5: ["At risk"]}


def test_without_a_pending_case_nothing_is_raised_but_it_is_listed(scene, box):
    at = given.NOW + timedelta(days=365 * 5)
    lena = scene.cast.legal
    waiting = desks.look_at_desk(actor=lena, at=at)
    assert not [one for one in waiting if one.page == "images-at-risk"]
    [row] = images.list_images_at_risk(actor=lena, at=at)
    assert (row.stands, row.cases, row.risk.assumed) == ("at-risk", (), True)


def test_the_paper_is_recorded_for_a_contest_and_the_list_follows(scene, box, keeper):
    address = f"/contests/{scene.contests['11']}/paper/"
    mistaken = keeper.post(address, {"paper": "plain", "source": ""})
    assert mistaken.status_code == 400
    sheet = {"paper": "plain", "source": "maker's sheet 4"}
    assert keeper.post(address, sheet).status_code == 302
    assert Envelope.objects.get().paper == "plain"
    assert (
        "No slips on paper that fades"
        in keeper.get("/images-at-risk/").content.decode()
    )
    assert keeper.post(address, sheet).status_code == 409
    back = {"paper": "thermal", "source": "roll seen at sealing"}
    assert keeper.post(f"/containers/{box.number}/paper/", back).status_code == 302
    assert Envelope.objects.get().paper == "thermal"


def test_a_paper_that_is_none_is_not_taken(scene, box):
    call = {"container": box.number, "actor": scene.cast.custodian, "at": given.NOW}
    with pytest.raises(Mistaken, match="Choose the paper"):
        images.set_paper(paper="parchment", source="seen", **call)


@pytest.mark.parametrize(
    ("who", "look"),
    [("custodian", 200), ("legal", 200), ("authority", 200), ("auditor", 200),
     ("administrator", 403)],
)  # fmt: skip
def test_who_sees_images_at_risk_and_who_records_paper(scene, box, who, look):
    actor = getattr(scene.cast, who)
    client = given.browser_of(actor)
    assert client.get("/images-at-risk/").status_code == look
    if who != "custodian":
        with pytest.raises(PowerMissing):
            images.set_paper(
                container=box.number,
                paper="plain",
                source="seen",
                actor=actor,
                at=given.NOW,
            )
        address = f"/containers/{box.number}/paper/"
        sheet = {"paper": "plain", "source": "maker's sheet"}
        assert client.post(address, sheet).status_code == 403
