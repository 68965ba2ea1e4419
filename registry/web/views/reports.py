"""The retention report: totals on screen, and the whole as PDF, CSV or JSON."""

import tempfile
from typing import IO, Any

from django.http import FileResponse, HttpRequest, HttpResponse
from django.urls import reverse

from registry.usecases.reports import (
    FORMATS,
    ReportTotals,
    ReportWanted,
    make_retention_report,
    sum_up_retention,
)
from registry.usecases.set_up_looks import Offered, look_before_reporting
from registry.web.forms.days import moment_asked
from registry.web.forms.reports import ReportForm
from registry.web.pages import answer, carried_out, who_and_when

# What is longer than this is laid on disk until it is sent.
IN_MEMORY = 2 * 1024 * 1024


def retention_report(request: HttpRequest) -> HttpResponse | FileResponse:
    """Ask what a report is to be of; show its totals, or send it."""
    offered = look_before_reporting(**who_and_when(request))
    asked = any(request.GET.get(name) is not None for name in ReportForm.base_fields)
    form = ReportForm(request.GET if asked else None)
    _offer(form, offered)
    form_asked = request.GET.get("format", "")
    if form_asked and form.is_valid():
        done, sent = carried_out(form, lambda: _file(form, form_asked, request))
        if done and sent:
            return sent
        return _page(request, form, None)
    done, totals = carried_out(form, lambda: _sum(form, request))
    return _page(request, form, totals if done else None)


def _wanted(form: ReportForm, request: HttpRequest) -> ReportWanted:
    asked = dict(form.cleaned_data)
    day = asked.pop("known_at")
    known_at = moment_asked(day.isoformat(), request.at) if day else None  # type: ignore[attr-defined]
    return ReportWanted(**asked, known_at=known_at)


def _sum(form: ReportForm, request: HttpRequest) -> ReportTotals:
    wanted = _wanted(form, request)
    return sum_up_retention(wanted=wanted, **who_and_when(request))


def _file(form: ReportForm, form_asked: str, request: HttpRequest) -> FileResponse:
    # FileResponse closes it when it is sent.
    out: IO[bytes] = tempfile.SpooledTemporaryFile(max_size=IN_MEMORY)  # noqa: SIM115
    totals = make_retention_report(
        wanted=_wanted(form, request),
        form=form_asked,
        into=lambda: out,
        **who_and_when(request),
    )
    out.seek(0)
    return FileResponse(
        out,
        as_attachment=True,
        filename=f"{totals.file_name}.{form_asked}",
        content_type=FORMATS[form_asked],
    )


def _offer(form: ReportForm, offered: Offered) -> None:
    first = ("", "the only one" if len(offered.elections) == 1 else "choose")
    form.fields["election"].choices = [first, *offered.elections]  # type: ignore[attr-defined]
    form.fields["room"].choices = [("", "none"), *offered.rooms]  # type: ignore[attr-defined]


def _page(
    request: HttpRequest, form: ReportForm, totals: ReportTotals | None
) -> HttpResponse:
    context: dict[str, Any] = {"filter_form": form, "totals": totals}
    if totals:
        context["rows"] = [[title, n] for _, title, n in totals.by_reason]
        context["columns"] = ("What holds them", "Containers")
        context["facts"] = [
            ("Covers", totals.scope_text),
            ("As of", totals.as_of),
            ("With what was known", totals.known_at or "now"),
            ("Containers", totals.total),
            ("Schedule", totals.schedule_text),
            ("Closed days", totals.calendar_text),
        ]
        context["downloads"] = [
            (name.upper(), _download(request, name)) for name in FORMATS
        ]
    return answer(request, "reports/retention.html", form, **context)


def _download(request: HttpRequest, name: str) -> str:
    query = request.GET.copy()
    query["format"] = name
    return f"{reverse('retention-report')}?{query.urlencode()}"
