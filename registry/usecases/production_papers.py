"""The papers of handing out: pick list and receipt."""

from collections.abc import Sequence
from datetime import datetime
from zoneinfo import ZoneInfo

from registry.documents.productions import (
    HandedOut,
    PickList,
    PickRow,
    ProductionReceipt,
    pick_list_pdf,
    production_receipt_pdf,
)
from registry.models import Box, Envelope, Permission, Production, SealEvent
from registry.queries.containers import title_of
from registry.queries.find import the
from registry.queries.productions import handed_out_with, named_here
from registry.queries.scope import of_elections_in_scope
from registry.rules.powers import Actor, Power
from registry.usecases._door import Refused, note_access, usecase
from registry.usecases._seal_checks import seals_in_force
from registry.usecases.boxes import place_of
from registry.usecases.papers import Printed
from registry.usecases.production_looks import production_of


@usecase("production.receipt", power=Power.LOOK, subject="production")
def print_production_receipt(*, production: str, actor: Actor, at: datetime) -> Printed:
    """Print the receipt of everything that was handed out together."""
    of = production_of(production, actor)
    all_of_it = handed_out_with(of)
    zone = ZoneInfo(of.permission.election.legal_zone)
    went = of.taken_out
    note_access(
        of.number,
        shown=[(p.box or p.envelope).number for p in all_of_it],  # type: ignore[union-attr]
    )
    receipt = ProductionReceipt(
        number=of.number,
        election=str(of.permission.election),
        order=f"{of.permission.order_ref} of {of.permission.authority}",
        permission=of.permission.number,
        from_place=_from_rooms(all_of_it),
        handed_over_by=went.recorded_by.name if went.recorded_by else "",
        second_person=of.second_person,
        received_by=went.to_person,
        received_at_place=went.to_place,
        handed_over_at=went.occurred_at.astimezone(zone),
        expected_back_on=of.expected_back_on,
        confirmed_with=of.confirmed_with,
        confirmed_at=of.confirmed_at.astimezone(zone) if of.confirmed_at else None,
        receipt=of.receipt,
        containers=tuple(_handed_out(p) for p in all_of_it),
        made_at=at.astimezone(zone),
        made_by=actor.name,
    )
    return Printed(f"receipt-{of.number}.pdf", production_receipt_pdf(receipt))


def _from_rooms(productions: Sequence[Production]) -> str:
    rooms = [str((p.box or p.envelope).room) for p in productions]  # type: ignore[union-attr]
    return ", ".join(dict.fromkeys(rooms))


def _handed_out(production: Production) -> HandedOut:
    container = production.box or production.envelope
    assert container is not None
    inside = container.envelopes.count() if isinstance(container, Box) else 0
    return HandedOut(
        number=container.number,
        noun="Box" if isinstance(container, Box) else "Envelope",
        title=title_of(container),
        seals=_seals_read(container, production),
        envelopes=inside,
        weight_kg=production.weight_out_kg,
    )


def _seals_read(container: Box | Envelope, production: Production) -> tuple[str, ...]:
    """Return the seals as they were read when the container was handed out."""
    events = SealEvent.objects.filter(
        seal__in=container.seals.all(), recorded_at=production.taken_out.recorded_at
    )
    read = events.exclude(finding="").select_related("seal").order_by("id")
    return tuple(
        f"{e.seal.get_kind_display()} {e.number_read or 'without a number'}"
        for e in read
    )


@usecase("permission.pick_list", power=Power.OPEN, subject="permission")
def print_pick_list(*, permission: str, actor: Actor, at: datetime) -> Printed:
    """Print what is to be fetched under a permission, in the order of the shelves.

    Raises:
        Refused: nothing of it is here.
    """
    rows = of_elections_in_scope(Permission.objects.all(), actor)
    of = the(rows.select_related("election"), permission, "permission")
    found = named_here(of, actor)
    if not found:
        raise Refused(f"Nothing that {of.number} names is in your rooms.")
    note_access(of.number, shown=[each.number for each in found])
    zone = ZoneInfo(of.election.legal_zone)
    paper = PickList(
        permission=of.number,
        act=of.get_act_display(),
        order=f"{of.order_ref} of {of.authority}",
        valid_until=of.valid_until,
        election=str(of.election),
        rows=tuple(_pick_row(each) for each in found),
        made_at=at.astimezone(zone),
        made_by=actor.name,
    )
    return Printed(f"pick-list-{of.number}.pdf", pick_list_pdf(paper))


def _pick_row(of: Box | Envelope) -> PickRow:
    is_box = isinstance(of, Box)
    return PickRow(
        number=of.number,
        noun="Box" if is_box else "Envelope",
        title=title_of(of),
        label=getattr(of, "label", ""),
        place=_shelf_of(of),
        envelopes=of.envelopes.count() if isinstance(of, Box) else 0,
        seals=len(seals_in_force(of)),
        weight_kg=getattr(of, "gross_weight_kg", None),
    )


def _shelf_of(of: Box | Envelope) -> str:
    if isinstance(of, Envelope) and of.box:
        return f"{_shelf_of(of.box)}; in box {of.box.number}"
    return place_of(of)
