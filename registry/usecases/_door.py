"""The one door to the register: power, transaction, history and access entry.

Every act and every look goes through ``usecase``. What was done is entered in the
same transaction as the doing; what was refused or failed is entered after the
transaction has been rolled back, so that the refusal stays on record.
"""

import functools
from collections.abc import Callable, Iterable, Sequence
from contextvars import ContextVar
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any, ParamSpec, TypeVar

from django.db import Error as DatabaseError
from django.db import IntegrityError, transaction

from registry.models import AccessEntry, AccessShown, ActInHand, act_in_hand
from registry.queries.find import NotThere
from registry.rules.disposals import Obstacle
from registry.rules.powers import Actor, Power, PowerMissing, require

P = ParamSpec("P")
R = TypeVar("R")

# A clock that was put right by a few seconds is not one that was set back.
CLOCK_TOLERANCE = timedelta(minutes=2)

# Acts that somebody answers for by name, and that no wrong clock may let through.
_GRAVE = frozenset({Power.OPEN, Power.DISPOSE, Power.RECORD_PERMISSION})


class Refused(Exception):
    """The register does not do this; every reason is listed."""

    def __init__(self, *reasons: str | Obstacle) -> None:
        self.reasons = tuple(
            r.text if isinstance(r, Obstacle) else str(r) for r in reasons
        )
        self.remedies = tuple(
            r.remedy if isinstance(r, Obstacle) else "" for r in reasons
        )
        super().__init__(" ".join(self.reasons))


class Mistaken(Exception):
    """What was entered cannot be right; the errors are kept by field."""

    def __init__(self, errors: dict[str, list[str]] | None = None, **fields: str):
        self.errors = dict(errors or {})
        for name, message in fields.items():
            self.errors.setdefault(name, []).append(message)
        super().__init__(" ".join(m for ms in self.errors.values() for m in ms))


@dataclass
class AccessNotes:
    """What the act in hand wants entered about itself."""

    subject: str = ""
    detail: dict[str, Any] = field(default_factory=dict)
    shown: list[str] = field(default_factory=list)
    meant: list[str] = field(default_factory=list)


_notes: ContextVar[AccessNotes | None] = ContextVar("access_notes", default=None)


def note_access(
    subject: str = "",
    shown: Iterable[str] = (),
    meant: Iterable[str] = (),
    **detail: str | int | bool | None,
) -> None:
    """Tell what the act in hand is about.

    Args:
        subject: the register number that is looked at or changed.
        shown: numbers of the containers that a list shows.
        meant: numbers of the containers on which the act is tried: unlike what is
            shown, they stay with the entry of a refusal.
        detail: anything else that an auditor wants to know.
    """
    notes = _notes.get()
    if notes is None:
        raise RuntimeError("note_access() is for use inside a use case.")
    notes.subject = subject or notes.subject
    notes.shown.extend(shown)
    notes.meant.extend(meant)
    notes.detail.update(detail)


def usecase(
    act: str, *, power: Power | None, subject: str = ""
) -> Callable[[Callable[P, R]], Callable[P, R]]:
    """Make a function one act of the registry.

    Args:
        act: the name under which history and accesses know it, ``box.shelve``.
        power: what the actor's role must allow; None where there is no actor yet.
        subject: name of the argument that holds the register number.
    """

    def wrap(function: Callable[P, R]) -> Callable[P, R]:
        @functools.wraps(function)
        def door(*args: P.args, **kwargs: P.kwargs) -> R:
            actor: Actor = kwargs["actor"]  # type: ignore[assignment]
            at: datetime = kwargs["at"]  # type: ignore[assignment]
            outcomes = AccessEntry.Outcome
            notes = AccessNotes(subject=str(kwargs.get(subject, ""))[:16])
            in_hand = act_in_hand.set(ActInHand(act, actor.person_id, at))
            noted = _notes.set(notes)
            try:
                with transaction.atomic(durable=True):
                    if power is not None:
                        require(actor, power)
                    if power in _GRAVE:
                        _refuse_no_person(actor)
                        _refuse_a_clock_set_back(at)
                    result = function(*args, **kwargs)
                    _enter(act, actor, at, notes, outcomes.DONE)
                return result
            except (PowerMissing, Refused, NotThere, Mistaken) as refusal:
                _enter_apart(act, actor, at, notes, outcomes.REFUSED, refusal)
                raise
            except IntegrityError as conflict:
                refused = Refused(plain_conflict(conflict))
                _enter_apart(act, actor, at, notes, outcomes.REFUSED, refused)
                raise refused from conflict
            except DatabaseError:
                # The database itself is in trouble: nothing more can be entered.
                raise
            except Exception as failure:
                _enter_apart(act, actor, at, notes, outcomes.FAILED, failure)
                raise
            finally:
                _notes.reset(noted)
                act_in_hand.reset(in_hand)

        return door

    return wrap


def _enter_apart(
    act: str,
    actor: Actor,
    at: datetime,
    notes: AccessNotes,
    outcome: AccessEntry.Outcome,
    why: Exception,
) -> None:
    notes.shown.clear()  # nothing was shown
    reason = str(why) or type(why).__name__
    if outcome is AccessEntry.Outcome.FAILED:
        reason = f"{type(why).__name__}: {reason}"
    with transaction.atomic():
        _enter(act, actor, at, notes, outcome, reason)


def _enter(
    act: str,
    actor: Actor,
    at: datetime,
    notes: AccessNotes,
    outcome: AccessEntry.Outcome,
    reason: str = "",
) -> None:
    entry = AccessEntry.objects.create(
        at=at,
        person_id=actor.person_id,
        name=actor.name[:160],
        role=actor.role or "",
        act=act,
        subject=notes.subject,
        outcome=outcome,
        reason=reason,
        detail=notes.detail,
        address=actor.address[:80],
        channel=actor.channel,
    )
    AccessShown.objects.bulk_create(
        AccessShown(entry=entry, number=number)
        for number in dict.fromkeys([*notes.shown, *notes.meant])
    )


def _refuse_no_person(actor: Actor) -> None:
    if actor.person_id is None:
        raise Refused("Only a person can do this; log in.")


def _refuse_a_clock_set_back(at: datetime) -> None:
    last = AccessEntry.objects.order_by("-id").values_list("at", flat=True).first()
    if last and at < last - CLOCK_TOLERANCE:
        raise Refused(
            f"The clock of this machine stands at {at:%Y-%m-%d %H:%M}, before the last "
            f"entry of the register ({last:%Y-%m-%d %H:%M}). Have the clock put right."
        )


_CONFLICTS: Sequence[tuple[str, str]] = (
    ("one_live_seal", "This seal number is already on another container."),
    ("maker_plain", "This seal number is already on another container."),
    ("one_live_envelope", "This serial already stands on another live envelope."),
    ("one_permission_per", "This order of this authority is already recorded."),
    ("one_order_per", "This order of this court is already recorded."),
    ("one_case_per", "A case of this court with this number is already entered."),
    ("nothing is deleted", "Nothing in the register is ever deleted."),
    ("without a disposal record", "Nothing is disposed of without its record."),
    ("one election, one constituency", "A box holds one election, one constituency "
     "and one class of content."),
    ("open incident touches", "An open incident touches this container."),
    ("two locks of one room", "Nobody holds keys of two locks of one strong room."),
    ("one_holder_per_key", "Somebody holds this key already."),
    ("one_open_door_session", "This door is open already."),
    ("two people open", "Two people open, each with the key of another lock."),
    ("disposal_item", "It has been disposed of already."),
    ("registry_disposalitem", "It has been disposed of already, or is not permitted."),
)  # fmt: skip


def plain_conflict(error: IntegrityError) -> str:
    """Return in plain words what the database refused."""
    text = str(error)
    for sign, words in _CONFLICTS:
        if sign in text:
            return words
    return (
        "The register refused this because it contradicts what is already entered "
        f"({text.splitlines()[0]}). Look at the newest state and try again."
    )
