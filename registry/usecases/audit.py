"""What auditors do: read the accesses, and hold records against their history."""

from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

from django.apps import apps

from registry.queries.audit import AccessesWanted, AccessPage, accesses
from registry.queries.history import Mismatch, compare_with_history, versioned
from registry.queries.snapshot import hold_one_moment
from registry.rules.numbers import NumberMistyped, read
from registry.rules.powers import Actor, Power
from registry.usecases._door import Mistaken, note_access, usecase

__all__ = [
    "AccessPage",
    "AccessesWanted",
    "Verified",
    "list_accesses",
    "verify_history",
]


@usecase("access.list", power=Power.LOOK_AT_ACCESSES)
def list_accesses(
    *, wanted: AccessesWanted, zone: str, actor: Actor, at: datetime
) -> AccessPage:
    """List accesses, newest first; this look at them is entered like any other.

    Raises:
        Mistaken: the register number asked for was mistyped.
    """
    if wanted.number:
        try:
            read(wanted.number)
        except NumberMistyped as error:
            raise Mistaken(number=str(error)) from error
    asked = {k: str(v) for k, v in vars(wanted).items() if v}
    note_access(wanted.number, **asked)
    return accesses(wanted, ZoneInfo(zone))


@dataclass(frozen=True)
class Verified:
    """What a verification found: how many versions were read, and the first fault."""

    entries: int
    mismatch: Mismatch | None


@usecase("history.verify", power=Power.LOOK_AT_ACCESSES)
def verify_history(*, actor: Actor, at: datetime) -> Verified:
    """Hold every record against its history, and every history against the accesses.

    Each record must equal its last version; each history begins with an entry and
    goes on with changes; no history is without its record; and every version was
    written by an act that is entered among the accesses.
    """
    hold_one_moment()
    counted = [0]
    for model in versioned(apps.get_app_config("registry")):
        mismatch = compare_with_history(model, counted)
        if mismatch:
            note_access(entries=counted[0], mismatch=str(mismatch))
            return Verified(counted[0], mismatch)
    note_access(entries=counted[0])
    return Verified(counted[0], None)
