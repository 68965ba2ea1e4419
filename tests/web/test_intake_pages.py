"""The intake table: keyboard and scanner only, and nothing refused at the door."""

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

from registry.models import Box, Discrepancy, Envelope, Intake
from tests import given
from tests.usecases.test_intake_files import a_line, as_csv

pytestmark = pytest.mark.django_db


@pytest.fixture
def scene():
    return given.a_scene()


@pytest.fixture
def keeper(scene):
    return given.browser_of(scene.cast.custodian)


@pytest.fixture
def begun(scene, keeper):
    """The address at which envelopes of a begun intake are logged."""
    answer = keeper.post(
        "/intake/",
        {
            "election": scene.election,
            "contest": "",
            "room": scene.room,
            "kind": "poll-slips",
            "delivered_by": "Rowan Fenn",
        },
    )
    assert answer.status_code == 302, answer.content.decode()
    return answer["Location"]


def entered(station="001", **changes):
    """What a scanner and a person type for an envelope."""
    line = a_line(station)
    names = [
        "election", "constituency_number", "constituency_name", "station_number",
        "station_name", "control_unit", "paper_trail_unit", "poll_date",
        "counting_date", "sealed_on",
    ]  # fmt: skip
    return {
        **{name: line[name] for name in names},
        "received_on": given.COUNTED.isoformat(),
        "seal_number_1": line["seal_number"],
        "seal_maker_1": "RO 11",
        "slip_count": "612",
        **changes,
    }


def page_of(keeper, answer):
    assert answer.status_code == 302, answer.content.decode()
    return keeper.get(answer["Location"]).content.decode()


ADDRESSES = ("/intake/", "/intake/fill/", "/intake/file/")


@pytest.mark.parametrize("who", ["legal", "authority", "auditor", "administrator"])
def test_the_table_is_the_custodians_alone(scene, begun, who):
    client = given.browser_of(getattr(scene.cast, who))
    number = Intake.objects.get().number
    for address in (
        "/intake/", "/intake/file/", begun, f"/intake/{number}/",
        f"/intake/{number}/receipt.pdf", f"/labels/?for={number}",
        f"/intake/file/{'0' * 64}.csv",
    ):  # fmt: skip
        assert client.get(address).status_code == 403, address
    assert client.post(begun, entered()).status_code == 403
    assert (
        client.post("/intake/fill/", {"box": "x", "envelope": "y"}).status_code == 403
    )
    assert not Envelope.objects.exists()


def test_a_stranger_is_sent_to_the_log_in(client):
    for address in ADDRESSES:
        assert client.get(address)["Location"].startswith("/log-in/")


def test_an_intake_of_another_room_is_not_there(scene, begun):
    other = given.browser_of(
        given.appointed(
            scene.cast.administrator,
            "gil.keeper",
            "custodian",
            rooms=(scene.other_room,),
        )
    )
    number = Intake.objects.get().number
    for address in (begun, f"/intake/{number}/", f"/intake/{number}/receipt.pdf"):
        assert other.get(address).status_code == 404, address


def test_an_envelope_is_logged_and_the_form_is_ready_for_the_next(keeper, begun):
    page = page_of(keeper, keeper.post(begun, entered()))
    envelope = Envelope.objects.get()
    assert envelope.state == "held"
    assert envelope.number in page
    assert "Recognised as 11 Harbour Reach, station 001 Customs Quay School" in page


def test_what_is_seen_again_is_kept_and_what_is_read_anew_is_not(keeper, begun):
    """A serial that stood there already would be agreed to, not read."""
    page = page_of(keeper, keeper.post(begun, entered()))
    form = keeper.get(begun).context["form"]
    for name in ("election", "constituency_name", "poll_date", "seal_maker_1"):
        assert form.initial[name], name
    for name in (
        "station_number", "station_name", "control_unit", "paper_trail_unit",
        "seal_number_1", "slip_count",
    ):  # fmt: skip
        assert not form.initial.get(name), name
    assert 'value="CU-11001"' not in page


def test_the_paper_of_the_slips_is_asked_and_kept_for_the_next(keeper, begun):
    """Failure mode 67: which paper it is must be known before it fades."""
    assert "Thermal prints fade" in keeper.get(begun).content.decode()
    page_of(keeper, keeper.post(begun, entered(paper="thermal")))
    assert Envelope.objects.get().paper == "thermal"
    assert keeper.get(begun).context["form"].initial["paper"] == "thermal"
    wrong = keeper.post(begun, entered("002", paper="vellum"))
    assert wrong.status_code == 400
    assert Envelope.objects.count() == 1


def test_no_paper_is_asked_of_a_packet_or_a_box(keeper, begun):
    packet = begun.replace("kind=poll-slips", "kind=statutory-packet")
    for address in (packet, begun.replace("/envelope/", "/box/")):
        page = keeper.get(address)
        assert page.status_code == 200, address
        assert "paper" not in page.context["form"].fields, address


def test_the_first_form_holds_no_serial_of_the_master_data(keeper, begun):
    page = keeper.get(begun).content.decode()
    for serial in ("11001", "11002", "Customs Quay School"):
        assert serial not in page


def test_enter_walks_the_scanned_fields_in_the_order_of_the_container(keeper, begun):
    page = keeper.get(begun)
    names = [field.name for field in page.context["form"].scanned()]
    assert names == [
        "station_number", "station_name", "control_unit", "paper_trail_unit",
        "seal_number_1", "slip_count",
    ]  # fmt: skip
    text = page.content.decode()
    assert "data-scan-flow" in text
    assert text.count("data-scan ") + text.count("data-scan>") == len(names)


def test_what_is_wrong_is_named_at_once(keeper, begun):
    page = page_of(keeper, keeper.post(begun, entered(control_unit="CU-11002")))
    assert "in quarantine" in page
    assert "Control unit serial: differs; “CU-11002” is written" in page


def test_what_cannot_be_read_is_ticked(keeper, begun):
    keeper.post(begun, entered(control_unit="", unreadable=["control-unit"]))
    assert Discrepancy.objects.get().kind == "marking-unreadable"


def test_an_empty_form_is_no_envelope(keeper, begun):
    """Enter pressed once too often, with all that was kept from the one before."""
    empty = {
        "station_number": "", "station_name": "", "control_unit": "",
        "paper_trail_unit": "", "seal_number_1": "", "seal_kind_1": "wax",
        "slip_count": "",
    }  # fmt: skip
    answer = keeper.post(begun, entered(**empty))
    assert answer.status_code == 400
    assert "Nothing of this envelope itself was entered" in answer.content.decode()
    assert not Envelope.objects.exists()


def test_a_plain_wax_seal_and_a_broken_one_are_ticked(keeper, begun):
    keeper.post(begun, entered(seal_number_1="", seal_plain_1="on"))
    assert Envelope.objects.get().seals.get().serial == ""
    keeper.post(begun, entered("002", seal_broken_1="on"))
    assert Discrepancy.objects.get().kind == "seal-broken"


def test_a_seal_that_was_not_seen_is_missing_whatever_kind_was_kept(keeper, begun):
    keeper.post(begun, entered(seal_number_1="", seal_kind_1="wax"))
    assert Discrepancy.objects.get().kind == "seal-missing"


def test_mistaken_entries_stand_beside_their_fields_and_nothing_is_lost(keeper, begun):
    answer = keeper.post(
        begun,
        entered(received_on="2099-01-01", slip_count="many", remarks="Torn flap."),
    )
    assert answer.status_code == 400
    page = answer.content.decode()
    assert "Write a whole number" in page
    assert "Torn flap." in page
    answer = keeper.post(begun, entered(received_on="2099-01-01"))
    assert "has not come yet" in answer.content.decode()
    assert not Envelope.objects.exists()


def test_an_open_box_is_logged_and_filled_at_once(keeper, begun):
    box_form = begun.replace("/envelope/", "/box/")
    kept = {k: v for k, v in entered().items() if not k.startswith("seal")}
    kept |= {"label": "1 of 1", "station_number": "", "sealed_on": ""}
    answer = keeper.post(box_form, kept)
    page_of(keeper, answer)
    box = Box.objects.get()
    assert (box.state, box.closed_on) == ("held", None)
    assert box.number in answer["Location"]
    keeper.post(begun, entered(box=box.number))
    assert box.envelopes.count() == 1


def test_a_box_that_arrived_sealed_is_logged_with_all_its_seals(keeper, begun):
    seals = {
        "seal_number_1": "PS-1", "seal_number_2": "PS-2", "seal_number_3": "PS-3",
        "seal_signed_1": "yes", "seal_signed_3": "no", "seal_maker_1": "Print Works",
        "gross_weight_kg": "12.5", "closed": "on", "label": "1 of 1",
    }  # fmt: skip
    keeper.post(begun.replace("/envelope/", "/box/"), entered(**seals))
    box = Box.objects.get()
    assert list(box.seals.order_by("id").values_list("serial", "kind", "signed")) == [
        ("PS-1", "paper", True), ("PS-2", "paper", True), ("PS-3", "paper", False),
    ]  # fmt: skip
    assert {seal.maker for seal in box.seals.all()} == {"Print Works"}
    assert list(box.discrepancies.values_list("kind", flat=True)) == ["seal-unsigned"]


def test_envelopes_are_scanned_into_a_box_one_after_the_other(scene, keeper):
    box = given.logged(scene, given.an_open_box()).number
    envelope = given.logged(scene, given.an_envelope_on_the_table()).number
    answer = keeper.post("/intake/fill/", {"box": box, "envelope": envelope})
    page = page_of(keeper, answer)
    assert f'value="{box}"' in page
    again = keeper.post("/intake/fill/", {"box": box, "envelope": envelope})
    assert again.status_code == 409
    assert "already" in again.content.decode()


def test_cautions_stand_where_wax_is_melted_and_boxes_are_lifted(scene, keeper):
    box = given.logged(scene, given.an_open_box()).number
    for address in ("/intake/", f"/boxes/{box}/close/"):
        page = keeper.get(address).content.decode()
        assert "Hot wax burns" in page
        assert "No open flame near paper" in page
        assert "two people lift" in page
    assert (
        "two people lift" in keeper.get(f"/containers/{box}/shelve/").content.decode()
    )


def a_file(*lines):
    return SimpleUploadedFile("list.csv", as_csv(*lines), content_type="text/csv")


def test_a_list_is_checked_then_taken_without_handing_it_in_again(scene, keeper):
    chosen = {"election": scene.election, "room": scene.room, "delivered_by": "R. Fenn"}
    lines = (a_line(), a_line("002", station_name="x"), a_line("003", slips="?"))
    checked = keeper.post("/intake/file/", {**chosen, "file": a_file(*lines)})
    page = checked.content.decode()
    for text in ("not yet taken", "CSV, UTF-8", "Polling station name: differs",
                 "is not a count"):  # fmt: skip
        assert text in page, text
    assert not Envelope.objects.exists()
    digest = checked.context["read"].digest
    done = keeper.post("/intake/file/take/", {**chosen, "digest": digest})
    assert done.status_code == 200
    assert Envelope.objects.count() == 2
    assert Intake.objects.get().delivered_by == "R. Fenn"
    refused = keeper.get(f"/intake/file/{digest}.csv")
    assert refused["Content-Type"].startswith("text/csv")
    assert "attachment" in refused["Content-Disposition"]
    assert b"is not a count" in refused.content
    again = keeper.post("/intake/file/take/", {**chosen, "digest": digest})
    assert again.status_code == 409


@pytest.mark.parametrize(
    ("upload", "says"),
    [
        ({}, "Choose the file"),
        ({"file": SimpleUploadedFile("a.csv", b"")}, "empty"),
        ({"file": SimpleUploadedFile("a.csv", b"x,y\n1,2\n")}, "lacks the column"),
        ({"file": SimpleUploadedFile("a.xlsx", b"PK\x03\x04")}, "save it again"),
    ],
)
def test_what_is_no_list_says_what_to_do(scene, keeper, upload, says):
    chosen = {"election": scene.election, "room": scene.room}
    answer = keeper.post("/intake/file/", {**chosen, **upload})
    assert answer.status_code == 400
    assert says in answer.content.decode()


def test_receipt_and_labels_are_given_out_as_pdf(keeper, begun):
    keeper.post(begun, entered())
    number = Intake.objects.get().number
    assert number in keeper.get(f"/intake/{number}/").content.decode()
    sent = {"stock": "a4-2x4", "first_place": "1", "copies": "1"}
    for answer in (
        keeper.get(f"/intake/{number}/receipt.pdf"),
        keeper.post(f"/labels/?for={number}", sent),
    ):
        assert answer["Content-Type"] == "application/pdf"
        assert answer.content[:5] == b"%PDF-"


def test_an_intake_without_containers_has_no_receipt(begun, keeper):
    number = Intake.objects.get().number
    assert keeper.get(f"/intake/{number}/receipt.pdf").status_code == 409
