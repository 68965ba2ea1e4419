"""The intake table: begun, filled by keyboard and scanner, or taken from a list."""

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone

from registry.rules.schedules import ContentKind
from registry.usecases import Mistaken, Refused
from registry.usecases.boxes import put_into_box
from registry.usecases.intake import (
    begin_intake,
    log_container,
    look_at_intake,
    open_intake_table,
)
from registry.usecases.intake_files import (
    check_intake_file,
    take_kept_file,
)
from registry.web.forms.boxes import KINDS as CONTENT
from registry.web.forms.intake import (
    CARRIED,
    ArrivalForm,
    BoxForm,
    EnvelopeForm,
    field_name,
)
from registry.web.forms.intake_table import (
    BeginIntakeForm,
    FillBoxForm,
    IntakeListForm,
    TakeListForm,
)
from registry.web.forms.late import add_late_fields, happened_of
from registry.web.late import paper_form_asked
from registry.web.pages import answer, carried_out, who_and_when

KINDS = {kind.value: kind for kind in ContentKind}


def intake(request: HttpRequest) -> HttpResponse:
    """Begin an intake, or go on with one."""
    table = open_intake_table(**who_and_when(request))
    paper = paper_form_asked(request)
    form = BeginIntakeForm(
        request.POST or None,
        elections=table.elections,
        contests=table.contests,
        rooms=table.rooms,
    )
    done, number = carried_out(
        form,
        lambda: begin_intake(
            room=form.cleaned_data["room"],
            delivered_by=form.cleaned_data["delivered_by"],
            **who_and_when(request),
        ),
    )
    if done:
        chosen = QueryDict(mutable=True)
        chosen.update(
            {name: form.cleaned_data[name] for name in ("election", "contest", "kind")}
        )
        if paper:
            chosen["form"] = paper
        return redirect(
            f"{reverse('log-envelope', args=[number])}?{chosen.urlencode()}"
        )
    return answer(
        request,
        "intake/table.html",
        form,
        table=table,
        paper=paper,
        submit_label="Begin",
    )


def intake_page(request: HttpRequest, number: str) -> HttpResponse:
    """Show what came in with an intake."""
    file = look_at_intake(intake=number, **who_and_when(request))
    table = open_intake_table(**who_and_when(request))
    context = {"file": file, "table": table, "kinds": CONTENT}
    return render(request, "intake/file.html", context)


def log_envelope(request: HttpRequest, number: str) -> HttpResponse:
    """Log one envelope after another."""
    return _log(request, number, EnvelopeForm, "log-envelope")


def log_box(request: HttpRequest, number: str) -> HttpResponse:
    """Log one box after another."""
    return _log(request, number, BoxForm, "log-box")


def _log(
    request: HttpRequest, number: str, form_class: type[ArrivalForm], name: str
) -> HttpResponse:
    file = look_at_intake(intake=number, **who_and_when(request))
    kind = KINDS.get(request.GET.get("kind", ""))
    election = request.GET.get("election", "")
    if kind is None or not election:
        messages.warning(request, "Choose the election and the content first.")
        return redirect("intake-page", number=file.number)
    initial = _carried_over(request, file)
    form = form_class(request.POST or None, kind=kind, initial=initial)
    paper = paper_form_asked(request)
    add_late_fields(form, paper)
    done, logged = carried_out(
        form,
        lambda: log_container(
            arrival=form.arrival(),
            election=election,
            room=file.room_number,
            contest=request.GET.get("contest", ""),
            box=form.cleaned_data.get("box", ""),
            intake=file.number,
            happened=happened_of(form),
            **who_and_when(request),
        ),
    )
    if done and logged:
        for reason in logged.not_boxed:
            messages.warning(request, f"Not put into the box: {reason}")
        query = request.GET.copy()
        query["box"] = form.cleaned_data.get("box", "") or query.get("box", "")
        if logged.noun == "box":
            query["box"] = logged.number if not form.cleaned_data["closed"] else ""
        return redirect(f"{reverse(name, args=[file.number])}?{query.urlencode()}")
    context = {
        "file": file,
        "kind": kind,
        "paper": paper,
        "query": _query(request),
        "submit_label": f"Log this {form.NOUN}",
        "cancel_url": reverse("intake-page", args=[file.number]),
    }
    return answer(request, f"intake/{name}.html", form, **context)


def _query(request: HttpRequest) -> str:
    return request.GET.urlencode()


def _carried_over(request: HttpRequest, file: Any) -> dict[str, Any]:
    """Return what the custodian saw on the last container and sees on this one too."""
    kept: dict[str, Any] = {
        "received_on": timezone.localdate(request.at),  # type: ignore[attr-defined]
        "box": request.GET.get("box", ""),
    }
    last = file.last
    if last is None:
        return kept
    kept |= {field_name(m): last.written.get(m.value, "") for m in CARRIED}
    kept["sealed_on"] = last.sealed_on
    if last.noun == "envelope":
        kept["seal_kind_1"] = last.seal_kind
        kept["seal_maker_1"] = last.seal_maker
        kept["paper"] = last.paper
    return kept


def fill_box(request: HttpRequest) -> HttpResponse:
    """Put one envelope after another into a box, by scanning both."""
    form = FillBoxForm(request.POST or None, initial={"box": request.GET.get("box")})
    kept = "envelope" if request.GET.get("box") else "box"
    form.fields[kept].widget.attrs["autofocus"] = True
    done, _ = carried_out(
        form,
        lambda: put_into_box(
            envelope=form.cleaned_data["envelope"],
            box=form.cleaned_data["box"],
            **who_and_when(request),
        ),
    )
    if done:
        box, envelope = form.cleaned_data["box"], form.cleaned_data["envelope"]
        messages.success(request, f"{envelope} lies in {box}. Scan the next envelope.")
        query = QueryDict(mutable=True)
        query["box"] = box
        return redirect(f"{reverse('fill-box')}?{query.urlencode()}")
    context = {"submit_label": "Put in", "cancel_url": reverse("intake")}
    return answer(request, "intake/fill_box.html", form, **context)


def intake_list(request: HttpRequest) -> HttpResponse:
    """Check a list of containers; it is taken on the next page."""
    table = open_intake_table(**who_and_when(request))
    form = IntakeListForm(
        request.POST or None,
        request.FILES or None,
        elections=table.elections,
        rooms=table.rooms,
    )
    chosen = form.cleaned_data if form.is_valid() else {}
    done, read = carried_out(
        form,
        lambda: check_intake_file(
            content=chosen["file"].read(),
            file_name=chosen["file"].name,
            room=chosen["room"],
            election=chosen["election"],
            **who_and_when(request),
        ),
    )
    if done and read:
        kept = {name: chosen[name] for name in ("election", "room", "delivered_by")}
        take = TakeListForm(initial={"digest": read.digest, **kept})
        context = {"read": read, "take": take, "kept": kept}
        return render(request, "intake/checked.html", context)
    return answer(request, "intake/list.html", form, submit_label="Check this list")


def take_list(request: HttpRequest) -> HttpResponse:
    """Take in the list that was checked before."""
    if request.method != "POST":
        return redirect("intake-list")
    form = TakeListForm(request.POST)
    if not form.is_valid():
        raise Mistaken(file="Hand the list in again: the check before was incomplete.")
    read = take_kept_file(**form.cleaned_data, **who_and_when(request))
    if not read.intake:
        raise Refused(
            "No line of this list could be recorded: nothing was entered. Mend the "
            "refused lines and hand them in again."
        )
    return render(request, "intake/taken.html", {"read": read})
