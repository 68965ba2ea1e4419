"""Pages of material for sealing: issued, used, brought back; what does not agree."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse

from registry.rules.powers import Power
from registry.usecases.material_looks import (
    MaterialStanding,
    list_materials,
    look_at_materials,
    make_material_report,
    open_material_difference,
)
from registry.usecases.materials import ENDINGS, issue_material
from registry.web.differences import report_given, taken_in_hand
from registry.web.forms.materials import EndForm, IssueForm
from registry.web.pages import (
    actor,
    answer,
    as_obstacles,
    carried_out,
    who_and_when,
)

COLUMNS = (
    *("Contest", "Seals issued", "Applied", "Spoilt, returned, lost"),
    *("Not accounted for", "Differences"),
)
FORMATS = ("pdf", "csv")


def overview(request: HttpRequest) -> HttpResponse:
    """Show every contest with its account of seals."""
    found = list_materials(**who_and_when(request))
    elections = [(each, [_row(one) for one in each.contests]) for each in found]
    context = {"elections": elections, "columns": COLUMNS}
    return render(request, "materials/list.html", context)


def _row(one: MaterialStanding) -> list[object]:
    return [
        {"text": one.title, "url": reverse("materials", args=[one.number])},
        one.issued,
        one.applied,
        one.ended,
        one.unaccounted,
        _differences(one),
    ]


def _differences(one: MaterialStanding) -> dict[str, object]:
    """Say how many seals do not add up; where none was issued, nobody can tell."""
    if not one.differences:
        return {"text": "none", "tone": "clear"}
    if not one.issued:
        return {"text": "no issue recorded", "tone": "wait"}
    return {"text": one.differences, "tone": "stop"}


def materials(request: HttpRequest, number: str) -> HttpResponse:
    """Show a contest's account, send it as a paper, or open a discrepancy."""
    if request.method == "GET" and request.GET.get("format"):
        return _report(request, number, request.GET["format"])
    refused = taken_in_hand(
        request,
        lambda difference: open_material_difference(
            contest=number, difference=difference, **who_and_when(request)
        ),
        f"{reverse('materials', args=[number])}#differences",
    )
    if isinstance(refused, HttpResponse):
        return refused
    file = look_at_materials(contest=number, **who_and_when(request))
    address = reverse("materials", args=[file.number])
    context = {
        "file": file,
        "obstacles": as_obstacles(refused) if refused else (),
        "may_keep": actor(request).may(Power.KEEP),
        "downloads": [(form.upper(), f"{address}?format={form}") for form in FORMATS],
    }
    status = 409 if refused else 200
    return render(request, "materials/file.html", context, status=status)


def _report(request: HttpRequest, number: str, form: str) -> HttpResponse:
    return report_given(
        request,
        lambda: make_material_report(
            contest=number, form=form, **who_and_when(request)
        ),
    )


def issue(request: HttpRequest, number: str) -> HttpResponse:
    """Record material that was issued for a contest."""
    file = look_at_materials(contest=number, **who_and_when(request))
    form = IssueForm(request.POST or None)
    done, lot = carried_out(
        form,
        lambda: issue_material(
            contest=number,
            pieces=form.pieces(),
            **form.given(),
            **who_and_when(request),
        ),
    )
    if done:
        messages.success(request, f"The lot is recorded as {lot}.")
        return redirect("materials", number=file.number)
    return answer(
        request,
        "materials/issue.html",
        form,
        file=file,
        submit_label="Record the issue",
        cancel_url=reverse("materials", args=[file.number]),
    )


def end(request: HttpRequest, number: str, lot: str) -> HttpResponse:
    """Record pieces of a lot that were spoilt, returned or lost."""
    file = look_at_materials(contest=number, **who_and_when(request))
    form = EndForm(request.POST or None)
    done, _ = carried_out(
        form,
        lambda: ENDINGS[form.cleaned_data["fate"]](
            lot=lot, pieces=form.pieces(), **form.given(), **who_and_when(request)
        ),
    )
    if done:
        messages.success(request, "This is recorded.")
        return redirect("materials", number=file.number)
    return answer(
        request,
        "materials/end.html",
        form,
        file=file,
        lot=next((each for each in file.lots if each.number == lot), None),
        lot_number=lot,
        submit_label="Record it",
        cancel_url=reverse("materials", args=[file.number]),
    )
