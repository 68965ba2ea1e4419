"""Looking at transfers, opening their forms, and the note that both sides sign."""

from datetime import datetime

from registry.documents.transfers import TransferNote, transfer_pdf
from registry.models import Transfer
from registry.queries.desk_day import zone_at_desk
from registry.queries.find import the
from registry.queries.transfers import (
    ItemRow,
    TransferFile,
    TransferRow,
    rooms_to_send_to,
    transfer_file,
    transfer_rows,
    transfers_of,
)
from registry.rules.powers import Actor, Power, Role
from registry.usecases._door import note_access, usecase
from registry.usecases.papers import Printed

__all__ = ["ItemRow", "TransferFile", "TransferRow"]


@usecase("transfer.list", power=Power.LOOK)
def list_transfers(*, actor: Actor, at: datetime) -> tuple[TransferRow, ...]:
    """List the transfers from and to the actor's rooms, the newest first."""
    rows = transfer_rows(transfers_of(actor))
    note_access(transfers=len(rows))
    return rows


@usecase("transfer.look", power=Power.LOOK, subject="transfer")
def look_at_transfer(*, transfer: str, actor: Actor, at: datetime) -> TransferFile:
    """Open a transfer's page: what went, by whom, and what became of each."""
    file = transfer_file(_transfer(transfer, actor), actor)
    note_access(file.number, shown=[item.number for item in file.items])
    return file


@usecase("transfer.prepare", power=Power.KEEP)
def look_before_handing_over(
    *, actor: Actor, at: datetime
) -> tuple[tuple[str, str], ...]:
    """Open the form of a transfer; returns the rooms to which one may send."""
    return rooms_to_send_to()


@usecase("transfer.prepare", power=Power.KEEP, subject="transfer")
def look_before_taking_over(
    *, transfer: str, actor: Actor, at: datetime
) -> TransferFile:
    """Open the form on which containers are taken over or taken back."""
    file = transfer_file(_transfer(transfer, actor), actor)
    note_access(file.number, shown=[item.number for item in file.left])
    return file


@usecase("transfer.prepare", power=Power.RECORD_PERMISSION, subject="transfer")
def look_before_confirming(
    *, transfer: str, actor: Actor, at: datetime
) -> TransferFile:
    """Open the form on which the authority gives its word afterwards."""
    file = transfer_file(_transfer(transfer, actor), actor)
    note_access(file.number, shown=[item.number for item in file.items])
    return file


def _transfer(number: str, actor: Actor) -> Transfer:
    rows = transfers_of(actor).select_related(
        "from_room", "to_room", "handed_over_by", "confirmed_by"
    )
    return the(rows, number, "transfer")


@usecase("transfer.print", power=Power.LOOK, subject="transfer")
def print_transfer_note(*, transfer: str, actor: Actor, at: datetime) -> Printed:
    """Print the note that goes with a transfer, for both sides to sign."""
    file = transfer_file(_transfer(transfer, actor), actor)
    note_access(file.number, shown=[item.number for item in file.items])
    zone = zone_at_desk(actor)
    note = TransferNote(
        file=file,
        handed_over_at=file.handed_over_at.astimezone(zone),
        partial=actor.role is Role.LEGAL,
        made_at=at.astimezone(zone),
        made_by=actor.name,
    )
    return Printed(f"transfer-{file.number}.pdf", transfer_pdf(note))
