"""Labels: chosen, looked over, printed."""

from typing import Any

from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import redirect
from django.urls import reverse

from registry.usecases.labels import (
    LabelRow,
    look_at_labels,
    may_print_labels,
    print_labels,
)
from registry.web.addresses import address_of
from registry.web.forms.labels import ChooseLabelsForm, PrintLabelsForm
from registry.web.pages import answer, carried_out, given_out, who_and_when


def choose_labels(request: HttpRequest) -> HttpResponse:
    """Name what is to be labelled."""
    may_print_labels(**who_and_when(request))
    form = ChooseLabelsForm(request.POST or None)
    done, _ = carried_out(
        form, lambda: look_at_labels(**form.cleaned_data, **who_and_when(request))
    )
    if done:
        query = QueryDict(mutable=True)
        query["for"] = " ".join(form.cleaned_data["things"])
        if form.cleaned_data["with_contents"]:
            query["with"] = "contents"
        return redirect(f"{reverse('labels')}?{query.urlencode()}")
    return answer(
        request, "labels/choose.html", form, submit_label="Show what would be printed"
    )


def label(request: HttpRequest, number: str) -> HttpResponse:
    """Lead from a record to the printing of its label."""
    query = QueryDict(mutable=True)
    query["for"] = number
    return redirect(f"{reverse('labels')}?{query.urlencode()}")


def labels(request: HttpRequest) -> HttpResponse:
    """Show what would be printed, with earlier prints; print it."""
    named = request.GET.get("for", "")
    if not named.strip():
        return redirect("labels-choose")
    with_contents = request.GET.get("with") == "contents"
    chosen = {"things": named, "with_contents": with_contents}
    rows = look_at_labels(
        things=named.replace(",", " ").split(),
        with_contents=with_contents,
        **who_and_when(request),
    )
    form = PrintLabelsForm(
        {**request.POST.dict(), **chosen} if request.method == "POST" else None,
        initial=chosen,
    )
    done, paper = carried_out(
        form, lambda: print_labels(**form.cleaned_data, **who_and_when(request))
    )
    if done and paper:
        return given_out(paper)
    context = {
        "rows": [_row(row) for row in rows],
        "columns": ("Number", "What it is", "Printed before"),
        "again": [row.number for row in rows if row.printed],
        "submit_label": "Print",
    }
    return answer(request, "labels/print.html", form, **context)


def _row(row: LabelRow) -> list[Any]:
    before: Any = "not yet"
    if row.printed:
        times = "1 label" if row.printed == 1 else f"{row.printed} labels"
        at = f"{row.last_at:%-d %B %Y}" if row.last_at else ""
        before = {"text": times, "tone": "wait", "note": f"{at}, {row.last_by}"}
    number = {"text": row.number, "url": address_of(row.number)}
    return [number, {"text": row.text, "note": row.noun}, before]
