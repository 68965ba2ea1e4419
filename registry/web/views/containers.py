"""Acts on one box or envelope: each a form, each one call."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse

from registry.usecases import boxes, custody, discrepancies
from registry.usecases.discrepancies import look_at_quarantined
from registry.usecases.looks import look_at_container_to_act
from registry.usecases.shelves import suggest_shelves
from registry.web.addresses import address_of
from registry.web.forms import containers as given
from registry.web.forms.discrepancies import ReleaseForm
from registry.web.forms.late import add_late_fields, happened_of
from registry.web.late import paper_form_asked
from registry.web.pages import answer, carried_out, who_and_when
from registry.web.views.incidents import address_to_report

Fields = dict[str, Any]


@dataclass(frozen=True)
class ActPage:
    """How the form of an act looks, and what it does.

    Attributes:
        does: takes the container's number, what was entered, who and when; returns
            what to tell the person afterwards.
        cautions: names of the cautions that stand under the form.
        goes_on_at: takes the number and what was entered; returns the next address.
        late: whether it may stand on a paper form and be entered afterwards.
        beside: what else its page shows, looked up when it is shown.
    """

    heading: str
    submit_label: str
    form: type[forms.Form]
    does: Callable[[str, Fields, Fields], str]
    lead: str = ""
    cautions: str = ""
    template: str = "containers/act.html"
    goes_on_at: Callable[[str, Fields], str] = lambda number, _: address_of(number)
    late: bool = True
    beside: Callable[[str, Fields], Fields] | None = None


def _put_in(number: str, entered: Fields, who: Fields) -> str:
    boxes.put_into_box(envelope=number, **entered, **who)
    return f"{number} lies in {entered['box']}."


def _shelve(number: str, entered: Fields, who: Fields) -> str:
    shelf = boxes.shelve_box(box=number, **entered, **who)
    return f"{number} stands on {shelf}."


def _suggested(number: str, who: Fields) -> Fields:
    if not number.startswith("BX"):
        return {}
    found = suggest_shelves(box=number, **who)
    return {"found": found, "offered": " ".join(s.shelf for s in found.shelves)}


def _check_seal(number: str, entered: Fields, who: Fields) -> str:
    found = boxes.check_seal(container=number, **entered, **who)
    return f"The seal of {number} is recorded as {found.label}."


def _after_check(number: str, entered: Fields) -> str:
    """Begin an incident where the seal no longer closes anything."""
    if entered["finding"] in ("open", "absent"):
        said = f"Seal found {entered['finding']}. {entered.get('note', '')}".strip()
        return address_to_report(number, "seal", said)
    return address_of(number)


def _after_not_found(number: str, entered: Fields) -> str:
    return address_to_report(number, "missing", f"Not found. {entered['note']}")


def _hand_over(number: str, entered: Fields, who: Fields) -> str:
    custody.hand_over(container=number, **entered, **who)
    return f"{number} is handed over to {entered['to_person']}."


def _not_found(number: str, entered: Fields, who: Fields) -> str:
    custody.report_not_found(container=number, **entered, **who)
    return f"{number} is recorded as not found; a discrepancy is open."


def _found(number: str, entered: Fields, who: Fields) -> str:
    custody.report_found(container=number, **entered, **who)
    return f"{number} is recorded as found. Check its seal now."


def _report(number: str, entered: Fields, who: Fields) -> str:
    found = custody.report_discrepancy(container=number, **entered, **who)
    return f"Discrepancy {found} is open."


ACTS = {
    "put-in": ActPage(
        "Put into a box",
        "Put in",
        given.PutIntoBoxForm,
        _put_in,
        lead="A box holds one election, one constituency and one class of content.",
        cautions="lifting",
    ),
    "shelve": ActPage(
        "Put on a shelf",
        "Record the shelf",
        given.ShelveForm,
        _shelve,
        lead="Read the weight first. Heavy boxes belong on low shelves.",
        cautions="lifting storing-units",
        template="containers/shelve.html",
        beside=_suggested,
    ),
    "check-seal": ActPage(
        "Check the seal",
        "Record what was found",
        given.CheckSealForm,
        _check_seal,
        lead="Anything but intact and matching opens a discrepancy at once. If the "
        "seal is broken: stop, touch nothing, photograph it, call the second person.",
        goes_on_at=_after_check,
    ),
    "hand-over": ActPage(
        "Hand over",
        "Record the hand-over",
        given.HandOverForm,
        _hand_over,
        lead="A hand-over is between two people; both look at the seal.",
        cautions="lifting",
    ),
    "not-found": ActPage(
        "Report that it is not found",
        "Record as not found",
        given.NotFoundForm,
        _not_found,
        lead="It opens a discrepancy. Nothing is disposed of meanwhile.",
        goes_on_at=_after_not_found,
    ),
    "found": ActPage(
        "Report that it is found",
        "Record as found",
        given.FoundForm,
        _found,
        lead="The discrepancy stays open until it is resolved with a reason.",
    ),
    "report": ActPage(
        "Report a discrepancy",
        "Open the discrepancy",
        given.ReportForm,
        _report,
        cautions="mould",
        late=False,
    ),
}


def act(request: HttpRequest, number: str, name: str) -> HttpResponse:
    """Show the form of an act on a container, and carry it out."""
    page = ACTS[name]
    who = who_and_when(request)
    brief = look_at_container_to_act(container=number, **who)
    paper = paper_form_asked(request) if page.late else ""
    # A scan on a record's page leads here with the shelf or the box filled in.
    scanned = {name: request.GET.get(name, "") for name in ("shelf", "box")}
    form = page.form(request.POST or None, initial={"as_seen": brief.seen, **scanned})
    add_late_fields(form, paper)
    done, told = carried_out(
        form,
        lambda: page.does(brief.number, _entered(form, late=page.late), who),
    )
    if done:
        messages.success(request, str(told))
        onward = page.goes_on_at(brief.number, form.cleaned_data)
        if paper and onward == address_of(brief.number):
            onward = _back_to(paper)
        return redirect(onward)
    context = {
        "brief": brief,
        "page": page,
        "paper": paper,
        "submit_label": page.submit_label,
        "cancel_url": _back_to(paper) or address_of(brief.number),
    }
    if page.beside is not None:
        context.update(page.beside(brief.number, who))
    return answer(request, page.template, form, **context)


def _entered(form: forms.Form, *, late: bool) -> Fields:
    """Return what was entered; when it happened in one piece, where that is asked."""
    late_fields = ("happened_at", "paper_form")
    entered = {k: v for k, v in form.cleaned_data.items() if k not in late_fields}
    return {**entered, "happened": happened_of(form)} if late else entered


def _back_to(paper: str) -> str:
    """Return the page on which the next line of a paper form is entered."""
    return reverse("paper-form-line", args=[paper]) if paper else ""


def close_box(request: HttpRequest, number: str) -> HttpResponse:
    """Close a box and record the seals that were put on it."""
    who = who_and_when(request)
    brief = look_at_container_to_act(container=number, **who)
    form = given.CloseBoxForm(
        request.POST or None,
        checks=brief.checks,
        initial={
            "sealed_on": request.at.date(),  # type: ignore[attr-defined]
            "written_stations": brief.written_stations,
            "as_seen": brief.seen,
        },
    )
    done, problems = carried_out(
        form,
        lambda: boxes.close_box(
            box=brief.number,
            seals=form.seals(),
            sealed_on=form.cleaned_data["sealed_on"],
            written_stations=form.cleaned_data["written_stations"],
            gross_weight_kg=form.cleaned_data["gross_weight_kg"],
            empty=form.cleaned_data["empty"],
            checks=form.checks(),
            as_seen=form.cleaned_data["as_seen"],
            **who,
        ),
    )
    if done:
        for problem in problems or ():
            messages.error(request, f"{brief.number} stands in quarantine: {problem}")
        if not problems:
            messages.success(request, f"{brief.number} is closed and sealed.")
        return redirect(address_of(brief.number))
    context = {
        "brief": brief,
        "submit_label": "Close and seal this box",
        "cancel_url": address_of(brief.number),
    }
    return answer(request, "boxes/close.html", form, **context)


def release(request: HttpRequest, number: str) -> HttpResponse:
    """Release a container from quarantine, naming what it stands for if need be."""
    who = who_and_when(request)
    among = request.GET.get("contest", "")
    brief = look_at_quarantined(container=number, contest=among, **who)
    container = brief.container
    form = ReleaseForm(
        request.POST or None,
        contests=brief.contests,
        candidates=brief.candidates,
        is_box=container.noun == "box",
        initial={"contest": among},
    )
    done, _ = carried_out(
        form,
        lambda: discrepancies.release_from_quarantine(
            container=container.number,
            reason=form.cleaned_data["reason"],
            **form.named(),
            **who,
        ),
    )
    if done:
        messages.success(request, f"{container.number} is released from quarantine.")
        return redirect(address_of(container.number))
    context = {
        "brief": brief,
        "file": container,
        "among": among,
        "submit_label": "Release from quarantine",
        "cancel_url": address_of(container.number),
    }
    return answer(request, "containers/release.html", form, **context)
