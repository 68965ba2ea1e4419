"""Custody without gaps: the containers of a contest whose chain lacks something."""

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from registry.usecases.custody_looks import list_custody_gaps
from registry.web.addresses import address_of
from registry.web.forms.custody import CustodyFilter
from registry.web.pages import who_and_when


def gaps(request: HttpRequest) -> HttpResponse:
    """List the containers of a contest whose chain of custody is not whole."""
    asked = request.GET.get("contest", "")
    answer = list_custody_gaps(contest=asked, **who_and_when(request))
    form = CustodyFilter(initial={"contest": asked})
    form.fields["contest"].choices = (("", "choose"), *answer.contests)  # type: ignore[attr-defined]
    found = answer.found
    context: dict[str, Any] = {
        "filter_form": form,
        "found": found,
        "rows": [_row(row) for row in found.rows] if found else [],
        "columns": ("Container", "What it is", "In charge now", "What is lacking"),
    }
    return render(request, "custody/gaps.html", context)


def _row(row: Any) -> list[Any]:
    titles = dict.fromkeys(finding.title for finding in row.findings)
    return [
        {"text": row.number, "url": f"{address_of(row.number)}#custody"},
        row.title,
        row.holder or {"text": "nobody by name", "tone": "stop"},
        "; ".join(titles),
    ]
