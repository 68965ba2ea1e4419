"""Pages for what is done under a permission."""

import pytest

from registry.models import Box, Opening
from tests import given

pytestmark = pytest.mark.django_db

CUSTODIANS_ONLY = {
    "custodian": 200,
    "legal": 403,
    "authority": 403,
    "auditor": 403,
    "administrator": 403,
}


@pytest.fixture(autouse=True)
def at_the_moment_of_the_scene(monkeypatch):
    given.clock_at(monkeypatch, given.NOW)


@pytest.fixture
def scene():
    return given.a_scene()


@pytest.fixture
def box(scene):
    box = given.a_shelved_box(scene)
    given.a_checked_seal(scene, box.number)
    given.a_confirmation(scene)
    return box


@pytest.fixture
def keeper(scene):
    return given.browser_of(scene.cast.custodian)


def said(answer):
    return " ".join(answer.content.decode().split())


def the_opening(permission, **more):
    return {
        "permission": permission,
        "present": "Cora Keeper; Ida Rill, agent",
        "done": "Counted",
        "fragments_kept_in": "a marked bag in the box",
        "kind_1": "paper",
        "maker_1": "Calvenna Print Works",
        "serial_1": "PS-0900",
        "signed_1": "yes",
        **more,
    }


def test_who_may_open_and_take_out(scene, box):
    given.a_permission(scene, [scene.room], act="enter-room", ref="ESC/ORD/2")
    for path in (
        f"/openings/new/?container={box.number}",
        f"/movements/take-out/?container={box.number}",
        f"/openings/room/?room={scene.room}",
    ):
        found = {
            who: given.browser_of(getattr(scene.cast, who)).get(path).status_code
            for who in CUSTODIANS_ONLY
        }
        assert found == CUSTODIANS_ONLY, path


def test_others_cannot_take_back(scene, box):
    for who in ("legal", "authority", "auditor", "administrator"):
        answer = given.browser_of(getattr(scene.cast, who)).post(
            f"/movements/take-back/?container={box.number}", {"from_person": "x"}
        )
        assert answer.status_code == 403, who


def test_a_box_is_opened_and_sealed_anew(scene, box, keeper):
    permission = given.a_permission(
        scene, [box.number], act="open-box", conditions="A clerk is present."
    )
    address = f"/openings/new/?container={box.number}"
    page = said(keeper.get(address))
    for word in (permission, "A clerk is present.", "PS-0001", "Read the seal number",
                 "Lifting and reaching"):  # fmt: skip
        assert word in page, word
    unticked = keeper.post(address, the_opening(permission))
    assert (unticked.status_code, "must be met" in said(unticked)) == (400, True)
    done = keeper.post(
        address,
        the_opening(permission, conditions=["A clerk is present."]),
        follow=True,
    )
    assert done.redirect_chain[-1][0] == f"/boxes/{box.number}/"
    assert Opening.objects.get().number in said(done)


def test_a_refusal_lists_every_obstacle_and_keeps_what_was_typed(scene, keeper):
    box = given.a_shelved_box(scene)
    given.a_case(scene)
    permission = given.a_recorded_permission(scene, [box.number], act="open-box")
    address = f"/openings/new/?container={box.number}"
    answer = keeper.post(address, the_opening(permission))
    assert answer.status_code == 409
    for word in ("pending", "countersigned", "seal has not been checked", "PS-0900",
                 "What to do"):  # fmt: skip
        assert word in said(answer), word
    assert not Opening.objects.exists()


def test_a_numbered_seal_without_its_number_is_asked_for(scene, box, keeper):
    permission = given.a_permission(scene, [box.number], act="open-box")
    answer = keeper.post(
        f"/openings/new/?container={box.number}", the_opening(permission, serial_1="")
    )
    assert (answer.status_code, "Read the number" in said(answer)) == (400, True)


def test_a_paper_seal_is_signed_or_it_is_not(scene, box, keeper):
    permission = given.a_permission(scene, [box.number], act="open-box")
    answer = keeper.post(
        f"/openings/new/?container={box.number}", the_opening(permission, signed_1="")
    )
    assert (answer.status_code, "whether the seal is signed" in said(answer)) == (
        400,
        True,
    )


def test_without_an_order_nothing_is_recorded(scene, box, keeper):
    answer = keeper.post(f"/openings/new/?container={box.number}", the_opening(""))
    assert (answer.status_code, "No order for this act" in said(answer)) == (400, True)


def test_without_a_number_the_page_asks_for_one(scene, keeper):
    for path in ("/openings/new/", "/movements/take-out/"):
        assert "Box or envelope" in said(keeper.get(path))


@pytest.mark.parametrize("number", ["BX-000009-X", "nonsense", "EN-000001-K"])
def test_a_guessed_container_is_not_there(scene, keeper, number):
    for path in ("openings/new", "openings/new-cover", "movements/take-out"):
        answer = keeper.get(f"/{path}/?container={number}")
        assert answer.status_code == 404


def test_a_custodian_of_another_room_does_not_find_it(scene, box):
    elsewhere = given.appointed(
        scene.cast.administrator,
        "old.granary",
        given.Role.CUSTODIAN,
        rooms=(scene.other_room,),
    )
    client = given.browser_of(elsewhere)
    for path in (
        f"/openings/new/?container={box.number}",
        f"/movements/take-out/?container={box.number}",
        f"/openings/room/?room={scene.room}",
        f"/disposals/preview/?container={box.number}",
    ):
        assert client.get(path).status_code == 404, path


def test_a_room_is_entered_under_a_permission(scene, keeper):
    permission = given.a_permission(scene, [scene.room], act="enter-room")
    assert permission in said(keeper.get("/openings/room/"))
    done = keeper.post(
        "/openings/room/",
        {
            "permission": permission,
            "present": "Cora Keeper",
            "purpose": "Air-conditioning repair, escorted",
        },
        follow=True,
    )
    assert "Air-conditioning repair" in said(done)
    assert Opening.objects.get().room.number == scene.room


THE_HANDING = {
    "to_person": "Rhea Moor, clerk",
    "to_place": "Registry of the High Bench",
    "second_person": "Gil Keeper",
    "confirmed_with": "Orin Sedge, registrar",
    "confirmed_at": "2026-11-02T09:00",
}


def test_a_box_goes_out_and_comes_back(scene, box, keeper):
    envelope = given.an_envelope_in(box).number
    permission = given.a_permission(scene, [box.number, envelope], act="take-out")
    address = f"/movements/take-out/?container={box.number}"
    assert "PS-0001" not in said(keeper.get(address)), "the seal is read first"
    form = {"permission": permission, **THE_HANDING}
    unread = keeper.post(address, form)
    assert (unread.status_code, "Read the number" in said(unread)) == (400, True)
    done = keeper.post(address, {**form, "reading_0_0": "PS-0001"}, follow=True)
    assert "Orin Sedge" in said(done)
    assert Box.objects.get(pk=box.pk).whereabouts == "out"
    out = said(keeper.get("/movements/"))
    assert (box.number in out, "no day named" in out) == (True, True)
    address = f"/movements/take-back/?container={box.number}"
    assert "PS-0001" not in said(keeper.get(address))
    back = {
        "from_person": "Rhea Moor, clerk",
        "finding": "intact-matches",
        "reading_0": "PS-0001",
    }
    assert "is back as it went" in said(keeper.post(address, back, follow=True))
    assert keeper.post(address, back).status_code == 409


def test_who_sees_what_is_out(scene, box):
    envelope = given.an_envelope_in(box).number
    permission = given.a_permission(scene, [box.number, envelope], act="take-out")
    number = given.handed_out(
        scene, {box.number: ("PS-0001",)}, permission
    ).productions[0]
    found = {
        who: [
            given.browser_of(getattr(scene.cast, who)).get(path).status_code
            for path in (
                "/movements/",
                f"/movements/{number}/",
                f"/movements/{number}/receipt.pdf",
                f"/movements/{number}/kept/",
                f"/movements/pick-list/{permission}.pdf",
            )
        ]
        for who in CUSTODIANS_ONLY
    }
    assert found == {
        "custodian": [200, 200, 200, 200, 409],  # nothing of the list is here now
        "legal": [200, 200, 200, 403, 403],
        "authority": [200, 200, 200, 403, 403],
        "auditor": [200, 200, 200, 403, 403],
        "administrator": [403, 403, 403, 403, 403],
    }


def test_a_box_is_opened_into_a_new_one(scene, box, keeper):
    permission = given.a_permission(scene, [box.number], act="open-box")
    address = f"/openings/new-cover/?container={box.number}"
    assert keeper.get(address).status_code == 200
    form = {
        "permission": permission,
        "present": "Cora Keeper; Ida Rill, agent",
        "done": "The lid was cracked.",
        "fragments_kept_in": "a marked bag in the new box",
        "election": given.ELECTION_NAME,
        "constituency_number": "11",
        "constituency_name": "Harbour Reach",
        "station_number": "001",
        "poll_date": f"{given.POLLED:%d/%m/%Y}",
        "counting_date": f"{given.COUNTED:%d/%m/%Y}",
        "seal_number_1": "PS-0900",
        "seal_signed_1": "yes",
    }
    page = said(keeper.post(address, form, follow=True))
    new = Box.objects.get(supersedes=box)
    assert new.state == "held", page
    assert (new.number in page, box.number in page) == (True, True)
    old = said(keeper.get(f"/boxes/{box.number}/"))
    assert f"its content lies in {new.number}" in old


def test_what_is_still_kept_says_which_order_would_allow_the_opening(scene, box):
    page = given.browser_of(scene.cast.custodian).get(
        "/openings/new/", {"container": box.number}
    )
    assert "expressly allows this while it is kept" in page.content.decode()
