"""Keys of strong rooms: who holds which on a day, and what is wrong with the set.

A strong room's door has two locks, and no one person can open both: two people of two
offices hold the keys, a duplicate of each lies sealed elsewhere, and a lock whose key
was lost is changed. (Double-lock practice: common practice, no published source.)
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from registry.rules.disposal_facts import as_compared

# A strong room of the trade has two locks (common practice, no published source).
LOCKS_OF_A_ROOM = 2


@dataclass(frozen=True)
class HoldingFact:
    """Somebody holds a key from a moment until another; ``until`` None: still.

    Attributes:
        key, lock: register numbers.
        person_id: the holder's account, where there is one.
        holder: the name as written; it is compared by ``as_compared``.
    """

    key: str
    lock: str
    person_id: int | None
    holder: str
    appointment: str
    since: datetime
    until: datetime | None = None

    @property
    def plain(self) -> str:
        """The holder's name as names are compared."""
        return as_compared(self.holder)


@dataclass(frozen=True)
class KeyFact:
    """A key of a fitted lock.

    Attributes:
        state: in-use, deposited, lost, destroyed or withdrawn.
    """

    number: str
    mark: str
    duplicate: bool
    state: str
    place: str = ""


@dataclass(frozen=True)
class LockFact:
    """A fitted lock with its keys."""

    number: str
    name: str
    keys: tuple[KeyFact, ...] = ()


class KeyFault(StrEnum):
    """What can be wrong with a room's locks and keys."""

    TOO_FEW_LOCKS = "too-few-locks"
    LOCK_WITHOUT_KEY = "lock-without-key"
    LOCK_WITHOUT_HOLDER = "lock-without-holder"
    DUPLICATE_LOOSE = "duplicate-loose"
    KEY_UNHELD = "key-unheld"
    KEY_LOST = "key-lost"


@dataclass(frozen=True)
class KeyWarning:
    """One thing that is wrong; ``about`` is the number of the lock or the key."""

    fault: KeyFault
    about: str
    text: str


def same_person(
    one_id: int | None, one_plain: str, other_id: int | None, other_plain: str
) -> bool:
    """Tell whether two holders are one person, by account or by name as compared.

    Two people of one name are told apart by their accounts, where both have one.
    """
    if one_id is not None and other_id is not None:
        return one_id == other_id
    return one_plain == other_plain


def other_lock_held(
    lock: str,
    person_id: int | None,
    holder: str,
    held: Iterable[HoldingFact],
) -> HoldingFact | None:
    """Return the holding that forbids this person a key of this lock.

    Nobody holds keys of two locks of one room (common practice, no published source).

    Args:
        lock: the lock whose key would be issued.
        held: what is held of the same room's locks at that time.
    """
    plain = as_compared(holder)
    for one in held:
        if one.lock != lock and same_person(person_id, plain, one.person_id, one.plain):
            return one
    return None


def held_between(
    holdings: Iterable[HoldingFact], start: datetime, end: datetime
) -> tuple[HoldingFact, ...]:
    """Return who held a key at any time from ``start`` until before ``end``."""
    return tuple(
        h
        for h in sorted(holdings, key=lambda h: h.since)
        if h.since < end and (h.until is None or h.until > start)
    )


def warnings_about(
    locks: Sequence[LockFact], held: Iterable[HoldingFact]
) -> tuple[KeyWarning, ...]:
    """Return everything that is wrong with a room's fitted locks and their keys.

    Args:
        held: the holdings that have not ended.
    """
    holders = {holding.key: holding for holding in held}
    found: list[KeyWarning] = []
    if 0 < len(locks) < LOCKS_OF_A_ROOM:
        found.append(
            KeyWarning(
                KeyFault.TOO_FEW_LOCKS,
                locks[0].number,
                "The door has one lock on record: one person alone can open it.",
            )
        )
    for lock in locks:
        found += _of_lock(lock, holders)
    return tuple(found)


def _of_lock(lock: LockFact, holders: dict[str, HoldingFact]) -> Iterator[KeyWarning]:
    lost = [key for key in lock.keys if key.state == "lost"]
    for key in lost:
        yield KeyWarning(
            KeyFault.KEY_LOST,
            lock.number,
            f"Key {key.mark} of the {lock.name} is lost: the lock must be changed.",
        )
    live = [key for key in lock.keys if key.state in ("in-use", "deposited")]
    if not live:
        yield KeyWarning(
            KeyFault.LOCK_WITHOUT_KEY,
            lock.number,
            f"No key of the {lock.name} is on record.",
        )
    elif not any(key.number in holders for key in live):
        yield KeyWarning(
            KeyFault.LOCK_WITHOUT_HOLDER,
            lock.number,
            f"Nobody holds a key of the {lock.name}.",
        )
    for key in live:
        if key.state == "deposited" or key.number in holders:
            continue
        if key.duplicate:
            yield KeyWarning(
                KeyFault.DUPLICATE_LOOSE,
                key.number,
                f"Duplicate {key.mark} of the {lock.name} is neither deposited nor "
                "held by anybody.",
            )
        elif any(k.number in holders for k in live):
            yield KeyWarning(
                KeyFault.KEY_UNHELD,
                key.number,
                f"Key {key.mark} of the {lock.name} is held by nobody and not "
                "deposited.",
            )
