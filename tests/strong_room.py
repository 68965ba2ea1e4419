"""Doors and keys of a strong room, set up by the acts that people do.

Two locks, the key of each with another person, duplicates deposited: double-lock
practice, common practice, no published source.
"""

from dataclasses import dataclass
from datetime import timedelta

from registry.models import Key
from registry.rules.powers import Actor, Role
from registry.usecases import doors, keys
from tests import given


@dataclass(frozen=True)
class TwoLocks:
    """A room with two locks; the custodian has one key, another keeper the other."""

    scene: given.Scene
    second: Actor
    upper: str
    lower: str
    first_holding: str
    second_holding: str


def a_second_keeper(scene: given.Scene) -> Actor:
    """Another custodian of the same room."""
    return given.appointed(
        scene.cast.administrator, "gil.keeper", Role.CUSTODIAN, rooms=(scene.room,)
    )


def two_locks(scene: given.Scene, second: Actor | None = None) -> TwoLocks:
    """Both locks fitted, both keys issued, both duplicates deposited."""
    act = {"actor": scene.cast.custodian, "at": given.NOW - timedelta(hours=6)}
    second = second or a_second_keeper(scene)
    locks = [
        keys.fit_lock(
            room=scene.room,
            name=name,
            fitted_on=given.TODAY - timedelta(days=500),
            keys=[f"{mark}1"],
            duplicates=[f"{mark}2"],
            **act,
        )
        for name, mark in (("upper lock", "U"), ("lower lock", "L"))
    ]
    for mark in ("U2", "L2"):
        keys.deposit_key(
            key=key(mark), place="Treasury of Harbour Reach", sealed=True, **act
        )
    holdings = [
        keys.issue_key(
            key=key(mark),
            holder="",
            username=holder.username,
            appointment="Key holder by order ESC/KEY/1",
            **act,
        )
        for mark, holder in (("U1", scene.cast.custodian), ("L1", second))
    ]
    return TwoLocks(scene, second, *locks, *holdings)


def key(mark: str) -> str:
    """The number of the key of this mark."""
    return Key.objects.get(mark=mark).number


def opened(room: TwoLocks, at=given.NOW, **more) -> doors.Opened:
    """The door, opened by both holders for an inspection round."""
    return doors.open_door(
        **{
            "room": room.scene.room,
            "purpose": "round",
            "second_key": room.second_holding,
            "actor": room.scene.cast.custodian,
            "at": at,
            **more,
        }
    )


def closed(room: TwoLocks, session: str, at=given.NOW, **more) -> None:
    """The door, closed and sealed."""
    doors.close_door(
        **{
            "session": session,
            "seals_put_on": "D-101, D-102",
            "done": "Walked the shelves.",
            "waste": "none",
            "all_left": True,
            "actor": room.scene.cast.custodian,
            "at": at,
            **more,
        }
    )
