"""The whole stock of a room as it is handed over, and hand-overs as pages show them."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from django.db.models import Q, QuerySet

from registry.models import (
    Box,
    ChargeHandOver,
    Discrepancy,
    Envelope,
    Incident,
    InspectionRound,
    KeyHolding,
    MaterialIssue,
    Permission,
    Sighting,
    StrongRoom,
    User,
    Whereabouts,
)
from registry.queries.desks import in_force
from registry.queries.round_dues import round_due
from registry.queries.stock_takes import SeenRow, line_of, seen_row, with_places
from registry.queries.timeline import TimelineEntry, timeline_of
from registry.rules.powers import Actor, Power, Role

_ENDED = ("disposed", "superseded")
_THERE = (Whereabouts.INTAKE, Whereabouts.SHELVED)
TONES = {"stated": "wait", "signed-out": "wait", "done": "clear", "given-up": "ended"}
Container = Box | Envelope


def hand_overs_of(actor: Actor) -> QuerySet[ChargeHandOver]:
    """The hand-overs the actor may see: of own rooms, or between oneself and another.

    Who takes over has no charge of the room yet, and must see what is handed over.
    """
    rows = ChargeHandOver.objects.all()
    if not actor.may(Power.LOOK) or actor.role is Role.LEGAL:
        return rows.none()
    if actor.role is Role.CUSTODIAN:
        return rows.filter(
            Q(room_id__in=actor.rooms)
            | Q(incoming_id=actor.person_id)
            | Q(outgoing_id=actor.person_id)
        )
    return rows


@dataclass(frozen=True)
class StockLine:
    """One line of the statement.

    Attributes:
        section: what sort of thing it is, a key of ``SECTIONS``.
        number: its register number.
    """

    section: str
    number: str
    what: str
    place: str


SECTIONS = {
    "box": "Boxes",
    "envelope": "Envelopes outside boxes",
    "away": "On the register and not in the room",
    "key": "Keys",
    "permission": "Permissions in force",
    "incident": "Open incidents",
    "discrepancy": "Open discrepancies",
    "round": "Inspection rounds begun or due",
    "material": "Numbered seals issued for what is kept here",
}
# What is handed over from person to person, one movement for each.
HANDED = ("box", "envelope")


def handed_containers(room: StrongRoom) -> list[Container]:
    """Return the boxes and the envelopes outside boxes that are in the room."""
    boxes = Box.objects.filter(room=room, whereabouts__in=_THERE)
    loose = Envelope.objects.filter(room=room, whereabouts__in=_THERE)
    return [
        *with_places(boxes.exclude(state__in=_ENDED)).order_by("id"),
        *with_places(loose.exclude(state__in=_ENDED)).order_by("id"),
    ]


def stock_of(
    room: StrongRoom, outgoing: User, on: date, actor: Actor | None = None
) -> tuple[StockLine, ...]:
    """Return the whole stock of a room, line by line.

    Args:
        actor: who states it; without one the rounds that are due are left out.
    """
    return tuple(
        line
        for part in (
            _handed(handed_containers(room)),
            _away(room),
            _keys(room, outgoing),
            _permissions(room, on),
            _incidents(room),
            _discrepancies(room),
            _rounds(room, on, actor),
            _materials(room),
        )
        for line in part
    )


def _handed(containers: Iterable[Container]) -> Iterator[StockLine]:
    for of in containers:
        listed = line_of(of)
        noun = "box" if isinstance(of, Box) else "envelope"
        parts = [
            listed.content,
            listed.constituency,
            f"station {listed.station}" if listed.station else "",
            getattr(of, "label", ""),
            "in quarantine" if of.state == "quarantined" else "",
        ]
        what = ", ".join(part for part in parts if part)
        yield StockLine(noun, of.number, what, listed.place)


def _away(room: StrongRoom) -> Iterator[StockLine]:
    away = ("out", "kept", "on-way", "missing")
    models: tuple[Any, ...] = (Box, Envelope)
    for model in models:
        rows = model.objects.filter(room=room, whereabouts__in=away)
        for of in rows.exclude(state__in=_ENDED).select_related("contest"):
            yield StockLine(
                "away",
                of.number,
                f"{of.get_kind_display()}, {of.contest or 'contest not known'}",
                of.get_whereabouts_display(),
            )


def _keys(room: StrongRoom, outgoing: User) -> Iterator[StockLine]:
    rows = KeyHolding.objects.filter(
        Q(person=outgoing) | Q(holder__iexact=outgoing.name),
        key__lock__room=room,
        until__isnull=True,
    ).select_related("key__lock__room")
    for holding in rows.order_by("id"):
        yield StockLine(
            "key", holding.key.number, str(holding.key), f"held by {holding.holder}"
        )


def _permissions(room: StrongRoom, on: date) -> Iterator[StockLine]:
    named = (
        Q(items__room=room) | Q(items__box__room=room) | Q(items__envelope__room=room)
    )
    for row in in_force(Permission.objects.filter(named).distinct(), on):
        until = f"until {row.valid_until:%-d %B %Y}"
        yield StockLine("permission", row.number, row.get_act_display(), until)


def _incidents(room: StrongRoom) -> Iterator[StockLine]:
    rows = Incident.objects.filter(room=room, closed_at__isnull=True)
    for row in rows.order_by("id"):
        what = f"{row.get_kind_display()}: {row.what}"[:200]
        yield StockLine("incident", row.number, what, f"due {row.due_on:%-d %B %Y}")


def _discrepancies(room: StrongRoom) -> Iterator[StockLine]:
    rows = Discrepancy.objects.filter(
        Q(box__room=room) | Q(envelope__room=room) | Q(room=room),
        resolved_at__isnull=True,
    ).select_related("box", "envelope", "contest", "room")
    for row in rows.order_by("id"):
        what = f"{row.get_kind_display()}, {row.about.number}"
        yield StockLine("discrepancy", row.number, what, row.detail[:120])


def _rounds(room: StrongRoom, on: date, actor: Actor | None) -> Iterator[StockLine]:
    rows = InspectionRound.objects.filter(room=room, state="walked")
    for row in rows.order_by("id"):
        yield StockLine("round", row.number, "being walked", "")
    due = round_due(room, actor, on) if actor else None
    if due is not None:
        what = (
            "next round, of what is contested" if due.contested_only else "next round"
        )
        yield StockLine("round", room.number, what, f"due {due.on:%-d %B %Y}")


def _materials(room: StrongRoom) -> Iterator[StockLine]:
    kept_here = Box.objects.filter(room=room).exclude(state__in=_ENDED)
    rows = MaterialIssue.objects.filter(
        contest__in=kept_here.values("contest")
    ).exclude(first_serial="")
    for row in rows.order_by("id"):
        what = f"{row.get_kind_display()} {row.first_serial} to {row.last_serial}"
        yield StockLine("material", row.number, what, f"issued to {row.issued_to}")


def handed_lines(lines: Iterable[StockLine]) -> dict[str, StockLine]:
    """Return what is handed over from person to person, by number."""
    return {line.number: line for line in lines if line.section in HANDED}


def changes_between(
    stated: Iterable[StockLine], now: Iterable[StockLine], expected: Iterable[str]
) -> tuple[str, ...]:
    """Say which containers are no longer as they were stated.

    Args:
        expected: numbers whose change the hand-over itself brought about.
    """
    was, is_ = handed_lines(stated), handed_lines(now)
    known = set(expected)
    told = []
    for number in [*was, *(n for n in is_ if n not in was)]:
        before, after = was.get(number), is_.get(number)
        if before == after or number in known:
            continue
        if after is None:
            told.append(f"{number} is no longer in the room.")
        elif before is None:
            told.append(f"{number} came in since: {after.place}.")
        elif before.place != after.place:
            told.append(f"{number} stands on {after.place} now, not {before.place}.")
        else:
            told.append(f"{number} is now “{after.what}”, not “{before.what}”.")
    return tuple(told)


@dataclass(frozen=True)
class LookRow:
    """A container of the statement, and what the incoming custodian saw of it."""

    line: StockLine
    seen: tuple[SeenRow, ...]

    @property
    def looked_at(self) -> bool:
        """Whether it was looked at, or for."""
        return bool(self.seen)

    @property
    def in_order(self) -> bool:
        """Whether every look found it as it must be."""
        return bool(self.seen) and all(look.in_order for look in self.seen)


@dataclass(frozen=True)
class HandOverRow:
    """A hand-over in a list."""

    number: str
    room: str
    room_number: str
    outgoing: str
    incoming: str
    state: str
    state_title: str
    tone: str
    containers: int
    stated_at: datetime


def hand_over_row(of: ChargeHandOver) -> HandOverRow:
    """Return a hand-over as lists show it."""
    return HandOverRow(
        number=of.number,
        room=str(of.room),
        room_number=of.room.number,
        outgoing=of.outgoing.name,
        incoming=of.incoming.name,
        state=of.state,
        state_title=of.get_state_display(),
        tone=TONES[of.state],
        containers=of.containers,
        stated_at=of.stated_at,
    )


def with_people(rows: QuerySet[ChargeHandOver]) -> QuerySet[ChargeHandOver]:
    """Fetch with hand-overs what their pages say of each."""
    return rows.select_related(
        "room", "outgoing", "incoming", "stated_by", "signed_out_by", "list_document",
        "document",
    )  # fmt: skip


@dataclass(frozen=True)
class HandOverFile:
    """Everything that the page and the paper of a hand-over show."""

    row: HandOverRow
    order: str
    outgoing_absent: str
    stated_by: str
    charge_ends: bool
    list_document: str
    list_digest: str
    lines: tuple[StockLine, ...]
    looks: tuple[LookRow, ...]
    differences: tuple[str, ...]
    changed: tuple[str, ...]
    signed_out_at: datetime | None
    signed_out_by: str
    signed_in_at: datetime | None
    ended_at: datetime | None
    ended_because: str
    document: str
    timeline: tuple[TimelineEntry, ...]

    @property
    def left(self) -> tuple[LookRow, ...]:
        """What was not looked at yet."""
        return tuple(look for look in self.looks if not look.looked_at)

    def section(self, name: str) -> tuple[StockLine, ...]:
        """The lines of one section."""
        return tuple(line for line in self.lines if line.section == name)


def hand_over_file(
    of: ChargeHandOver, stated: tuple[StockLine, ...], on: date
) -> HandOverFile:
    """Gather what is known of a hand-over.

    Args:
        stated: the lines of the statement that was kept.
    """
    looks = looks_of(of, stated)
    is_open = of.ended_at is None
    now = stock_of(of.room, of.outgoing, on) if is_open else stated
    return HandOverFile(
        row=hand_over_row(of),
        order=of.order,
        outgoing_absent=of.outgoing_absent,
        stated_by=of.stated_by.name,
        charge_ends=of.charge_ends,
        list_document=of.list_document.number,
        list_digest=of.list_digest,
        lines=stated,
        looks=looks,
        differences=tuple(of.differences.splitlines()) or differences_in(looks),
        changed=changes_between(stated, now, missed_in(of)),
        signed_out_at=of.signed_out_at,
        signed_out_by=of.signed_out_by.name if of.signed_out_by else "",
        signed_in_at=of.signed_in_at,
        ended_at=of.ended_at,
        ended_because=of.ended_because,
        document=of.document.number if of.document else "",
        timeline=tuple(timeline_of(of)),
    )


def looks_of(of: ChargeHandOver, stated: Iterable[StockLine]) -> tuple[LookRow, ...]:
    """Return what was seen of each container of the statement."""
    seen: dict[str, list[SeenRow]] = {}
    rows = Sighting.objects.filter(hand_over=of).select_related(
        "box", "envelope", "recorded_by"
    )
    for row in rows.order_by("id"):
        container = row.box or row.envelope
        if container is not None:
            seen.setdefault(container.number, []).append(seen_row(row))
    return tuple(
        LookRow(line, tuple(seen.get(number, ())))
        for number, line in handed_lines(stated).items()
    )


def missed_in(of: ChargeHandOver) -> set[str]:
    """Return the numbers of what was looked for in vain, even if it was found later."""
    rows = Sighting.objects.filter(hand_over=of, found=False)
    return {
        (row.box or row.envelope).number  # type: ignore[union-attr]
        for row in rows.select_related("box", "envelope")
        if row.box or row.envelope
    }


def never_found_in(of: ChargeHandOver, stated: Iterable[StockLine]) -> set[str]:
    """Return the numbers of what was looked for in vain and did not turn up since."""
    looks = looks_of(of, stated)
    return {row.line.number for row in looks if row.seen and not row.seen[-1].found}


def differences_in(looks: Iterable[LookRow]) -> tuple[str, ...]:
    """Say what the incoming custodian did not find as it was stated."""
    rows = list(looks)
    told = [
        f"{row.line.number}: {'; '.join(look.said for look in row.seen)}."
        for row in rows
        if row.looked_at and not row.in_order
    ]
    left = [row.line.number for row in rows if not row.looked_at]
    if left:
        some = ", ".join(left[:20]) + (" and others" if len(left) > 20 else "")
        told.append(f"Not looked at: {len(left)} of {len(rows)} ({some}).")
    return tuple(told)
