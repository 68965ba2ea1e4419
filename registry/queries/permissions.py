"""Permissions as pages show them: what each permits, how it stands, what it covers."""

import hashlib
import json
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime

from django.db.models import Q, QuerySet

from registry.models import Box, Envelope, Permission, PermissionItem, StrongRoom
from registry.queries.keeping import legal_date
from registry.queries.standing import conditions_of, covered_by

NO_FORCE_YET = "recorded – no force yet"

# A state in words, and the tone in which a page shows it.
_TONES = {
    NO_FORCE_YET: "wait",
    "in force": "clear",
    "not yet valid": "wait",
    "expired": "ended",
    "revoked": "stop",
    "used": "ended",
}
_ORDER = list(_TONES)


@dataclass(frozen=True)
class PermissionRow:
    """A permission in a list."""

    number: str
    title: str
    act: str
    act_title: str
    election: str
    dated: date
    valid_from: date
    valid_until: date
    state: str
    tone: str
    things: int
    conditions: tuple[str, ...]
    recorded_by: str
    recorded_at: datetime

    @property
    def waits(self) -> bool:
        """Whether it waits for its countersignature."""
        return self.state == NO_FORCE_YET


@dataclass(frozen=True)
class ThingRow:
    """A box, envelope or room that a permission names, and whether it is used."""

    number: str
    noun: str
    title: str
    lies_in: str
    state: str
    used: bool


def things_of(permission: Permission) -> list[PermissionItem]:
    """Return a permission's items in the order in which they were listed."""
    return list(
        permission.items.select_related(
            "box__contest__election",
            "envelope__contest__election",
            "envelope__station",
            "envelope__box",
            "room",
        ).order_by("id")
    )


def list_digest(permission: Permission, numbers: Iterable[str]) -> str:
    """Return the SHA-256 over what is countersigned: the order and its list."""
    paper = permission.document
    text = json.dumps(
        {
            "act": permission.act,
            "authority": permission.authority,
            "order": permission.order_ref,
            "dated": permission.dated.isoformat(),
            "election": permission.election.number,
            "valid_from": permission.valid_from.isoformat(),
            "valid_until": permission.valid_until.isoformat(),
            "while_still_kept": permission.while_still_kept,
            "instead_of_confirmation": permission.instead_of_confirmation,
            "conditions": permission.conditions,
            "document": paper.digest if paper else "",
            "things": sorted(numbers),
        },
        sort_keys=True,
        separators=(",", ":"),
    )
    return hashlib.sha256(text.encode()).hexdigest()


def used_things(permission: Permission) -> set[str]:
    """Return the numbers under which something was done under a permission."""
    done = (
        permission.openings.values_list("box__number", "envelope__number",
                                        "room__number"),
        permission.movements.values_list("box__number", "envelope__number"),
    )  # fmt: skip
    return {number for rows in done for row in rows for number in row if number}


def state_of(permission: Permission, on: date, *, used: bool) -> str:
    """Return in words how a permission stands on a day of its election's legal zone.

    Args:
        used: everything that it names has been done.
    """
    if permission.revoked_at:
        return "revoked"
    if used:
        return "used"
    if permission.valid_until < on:
        return "expired"
    if not permission.countersigned_at:
        return NO_FORCE_YET
    if max(permission.valid_from, permission.dated) > on:
        return "not yet valid"
    return "in force"


def tone_of(state: str) -> str:
    """Return the tone of a permission's state."""
    return _TONES[state]


def permission_rows(
    permissions: QuerySet[Permission], at: datetime
) -> list[PermissionRow]:
    """Return permissions as rows: waiting for countersignature first, newest first."""
    rows = [
        permission_row(permission, at)
        for permission in permissions.select_related(
            "election", "recorded_by"
        ).order_by("-id")
    ]
    return sorted(rows, key=lambda row: _ORDER.index(row.state))


def permission_row(permission: Permission, at: datetime) -> PermissionRow:
    """Return one permission as a row of a list."""
    named = covered_by(permission)
    used = bool(permission.countersigned_at) and named <= used_things(permission)
    state = state_of(permission, legal_date(permission.election, at), used=used)
    return PermissionRow(
        number=permission.number,
        title=str(permission),
        act=permission.act,
        act_title=permission.get_act_display(),
        election=str(permission.election),
        dated=permission.dated,
        valid_from=permission.valid_from,
        valid_until=permission.valid_until,
        state=state,
        tone=tone_of(state),
        things=len(named),
        conditions=tuple(conditions_of(permission)),
        recorded_by=str(permission.recorded_by),
        recorded_at=permission.recorded_at,
    )


def thing_row(thing: Box | Envelope | StrongRoom, used: set[str]) -> ThingRow:
    """Return a thing that a permission names as a row of its list."""
    if isinstance(thing, StrongRoom):
        return ThingRow(
            thing.number, "strong room", str(thing), "", "", thing.number in used
        )
    title = f"{thing.get_kind_display()}, {thing.contest or 'contest not known'}"
    lies_in = ""
    if isinstance(thing, Envelope):
        title += f", station {thing.station or 'not known'}"
        lies_in = thing.box.number if thing.box else ""
    noun = "box" if isinstance(thing, Box) else "envelope"
    return ThingRow(
        thing.number,
        noun,
        title,
        lies_in,
        thing.get_state_display(),
        thing.number in used,
    )


def naming(
    permissions: QuerySet[Permission], act: str, number: str
) -> QuerySet[Permission]:
    """Return the permissions for an act that name this box, envelope or room."""
    named = PermissionItem.objects.filter(
        Q(box__number=number) | Q(envelope__number=number) | Q(room__number=number)
    )
    return permissions.filter(act=act, pk__in=named.values("permission")).order_by(
        "-id"
    )


def foremost(rows: Iterable[PermissionRow]) -> PermissionRow | None:
    """Return the permission that would be relied on: in force, else the nearest."""
    nearness = {"in force": 0, NO_FORCE_YET: 1, "not yet valid": 2}
    return min(rows, key=lambda row: nearness.get(row.state, 3), default=None)
