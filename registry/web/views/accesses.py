"""Who looked at what: the auditor's list."""

from typing import Any

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse

from registry.usecases import Mistaken
from registry.usecases.audit import AccessesWanted, AccessPage, list_accesses
from registry.web.addresses import address_of
from registry.web.forms.accesses import AccessFilter
from registry.web.pages import who_and_when

TONES = {"done": "plain", "refused": "wait", "failed": "stop"}


def access_list(request: HttpRequest) -> HttpResponse:
    """List accesses, newest first; this look is entered too."""
    form = AccessFilter(request.GET)
    asked = request.GET.get("act", "")
    form.offer([(asked, asked)] if asked else [])
    # What cannot be read is told beside its field; the rest still narrows the list.
    form.is_valid()
    chosen = form.cleaned_data
    try:
        found = _found(request, chosen)
    except Mistaken as mistaken:
        for name, problems in mistaken.errors.items():
            form.add_error(name, problems)
        found = AccessPage((), None)
    form.offer(found.acts or form.fields["act"].choices[1:])  # type: ignore[attr-defined]
    context = {
        "filter_form": form,
        "rows": [_row(row) for row in found.rows],
        "columns": ("When", "Who", "What", "Number", "Outcome", "From where"),
        "page": {"next_url": _next(request, found.next_before), "shown": ""},
    }
    status = 400 if form.errors else 200
    return render(request, "accesses/list.html", context, status=status)


def _found(request: HttpRequest, chosen: dict[str, Any]) -> AccessPage:
    wanted = AccessesWanted(
        person=chosen.get("person", ""),
        act=chosen.get("act", ""),
        outcome=chosen.get("outcome", ""),
        number=chosen.get("number", ""),
        first_day=chosen.get("first_day"),
        last_day=chosen.get("last_day"),
        before=chosen.get("before") or 0,
    )
    return list_accesses(
        wanted=wanted, zone=settings.TIME_ZONE, **who_and_when(request)
    )


def _row(row: Any) -> list[Any]:
    told = [f"{_plain(name)}: {_plain(value)}" for name, value in row.detail.items()]
    if row.shown:
        told.append(f"containers shown: {row.shown}")
    number: Any = "–"
    if row.subject:
        number = {"text": row.subject, "url": address_of(row.subject)}
    return [
        row.at,
        {"text": row.name, "note": row.role.replace("-", " ")},
        {"text": row.words, "note": "; ".join(told)},
        number,
        {
            "text": row.outcome_title,
            "tone": TONES[row.outcome],
            "note": row.reason,
        },
        f"{row.address} ({row.channel})".strip(),
    ]


def _plain(value: object) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    return str(value).replace("_", " ")


def _next(request: HttpRequest, before: int | None) -> str:
    if before is None:
        return ""
    query = request.GET.copy()
    query["before"] = str(before)
    return f"{reverse('accesses')}?{query.urlencode()}"
