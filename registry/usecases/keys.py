"""The key register: locks fitted and replaced, keys issued, deposited, lost."""

from collections.abc import Iterable
from datetime import date, datetime

from registry.models import (
    Discrepancy,
    Key,
    KeyHolding,
    KeyState,
    Lock,
    StrongRoom,
    User,
)
from registry.queries.find import the
from registry.queries.keys import held_of, holding_fact
from registry.queries.scope import rooms_of
from registry.rules.arrivals import DiscrepancyKind
from registry.rules.disposal_facts import as_compared
from registry.rules.keys import other_lock_held
from registry.rules.powers import ROLE_TITLES, Actor, Power, Role
from registry.usecases._acting import person_of
from registry.usecases._covers import need
from registry.usecases._door import Mistaken, Refused, note_access, usecase
from registry.usecases._records import enter

# Whoever sets up or audits the registry keeps nothing: neither holds a key.
_MAY_HOLD = (Role.CUSTODIAN, Role.LEGAL, Role.AUTHORITY)


@usecase("key.fit_lock", power=Power.KEEP, subject="room")
def fit_lock(
    *,
    room: str,
    name: str,
    fitted_on: date,
    keys: Iterable[str],
    duplicates: Iterable[str] = (),
    actor: Actor,
    at: datetime,
) -> str:
    """Enter a lock on a strong room's door with its keys; returns its number.

    Args:
        keys: the marks stamped on its keys or their tags.
        duplicates: the marks of its duplicates.
    """
    of = the(rooms_of(actor).select_for_update(), room, "strong room")
    lock = _fitted(of, name, fitted_on, keys, duplicates, at)
    note_access(of.number, lock=lock.number)
    return lock.number


@usecase("key.replace_lock", power=Power.KEEP, subject="lock")
def replace_lock(
    *,
    lock: str,
    because: str,
    fitted_on: date,
    keys: Iterable[str],
    duplicates: Iterable[str] = (),
    actor: Actor,
    at: datetime,
) -> str:
    """Change a lock: the old one and its keys end, a new one of its name is fitted.

    Returns:
        The number of the new lock.
    """
    old = _lock_of(actor, lock)
    need(because=because)
    if fitted_on < old.fitted_on:
        raise Mistaken(fitted_on="This day is before the old lock was fitted.")
    for key in old.keys.select_for_update().order_by("id"):
        _end_holding(key, f"The lock was replaced: {because.strip()}", at)
        if key.state in (KeyState.IN_USE, KeyState.DEPOSITED):
            key.state = KeyState.WITHDRAWN
            key.save()
    old.removed_on = fitted_on
    old.removed_because = because.strip()
    old.save()
    new = _fitted(old.room, old.name, fitted_on, keys, duplicates, at)
    note_access(old.room.number, old=old.number, new=new.number)
    return new.number


@usecase("key.add", power=Power.KEEP, subject="lock")
def add_key(
    *, lock: str, mark: str, duplicate: bool = True, actor: Actor, at: datetime
) -> str:
    """Enter a further key of a lock, most often a duplicate; returns its number."""
    of = _lock_of(actor, lock)
    (key,) = _enter_keys(of, [mark], duplicate=duplicate)
    note_access(key.number, lock=of.number)
    return key.number


@usecase("key.issue", power=Power.KEEP, subject="key")
def issue_key(
    *,
    key: str,
    holder: str,
    appointment: str,
    username: str = "",
    since: datetime | None = None,
    actor: Actor,
    at: datetime,
) -> str:
    """Record that a person holds a key, by appointment; returns the holding's number.

    Args:
        holder: the name; may be empty where a log-in name is given.
        username: the holder's log-in name, where there is one.
        since: from when; now if left out.

    Raises:
        Refused: somebody holds it, it is not in use, or this person holds a key of
            another lock of the room.
    """
    of = _key_of(actor, key)
    person = _person(username)
    holder = holder.strip() or (person.name if person else "")
    if person and as_compared(holder) != as_compared(person.name):
        raise Mistaken(
            holder=f"{username.strip()} is the log-in of {person.name}. Write this "
            "name, or leave the log-in name empty."
        )
    need(holder=holder, appointment=appointment)
    begins = since or at
    if begins > at:
        raise Mistaken(since="This moment has not come yet.")
    _refuse_unissuable(of, begins)
    _refuse_both(of, person, holder)
    holding = enter(
        KeyHolding(
            key=of,
            person=person,
            holder=holder,
            holder_plain=as_compared(holder),
            appointment=appointment.strip(),
            since=begins,
            recorded_at=at,
            recorded_by_id=person_of(actor),
        )
    )
    of.state = KeyState.IN_USE
    of.place = ""
    of.save()
    note_access(of.number, holding=holding.number)
    return holding.number


@usecase("key.take_back", power=Power.KEEP, subject="key")
def take_key_back(*, key: str, reason: str, actor: Actor, at: datetime) -> None:
    """Record that a key's holder gave it back."""
    of = _key_of(actor, key)
    need(reason=reason)
    if not _end_holding(of, reason.strip(), at):
        raise Refused(f"Nobody holds key {of.mark}.")
    note_access(of.number)


@usecase("key.deposit", power=Power.KEEP, subject="key")
def deposit_key(
    *, key: str, place: str, sealed: bool, actor: Actor, at: datetime
) -> None:
    """Record that a key lies deposited in a sealed cover.

    Raises:
        Refused: somebody holds it, or it is lost, destroyed or withdrawn.
    """
    of = _key_of(actor, key)
    need(place=place)
    if not sealed:
        raise Mistaken(
            sealed="A deposited key lies in a cover sealed over; seal it first."
        )
    if of.holdings.filter(until=None).exists():
        raise Refused(f"Key {of.mark} is held by somebody. Take it back first.")
    if of.state not in (KeyState.IN_USE, KeyState.DEPOSITED):
        raise Refused(f"Key {of.mark} is {of.get_state_display()}.")
    of.state = KeyState.DEPOSITED
    of.place = place.strip()
    of.save()
    note_access(of.number)


@usecase("key.lost", power=Power.KEEP, subject="key")
def report_key_lost(*, key: str, note: str, actor: Actor, at: datetime) -> str:
    """Record that a key is lost; returns the discrepancy that is opened.

    Its lock counts as one that must be changed until it is replaced.
    """
    of = _key_of(actor, key)
    need(note=note)
    if of.state not in (KeyState.IN_USE, KeyState.DEPOSITED):
        raise Refused(f"Key {of.mark} is {of.get_state_display()}.")
    _end_holding(of, f"The key was lost: {note.strip()}", at)
    of.state = KeyState.LOST
    of.place = ""
    of.save()
    found = enter(
        Discrepancy(
            kind=DiscrepancyKind.KEY_LOST.value,
            room=of.lock.room,
            detail=f"Key {of.mark} ({of.number}) of the {of.lock.name} is lost; the "
            f"lock must be changed. {note.strip()}"[:400],
            opened_at=at,
        )
    )
    note_access(of.number, discrepancy=found.number)
    return found.number


def _fitted(
    room: StrongRoom,
    name: str,
    fitted_on: date,
    keys: Iterable[str],
    duplicates: Iterable[str],
    at: datetime,
) -> Lock:
    need(name=name)
    if fitted_on > at.date():
        raise Mistaken(fitted_on="This day has not come yet.")
    fitted = room.locks.filter(removed_on=None)
    if any(as_compared(lock.name) == as_compared(name) for lock in fitted):
        raise Mistaken(name=f"The {name.strip()} of this room is on record already.")
    lock = enter(Lock(room=room, name=name.strip(), fitted_on=fitted_on))
    _enter_keys(lock, keys, duplicate=False)
    _enter_keys(lock, duplicates, duplicate=True)
    if not lock.keys.exists():
        raise Mistaken(keys="Enter the mark of at least one key.")
    return lock


def _enter_keys(lock: Lock, marks: Iterable[str], *, duplicate: bool) -> list[Key]:
    there = {as_compared(key.mark) for key in lock.keys.all()}
    entered = []
    field = "duplicates" if duplicate else "keys"
    for mark in (" ".join(mark.split()) for mark in marks):
        if not mark:
            raise Mistaken(mark="Write the mark that is stamped on the key or its tag.")
        if len(mark) > 40:
            raise Mistaken({field: ["A key’s mark has at most 40 characters."]})
        if as_compared(mark) in there:
            raise Mistaken({field: [f"The {lock.name} has a key {mark} already."]})
        there.add(as_compared(mark))
        entered.append(enter(Key(lock=lock, mark=mark, duplicate=duplicate)))
    return entered


def _lock_of(actor: Actor, number: str) -> Lock:
    rows = Lock.objects.select_for_update(of=("self",)).select_related("room")
    of = the(rows.filter(room__in=rooms_of(actor)), number, "lock")
    if of.removed_on:
        raise Refused(
            f"The {of} was removed on {of.removed_on:%-d %B %Y}. Take its successor."
        )
    return of


def _key_of(actor: Actor, number: str) -> Key:
    """Return a key, with its room locked: who holds what is decided once at a time."""
    rows = Key.objects.select_related("lock__room").filter(
        lock__room__in=rooms_of(actor)
    )
    found = the(rows, number, "key")
    StrongRoom.objects.select_for_update().get(pk=found.lock.room_id)
    of: Key = rows.select_for_update(of=("self",)).get(pk=found.pk)
    return of


def _person(username: str) -> User | None:
    wanted = username.strip().lower()
    if not wanted:
        return None
    person = User.objects.filter(username=wanted, is_active=True).first()
    if person is None:
        raise Mistaken(
            username=f"Nobody logs in as {wanted}. Leave this empty for a holder "
            "without a log-in."
        )
    if person.role not in _MAY_HOLD:
        title = ROLE_TITLES[Role(person.role)]
        raise Mistaken(username=f"{title}: this post may hold no key of a strong room.")
    return person


def _refuse_unissuable(key: Key, begins: datetime) -> None:
    if key.state not in (KeyState.IN_USE, KeyState.DEPOSITED):
        raise Refused(f"Key {key.mark} is {key.get_state_display()}.")
    last = key.holdings.order_by("-since", "-id").first()
    if last is None:
        return
    if last.until is None:
        raise Refused(f"{last.holder} holds key {key.mark}. Take it back first.")
    if begins < last.until:
        raise Mistaken(
            since=f"{last.holder} held it until {last.until:%-d %B %Y at %H:%M}."
        )


def _refuse_both(key: Key, person: User | None, holder: str) -> None:
    held = [holding_fact(row) for row in held_of(key.lock.room)]
    other = other_lock_held(
        key.lock.number, person.pk if person else None, holder, held
    )
    if other:
        name = Lock.objects.get(number=other.lock).name
        raise Refused(
            f"{other.holder} holds a key of the {name} of this room. Nobody holds the "
            "keys of both locks."
        )


def _end_holding(key: Key, because: str, at: datetime) -> bool:
    holding = key.holdings.select_for_update().filter(until=None).first()
    if holding is None:
        return False
    holding.until = at
    holding.ended_because = because[:400]
    holding.save()
    return True
