"""A box's page, as each role sees it."""

import pytest

from registry.models import AccessEntry, Box
from tests import given

pytestmark = pytest.mark.django_db


@pytest.fixture
def scene():
    return given.a_scene()


@pytest.mark.parametrize(
    ("who", "status"),
    [
        ("custodian", 200),
        ("legal", 200),
        ("authority", 200),
        ("auditor", 200),
        ("administrator", 403),
    ],
)
def test_who_may_open_a_box(scene, who, status):
    box = given.a_shelved_box(scene)
    client = given.browser_of(getattr(scene.cast, who))
    for address in (f"/boxes/{box.number}/", "/boxes/", "/envelopes/"):
        assert client.get(address).status_code == status, address


def test_a_stranger_is_sent_to_the_log_in(scene, client):
    box = given.a_shelved_box(scene)
    answer = client.get(f"/boxes/{box.number}/")
    assert answer.status_code == 302
    assert answer["Location"].startswith("/log-in/")


def test_a_look_is_entered_and_shown(scene):
    box = given.a_shelved_box(scene)
    given.browser_of(scene.cast.auditor).get(f"/boxes/{box.number}/")
    entry = AccessEntry.objects.filter(act="box.look").get()
    assert (entry.subject, entry.name) == (box.number, scene.cast.auditor.name)
    page = given.browser_of(scene.cast.custodian).get(f"/boxes/{box.number}/")
    assert scene.cast.auditor.name in page.content.decode()


# What a page shows


def test_the_five_dates_stand_apart(scene):
    box = given.a_shelved_box(scene)
    page = given.browser_of(scene.cast.auditor).get(f"/boxes/{box.number}/")
    text = page.content.decode()
    for title in ("Date of poll", "Date of counting", "Result declared", "Sealed",
                  "Received"):  # fmt: skip
        assert f"<dt>{title}</dt>" in text, title


def test_markings_stand_as_written_beside_what_they_must_be(scene):
    odd = given.an_envelope_on_the_table(control_unit="CU-11002")
    number = given.logged(scene, odd).number
    page = given.browser_of(scene.cast.legal).get(f"/envelopes/{number}/")
    text = page.content.decode()
    for word in ("CU-11002", "CU-11001", "Differs", "Agrees", "in quarantine"):
        assert word in text, word


def test_a_box_shows_its_contents_seals_movements_and_permissions(scene):
    box = given.a_shelved_box(scene)
    permission = given.a_permission(scene, [box.number])
    page = given.browser_of(scene.cast.custodian).get(f"/boxes/{box.number}/")
    text = page.content.decode()
    for word in (given.an_envelope_in(box).number, "PS-0001", "Shelved", permission,
                 "How this date was reached", "Calvenna Print Works"):  # fmt: skip
        assert word in text, word


def test_the_time_of_keeping_is_reckoned_for_any_day(scene):
    box = given.a_shelved_box(scene)
    given.a_case(scene, occurred_on=given.TODAY)
    client = given.browser_of(scene.cast.legal)
    today = client.get(f"/boxes/{box.number}/").content.decode()
    before = client.get(f"/boxes/{box.number}/?as-of={given.DECLARED}").content.decode()
    assert "No end date: keep" in today
    assert "No end date: keep" not in before


@pytest.mark.parametrize("day", ["2026-13-45", "yesterday", "9" * 50])
def test_a_day_that_is_none_is_as_if_it_were_not_asked(scene, day):
    box = given.a_shelved_box(scene)
    client = given.browser_of(scene.cast.legal)
    assert client.get(f"/boxes/{box.number}/?as-of={day}").status_code == 200


# Acts

ACTS = {
    "put-in": {"box": "BX-000001-Q"},
    "shelve": {"shelf": "SH-000001-D"},
    "check-seal": {"number_read": "PS-0001", "finding": "intact-matches"},
    "hand-over": {"to_person": "Gil Keeper"},
    "not-found": {"note": "Bay A, both keepers."},
    "found": {"note": "Bay B."},
    "report": {"detail": "Damp."},
}
NOT_CUSTODIANS = ("legal", "authority", "auditor", "administrator")


@pytest.mark.parametrize("name", ACTS)
@pytest.mark.parametrize("who", NOT_CUSTODIANS)
def test_no_other_role_acts_by_a_guessed_address(scene, who, name):
    box = given.a_shelved_box(scene)
    client = given.browser_of(getattr(scene.cast, who))
    address = f"/containers/{box.number}/{name}/"
    assert client.get(address).status_code == 403
    assert client.post(address, ACTS[name]).status_code == 403


@pytest.mark.parametrize("who", ["legal", "authority", "auditor"])
def test_no_other_role_is_offered_what_it_may_not_do(scene, who):
    box = given.a_shelved_box(scene)
    client = given.browser_of(getattr(scene.cast, who))
    page = client.get(f"/boxes/{box.number}/").content.decode()
    for name in (*ACTS, "release"):
        assert f"/containers/{box.number}/{name}" not in page, name
    assert "/labels/" not in page
    assert "What stands against disposal" in page
    assert client.post(f"/boxes/{box.number}/close/").status_code == 403


@pytest.mark.parametrize("name", [*ACTS, "release"])
def test_a_container_of_another_room_is_not_there_for_any_act(scene, name):
    box = given.a_shelved_box(scene)
    keeper = given.appointed(
        scene.cast.administrator, "gil.keeper", "custodian", rooms=(scene.other_room,)
    )
    client = given.browser_of(keeper)
    for method in (client.get, client.post):
        assert method(f"/containers/{box.number}/{name}/").status_code == 404
    assert client.get(f"/labels/?for={box.number}").status_code == 404
    assert client.get(f"/containers/{box.number}/reasoning.pdf").status_code == 404


def test_a_custodian_checks_hands_over_misses_finds_and_reports(scene):
    box = given.a_shelved_box(scene)
    client = given.browser_of(scene.cast.custodian)
    for name in ("check-seal", "hand-over", "report", "not-found", "found"):
        answer = client.post(f"/containers/{box.number}/{name}/", ACTS[name])
        assert answer.status_code == 302, name
        # A container that is missing is an incident; its form is one click away.
        on = "/incidents/new/?" if name == "not-found" else f"/boxes/{box.number}/"
        assert answer["Location"].startswith(on)
    box.refresh_from_db()
    assert box.whereabouts == "intake"
    acts = list(box.movements.order_by("id").values_list("act", flat=True))
    assert acts[-3:] == ["handed-over", "not-found", "found"]


def test_the_recorded_seal_number_is_not_shown_to_who_reads_it(scene):
    """Blind reading: whoever sees the number reads what he expects."""
    box = given.a_shelved_box(scene)
    client = given.browser_of(scene.cast.custodian)
    page = client.get(f"/containers/{box.number}/check-seal/").content.decode()
    assert "PS-0001" not in page


def test_a_box_is_closed_and_sealed_on_its_page(scene):
    box = given.logged(scene, given.an_open_box()).number
    client = given.browser_of(scene.cast.custodian)
    address = f"/boxes/{box}/close/"
    entered = {
        "sealed_on": given.COUNTED.isoformat(),
        "written_stations": "001",
        "empty": "on",
    }
    assert client.post(address, entered).status_code == 400
    seals = {"seal_number_1": "PS-1", "seal_number_2": "PS-2", "seal_signed_1": "yes"}
    assert client.post(address, entered | seals).status_code == 400
    seals |= {"check_box-marked": "yes"}
    assert client.post(address, entered | seals).status_code == 302
    record = Box.objects.get(number=box)
    assert (record.state, record.closed_on) == ("held", given.COUNTED)
    assert record.seals.count() == 2
    assert client.post(address, entered | seals).status_code == 409


def closing(**changes):
    """What is sent when an empty box is closed, with every step of the checklist."""
    return {
        "sealed_on": given.COUNTED.isoformat(), "written_stations": "001",
        "empty": "on", "seal_number_1": "PS-1", "seal_signed_1": "yes",
        "check_box-marked": "yes", **changes,
    }  # fmt: skip


def test_closing_a_box_asks_what_the_checklist_of_its_schedule_asks(scene):
    """Box marked, sealed with numbered paper seals, signed: issue 4 of this project."""
    box = given.logged(scene, given.an_open_box()).number
    client = given.browser_of(scene.cast.custodian)
    address = f"/boxes/{box}/close/"
    page = " ".join(client.get(address).content.decode().split())
    for words in (
        "Box marked with its stations",
        "Box closed with numbered paper seals",
        'Box weighed <span class="optional">(may be left out)</span>',
        "Paper seals signed by those present",
        "rule 7(3)",
        "Lifting and reaching",
    ):
        assert words in page, words
    for lacking, field in (
        ({"check_box-marked": ""}, "check_box-marked"),
        ({"check_box-marked": "perhaps"}, "check_box-marked"),
        ({"seal_number_1": ""}, "seal_number_1"),
        ({"seal_signed_1": ""}, "seal_signed_1"),
    ):
        answer = client.post(address, closing(**lacking))
        assert answer.status_code == 400, lacking
        assert list(answer.context["form"].errors) == [field]
    assert Box.objects.get(number=box).closed_on is None
    assert client.post(address, closing(gross_weight_kg="5.5")).status_code == 302
    assert Box.objects.get(number=box).state == "held"
    auditor = given.browser_of(scene.cast.auditor)
    assert "box marked: yes" in auditor.get("/accesses/").content.decode()


def test_a_step_answered_with_no_is_recorded_and_stays_open(scene):
    """Nothing is refused because it contradicts: it is recorded, and set apart."""
    box = given.logged(scene, given.an_open_box()).number
    client = given.browser_of(scene.cast.custodian)
    sent = closing(**{"check_box-marked": "no"})
    assert client.post(f"/boxes/{box}/close/", sent).status_code == 302
    record = Box.objects.get(number=box)
    assert record.state == "quarantined"
    [point] = record.discrepancies.all()
    assert "answered with no: Box marked with its stations" in point.detail


def test_what_is_refused_is_told_with_its_reason(scene):
    envelope = given.logged(scene, given.an_envelope_on_the_table()).number
    other = given.logged(scene, given.an_open_box(("12", "Quillmoor"))).number
    client = given.browser_of(scene.cast.custodian)
    answer = client.post(f"/containers/{envelope}/put-in/", {"box": other})
    assert answer.status_code == 409
    assert "11 Harbour Reach" in answer.content.decode()


@pytest.mark.parametrize(
    ("who", "label", "reasoning"),
    [
        ("custodian", 200, 200),
        ("legal", 403, 200),
        ("authority", 403, 200),
        ("auditor", 403, 200),
        ("administrator", 403, 403),
    ],
)
def test_who_prints_labels_and_reasonings(scene, who, label, reasoning):
    box = given.a_shelved_box(scene)
    client = given.browser_of(getattr(scene.cast, who))
    sent = {"stock": "a4-2x4", "first_place": "1", "copies": "1"}
    for answer, status in (
        (client.post(f"/labels/?for={box.number}&with=contents", sent), label),
        (client.get(f"/containers/{box.number}/reasoning.pdf"), reasoning),
    ):
        assert answer.status_code == status
        if status == 200:
            assert answer.content[:5] == b"%PDF-"
