"""Permissions of the higher authority: recorded, countersigned by another, revoked."""

from collections.abc import Iterable, Sequence
from datetime import date, datetime

from registry.models import (
    Box,
    ContainerState,
    Election,
    Envelope,
    Permission,
    PermissionItem,
    StrongRoom,
)
from registry.queries.find import the
from registry.queries.keeping import legal_date
from registry.queries.permissions import list_digest, things_of
from registry.queries.scope import (
    boxes_of,
    elections_of,
    envelopes_of,
    of_elections_in_scope,
    rooms_of,
)
from registry.rules.disposal_facts import Act
from registry.rules.numbers import NumberMistyped, kind_of, read
from registry.rules.powers import Actor, Power
from registry.rules.wording import shown
from registry.usecases._door import Mistaken, Refused, note_access, usecase
from registry.usecases._records import enter, enter_many
from registry.usecases.documents import Upload, keep_document

_NOUN_OF_ACT = {
    Act.ENTER_ROOM: ("RM",),
    Act.OPEN_BOX: ("BX",),
    Act.OPEN_ENVELOPE: ("EN",),
    Act.TAKE_OUT: ("BX", "EN"),
    Act.DESTROY: ("BX", "EN"),
}
_REACHES_INSIDE = (Act.TAKE_OUT, Act.DESTROY)


@usecase("permission.record", power=Power.RECORD_PERMISSION, subject="election")
def record_permission(
    *,
    election: str,
    authority: str,
    order_ref: str,
    dated: date,
    valid_from: date,
    valid_until: date,
    act: str,
    things: Sequence[str],
    while_still_kept: bool = False,
    instead_of_confirmation: bool = False,
    conditions: str = "",
    document: Upload | None = None,
    actor: Actor,
    at: datetime,
) -> str:
    """Record an order of the higher authority; it has no force before countersigning.

    Args:
        act: one of ``Act``.
        things: register numbers of the boxes, envelopes or rooms that it names. For
            taking out and destroying, what lies in a box is named with it.
        while_still_kept: the order expressly allows the act during the time of
            keeping; never for destruction.
        instead_of_confirmation: the order expressly stands in for the confirmation of
            the court's registry; of use only where the election's schedule lets it.
        conditions: one to a line; each must be met when the permission is used.

    Returns:
        The permission's register number.

    Raises:
        Mistaken: dates, act or list cannot be right.
    """
    of = the(elections_of(actor), election, "election")
    if act not in set(Act):
        raise Mistaken(act="Say what the order permits.")
    _check_order(of, authority, order_ref, dated, valid_from, valid_until, at)
    if Act(act) is Act.DESTROY and while_still_kept:
        raise Mistaken(
            while_still_kept="Nothing is destroyed while it must still be kept."
        )
    named = _named(of, Act(act), things, actor)
    permission = enter(
        Permission(
            election=of,
            authority=authority.strip(),
            order_ref=order_ref.strip(),
            dated=dated,
            valid_from=valid_from,
            valid_until=valid_until,
            act=act,
            while_still_kept=while_still_kept,
            instead_of_confirmation=instead_of_confirmation,
            conditions=conditions.strip(),
            document=keep_document(document) if document else None,
            recorded_at=at,
            recorded_by_id=actor.person_id,  # type: ignore[misc] # the door saw to it
        )
    )
    enter_many([_item(permission, thing) for thing in named])
    numbers = [thing.number for thing in named]
    note_access(permission.number, things=len(named), meant=numbers)
    return permission.number


def _check_order(
    election: Election,
    authority: str,
    order_ref: str,
    dated: date,
    valid_from: date,
    valid_until: date,
    at: datetime,
) -> None:
    problems: dict[str, list[str]] = {}
    today = legal_date(election, at)
    if not authority.strip():
        problems["authority"] = ["Name the authority that made the order."]
    if len(authority.strip()) > 200:
        problems["authority"] = ["Shorten this to 200 characters."]
    if not order_ref.strip():
        problems["order_ref"] = ["Give the order's number."]
    if len(order_ref.strip()) > 120:
        problems["order_ref"] = ["Shorten this to 120 characters."]
    if dated > today:
        problems["dated"] = ["The order's date has not come yet."]
    if valid_until < valid_from:
        problems["valid_until"] = ["It would end before it begins."]
    elif valid_until < today:
        problems["valid_until"] = ["It is over already; nothing could be done with it."]
    known = Permission.objects.filter(
        authority__iexact=authority.strip(), order_ref__iexact=order_ref.strip()
    ).first()
    if known:
        problems["order_ref"] = [f"This order is recorded already, as {known.number}."]
    if problems:
        raise Mistaken(problems)


def _named(
    election: Election, act: Act, things: Sequence[str], actor: Actor
) -> list[Box | Envelope | StrongRoom]:
    if not things:
        raise Mistaken(things="List the boxes, envelopes or rooms the order names.")
    problems: list[str] = []
    named: dict[str, Box | Envelope | StrongRoom] = {}
    for text in things:
        try:
            thing = _thing(election, act, text, actor)
        except NumberMistyped as error:
            problems.append(str(error))
            continue
        except ValueError as error:
            problems.append(str(error))
            continue
        named[thing.number] = thing
        if isinstance(thing, Box) and act in _REACHES_INSIDE:
            named |= {envelope.number: envelope for envelope in thing.envelopes.all()}
    if problems:
        raise Mistaken({"things": problems})
    return list(named.values())


def _thing(
    election: Election, act: Act, text: str, actor: Actor
) -> Box | Envelope | StrongRoom:
    number = read(text)
    if kind_of(number) not in _NOUN_OF_ACT[act]:
        raise ValueError(f"{number} is nothing that this act can be done to.")
    if kind_of(number) == "RM":
        return the(rooms_of(actor), number, "strong room")
    rows = boxes_of(actor) if kind_of(number) == "BX" else envelopes_of(actor)
    thing = rows.filter(number=number).first()
    if thing is None:
        raise ValueError(f"There is no container {number}.")
    if thing.election_id not in (None, election.pk):
        raise ValueError(f"{number} belongs to another election.")
    if thing.state == ContainerState.DISPOSED:
        raise ValueError(f"{number} has been disposed of.")
    return thing


def _item(permission: Permission, thing: Box | Envelope | StrongRoom) -> PermissionItem:
    return PermissionItem(
        permission=permission,
        box=thing if isinstance(thing, Box) else None,
        envelope=thing if isinstance(thing, Envelope) else None,
        room=thing if isinstance(thing, StrongRoom) else None,
    )


@usecase("permission.countersign", power=Power.RECORD_PERMISSION, subject="permission")
def countersign_permission(
    *, permission: str, digest_seen: str = "", actor: Actor, at: datetime
) -> None:
    """Give a recorded permission its force; the list is frozen from now on.

    Args:
        digest_seen: the digest of the list that the countersigner was shown; empty
            where none was shown, as on a terminal.

    Raises:
        Refused: the recorder signs his own entry, the list is another than was
            shown, or it is over, countersigned or revoked.
    """
    rows = of_elections_in_scope(Permission.objects.select_for_update(), actor)
    of = the(rows, permission, "permission")
    items = things_of(of)
    numbers = [item.thing.number for item in items]
    note_access(of.number, meant=numbers)
    digest = list_digest(of, numbers)
    reasons = []
    if of.recorded_by_id == actor.person_id:
        reasons.append(
            "You recorded this permission yourself. Another person countersigns it."
        )
    if of.countersigned_at:
        reasons.append(f"{of.number} is countersigned already.")
    if of.revoked_at:
        reasons.append(f"{of.number} was revoked: {of.revoked_because}")
    if of.valid_until < legal_date(of.election, at):
        reasons.append(f"{of.number} expired after {shown(of.valid_until)}.")
    reasons += _of_other_elections(of, items)
    if digest_seen and digest_seen != digest:
        reasons.append(
            "The list is not the one that you were shown. Open the page again."
        )
    if reasons:
        raise Refused(*reasons)
    of.list_digest = digest
    of.countersigned_at = at
    of.countersigned_by_id = actor.person_id
    of.save()
    note_access(of.number, digest=digest)


def _of_other_elections(
    permission: Permission, items: Iterable[PermissionItem]
) -> list[str]:
    """Name what belongs, by now, to another election or to none that is known."""
    containers = [of for item in items if (of := item.box or item.envelope)]
    return [
        f"{of.number} is not known to belong to {permission.election}."
        for of in containers
        if of.election_id != permission.election_id
    ]


@usecase("permission.revoke", power=Power.RECORD_PERMISSION, subject="permission")
def revoke_permission(
    *, permission: str, because: str, actor: Actor, at: datetime
) -> None:
    """Revoke a permission; nothing further can be done under it."""
    rows = of_elections_in_scope(Permission.objects.select_for_update(), actor)
    of = the(rows, permission, "permission")
    note_access(of.number, meant=[item.thing.number for item in things_of(of)])
    if of.revoked_at:
        raise Refused(f"{of.number} was revoked already.")
    if not because.strip():
        raise Mistaken(because="Give the reason, and the order that revokes it.")
    if len(because.strip()) > 400:
        raise Mistaken(because="Shorten this to 400 characters.")
    of.revoked_at = at
    of.revoked_by_id = actor.person_id
    of.revoked_because = because.strip()
    of.save()
