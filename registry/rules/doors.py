"""The door log: what stands out in one opening of a strong room's door.

Two key holders open, each with a key of their own; the purpose, those present and the
seals of the door are written down before and after. (Double-lock practice and the
hours after which an open door is asked about: common practice, no published source.)
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from enum import StrEnum

from registry.rules.numbers import plain_serial

# After so many hours a door that was not closed is asked about.
OPEN_TOO_LONG = timedelta(hours=12)
# What is entered later than this says so (the same for movements, see custody).
LATE = timedelta(hours=24)


class SealsCompared(StrEnum):
    """The seals found on a door, against those put on when it was last closed."""

    SAME = "same"
    DIFFER = "differ"
    NOT_RECORDED = "not-recorded"
    NOT_READ = "not-read"


SEALS_SAID = {
    SealsCompared.SAME: "the same as put on at the last closing",
    SealsCompared.DIFFER: "not those put on at the last closing",
    SealsCompared.NOT_RECORDED: "none were recorded at the last closing",
    SealsCompared.NOT_READ: "no seal was read, though seals were put on",
}


def seals_in(written: str) -> frozenset[str]:
    """Return the seal numbers in a line, in comparable form: commas part them."""
    parts = written.replace(";", ",").replace("\n", ",").split(",")
    return frozenset(plain for part in parts if (plain := plain_serial(part)))


def compare_seals(found: str, put_on: str) -> SealsCompared:
    """Compare the seals read on a door with those put on at its last closing."""
    if not seals_in(put_on):
        return SealsCompared.NOT_RECORDED
    if not seals_in(found):
        return SealsCompared.NOT_READ
    same = seals_in(found) == seals_in(put_on)
    return SealsCompared.SAME if same else SealsCompared.DIFFER


@dataclass(frozen=True)
class Visitor:
    """Somebody in the room while its door was open."""

    name: str
    came_at: datetime
    left_at: datetime | None
    escort: str = ""
    holds_key: bool = False


@dataclass(frozen=True)
class DoorFact:
    """One opening of a door, until it was closed (``closed_at`` None: still open).

    Attributes:
        second: the second key holder; empty where one alone opened.
        second_has_account: whether the second could confirm from a log-in.
        revoked_at: when the permission it was opened under was revoked.
        handled: numbers of containers that were moved while it was open.
        waste: ``none``, ``looked`` or ``unlooked``; empty while it is open.
    """

    purpose: str
    opened_at: datetime
    recorded_at: datetime
    first: str
    second: str = ""
    second_has_account: bool = False
    second_confirmed_at: datetime | None = None
    closed_at: datetime | None = None
    seals: SealsCompared = SealsCompared.SAME
    seals_put_on: str = ""
    waste: str = ""
    revoked_at: datetime | None = None
    visitors: Sequence[Visitor] = ()
    handled: Sequence[str] = field(default_factory=tuple)


class DoorFault(StrEnum):
    """What can stand out in an opening of a door."""

    OPEN_TOO_LONG = "open-too-long"
    ONE_HOLDER = "one-holder"
    NOT_CONFIRMED = "not-confirmed"
    NO_LOG_IN = "no-log-in"
    CONFIRMED_LATE = "confirmed-late"
    SEALS_DIFFER = "seals-differ"
    SEALS_NOT_READ = "seals-not-read"
    NO_SEALS_PUT_ON = "no-seals-put-on"
    STILL_INSIDE = "still-inside"
    REVOKED = "revoked"
    NO_ESCORT = "no-escort"
    TOUCHED_IN_REPAIR = "touched-in-repair"
    WASTE = "waste"
    RECORDED_LATE = "recorded-late"


GRAVE = frozenset(
    {
        DoorFault.OPEN_TOO_LONG,
        DoorFault.ONE_HOLDER,
        DoorFault.NOT_CONFIRMED,
        DoorFault.SEALS_DIFFER,
        DoorFault.REVOKED,
        DoorFault.TOUCHED_IN_REPAIR,
    }
)


@dataclass(frozen=True)
class DoorSign:
    """One thing that stands out, in a sentence."""

    fault: DoorFault
    text: str

    @property
    def grave(self) -> bool:
        """Whether somebody must look at it now."""
        return self.fault in GRAVE


def what_stands_out(
    door: DoorFact, now: datetime, longest: timedelta = OPEN_TOO_LONG
) -> tuple[DoorSign, ...]:
    """Return everything about an opening that somebody should look at.

    Args:
        now: the moment of the look.
        longest: how long a door may stay open before it is asked about.
    """
    return (
        *_of_time(door, now, longest),
        *_of_holders(door),
        *_of_seals(door),
        *_of_people(door),
        *_of_permission(door, now),
        *_of_what_was_handled(door),
    )


def _of_time(door: DoorFact, now: datetime, longest: timedelta) -> Iterator[DoorSign]:
    open_for = (door.closed_at or now) - door.opened_at
    if open_for > longest:
        hours = int(open_for.total_seconds() // 3600)
        verb = "was" if door.closed_at else "has been"
        yield DoorSign(
            DoorFault.OPEN_TOO_LONG,
            f"The door {verb} open for {hours} hours"
            + ("." if door.closed_at else " and is not closed."),
        )
    if door.recorded_at - door.opened_at > LATE:
        yield DoorSign(
            DoorFault.RECORDED_LATE,
            "It was entered more than 24 hours after the door was opened.",
        )


def _of_holders(door: DoorFact) -> Iterator[DoorSign]:
    if not door.second:
        yield DoorSign(
            DoorFault.ONE_HOLDER, f"{door.first} opened it alone, with one key."
        )
    elif door.second_confirmed_at is None and not door.second_has_account:
        yield DoorSign(
            DoorFault.NO_LOG_IN,
            f"{door.second}, second key holder, has no log-in: the name was written "
            "down, not confirmed.",
        )
    elif door.second_confirmed_at is None:
        yield DoorSign(
            DoorFault.NOT_CONFIRMED,
            f"{door.second}, second key holder, has not confirmed it.",
        )
    elif door.closed_at and door.second_confirmed_at > door.closed_at:
        yield DoorSign(
            DoorFault.CONFIRMED_LATE,
            f"{door.second}, second key holder, confirmed it only after it was closed.",
        )


def _of_seals(door: DoorFact) -> Iterator[DoorSign]:
    if door.seals is SealsCompared.DIFFER:
        yield DoorSign(
            DoorFault.SEALS_DIFFER,
            "The seals found on the door are not those put on at the last closing.",
        )
    if door.seals is SealsCompared.NOT_READ:
        yield DoorSign(
            DoorFault.SEALS_NOT_READ,
            "No seal was read on opening, though seals were put on before.",
        )
    if door.closed_at and not seals_in(door.seals_put_on):
        yield DoorSign(
            DoorFault.NO_SEALS_PUT_ON, "No seal was put on when it was closed."
        )


def _of_people(door: DoorFact) -> Iterator[DoorSign]:
    if door.closed_at:
        inside = [v.name for v in door.visitors if v.left_at is None]
        if inside:
            yield DoorSign(
                DoorFault.STILL_INSIDE,
                f"Nobody wrote down when {_listed(inside)} left.",
            )
    if door.purpose == "repair":
        alone = [v.name for v in door.visitors if not (v.escort or v.holds_key)]
        if alone:
            yield DoorSign(
                DoorFault.NO_ESCORT,
                f"No escort is named for {_listed(alone)}.",
            )
    if door.waste == "unlooked":
        yield DoorSign(
            DoorFault.WASTE, "Waste left the room and nobody had looked through it."
        )


def _of_permission(door: DoorFact, now: datetime) -> Iterator[DoorSign]:
    end = door.closed_at or now
    if door.revoked_at and door.opened_at <= door.revoked_at <= end:
        closed = (
            "It was closed afterwards."
            if door.closed_at
            else "Stop, and close the door."
        )
        yield DoorSign(
            DoorFault.REVOKED,
            f"The permission was revoked while the door was open. {closed}",
        )


def _of_what_was_handled(door: DoorFact) -> Iterator[DoorSign]:
    if door.purpose == "repair" and door.handled:
        yield DoorSign(
            DoorFault.TOUCHED_IN_REPAIR,
            f"It was opened for a repair, and {_listed(list(door.handled))} moved.",
        )


def _listed(names: Sequence[str]) -> str:
    if len(names) < 2:
        return "".join(names)
    return f"{', '.join(names[:-1])} and {names[-1]}"
