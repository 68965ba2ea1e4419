"""Papers on request: labels, receipts, reasonings and refused lines."""

from django.http import HttpRequest, HttpResponse

from registry.usecases.intake_files import read_refused_lines
from registry.usecases.papers import (
    Printed,
    print_intake_labels,
    print_label,
    print_reasoning,
    print_receipt,
)
from registry.web.forms.days import clocks_asked
from registry.web.pages import given_out, who_and_when


def label(request: HttpRequest, number: str) -> HttpResponse:
    """Give out the label of a container; `with=contents` adds a box's envelopes."""
    return given_out(
        print_label(
            container=number,
            with_contents=request.GET.get("with") == "contents",
            single=request.GET.get("on") == "single",
            first_place=_first_place(request),
            **who_and_when(request),
        )
    )


def intake_labels(request: HttpRequest, number: str) -> HttpResponse:
    """Give out the labels of everything that came in with an intake."""
    first_place = _first_place(request)
    return given_out(
        print_intake_labels(
            intake=number, first_place=first_place, **who_and_when(request)
        )
    )


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


def _first_place(request: HttpRequest) -> int:
    text = request.GET.get("from", "1")
    return int(text) if text.isascii() and text.isdigit() and len(text) < 3 else 1
