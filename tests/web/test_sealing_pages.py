"""The pages of the sealing table, for each role, with and without the script."""

from datetime import timedelta

import pytest

from registry.models import (
    Envelope,
    FallbackForm,
    SealingAnswer,
    StationSealing,
    UnitSet,
)
from registry.usecases import intake, paper_forms
from tests import given
from tests.documents.papers import text_of as pdf_text_of
from tests.usecases.test_sealing import WASTE, answers_for, begun, finished, slips

pytestmark = pytest.mark.django_db

READERS = ("legal", "authority", "countersigner", "auditor")


@pytest.fixture
def scene():
    return given.a_scene()


@pytest.fixture
def keeper(scene):
    return given.browser_of(scene.cast.custodian)


def text_of(answer):
    return " ".join(answer.content.decode().split())


def test_a_scan_brings_the_station_and_the_page_asks_everything(scene, keeper):
    answer = keeper.post(
        "/sealing/",
        {"scanned": "001", "contest": scene.contests["11"], "room": scene.room},
    )
    of = StationSealing.objects.get()
    assert answer["Location"] == f"/sealing/{of.number}/"
    page = text_of(keeper.get(answer["Location"]))
    for words in (
        "Station 001 Customs Quay School",
        "Expected: Control unit CU-11001, paper-trail unit PT-AA-11001.",
        "Power packs taken out of both units",
        "Take battery packs out of control units",  # the caution itself
        "Slips hanging uncut, set aside and not counted",
        "Waste of the table looked through by two persons",
        "Paper seals signed by those present",  # when the box is full
        "12 questions still to be answered",
    ):
        assert words in page, words


def test_a_scan_that_leads_nowhere_keeps_what_was_typed(scene, keeper):
    answer = keeper.post("/sealing/", {"scanned": "099", "room": scene.room})
    assert answer.status_code == 400
    assert 'value="099"' in answer.content.decode()
    assert "choose it first" in text_of(answer)


def test_without_a_script_each_section_is_kept(scene, keeper):
    """Nothing hangs on the script: the section's own button keeps what stands there."""
    number = begun(scene)
    unit = UnitSet.objects.get(control_unit_serial="CU-11001").number
    answer = keeper.post(
        f"/sealing/{number}/", {"seen": "0", "keep": "1", f"{unit}:votes": "612"}
    )
    assert answer["Location"] == f"/sealing/{number}/"
    page = keeper.get(answer["Location"])
    assert "Kept at" in text_of(page)
    assert page.context["form"][f"{unit}:votes"].initial == "612"


def test_finishing_names_what_is_lacking_and_loses_nothing(scene, keeper):
    number = begun(scene)
    sent = answers_for() | {"seen": "0", "finish": "1"}
    answer = keeper.post(f"/sealing/{number}/", sent)
    assert answer.status_code == 400
    assert "Say yes or no." in text_of(answer)
    assert SealingAnswer.objects.filter(answer="612").count() == 2
    assert not Envelope.objects.exists()


def test_what_is_sealed_stands_on_the_receipt_of_its_intake(scene, keeper):
    came = intake.begin_intake(
        room=scene.room,
        delivered_by="Rowan Fenn",
        actor=scene.cast.custodian,
        at=given.NOW,
    )
    query = f"/sealing/?intake={came}&room={scene.room}"
    page = keeper.get(f"/intake/{came}/").content.decode()
    assert query.replace("&", "&amp;") in page
    form = keeper.get(query).context["form"]
    assert form["intake"].initial == came
    sent = {"scanned": "001", "contest": scene.contests["11"], "room": scene.room}
    station = keeper.post(query, sent | {"intake": came})["Location"]
    done = keeper.post(station, answers_for() | WASTE | {"finish": "1"})
    assert f"intake={came}" in done["Location"]
    envelope = Envelope.objects.get()
    assert envelope.intake.number == came
    receipt = keeper.get(f"/intake/{came}/receipt.pdf")
    assert envelope.number in pdf_text_of(receipt.content)
    assert came in text_of(keeper.get(station))
    of_both = given.appointed(
        scene.cast.administrator,
        "gil.keeper",
        "custodian",
        rooms=(scene.room, scene.other_room),
    )
    other = intake.begin_intake(
        room=scene.other_room,
        delivered_by="Rowan Fenn",
        actor=of_both,
        at=given.NOW,
    )
    sent |= {"scanned": "002", "intake": other}
    wrong = given.browser_of(of_both).post("/sealing/", sent)
    assert wrong.status_code == 400
    assert f"Intake {other} came into" in text_of(wrong)


def test_a_station_sealed_on_paper_is_entered_later_with_both_times(
    scene, keeper, monkeypatch
):
    """Failure mode 90: network down on the night; both times, and the form's number."""
    [form] = paper_forms.issue_forms(
        room=scene.room,
        kind="intake",
        count=1,
        actor=scene.cast.custodian,
        at=given.NOW - timedelta(hours=9),
    )
    given.clock_at(monkeypatch, given.NOW)
    page = keeper.get(f"/paper-forms/{form}/").content.decode()
    assert f"/sealing/?form={form}&amp;room={scene.room}" in page
    table = f"/sealing/?form={form}&room={scene.room}"
    sent = {"scanned": "001", "contest": scene.contests["11"], "room": scene.room}
    station = keeper.post(table, sent)["Location"]
    assert f"form={form}" in station
    assert "as on the form" in text_of(keeper.get(station))
    happened = given.NOW - timedelta(hours=7)
    late = {"paper_form": form, "happened_at": f"{happened:%Y-%m-%dT%H:%M}"}
    # What is kept meanwhile needs no moment, and does not lose the one typed.
    kept = keeper.post(station, {"seen": "0", "keep": "1", **WASTE, **late})
    assert kept.status_code == 302
    assert late["happened_at"] in keeper.get(kept["Location"]).content.decode()
    answers = answers_for() | WASTE | {"finish": "1", "paper_form": form}
    lacking = keeper.post(station, answers)
    assert lacking.status_code == 400
    assert "Say when it happened" in text_of(lacking)
    assert not Envelope.objects.exists()
    done = keeper.post(station, answers | late)
    assert f"form={form}" in done["Location"]
    move = Envelope.objects.get().movements.get()
    assert move.occurred_at == happened.replace(second=0, microsecond=0)
    assert move.recorded_at == given.NOW
    assert FallbackForm.objects.get().state == "in-entry"


@pytest.mark.parametrize("form", ["PF-000001-7", "x"])
def test_a_paper_form_that_is_none_leads_nowhere(scene, keeper, form):
    assert keeper.get(f"/sealing/?form={form}").status_code == 404
    assert keeper.get(f"/sealing/{begun(scene)}/?form={form}").status_code == 404


def test_after_finishing_the_next_station_is_scanned_at_once(scene, keeper):
    number = begun(scene)
    sent = answers_for() | WASTE | {"seen": "0", "finish": "1"}
    answer = keeper.post(f"/sealing/{number}/", sent)
    assert answer.status_code == 302, text_of(answer)
    page = keeper.get(answer["Location"])
    envelope = Envelope.objects.get()
    assert f"/containers/{envelope.number}/label/" in page.content.decode()
    assert "1 of 3 stations of 11 Harbour Reach sealed" in text_of(page)
    assert "Not sealed yet: 002, 003." in text_of(page)
    form = page.context["form"]
    assert form["contest"].initial == scene.contests["11"]
    assert form.fields["scanned"].widget.attrs["autofocus"]


def test_what_contradicts_is_sent_to_quarantine_and_said(scene, keeper):
    number = begun(scene)
    sent = answers_for(**slips(slips="5")) | WASTE | {"seen": "0", "finish": "1"}
    answer = keeper.post(f"/sealing/{number}/", sent)
    page = text_of(keeper.get(answer["Location"]))
    assert "Set apart on the quarantine shelf" in page


def test_the_script_is_told_what_was_kept_and_who_else_is_here(scene, keeper):
    number = begun(scene)
    unit = UnitSet.objects.get(control_unit_serial="CU-11001").number
    gil = given.appointed(
        scene.cast.administrator, "gil.keeper", "custodian", rooms=(scene.room,)
    )
    other = given.browser_of(gil)
    field = f"{unit}:control-unit"
    other.post(f"/sealing/{number}/keep/", {"seen": "0", field: "CU-9"})
    told = keeper.post(
        f"/sealing/{number}/keep/", {"seen": "0", **WASTE, field: "CU-11001"}
    ).json()
    assert "Gil Keeper entered “CU-9”" in told["conflicts"][field]
    assert told["answers"]["station:waste"] == "yes"
    assert told["others"][0]["name"] == "Gil Keeper"
    assert "CU-11001 is expected here" in told["told"][field]
    assert told["left"] == 10
    too_long = keeper.post(
        f"/sealing/{number}/keep/", {"seen": "0", "station:waste": "y" * 500}
    )
    assert too_long.status_code == 400
    assert keeper.get(f"/sealing/{number}/keep/").status_code == 405


def test_a_finished_station_says_what_was_answered(scene, keeper):
    number = begun(scene)
    finished(scene, number, answers_for())
    page = text_of(keeper.get(f"/sealing/{number}/"))
    assert "Slips counted into the envelope" in page
    assert ">612<" in page
    late = keeper.post(f"/sealing/{number}/keep/", {"seen": "0", **WASTE})
    assert late.status_code == 409
    assert "no longer at the table" in late.json()["refused"]
    assert keeper.post(f"/sealing/{number}/", {"finish": "1"}).status_code == 409


def test_a_station_is_left_off_with_a_reason(scene, keeper):
    number = begun(scene)
    address = f"/sealing/{number}/leave/"
    assert keeper.post(address, {"because": ""}).status_code == 400
    assert "001 Customs Quay School is at the sealing table" in text_of(keeper.get("/"))
    answer = keeper.post(address, {"because": "The unit was called back"})
    assert answer["Location"].startswith("/sealing/?contest=")
    assert "The unit was called back" in text_of(keeper.get(f"/sealing/{number}/"))
    assert keeper.post(address, {"because": "again"}).status_code == 409
    assert "at the sealing table" not in text_of(keeper.get("/"))


@pytest.mark.parametrize("who", READERS)
def test_a_reader_sees_the_answers_and_writes_none(scene, who):
    number = begun(scene)
    client = given.browser_of(getattr(scene.cast, who))
    page = client.get(f"/sealing/{number}/")
    assert page.status_code == 200
    assert '<form method="post" novalidate' not in page.content.decode()
    assert client.get("/sealing/").status_code == 200
    assert "Bring to the table" not in client.get("/sealing/").content.decode()
    for address, sent in (
        ("/sealing/", {"scanned": "002", "room": scene.room, "contest": ""}),
        (f"/sealing/{number}/", {"seen": "0", "finish": "1"}),
        (f"/sealing/{number}/keep/", {"seen": "0", **WASTE}),
        (f"/sealing/{number}/leave/", {"because": "x"}),
    ):
        assert client.post(address, sent).status_code == 403, address
    assert StationSealing.objects.get().state == "open"


def test_an_administrator_sees_no_table(scene):
    number = begun(scene)
    client = given.browser_of(scene.cast.administrator)
    for address in ("/sealing/", f"/sealing/{number}/"):
        assert client.get(address).status_code == 403, address
    assert client.post(f"/sealing/{number}/keep/", WASTE).status_code == 403


def test_a_guessed_address_leads_nowhere(scene, keeper, client):
    number = begun(scene)
    other = given.browser_of(
        given.appointed(
            scene.cast.administrator, "ola", "custodian", rooms=(scene.other_room,)
        )
    )
    for address in (f"/sealing/{number}/", f"/sealing/{number}/leave/"):
        assert other.get(address).status_code == 404, address
    assert other.post(f"/sealing/{number}/keep/", WASTE).status_code == 404
    assert keeper.get("/sealing/SS-000001-1/").status_code == 404
    assert client.get(f"/sealing/{number}/")["Location"].startswith("/log-in/")


def test_a_scanned_number_opens_the_station(scene, keeper):
    number = begun(scene)
    assert keeper.get("/find/", {"q": number})["Location"] == f"/sealing/{number}/"


def test_a_script_in_an_answer_is_shown_as_text(scene, keeper):
    number = begun(scene)
    unit = UnitSet.objects.get(control_unit_serial="CU-11001").number
    keeper.post(
        f"/sealing/{number}/", {"seen": "0", f"{unit}:seal@poll-slips": "<script>x"}
    )
    assert "<script>x" not in keeper.get(f"/sealing/{number}/").content.decode()
