"""Scanned papers: taken in by content, kept with their digest, given out on request."""

import hashlib
from dataclasses import dataclass
from datetime import datetime

from django.conf import settings
from django.core.files.base import ContentFile

from registry.models import Document
from registry.queries.find import the
from registry.rules.powers import Actor, Power
from registry.usecases._door import Mistaken, Refused, note_access, usecase
from registry.usecases._records import enter

# What the file begins with decides, not what it is called.
_SIGNS = (
    (b"%PDF-", "application/pdf", "pdf"),
    (b"\x89PNG\r\n\x1a\n", "image/png", "png"),
    (b"\xff\xd8\xff", "image/jpeg", "jpg"),
    (b"II*\x00", "image/tiff", "tif"),
    (b"MM\x00*", "image/tiff", "tif"),
)


@dataclass(frozen=True)
class Upload:
    """A file as it was handed in."""

    title: str
    content: bytes


@dataclass(frozen=True)
class Paper:
    """A document to be given out."""

    number: str
    title: str
    media_type: str
    file_name: str
    content: bytes


def keep_document(upload: Upload) -> Document:
    """Keep a scanned paper; only PDF and pictures are taken.

    Raises:
        Mistaken: empty, too large, or another kind of file.
    """
    if not upload.content:
        raise Mistaken(document="The file is empty.")
    if len(upload.content) > settings.UPLOAD_LIMIT:
        limit = settings.UPLOAD_LIMIT // 2**20
        raise Mistaken(document=f"The file is larger than {limit} MB.")
    for sign, media_type, ending in _SIGNS:
        if upload.content.startswith(sign):
            return keep_bytes(upload.title, upload.content, media_type, ending)
    raise Mistaken(document="Only PDF, PNG, JPEG and TIFF files are taken.")


def keep_bytes(title: str, content: bytes, media_type: str, ending: str) -> Document:
    """Keep a paper that the registry made or has checked."""
    digest = hashlib.sha256(content).hexdigest()
    document = Document(
        title=title.strip()[:200] or "Untitled paper",
        media_type=media_type,
        size=len(content),
        digest=digest,
    )
    document.file.save(f"{digest[:24]}.{ending}", ContentFile(content), save=False)
    return enter(document)


@usecase("document.look", power=Power.LOOK_AT_PERMISSIONS, subject="document")
def read_document(*, document: str, actor: Actor, at: datetime) -> Paper:
    """Give out a paper, after checking that it is what was taken in.

    Raises:
        Refused: the file on disk is missing or no longer what was taken in.
    """
    of = the(Document.objects.all(), document, "document")
    try:
        with of.file.open("rb") as file:
            content = file.read()
    except OSError as error:
        raise Refused(
            f"The file of {of.number} cannot be read. Tell the administrator."
        ) from error
    if hashlib.sha256(content).hexdigest() != of.digest:
        raise Refused(
            f"The file of {of.number} is not the one that was taken in: its digest "
            "differs. Tell the administrator and the auditor."
        )
    note_access(of.number)
    ending = of.file.name.rsplit(".", 1)[-1]
    return Paper(
        number=of.number,
        title=of.title,
        media_type=of.media_type,
        file_name=f"{of.number}.{ending}",
        content=content,
    )
