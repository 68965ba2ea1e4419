"""Chains of custody: a container's movements and those of its boxes, for the rules."""

import re
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from typing import Any

from registry.models import (
    Box,
    Contest,
    CustodyMovement,
    Envelope,
    RoomCharge,
    User,
)
from registry.queries.containers import title_of
from registry.queries.keeping import legal_zone
from registry.rules.custody import chain_of
from registry.rules.custody_facts import Chain, ChargeEnded, Finding, Move, MoveFact

_NAMED_BOX = re.compile(r"box (BX-\d+-\w)")


def chain(container: Box | Envelope, now: datetime) -> Chain:
    """Return the chain of custody of one container."""
    return chains([container], now)[container.pk]


def chains(containers: Sequence[Box | Envelope], now: datetime) -> dict[int, Chain]:
    """Return the chains of containers of one kind, by id, with few queries."""
    if not containers:
        return {}
    noun = "box" if isinstance(containers[0], Box) else "envelope"
    own = _moves(**{f"{noun}__in": [c.pk for c in containers]})
    into = {move.into for moves in own.values() for move in moves if move.into}
    boxes = _moves(box__number__in=into) if into else {}
    ended = _charges_ended({c.room_id for c in containers})
    return {
        c.pk: chain_of(
            own.get(c.number, ()),
            now=now,
            sealed_at=_sealed_at(c, own.get(c.number, ())),
            boxes=boxes,
            charges_ended=ended.get(c.room_id, ()),
        )
        for c in containers
    }


def _moves(**filters: Any) -> dict[str, list[MoveFact]]:
    rows = (
        CustodyMovement.objects.filter(**filters)
        .select_related(
            "box__election", "envelope__election", "recorded_by", "production"
        )
        .order_by("occurred_at", "id")
    )
    found: dict[str, list[MoveFact]] = defaultdict(list)
    for row in rows:
        of = row.box or row.envelope
        assert of is not None
        found[of.number].append(_fact(row, of))
    return found


def _fact(row: CustodyMovement, of: Box | Envelope) -> MoveFact:
    named = _NAMED_BOX.search(row.to_place)
    act = Move(row.act)
    production = getattr(row, "production", None)
    back_on = production.expected_back_on if production else None
    return MoveFact(
        number=row.number,
        seq=row.pk,
        of=of.number,
        act=act,
        at=_received_by_then(row, of) if act is Move.RECEIVED else row.occurred_at,
        recorded_at=row.recorded_at,
        recorder=row.recorded_by.name if row.recorded_by else "",
        from_person=row.from_person,
        to_person=row.to_person,
        from_place=row.from_place,
        to_place=row.to_place,
        into=named[1] if act in (Move.BOXED, Move.FOUND) and named else "",
        expected_back=_midnight(of, back_on + timedelta(days=1)) if back_on else None,
    )


def _received_by_then(row: CustodyMovement, of: Box | Envelope) -> datetime:
    """Return when it was received at the latest: by the end of the day stated.

    A list may be entered days after the containers came in; their day of receipt is
    on record, the hour is not.
    """
    day_after = _midnight(of, of.received_on + timedelta(days=1))
    return min(row.occurred_at, day_after - timedelta(seconds=1))


def _midnight(of: Box | Envelope, day: date) -> datetime:
    return datetime.combine(day, time(), legal_zone(of.election))


def _sealed_at(of: Box | Envelope, moves: Sequence[MoveFact]) -> datetime | None:
    """Return the beginning of the day of sealing, unless it came in that same day."""
    if of.sealed_on is None:
        return None
    begun = _midnight(of, of.sealed_on)
    next_day = begun + timedelta(days=1)
    return begun if not moves or moves[0].at >= next_day else None


def _charges_ended(rooms: Iterable[int]) -> dict[int, list[ChargeEnded]]:
    """Return, by room, who had charge of it once and no longer, from when to when."""
    found: dict[int, list[ChargeEnded]] = defaultdict(list)
    charges = RoomCharge.objects.filter(room_id__in=rooms).select_related("person")
    for charge in charges.order_by("id"):
        for since, until in _without_charge(charge):
            found[charge.room_id].append(ChargeEnded(charge.person.name, since, until))
    return found


def _without_charge(
    charge: RoomCharge,
) -> list[tuple[datetime, datetime | None]]:
    spans: list[tuple[datetime, datetime | None]] = []
    since: datetime | None = None
    for version in charge.history.order_by("history_id"):
        if version.ended and since is None:
            since = version.history_date
        elif not version.ended and since is not None:
            spans.append((since, version.history_date))
            since = None
    left = _left(charge.person)
    if since is None and left:
        since = left
    if since is not None:
        spans.append((since, None))
    return spans


def _left(person: User) -> datetime | None:
    if person.is_active:
        return None
    last = (
        person.history.filter(is_active=True)
        .order_by("-history_id")
        .values_list("history_id", flat=True)
        .first()
    )
    ended: datetime | None = (
        person.history.filter(is_active=False, history_id__gt=last or 0)
        .order_by("history_id")
        .values_list("history_date", flat=True)
        .first()
    )
    return ended


@dataclass(frozen=True)
class GapRow:
    """A container whose chain lacks something."""

    number: str
    noun: str
    title: str
    holder: str
    findings: tuple[Finding, ...]


@dataclass(frozen=True)
class ContestGaps:
    """The containers of a contest whose chain of custody is not whole."""

    contest: str
    contest_number: str
    election: str
    looked_at: int
    rows: tuple[GapRow, ...]


def gaps_of(contest: Contest, now: datetime) -> ContestGaps:
    """Return every container of a contest whose chain lacks something."""
    of_contest = {"contest": contest}
    boxes = Box.objects.filter(**of_contest).select_related("election", "contest")
    envelopes = Envelope.objects.filter(**of_contest).select_related(
        "election", "contest", "station"
    )
    kinds: tuple[list[Box | Envelope], ...] = (
        list(boxes.order_by("id")),
        list(envelopes.order_by("id")),
    )
    rows = []
    for containers in kinds:
        found = chains(containers, now)
        rows += [
            _gap_row(c, found[c.pk]) for c in containers if not found[c.pk].is_whole
        ]
    return ContestGaps(
        contest=str(contest),
        contest_number=contest.number,
        election=contest.election.name,
        looked_at=sum(len(containers) for containers in kinds),
        rows=tuple(rows),
    )


def _gap_row(of: Box | Envelope, found: Chain) -> GapRow:
    return GapRow(
        number=of.number,
        noun="box" if isinstance(of, Box) else "envelope",
        title=title_of(of),
        holder=found.now.holder if found.now else "",
        findings=found.findings,
    )
