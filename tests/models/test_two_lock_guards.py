"""What the database itself refuses of keys and doors, past every use case.

Failure modes 45 (one account is not two key holders) and 82 (interface bypassed).
"""

from datetime import timedelta

import pytest
from django.db import DatabaseError, connection, transaction

from registry.models import DoorSession, Key, KeyHolding
from tests import given, strong_room

pytestmark = pytest.mark.django_db


@pytest.fixture
def room():
    return strong_room.two_locks(given.a_scene())


def refused(match, statement, *values):
    with (
        pytest.raises(DatabaseError, match=match),
        transaction.atomic(),
        connection.cursor() as cursor,
    ):
        cursor.execute(statement, values)


def insert_holding(key, *, person, plain, since, until=None):
    columns = (
        "number, key_id, person_id, holder, holder_plain, appointment, since, until, "
        "ended_because, recorded_at, recorded_by_id"
    )
    refused(
        "two locks of one room",
        f"INSERT INTO registry_keyholding ({columns}) "
        "VALUES ('KH-999999-X', %s, %s, 'X', %s, 'post', %s, %s, %s, %s, "
        "(SELECT min(id) FROM registry_user))",
        Key.objects.get(mark=key).pk,
        person,
        plain,
        since,
        until,
        "given back" if until else "",
        given.NOW,
    )


def test_one_account_holds_no_key_of_a_second_lock(room):
    insert_holding(
        "L2",
        person=room.scene.cast.custodian.person_id,
        plain="another name",
        since=given.NOW,
    )


def test_one_name_holds_no_key_of_a_second_lock(room):
    insert_holding("L2", person=None, plain="cora keeper", since=given.NOW)


def test_not_even_for_a_while_in_the_past(room):
    insert_holding(
        "L2",
        person=None,
        plain="cora keeper",
        since=given.NOW - timedelta(hours=2),
        until=given.NOW - timedelta(hours=1),
    )


def test_a_holding_does_not_change_into_one_of_a_second_lock(room):
    refused(
        "two locks of one room",
        "UPDATE registry_keyholding SET person_id = %s WHERE number = %s",
        room.scene.cast.custodian.person_id,
        room.second_holding,
    )


def test_two_people_open_each_with_the_key_of_another_lock(room):
    act = {"actor": room.scene.cast.custodian, "at": given.NOW}
    same_lock = strong_room.keys.issue_key(
        key=strong_room.key("U2"), holder="Ida Rill", appointment="Clerk", **act
    )
    session = DoorSession.objects.get(number=strong_room.opened(room).number)
    names = [f.column for f in DoorSession._meta.concrete_fields if f.column != "id"]
    other = {
        "number": "'DR-999999-X'",
        "second_key_id": "%s",
        "closed_at": "opened_at",
        "closed_by_id": "opened_by_id",
        "done": "'x'",
        "waste": "'none'",
    }
    chosen = ", ".join(other.get(name, name) for name in names)
    refused(
        "two people open",
        f"INSERT INTO registry_doorsession ({', '.join(names)}) "
        f"SELECT {chosen} FROM registry_doorsession WHERE id = %s",
        KeyHolding.objects.get(number=same_lock).pk,
        session.pk,
    )


def test_only_the_second_holder_confirms(room):
    strong_room.opened(room)
    refused(
        "only the second key holder",
        "UPDATE registry_doorsession SET second_confirmed_at = %s, "
        "second_confirmed_by_id = opened_by_id",
        given.NOW,
    )


@pytest.mark.parametrize(
    "change",
    [
        "seals_found = 'others'",
        "purpose = 'intake'",
        "second_key_id = NULL",
        "opened_at = opened_recorded_at, seals_compared = 'same'",
    ],
)
def test_what_was_written_on_opening_is_not_changed(room, change):
    strong_room.opened(room)
    refused("on opening is not changed", f"UPDATE registry_doorsession SET {change}")


@pytest.mark.parametrize(
    "change",
    ["closed_at = NULL, closed_by_id = NULL", "seals_put_on = 'x'", "waste = 'looked'"],
)
def test_what_was_written_on_closing_is_not_changed(room, change):
    strong_room.closed(room, strong_room.opened(room).number)
    refused("on closing is not changed", f"UPDATE registry_doorsession SET {change}")
