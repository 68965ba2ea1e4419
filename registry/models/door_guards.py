"""What the database itself refuses of keys and doors.

A person is the same by account, where both have one, or else by name as compared
(registry.rules.keys.same_person).
"""

from collections.abc import Iterator

from registry.models.triggers import Guard, differ

_SAME = (
    "((h.person_id IS NOT NULL AND {other}.person_id IS NOT NULL "
    "AND h.person_id = {other}.person_id) "
    "OR ((h.person_id IS NULL OR {other}.person_id IS NULL) "
    "AND h.holder_plain = {other}.holder_plain))"
)
_BOTH = (
    "EXISTS (SELECT 1 FROM registry_keyholding h "
    "JOIN registry_key k ON k.id = h.key_id "
    "JOIN registry_lock l ON l.id = k.lock_id "
    "JOIN registry_key mine ON mine.id = NEW.key_id "
    "JOIN registry_lock my_lock ON my_lock.id = mine.lock_id "
    "WHERE l.room_id = my_lock.room_id AND l.id <> my_lock.id "
    f"AND {_SAME.format(other='NEW')} "
    "AND (h.until IS NULL OR h.until > NEW.since) "
    "AND (NEW.until IS NULL OR NEW.until > h.since))"
)
_TWO_PEOPLE = (
    "EXISTS (SELECT 1 FROM registry_keyholding h "
    "JOIN registry_key k ON k.id = h.key_id "
    "JOIN registry_lock l ON l.id = k.lock_id, registry_keyholding o "
    "JOIN registry_key ok ON ok.id = o.key_id "
    "JOIN registry_lock ol ON ol.id = ok.lock_id "
    "WHERE h.id = NEW.first_key_id AND o.id = NEW.second_key_id "
    "AND l.id <> ol.id AND l.room_id = NEW.room_id AND ol.room_id = NEW.room_id "
    f"AND NOT {_SAME.format(other='o')})"
)
_SECOND = (
    "EXISTS (SELECT 1 FROM registry_keyholding h WHERE h.id = NEW.second_key_id "
    "AND h.person_id = NEW.second_confirmed_by_id)"
)


def door_guards() -> Iterator[Guard]:
    """Nobody holds, or opens with, the keys of both locks of one room."""
    for event in ("INSERT", "UPDATE"):
        yield Guard(
            f"registry_keyholding_one_lock_{event.lower()}",
            "registry_keyholding",
            event,
            _BOTH,
            "registry_keyholding: nobody holds keys of two locks of one room",
        )
        yield Guard(
            f"registry_doorsession_two_people_{event.lower()}",
            "registry_doorsession",
            event,
            f"NEW.second_key_id IS NOT NULL AND NOT {_TWO_PEOPLE}",
            "registry_doorsession: two people open, each with the key of another lock "
            "of the room",
        )
        yield Guard(
            f"registry_doorsession_confirmed_{event.lower()}",
            "registry_doorsession",
            event,
            f"NEW.second_confirmed_by_id IS NOT NULL AND NOT {_SECOND}",
            "registry_doorsession: only the second key holder confirms",
        )
    yield from _written_once()


def _written_once() -> Iterator[Guard]:
    fixed = ("room_id", "first_key_id", "second_key_id", "opened_at", "opened_by_id",
             "seals_found", "seals_compared", "permission_id", "purpose")  # fmt: skip
    yield Guard(
        "registry_doorsession_opened_once",
        "registry_doorsession",
        "UPDATE",
        differ(fixed),
        "registry_doorsession: what was written on opening is not changed",
    )
    yield Guard(
        "registry_doorsession_closed_once",
        "registry_doorsession",
        "UPDATE",
        "OLD.closed_at IS NOT NULL AND "
        f"({differ(('closed_at', 'closed_by_id', 'seals_put_on', 'waste', 'done'))})",
        "registry_doorsession: what was written on closing is not changed",
    )
