"""Papers on request: receipts, reasonings and refused lines."""

from django.http import HttpRequest, HttpResponse

from registry.usecases.custody_looks import print_custody
from registry.usecases.intake_files import read_refused_lines
from registry.usecases.papers import (
    Printed,
    print_reasoning,
    print_receipt,
)
from registry.web.forms.days import clocks_asked
from registry.web.pages import given_out, who_and_when


def receipt(request: HttpRequest, number: str) -> HttpResponse:
    """Give out the receipt of an intake."""
    return given_out(print_receipt(intake=number, **who_and_when(request)))


def reasoning(request: HttpRequest, number: str) -> HttpResponse:
    """Give out why a container is kept until when, as of a day."""
    return given_out(
        print_reasoning(
            container=number,
            **clocks_asked(request),
            **who_and_when(request),
        )
    )


def refused_lines(request: HttpRequest, digest: str) -> HttpResponse:
    """Give out the refused lines of a list, to be mended and handed in again."""
    content = read_refused_lines(digest=digest, **who_and_when(request))
    paper = Printed("refused-lines.csv", content, "text/csv; charset=utf-8")
    return given_out(paper, shown="attachment")


def custody_chain(request: HttpRequest, number: str) -> HttpResponse:
    """Give out in whose charge a container was at every moment."""
    return given_out(print_custody(container=number, **who_and_when(request)))
