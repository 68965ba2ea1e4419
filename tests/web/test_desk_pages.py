"""Each role's desk: what wants doing today, each with a link that opens."""

import re
from datetime import UTC, datetime, timedelta

import pytest

from registry.models import AccessEntry
from registry.usecases import boxes, cases, custody, permissions
from tests import given

pytestmark = pytest.mark.django_db


EVERYBODY = (
    "custodian", "legal", "authority", "countersigner", "auditor", "administrator",
)  # fmt: skip


@pytest.fixture
def scene():
    return given.a_scene()


@pytest.fixture
def now():
    """The moment of the web, which reads the real clock."""
    return datetime.now(UTC)


def desk(scene, who):
    return given.browser_of(getattr(scene.cast, who)).get("/").content.decode()


def tasks(page):
    found = re.findall(
        r'<div>\s*<a href="([^"]+)">([^<]+)</a>', page.partition('class="tasks"')[2]
    )
    return {text: url for url, text in found}


@pytest.mark.parametrize("who", EVERYBODY)
def test_every_task_leads_to_a_page_that_opens(scene, who, now):
    box = given.a_shelved_box(scene)
    given.logged(scene, given.an_open_box(label="2 of 2"))
    given.logged(scene, given.changed(
        given.an_envelope_on_the_table(seal="W-9"), given.Marking.CONTROL_UNIT, "CU-0"
    ))  # fmt: skip
    given.a_case(scene, "12")
    given.a_recorded_permission(
        scene, [box.number], valid_until=now.date() + timedelta(days=3)
    )
    client = given.browser_of(getattr(scene.cast, who))
    page = client.get("/").content.decode()
    found = tasks(page)
    if who != "administrator":
        assert found
    for text, url in found.items():
        assert client.get(url.replace("&amp;", "&")).status_code == 200, (text, url)


def test_a_custodian_is_told_what_stands_about(scene):
    given.logged(scene, given.an_open_box(label="2 of 2"))
    given.logged(scene, given.an_envelope_on_the_table())
    strange = given.changed(
        given.an_envelope_on_the_table(station="002", name="Net Loft Hall", seal="W-2"),
        given.Marking.CONTROL_UNIT,
        None,
    )
    given.logged(scene, strange)
    said = " ".join(tasks(desk(scene, "custodian")))
    assert "is still open: fill it, close it and seal it" in said
    assert "1 envelope lies at the intake table" in said
    assert "1 envelope in quarantine" in said
    assert "open discrepanc" in said


def test_a_custodian_sees_nothing_of_other_rooms(scene):
    other = given.appointed(
        scene.cast.administrator, "olga.keeper", given.Role.CUSTODIAN,
        rooms=(scene.other_room,),
    )  # fmt: skip
    given.logged(scene, given.an_open_box())
    page = given.browser_of(other).get("/").content.decode()
    assert "Nothing is waiting for you today." in page


def test_the_list_behind_a_task_shows_just_what_it_counts(scene):
    given.a_shelved_box(scene)
    loose = given.logged(
        scene, given.an_envelope_on_the_table(
            "002", name="Net Loft Hall", control_unit="CU-11002",
            paper_trail_unit="PT-AA-11002", seal="W-2",
        ),
    ).number  # fmt: skip
    url = tasks(desk(scene, "custodian"))["1 envelope lies at the intake table"]
    listed = given.browser_of(scene.cast.custodian).get(url).content.decode()
    assert set(re.findall(r"EN-\d{6}-\w", listed)) == {loose}


def test_a_closed_box_wants_a_shelf(scene):
    box = given.logged(scene, given.an_open_box()).number
    given.logged(scene, given.an_envelope_on_the_table(), box=box)
    act = {"actor": scene.cast.custodian, "at": given.NOW}
    boxes.close_box(box=box, seals=[given.paper_seal()], sealed_on=given.COUNTED, **act)
    said = tasks(desk(scene, "custodian"))
    assert any("shelve it" in text and url.endswith(f"{box}/") for text, url in
               said.items())  # fmt: skip


def test_what_is_missing_stands_first(scene):
    box = given.a_shelved_box(scene)
    given.logged(scene, given.an_open_box(label="2 of 2"))
    act = {"actor": scene.cast.custodian, "at": given.NOW}
    custody.report_not_found(container=box.number, note="Not on its shelf.", **act)
    first = next(iter(tasks(desk(scene, "custodian"))))
    assert first == f"Box {box.number} was not found"


def test_the_legal_cell_is_told_what_is_pending_and_lacking(scene, now):
    given.a_shelved_box(scene)
    case = given.a_case(scene, "12")
    said = " ".join(tasks(desk(scene, "legal")))
    assert "1 case pending" in said
    assert f"{case} (Moss v. Returning Officer): the court&#x27;s number" in said
    assert "11 Harbour Reach: confirmation of the court&#x27;s registry wanted" in said
    given.a_confirmation(scene)
    assert "confirmation of" not in " ".join(tasks(desk(scene, "legal")))


def test_a_window_after_a_decision_is_shown_with_its_end(scene, now):
    case = given.a_case(scene)
    cases.record_case_event(
        case=case,
        kind="dismissed",
        level="first",
        occurred_on=now.date() - timedelta(days=5),
        paper="Order HB/31",
        actor=scene.cast.legal,
        at=now,
    )
    page = desk(scene, "legal")
    assert "the window after the decision is running" in page
    # Thirty days after the dismissal, or the next day on which the court is open.
    ends = now.date() + timedelta(days=25)
    while ends.weekday() > 4:
        ends += timedelta(days=1)
    assert f'datetime="{ends:%Y-%m-%d}"' in page


def test_a_contest_without_a_declaration_presses():
    scene = given.a_scene(declared_on=None)
    said = " ".join(tasks(desk(scene, "legal")))
    assert "11 Harbour Reach: the day of the declaration is not known" in said


def test_the_authority_is_told_whose_signature_is_wanted(scene, now):
    box = given.a_shelved_box(scene)
    number = given.a_recorded_permission(
        scene, [box.number], valid_until=now.date() + timedelta(days=5)
    )
    assert "To sign" in desk(scene, "countersigner")
    assert "Not yours" in desk(scene, "authority")
    permissions.countersign_permission(
        permission=number, actor=scene.cast.countersigner, at=now
    )
    assert "Ends soon" in desk(scene, "authority")
    assert f"Permission {number}" in desk(scene, "custodian")
    permissions.revoke_permission(
        permission=number,
        because="Order ESC/9 withdraws it.",
        actor=scene.cast.authority,
        at=now,
    )
    page = desk(scene, "countersigner")
    assert "Revoked" in page
    assert "Order ESC/9 withdraws it." in page
    assert f"Permission {number}" not in desk(scene, "custodian")


def test_an_auditor_is_told_of_refusals_and_of_what_was_entered_late(scene, now):
    box = given.a_shelved_box(scene)
    given.browser_of(scene.cast.administrator).get(f"/boxes/{box.number}/")
    given.a_case(scene, occurred_on=now.date() - timedelta(days=20), at=now)
    page = desk(scene, "auditor")
    said = tasks(page)
    assert said["1 act was refused in the last 7 days"].startswith("/accesses/?outcome")
    assert "entered 20 days later" in " ".join(said)


def test_an_administrator_is_told_what_is_not_set_up():
    admin = given.first_administrator()
    client = given.browser_of(admin)
    found = tasks(client.get("/").content.decode())
    assert found["Adopt a retention schedule"] == "/schedules/adopt/"
    assert found["Enter a strong room with its shelves"] == "/rooms/new/"
    assert any("countersigns" in text for text in found)


def test_the_administrators_desk_empties_as_things_are_set_up(scene):
    said = " ".join(tasks(desk(scene, "administrator")))
    assert "Adopt" not in said
    assert "no custodian" in said  # of the second room
    assert "no closed days are entered" in said


def test_a_desk_is_a_look_that_is_entered(scene):
    desk(scene, "auditor")
    assert AccessEntry.objects.filter(act="desk.look").count() == 1


def test_the_scan_box_has_the_focus(scene):
    assert re.search(r'<input[^>]+name="q"[^>]+autofocus', desk(scene, "custodian"))
