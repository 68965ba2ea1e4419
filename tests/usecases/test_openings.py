"""Under a permission: rooms entered, containers opened, taken out and returned."""

from dataclasses import replace
from datetime import timedelta

import pytest

from registry.models import Box, Opening, Seal
from registry.rules.arrivals import SealEntry, SealKind
from registry.rules.powers import PowerMissing
from registry.usecases import (
    Mistaken,
    NotThere,
    Refused,
    boxes,
    discrepancies,
    openings,
    permissions,
)
from tests import given

pytestmark = pytest.mark.django_db


@pytest.fixture
def scene():
    return given.a_scene()


@pytest.fixture
def box(scene):
    box = given.a_shelved_box(scene)
    given.a_checked_seal(scene, box.number)
    given.a_confirmation(scene)
    return box


def opened(scene, container, permission, *, seals=None, **more):
    return openings.open_container(
        container=container,
        permission=permission,
        present="Cora Keeper; Ida Rill, party agent",
        done="The court's clerk counted the envelopes.",
        new_seals=[given.paper_seal("PS-0900")] if seals is None else seals,
        fragments_kept_in="a marked bag in the box",
        actor=more.pop("actor", scene.cast.custodian),
        at=more.pop("at", given.NOW),
        **more,
    )


def out(scene, container, permission, read="PS-0001", **more):
    return given.handed_out(scene, {container: (read,)}, permission, **more)


def reasons(refused):
    return " ".join(refused.value.reasons)


def test_new_seals_supersede_those_that_were_broken(scene, box):
    """Failure mode 52: re-sealed by the court; old and new stay linked."""
    permission = given.a_permission(scene, [box.number], act="open-box")
    opened(scene, box.number, permission)
    old = Seal.objects.get(box=box, serial="PS-0001")
    new = Seal.objects.get(box=box, serial="PS-0900")
    assert (old.state, new.state) == ("superseded", "applied")
    assert new.supersedes == old
    acts = [event.act for event in old.events.order_by("id")]
    assert acts == ["applied", "checked", "broken", "superseded"]
    assert Box.objects.get(pk=box.pk).state == "held"


def test_a_new_seal_that_is_wrong_puts_the_box_into_quarantine(scene, box):
    permission = given.a_permission(scene, [box.number], act="open-box")
    opened(scene, box.number, permission, seals=[
        SealEntry(SealKind.PAPER, "Calvenna Print Works", "PS-0900", signed=False)
    ])  # fmt: skip
    assert Box.objects.get(pk=box.pk).state == "quarantined"


def test_every_obstacle_to_an_opening_is_listed(scene):
    box = given.a_shelved_box(scene)
    given.a_case(scene)
    permission = given.a_recorded_permission(
        scene, [box.number], act="take-out", conditions="A clerk is present."
    )
    with pytest.raises(Refused) as refused:
        opened(scene, box.number, permission)
    for word in ("pending", "confirmation", "countersigned", "take out", "seal",
                 "A clerk is present"):  # fmt: skip
        assert word in reasons(refused), word
    assert not Opening.objects.exists()


def test_an_order_that_allows_it_opens_what_must_still_be_kept(scene, box):
    given.a_case(scene)
    plain = given.a_permission(scene, [box.number], act="open-box")
    with pytest.raises(Refused, match="pending"):
        opened(scene, box.number, plain)
    express = given.a_permission(
        scene, [box.number], act="open-box", ref="ESC/ORD/2", while_still_kept=True
    )
    assert opened(scene, box.number, express).number.startswith("OP-")


def test_conditions_are_ticked_one_by_one(scene, box):
    permission = given.a_permission(
        scene,
        [box.number],
        act="open-box",
        conditions="A clerk is present.\nA camera runs.",
    )
    with pytest.raises(Refused, match="A camera runs"):
        opened(scene, box.number, permission, conditions_met=["A clerk is present."])
    opened(
        scene,
        box.number,
        permission,
        conditions_met=["A clerk is present.", "A camera runs."],
    )


def test_a_permission_revoked_after_the_room_was_entered_opens_nothing(scene, box):
    """Failure mode 37: each act asks again."""
    enters = given.a_permission(scene, [scene.room], act="enter-room", ref="ESC/ORD/2")
    opens = given.a_permission(scene, [box.number], act="open-box")
    openings.enter_room(
        room=scene.room,
        permission=enters,
        present="Cora Keeper",
        purpose="to open a box",
        actor=scene.cast.custodian,
        at=given.NOW,
    )
    permissions.revoke_permission(
        permission=opens,
        because="ESC/ORD/9",
        actor=scene.cast.authority,
        at=given.NOW,
    )
    with pytest.raises(Refused, match="revoked"):
        opened(scene, box.number, opens)


def test_a_permission_to_enter_opens_nothing(scene, box):
    """Failure mode 42: no implication from one act to another."""
    permission = given.a_permission(scene, [scene.room], act="enter-room")
    with pytest.raises(Refused, match="another act"):
        opened(scene, box.number, permission)


def test_a_room_of_others_cannot_be_entered(scene):
    permission = given.a_permission(scene, [scene.other_room], act="enter-room")
    with pytest.raises(NotThere):
        openings.enter_room(
            room=scene.other_room,
            permission=permission,
            present="Cora Keeper",
            purpose="to look",
            actor=scene.cast.custodian,
            at=given.NOW,
        )


def test_an_opening_names_people_what_was_done_and_the_new_seal(scene, box):
    permission = given.a_permission(scene, [box.number], act="open-box")
    with pytest.raises(Mistaken) as mistaken:
        openings.open_container(
            container=box.number,
            permission=permission,
            present=" ",
            done="x" * 401,
            new_seals=[],
            actor=scene.cast.custodian,
            at=given.NOW,
        )
    assert set(mistaken.value.errors) == {"present", "done"}
    with pytest.raises(Mistaken) as mistaken:
        opened(scene, box.number, permission, seals=[])
    assert "new_seals" in mistaken.value.errors


def test_the_clock_cannot_be_set_back_to_when_it_was_permitted(scene, box):
    """Failure mode 69: there is no field for the moment, and the clock is watched."""
    permission = given.a_permission(scene, [box.number], act="open-box")
    with pytest.raises(Refused, match="clock"):
        opened(scene, box.number, permission, at=given.NOW - timedelta(hours=1))


def test_an_envelope_is_reached_through_its_box(scene, box):
    envelope = given.an_envelope_in(box)
    given.a_checked_seal(scene, envelope.number, "W-0001")
    inner = given.a_permission(
        scene, [envelope.number], act="open-envelope", ref="ESC/ORD/2"
    )
    wax = [SealEntry(SealKind.WAX, "Registry of the High Bench", "W-0900")]
    with pytest.raises(Refused, match="has not been opened today"):
        opened(scene, envelope.number, inner, seals=wax)
    outer = given.a_permission(scene, [box.number], act="open-box")
    opened(scene, box.number, outer)
    assert opened(scene, envelope.number, inner, seals=wax).number.startswith("OP-")


def test_an_envelope_taken_out_leaves_its_opened_box(scene, box):
    envelope = given.an_envelope_in(box)
    given.a_checked_seal(scene, envelope.number, "W-0001")
    takes = given.a_permission(scene, [envelope.number], act="take-out")
    with pytest.raises(Refused, match="has not been opened today"):
        out(scene, envelope.number, takes, "W-0001")
    outer = given.a_permission(scene, [box.number], act="open-box", ref="ESC/ORD/2")
    opened(scene, box.number, outer)
    out(scene, envelope.number, takes, "W-0001")
    envelope.refresh_from_db()
    assert (envelope.box, envelope.whereabouts) == (None, "out")
    came_back(scene, envelope.number, "W-0001")
    envelope.refresh_from_db()
    assert envelope.whereabouts == "intake"


def came_back(scene, container, read="PS-0001"):
    return given.back_again(scene, container, read)


def test_what_is_out_is_not_disposed_of(scene, box):
    """Failure mode 62: out to court and never returned."""
    takes = given.a_permission(scene, [box.number], act="take-out", ref="ESC/ORD/2")
    out(scene, box.number, takes)
    destroys = given.a_permission(scene, [box.number])
    with pytest.raises(Refused, match="not present"):
        given.disposed_of(scene, box.number, destroys)
    with pytest.raises(Refused, match="not present"):
        out(scene, box.number, takes)
    assert came_back(scene, box.number).number == box.number
    with pytest.raises(Refused, match="not out"):
        came_back(scene, box.number)
    boxes.shelve_box(
        box=box.number, shelf=scene.shelves[0],
        actor=scene.cast.custodian, at=given.NOW,
    )  # fmt: skip


def test_a_box_is_taken_out_with_all_that_lies_in_it_named(scene):
    open_box = given.logged(scene, given.an_open_box()).number
    takes = given.a_permission(scene, [open_box], act="take-out")
    later = given.logged(scene, given.an_envelope_on_the_table(), box=open_box).number
    with pytest.raises(Refused, match=f"does not name Envelope {later}"):
        out(scene, open_box, takes)


def found_broken(scene, number):
    boxes.check_seal(
        container=number,
        number_read="",
        finding="open",
        actor=scene.cast.custodian,
        at=given.NOW,
    )


def test_a_broken_seal_stops_everything_until_it_is_decided(scene, box):
    """Failure mode 51: broken by handling counts as tampering until decided."""
    found_broken(scene, box.number)
    assert Seal.objects.get(box=box).state == "broken"
    opens = given.a_permission(scene, [box.number], act="open-box")
    with pytest.raises(Refused, match="DC-"):
        opened(scene, box.number, opens)
    destroys = given.a_permission(scene, [box.number], ref="ESC/ORD/2")
    with pytest.raises(Refused) as refused:
        given.disposed_of(scene, box.number, destroys)
    assert "not intact" in reasons(refused)


def test_a_broken_seal_is_made_good_by_opening_and_sealing_anew(scene, box):
    """Failure modes 23 and 51: re-sealed under permission, old and new linked."""
    found_broken(scene, box.number)
    discrepancies.resolve_discrepancy(
        discrepancy=box.discrepancies.get().number,
        resolution="Torn by the shelf's edge; the authority's letter 41 says so.",
        actor=scene.cast.custodian,
        at=given.NOW,
    )
    with pytest.raises(Refused, match="not whole again"):
        given.a_checked_seal(scene, box.number)
    destroys = given.a_permission(scene, [box.number], ref="ESC/ORD/2")
    with pytest.raises(Refused, match="not intact"):
        given.disposed_of(scene, box.number, destroys)
    opened(scene, box.number, given.a_permission(scene, [box.number], act="open-box"))
    assert Seal.objects.get(box=box, serial="PS-0900").supersedes.state == "superseded"
    given.a_checked_seal(scene, box.number, read="PS-0900")
    assert given.disposed_of(scene, box.number, destroys)


@pytest.mark.parametrize("who", ["legal", "authority", "auditor", "administrator"])
def test_only_custodians_open(scene, box, who):
    permission = given.a_permission(scene, [box.number], act="open-box")
    with pytest.raises(PowerMissing):
        opened(scene, box.number, permission, actor=getattr(scene.cast, who))


def test_a_custodian_of_another_room_does_not_find_it(scene, box):
    permission = given.a_permission(scene, [box.number], act="open-box")
    elsewhere = replace(scene.cast.custodian, rooms=frozenset())
    with pytest.raises(NotThere):
        opened(scene, box.number, permission, actor=elsewhere)


def test_the_page_before_an_opening_says_what_stands_against_it(scene, box):
    def ahead():
        return openings.prepare_opening(
            container=box.number, actor=scene.cast.custodian, at=given.NOW
        )

    assert [o.code for o in ahead().obstacles] == ["no-permission"]
    given.a_recorded_permission(scene, [box.number], act="open-box")
    assert [o.code for o in ahead().obstacles] == ["not-countersigned"]
    number = given.a_permission(scene, [box.number], act="open-box", ref="ESC/ORD/2")
    assert (ahead().permission.number, ahead().obstacles) == (number, ())


def test_a_seal_seen_before_a_container_was_out_counts_for_nothing(scene, box):
    """Its seal is checked when it is back; common practice, no published source."""
    things = [box.number]
    out(scene, box.number, given.a_permission(scene, things, act="take-out"))
    destroys = given.a_permission(scene, things, ref="ESC/ORD/2")
    later = given.NOW + timedelta(hours=1)
    given.back_again(scene, box.number, "", finding="intact-illegible", at=later)
    discrepancies.resolve_discrepancy(
        discrepancy=box.discrepancies.get().number,
        resolution="Wetted in transit; read again under a lamp.",
        actor=scene.cast.custodian,
        at=later,
    )
    with pytest.raises(Refused, match="seal"):
        given.disposed_of(scene, box.number, destroys, at=later)
    given.a_checked_seal(scene, box.number, at=later)
    assert given.disposed_of(scene, box.number, destroys, at=later).startswith("CF-")
