"""The key register. Double-lock practice: common practice, no published source."""

from datetime import timedelta

import pytest

from registry.models import Discrepancy, Key, KeyHolding, Lock
from registry.rules.keys import KeyFault
from registry.rules.powers import PowerMissing, Role
from registry.usecases import Mistaken, NotThere, Refused, keys, people
from registry.usecases.key_looks import list_keys, look_at_key, look_at_room_keys
from tests import given, strong_room

pytestmark = pytest.mark.django_db


@pytest.fixture
def scene():
    return given.a_scene()


@pytest.fixture
def act(scene):
    return {"actor": scene.cast.custodian, "at": given.NOW}


def faults(scene):
    found = look_at_room_keys(room=scene.room, actor=scene.cast.auditor, at=given.NOW)
    return {warning.fault for warning in found.warnings}


def test_a_room_with_both_keys_out_and_both_duplicates_sealed_is_in_order(scene):
    strong_room.two_locks(scene)
    assert faults(scene) == set()


def test_a_lock_whose_key_nobody_holds_is_named(scene, act):
    strong_room.two_locks(scene)
    keys.take_key_back(key=strong_room.key("L1"), reason="Transferred", **act)
    assert KeyFault.LOCK_WITHOUT_HOLDER in faults(scene)


def test_a_duplicate_that_lies_about_is_named(scene, act):
    room = strong_room.two_locks(scene)
    keys.add_key(lock=room.upper, mark="U3", **act)
    assert faults(scene) == {KeyFault.DUPLICATE_LOOSE}


def test_one_lock_alone_is_named(scene, act):
    keys.fit_lock(
        room=scene.room, name="padlock", fitted_on=given.TODAY, keys=["P1"], **act
    )
    assert KeyFault.TOO_FEW_LOCKS in faults(scene)


def test_nobody_holds_keys_of_both_locks_by_account(scene, act):
    strong_room.two_locks(scene)
    keys.take_key_back(key=strong_room.key("L1"), reason="Leave", **act)
    with pytest.raises(Refused, match="both locks"):
        keys.issue_key(
            key=strong_room.key("L1"),
            holder="",
            username=scene.cast.custodian.username,
            appointment="In charge",
            **act,
        )


@pytest.mark.parametrize("written", ["cora keeper", "CORA  KEEPER", "Cora\u00a0Keeper"])
def test_nobody_holds_keys_of_both_locks_under_two_writings_of_a_name(
    scene, act, written
):
    strong_room.two_locks(scene)
    keys.take_key_back(key=strong_room.key("L1"), reason="Leave", **act)
    with pytest.raises(Refused, match="both locks"):
        keys.issue_key(
            key=strong_room.key("L1"), holder=written, appointment="In charge", **act
        )
    assert KeyHolding.objects.filter(until=None).count() == 1


def test_failure_mode_46_two_persons_of_one_name_are_told_apart_by_their_log_ins(
    scene, act
):
    """By account they are two people; where one has none, the name alone counts."""
    people.appoint_person(
        appointment=people.Appointment(
            "cora.of.tarn", "Cora Keeper", Role.CUSTODIAN, rooms=(scene.room,)
        ),
        password=given.PASSWORD,
        actor=scene.cast.administrator,
        at=given.NOW,
    )
    strong_room.two_locks(scene, second=given.person("cora.of.tarn"))
    held = KeyHolding.objects.filter(until=None)
    assert set(held.values_list("holder", flat=True)) == {"Cora Keeper"}
    assert held.values("person").distinct().count() == 2
    assert faults(scene) == set()
    with pytest.raises(Refused, match="both locks"):
        keys.issue_key(
            key=strong_room.key("U2"),
            holder="Cora Keeper",
            appointment="In charge",
            **act,
        )


def test_a_duplicate_of_the_other_lock_counts_too(scene, act):
    strong_room.two_locks(scene)
    with pytest.raises(Refused, match="both locks"):
        keys.issue_key(
            key=strong_room.key("L2"),
            holder="Cora Keeper",
            appointment="In charge",
            **act,
        )


def test_a_second_key_of_the_same_lock_may_be_held(scene, act):
    strong_room.two_locks(scene)
    keys.issue_key(
        key=strong_room.key("U2"), holder="Cora Keeper", appointment="x" * 9, **act
    )
    assert KeyHolding.objects.filter(until=None).count() == 3


def test_a_key_has_one_holder(scene, act):
    strong_room.two_locks(scene)
    with pytest.raises(Refused, match="Take it back first"):
        keys.issue_key(
            key=strong_room.key("U1"), holder="Ida Rill", appointment="Clerk", **act
        )


@pytest.mark.parametrize("who", ["administrator", "auditor"])
def test_who_sets_up_or_audits_holds_no_key(scene, act, who):
    """Failure mode 44: administrators cannot hold custody posts."""
    keys.fit_lock(
        room=scene.room, name="padlock", fitted_on=given.TODAY, keys=["P1"], **act
    )
    with pytest.raises(Mistaken, match="may hold no key"):
        keys.issue_key(
            key=strong_room.key("P1"),
            holder="",
            username=getattr(scene.cast, who).username,
            appointment="Key holder",
            **act,
        )


def test_a_lost_key_opens_a_discrepancy_until_its_lock_is_replaced(scene, act):
    room = strong_room.two_locks(scene)
    number = keys.report_key_lost(
        key=strong_room.key("U1"), note="Dropped from the ferry.", **act
    )
    found = Discrepancy.objects.get(number=number)
    assert found.room.number == scene.room
    assert found.kind == "key-lost"
    assert {KeyFault.KEY_LOST, KeyFault.LOCK_WITHOUT_HOLDER} <= faults(scene)
    keys.replace_lock(
        lock=room.upper,
        because="Key U1 was lost",
        fitted_on=given.TODAY,
        keys=["N1"],
        duplicates=["N2"],
        **act,
    )
    assert KeyFault.KEY_LOST not in faults(scene)
    assert Key.objects.get(mark="U1").state == "lost"
    assert Key.objects.get(mark="U2").state == "withdrawn"
    old = Lock.objects.get(number=room.upper)
    assert (old.removed_on, old.removed_because) == (given.TODAY, "Key U1 was lost")
    with pytest.raises(Refused, match="withdrawn"):
        keys.issue_key(
            key=strong_room.key("U2"), holder="Ida Rill", appointment="Clerk", **act
        )


def test_replacing_a_lock_ends_what_is_held_of_it(scene, act):
    room = strong_room.two_locks(scene)
    keys.replace_lock(
        lock=room.lower, because="Worn", fitted_on=given.TODAY, keys=["N1"], **act
    )
    (held,) = KeyHolding.objects.filter(until=None)
    assert held.key.mark == "U1"
    with pytest.raises(Refused, match="Take its successor"):
        keys.add_key(lock=room.lower, mark="L9", **act)


def test_a_held_key_is_not_deposited_and_an_open_cover_is_no_deposit(scene, act):
    strong_room.two_locks(scene)
    with pytest.raises(Refused, match="Take it back first"):
        keys.deposit_key(
            key=strong_room.key("U1"), place="Treasury", sealed=True, **act
        )
    with pytest.raises(Mistaken, match="seal it first"):
        keys.deposit_key(
            key=strong_room.key("U2"), place="Treasury", sealed=False, **act
        )


def test_who_held_the_keys_on_a_day(scene, act):
    strong_room.two_locks(scene)
    later = {"actor": scene.cast.custodian, "at": given.NOW + timedelta(days=3)}
    keys.take_key_back(key=strong_room.key("L1"), reason="Transferred", **later)
    keys.issue_key(
        key=strong_room.key("L1"), holder="Ida Rill", appointment="Clerk", **later
    )

    def holders(days):
        found = list_keys(
            on=given.TODAY + timedelta(days=days),
            zone="UTC",
            actor=scene.cast.auditor,
            at=later["at"],
        )
        return [(row.mark, row.holder) for row in found.held]

    assert holders(-1) == []
    assert holders(1) == [("U1", "Cora Keeper"), ("L1", "Gil Keeper")]
    assert holders(3) == [
        ("U1", "Cora Keeper"),
        ("L1", "Gil Keeper"),
        ("L1", "Ida Rill"),
    ]
    assert holders(4) == [("U1", "Cora Keeper"), ("L1", "Ida Rill")]


def test_a_holding_does_not_begin_before_the_last_one_ended(scene, act):
    strong_room.two_locks(scene)
    keys.take_key_back(key=strong_room.key("L1"), reason="Leave", **act)
    with pytest.raises(Mistaken, match="held it until"):
        keys.issue_key(
            key=strong_room.key("L1"),
            holder="Ida Rill",
            appointment="Clerk",
            since=given.NOW - timedelta(hours=2),
            **act,
        )


@pytest.mark.parametrize("who", ["legal", "authority", "auditor", "administrator"])
def test_only_a_custodian_writes_the_key_register(scene, who):
    with pytest.raises(PowerMissing):
        keys.fit_lock(
            room=scene.room,
            name="padlock",
            fitted_on=given.TODAY,
            keys=["P1"],
            actor=getattr(scene.cast, who),
            at=given.NOW,
        )


def test_a_custodian_of_another_room_does_not_find_it(scene, act):
    strong_room.two_locks(scene)
    other = given.appointed(
        scene.cast.administrator,
        "hal.keeper",
        given.Role.CUSTODIAN,
        rooms=(scene.other_room,),
    )
    number = strong_room.key("U1")
    with pytest.raises(NotThere):
        look_at_key(key=number, actor=other, at=given.NOW)
    with pytest.raises(NotThere):
        keys.report_key_lost(key=number, note="x", actor=other, at=given.NOW)


def test_a_terminal_issues_no_key(scene, act):
    strong_room.two_locks(scene)
    keys.take_key_back(key=strong_room.key("L1"), reason="Leave", **act)
    with pytest.raises(Refused, match="Only a person"):
        keys.issue_key(
            key=strong_room.key("L1"),
            holder="Ida Rill",
            appointment="Clerk",
            actor=given.people.terminal(given.Role.CUSTODIAN, account="ops"),
            at=given.NOW,
        )
