"""The one door to WeasyPrint: a paper in, the bytes of a PDF out.

Whoever holds the paper years from now has neither this program nor its network:
fonts are embedded, nothing is fetched, and the same paper gives the same bytes.
"""

import hashlib
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.template.loader import render_to_string

from registry.documents.letters import spelt_out
from registry.documents.moments import written_moment

# An archive format. Level "b": levels "u" and "a" fail on Devanagari, whose glyphs
# WeasyPrint embeds without a map back to letters. Version 3 may carry enclosures.
ARCHIVE = "pdf/a-3b"


class PaperFailed(Exception):
    """The paper could not be made; the message says what its template asked for."""


@dataclass(frozen=True)
class Enclosure:
    """A file that travels inside the PDF, such as the data a paper was made from."""

    name: str
    content: str
    description: str


@dataclass(frozen=True)
class Paper:
    """A paper to be laid out.

    Attributes:
        template: the name of the page's template.
        facts: what the template shows; it can be laid out more than once, so no
            iterator may stand in it.
        title: the PDF's title.
        made_at: when it is made, with its time zone; the clock is never read.
        made_by: who has it made.
        sheet: the name of the style sheet, a template as well: read, not fetched.
        language: the language of the paper, as an IETF tag.
        enclosures: files to embed.
    """

    template: str
    facts: Mapping[str, object]
    title: str
    made_at: datetime
    made_by: str
    sheet: str = "documents/paper.css"
    language: str = "en-GB"
    enclosures: tuple[Enclosure, ...] = ()


def render(
    paper: Paper,
    *,
    pdf_variant: str | None = ARCHIVE,
    pdf_identifier: bytes | None = None,
) -> bytes:
    """Return a paper as the bytes of a PDF.

    Args:
        paper: what is to be printed.
        pdf_variant: a variant that WeasyPrint knows, or None for a plain PDF.
        pdf_identifier: the file's identifier; made from the content if left out.

    Raises:
        PaperFailed: the template asked for a file or an address.
        ValueError: ``made_at`` has no time zone.
    """
    page, style = _page(paper), render_to_string(paper.sheet)
    parts = (page, style, *(enclosure.content for enclosure in paper.enclosures))
    digest = hashlib.sha256("\0".join(parts).encode()).digest()
    with _nothing_fetched(paper.title) as fetcher:
        content: bytes = _laid_out(page, style, fetcher, pdf_tags=True).write_pdf(
            attachments=[_attachment(e, paper.made_at) for e in paper.enclosures],
            pdf_variant=pdf_variant,
            pdf_identifier=pdf_identifier or digest[:16],
            pdf_tags=True,
        )
    return content


def pages_of(paper: Paper) -> dict[str, tuple[int, ...]]:
    """Return on which pages each element with an ``id`` stands, counted from 0.

    An element that had to be broken stands on more pages than one.

    Raises:
        PaperFailed: the template asked for a file or an address.
        ValueError: ``made_at`` has no time zone.
    """
    with _nothing_fetched(paper.title) as fetcher:
        document = _laid_out(_page(paper), render_to_string(paper.sheet), fetcher)
    found: dict[str, list[int]] = {}
    for number, page in enumerate(document.pages):
        for name in page.anchors:
            found.setdefault(name, []).append(number)
    return {name: tuple(numbers) for name, numbers in found.items()}


def _page(paper: Paper) -> str:
    head = {
        "title": paper.title,
        "language": paper.language,
        "created": paper.made_at.isoformat(timespec="seconds"),
        "made": written_moment(paper.made_at),
        "made_by": paper.made_by,
    }
    return spelt_out(render_to_string(paper.template, {**head, **paper.facts}))


def _laid_out(page: str, style: str, fetcher: Any, **options: Any) -> Any:
    """Return WeasyPrint's laid-out document."""
    # Imported here: most commands print nothing and must run without Pango.
    from weasyprint import CSS, HTML

    sheets = [CSS(string=style, url_fetcher=fetcher)]
    return HTML(string=page, url_fetcher=fetcher).render(stylesheets=sheets, **options)


@contextmanager
def _nothing_fetched(title: str) -> Iterator[Any]:
    """Hand out a fetcher for data that stands in the page itself, and nothing else.

    WeasyPrint would embed any file or page that an address names, some while laying
    out and some while writing. Here each such address fails aloud.
    """
    from weasyprint.urls import FatalURLFetchingError, URLFetcher

    try:
        yield URLFetcher(
            allowed_protocols=("data",), allow_redirects=False, fail_on_errors=True
        )
    except FatalURLFetchingError as error:
        raise PaperFailed(f"The paper “{title}” cannot be made: {error}") from error


def _attachment(enclosure: Enclosure, made_at: datetime) -> Any:
    from weasyprint import Attachment

    return Attachment(
        string=enclosure.content,
        name=enclosure.name,
        description=enclosure.description,
        created=made_at,
        modified=made_at,
        relationship="Source",
    )
