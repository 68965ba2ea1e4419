"""Lists of containers as handed in: kept for their owner between check and taking."""

import hashlib
from collections.abc import Iterable

from django.core.files.base import ContentFile
from django.core.files.storage import default_storage

from registry.documents.spreadsheet_cells import csv_line, harmless
from registry.queries.find import NotThere
from registry.rules.powers import Actor
from registry.usecases.stations import RefusedLine


def digest_of(content: bytes) -> str:
    """Return by what a list is known again, whatever it is called."""
    return hashlib.sha256(content).hexdigest()


def keep_list(content: bytes, file_name: str, actor: Actor) -> str:
    """Keep a list for the person who handed it in; returns its digest."""
    digest = digest_of(content)
    place = _place(actor, digest)
    if not default_storage.exists(f"{place}/list"):
        default_storage.save(f"{place}/list", ContentFile(content))
    if not default_storage.exists(f"{place}/name"):
        default_storage.save(f"{place}/name", ContentFile(file_name.encode()))
    return digest


def kept_list(digest: str, actor: Actor) -> tuple[bytes, str]:
    """Return a list that this person handed in, and what it was called.

    Raises NotThere for a digest of somebody else's list, or of none.
    """
    place = _place(actor, digest)
    return _read(f"{place}/list"), _read(f"{place}/name").decode()


def keep_refused(
    digest: str, columns: Iterable[str], lines: Iterable[RefusedLine], actor: Actor
) -> None:
    """Keep the refused lines of a list beside it, replacing those of an earlier try."""
    path = f"{_place(actor, digest)}/refused.csv"
    if default_storage.exists(path):
        default_storage.delete(path)
    default_storage.save(path, ContentFile(refused_csv(columns, lines)))


def kept_refused(digest: str, actor: Actor) -> bytes:
    """Return the refused lines of a list that this person handed in."""
    return _read(f"{_place(actor, digest)}/refused.csv")


def refused_csv(columns: Iterable[str], lines: Iterable[RefusedLine]) -> bytes:
    """Return refused lines as CSV: every column as it came, the line and the reasons.

    Mended, the same file can be handed in again.
    """
    names = list(columns)
    head = [name.removeprefix("?") for name in names]
    out = [csv_line([*head, "line", "reason"])]
    for line in lines:
        cells, _ = harmless({name: line.cells.get(name, "") for name in names})
        spilt = line.cells.get("", "")
        reason = " ".join(line.reasons) + (
            f" Beyond the head: {spilt}" if spilt else ""
        )
        out.append(csv_line([*cells.values(), str(line.number), reason]))
    return "".join(out).encode("utf-8-sig")


def _place(actor: Actor, digest: str) -> str:
    if len(digest) != 64 or not set(digest) <= set("0123456789abcdef"):
        raise NotThere("There is no such list.")
    return f"intake-lists/{actor.person_id or 'terminal'}/{digest}"


def _read(path: str) -> bytes:
    try:
        with default_storage.open(path, "rb") as file:
            return bytes(file.read())
    except FileNotFoundError:
        raise NotThere("There is no such list of yours. Hand it in again.") from None
