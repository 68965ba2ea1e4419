"""Finding by anything that is written somewhere: serials, seals, orders, names."""

import string
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import islice
from typing import Any

from django.db.models import Q, QuerySet

from registry.models import (
    Box,
    Case,
    Contest,
    Election,
    Envelope,
    Permission,
    PollingStation,
    PreservationOrder,
    Seal,
    UnitSet,
)
from registry.queries.case_links import once_called
from registry.queries.scope import (
    boxes_of,
    cases_of,
    contests_of,
    elections_of,
    envelopes_of,
    of_containers_in_scope,
    of_elections_in_scope,
    rooms_of,
)
from registry.rules.markings import plain_station
from registry.rules.numbers import NumberMistyped, looks_like_number, plain_serial, read
from registry.rules.powers import Actor, Power

# So many of a kind are shown; whoever wants another types more of it.
MOST = 25
# What is shorter is a station number or a word, not a mistyped serial; what is longer
# is no serial at all.
SERIAL_LENGTHS = range(4, 31)


@dataclass(frozen=True)
class Hit:
    """Something found.

    Attributes:
        number: the register number whose page shows it.
        noun: what it is; ``text``: which one; ``matched``: what of it was found.
    """

    number: str
    noun: str
    text: str
    matched: str
    state: str = ""
    is_container: bool = False


@dataclass(frozen=True)
class Found:
    """What a search found.

    Attributes:
        near: what differs from the text by one slip, where nothing fits it.
        cut: whether there is more of a kind than is shown.
    """

    hits: tuple[Hit, ...]
    near: tuple[Hit, ...] = ()
    cut: bool = False


def election_named(rows: QuerySet[Election], named: str) -> Election | None:
    """Return the election of this code or register number, if it is among these."""
    if looks_like_number(named):
        try:
            return rows.filter(number=read(named)).first()
        except NumberMistyped:
            return None
    return rows.filter(code=named.strip().lower()).first()


def search(text: str, actor: Actor) -> Found:
    """Find whatever bears this text, within what the actor may see."""
    text = text.strip()
    serial = plain_serial(text)
    kinds = [list(islice(hits, MOST + 1)) for hits in _everything(text, serial, actor)]
    hits = [hit for found in kinds for hit in found[:MOST]]
    near: list[Hit] = []
    if not hits and len(serial) in SERIAL_LENGTHS:
        slips = one_slip_away(serial)
        near = list(islice(_with_serial(slips, actor), MOST))
    return Found(
        hits=tuple(_each_once(hits)),
        near=tuple(_each_once(near)),
        cut=any(len(found) > MOST for found in kinds),
    )


def one_slip_away(serial: str) -> set[str]:
    """Return every text that differs from a serial by one slip of the hand.

    One character wrong, missing or too many, or two neighbours swapped: the most
    frequent errors of typing (common practice, no published source for serials).
    """
    letters = string.ascii_uppercase + string.digits
    cuts = [(serial[:i], serial[i:]) for i in range(len(serial) + 1)]
    missing = {a + b[1:] for a, b in cuts if b}
    swapped = {a + b[1] + b[0] + b[2:] for a, b in cuts if len(b) > 1}
    wrong = {a + c + b[1:] for a, b in cuts if b for c in letters}
    added = {a + c + b for a, b in cuts for c in letters}
    return (missing | swapped | wrong | added) - {serial}


def _everything(text: str, serial: str, actor: Actor) -> Iterator[Iterator[Hit]]:
    """Yield what is found, kind by kind: what is most likely meant first."""
    if serial:
        yield _with_serial({serial}, actor)
    if actor.may(Power.LOOK):
        yield _boxes_labelled(text, actor)
    if actor.may(Power.LOOK_AT_CASES):
        yield _cases(text, actor)
        yield _orders(text, actor)
    if actor.may(Power.LOOK_AT_PERMISSIONS):
        yield _permissions(text, actor)
    if actor.may(Power.SEE_ELECTIONS):
        yield _contests(text, actor)
        yield _stations(text, actor)
        yield _elections(text, actor)
        yield _rooms(text, actor)


def _with_serial(serials: set[str], actor: Actor) -> Iterator[Hit]:
    if actor.may(Power.LOOK):
        yield from _envelopes_with(serials, actor)
        yield from _sealed_with(serials, actor)
    if actor.may(Power.SEE_ELECTIONS):
        yield from _unit_sets_with(serials, actor)


def _envelopes_with(serials: set[str], actor: Actor) -> Iterator[Hit]:
    units = Q(control_unit__in=serials) | Q(paper_trail_unit__in=serials)
    rows = envelopes_of(actor).filter(units).select_related("station", "contest")
    for row in rows.order_by("id")[: MOST + 1]:
        unit = "control unit" if row.control_unit in serials else "paper-trail unit"
        serial = row.control_unit if unit == "control unit" else row.paper_trail_unit
        yield _container(row, f"{unit} {serial}")


def _sealed_with(serials: set[str], actor: Actor) -> Iterator[Hit]:
    rows = of_containers_in_scope(Seal.objects.all(), actor)
    for seal in (
        rows.filter(serial_plain__in=serials)
        .select_related("box__contest", "envelope__contest", "envelope__station")
        .order_by("id")[: MOST + 1]
    ):
        bearer = seal.box or seal.envelope
        assert bearer is not None
        maker = f" of {seal.maker}" if seal.maker else ""
        told = f"{seal.get_kind_display()} {seal.serial}{maker}"
        yield _container(bearer, f"{told}, {seal.get_state_display()}")


def _container(row: Box | Envelope, matched: str) -> Hit:
    noun = "box" if isinstance(row, Box) else "envelope"
    where = row.contest or "contest not known"
    if isinstance(row, Envelope) and row.station:
        where = f"{where}, station {row.station}"
    return Hit(
        number=row.number,
        noun=noun,
        text=f"{row.get_kind_display()}, {where}",
        matched=matched,
        state=row.get_state_display(),
        is_container=True,
    )


def _unit_sets_with(serials: set[str], actor: Actor) -> Iterator[Hit]:
    units = Q(control_unit_plain__in=serials) | Q(paper_trail_plain__in=serials)
    rows = UnitSet.objects.filter(units, election__in=elections_of(actor))
    for row in rows.select_related("station__contest").order_by("id")[: MOST + 1]:
        replaced = ", replaced" if row.replaced else ""
        yield Hit(
            number=row.station.contest.number,
            noun="unit set",
            text=f"{row.station.contest}, station {row.station}",
            matched=f"{row}{replaced}",
        )


def _boxes_labelled(text: str, actor: Actor) -> Iterator[Hit]:
    rows = boxes_of(actor).filter(label__iexact=text).select_related("contest")
    for row in rows.order_by("id")[: MOST + 1]:
        yield _container(row, f"box label {row.label}")


def _cases(text: str, actor: Actor) -> Iterator[Hit]:
    named = Q(pk__in=once_called(text)) | Q(parties__icontains=text)
    rows: QuerySet[Case] = cases_of(actor).filter(named)
    for row in rows.order_by("id")[: MOST + 1]:
        yield Hit(row.number, "case", row.parties, row.court_number or row.forum)


def _orders(text: str, actor: Actor) -> Iterator[Hit]:
    rows = of_elections_in_scope(PreservationOrder.objects.all(), actor)
    for row in rows.filter(order_ref__icontains=text).order_by("id")[: MOST + 1]:
        yield Hit(row.number, "preservation order", str(row), row.order_ref)


def _permissions(text: str, actor: Actor) -> Iterator[Hit]:
    rows = of_elections_in_scope(Permission.objects.all(), actor)
    for row in rows.filter(order_ref__icontains=text).order_by("id")[: MOST + 1]:
        told = f"{row.get_act_display()}: {row}"
        yield Hit(row.number, "permission", told, row.order_ref)


def _contests(text: str, actor: Actor) -> Iterator[Hit]:
    number = plain_station(text)
    rows: Iterable[Contest] = contests_of(actor).order_by("id")
    for row in rows:
        same = number and number == plain_station(row.constituency_number)
        if same or text.casefold() in row.constituency_name.casefold():
            told = f"{row}, {row.election}"
            yield Hit(row.number, "contest", told, str(row))


def _stations(text: str, actor: Actor) -> Iterator[Hit]:
    number = plain_station(text)
    # Leading zeros are a habit of writing: 7, 07 and 007 are one station.
    writings = {number.rjust(width, "0") for width in range(len(number), 6)}
    written = Q(station_number__in={text, number, *writings}) if number else Q()
    rows = PollingStation.objects.filter(
        Q(name__icontains=text) | written, contest__in=contests_of(actor)
    )
    rows = rows.select_related("contest__election").order_by("id")
    for row in rows[: MOST + 1]:
        told = f"{row.contest}, {row.contest.election}"
        yield Hit(row.contest.number, "polling station", told, str(row))


def _elections(text: str, actor: Actor) -> Iterator[Hit]:
    named = Q(name__icontains=text) | Q(code__iexact=text)
    for row in elections_of(actor).filter(named).order_by("id")[: MOST + 1]:
        yield Hit(row.number, "election", row.name, row.code)


def _rooms(text: str, actor: Actor) -> Iterator[Hit]:
    named = Q(name__icontains=text) | Q(site__icontains=text)
    for row in rooms_of(actor).filter(named).order_by("id")[: MOST + 1]:
        yield Hit(row.number, "strong room", row.name, row.site)


def _each_once(hits: Sequence[Hit]) -> list[Hit]:
    """Return each hit once; a container may be met by several of its marks."""
    seen: dict[tuple[Any, ...], Hit] = {}
    for hit in hits:
        seen.setdefault((hit.number, hit.noun, hit.matched), hit)
    return list(seen.values())
