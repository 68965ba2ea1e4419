"""Scanned papers: taken in by content, kept with their digest, given out on request."""

import hashlib
import io
import re
import zipfile
from dataclasses import dataclass
from datetime import datetime

from django.conf import settings
from django.core.files.base import ContentFile

from registry.models import Document
from registry.queries.documents import documents_of
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

# ISO 32000-1, 7.11.4 and 12.6.4 (clauses from memory): what makes a PDF act, or
# carry another file.
_ACTIVE = re.compile(rb"/(?:JavaScript|JS|Launch|EmbeddedFiles?|RichMedia)\b")


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

    What the file holds decides. A file that is two things at once, or a PDF that
    carries a program or another file, is refused; what is hidden deeper is harmless
    here because papers are only ever given out as downloads, never shown.

    Raises:
        Mistaken: empty, too large, or another kind of file.
    """
    if not upload.content:
        raise Mistaken(document="The file is empty. Scan the paper again.")
    if len(upload.content) > settings.UPLOAD_LIMIT:
        limit = settings.UPLOAD_LIMIT // 2**20
        raise Mistaken(
            document=f"The file is larger than {limit} MB. Scan it at a lower "
            "resolution, or in black and white."
        )
    for sign, media_type, ending in _SIGNS:
        if upload.content.startswith(sign):
            _refuse_two_faces(upload.content, media_type)
            return keep_bytes(upload.title, upload.content, media_type, ending)
    raise Mistaken(
        document="Only PDF, PNG, JPEG and TIFF files are taken. Scan the paper as one "
        "of these."
    )


def _refuse_two_faces(content: bytes, media_type: str) -> None:
    # An archive is read from its end, so it can stand behind a picture or a PDF.
    if zipfile.is_zipfile(io.BytesIO(content)):
        raise Mistaken(
            document="The file is also an archive. Scan the paper itself and hand in "
            "the scan as it came."
        )
    if media_type != "application/pdf":
        return
    if b"%%EOF" not in content[-1024:]:
        raise Mistaken(document="The PDF is cut off or damaged. Scan the paper again.")
    if _ACTIVE.search(content):
        raise Mistaken(
            document="The PDF carries a program or another file. Print it and hand in "
            "a scan of the print."
        )


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
    of = the(documents_of(actor), document, "document")
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
    ending = str(of.file.name).rsplit(".", 1)[-1]
    return Paper(
        number=of.number,
        title=of.title,
        media_type=of.media_type,
        file_name=f"{of.number}.{ending}",
        content=content,
    )
