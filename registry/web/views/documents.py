"""Giving out scanned papers and certificates: as downloads, never shown in place."""

from django.http import HttpRequest, HttpResponse

from registry.usecases.documents import read_document
from registry.web.pages import who_and_when

# Whatever a paper holds, the browser that has it runs nothing of it.
_SANDBOX = "default-src 'none'; sandbox"


def document(request: HttpRequest, number: str) -> HttpResponse:
    """Give out a paper as it was taken in; the look is entered."""
    paper = read_document(document=number, **who_and_when(request))
    response = HttpResponse(paper.content, content_type=paper.media_type)
    response["Content-Disposition"] = f'attachment; filename="{paper.file_name}"'
    response["Content-Security-Policy"] = _SANDBOX
    response["X-Content-Type-Options"] = "nosniff"
    return response
