"""The sealing table: a station is brought, answered for, finished or left off."""

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, JsonResponse, QueryDict
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.http import urlencode
from django.views.decorators.http import require_POST

from registry.rules.powers import Power
from registry.usecases import Mistaken, Refused
from registry.usecases.sealing import (
    Kept,
    Sealed,
    SealingPage,
    begin_sealing,
    finish_sealing,
    keep_answers,
    leave_off,
    look_at_sealing,
    look_at_sealing_table,
)
from registry.web.forms.late import add_late_fields, happened_of
from registry.web.forms.sealing import (
    LONGEST,
    BeginSealingForm,
    LeaveOffForm,
    SealingForm,
)
from registry.web.late import paper_form_asked
from registry.web.pages import actor, answer, carried_out, who_and_when


def sealing(request: HttpRequest) -> HttpResponse:
    """Show how far the work is, and bring the next station to the table."""
    table = look_at_sealing_table(**who_and_when(request))
    paper = paper_form_asked(request)
    chosen = {n: request.GET.get(n, "") for n in ("contest", "room", "intake")}
    form = BeginSealingForm(
        request.POST or None,
        contests=[(c.number, f"{c.name} ({c.election})") for c in table.contests],
        rooms=table.rooms,
        intakes=table.intakes,
        chosen=chosen,
    )
    done, begun = carried_out(
        form, lambda: begin_sealing(**form.cleaned_data, **who_and_when(request))
    )
    if done and begun:
        if begun.joined:
            messages.warning(request, "Somebody else works at this station as well.")
        return redirect(_station_address(begun.number, form=paper))
    just_done = request.GET.get("done", "")
    context = {
        "paper": paper,
        "table": table,
        "contest": next(
            (c for c in table.contests if c.number == chosen["contest"]), None
        ),
        "may_seal": actor(request).may(Power.KEEP),
        "just_done": look_at_sealing(sealing=just_done, **who_and_when(request))
        if just_done
        else None,
        "submit_label": "Bring to the table",
    }
    return answer(request, "sealing/table.html", form, **context)


def _station_address(number: str, **asked: str) -> str:
    """Return the page of a station; what is asked and empty falls away."""
    query = urlencode({name: text for name, text in asked.items() if text})
    address = reverse("sealing-station", args=[number])
    return f"{address}?{query}" if query else address


def sealing_station(request: HttpRequest, number: str) -> HttpResponse:
    """Ask what is asked of one station; keep what is answered; finish it."""
    if request.method == "POST":
        return _work_at(request, number)
    page = look_at_sealing(sealing=number, **who_and_when(request))
    if page.state != "open" or not actor(request).may(Power.KEEP):
        return render(request, "sealing/record.html", {"page": page})
    moment = request.GET.get("happened_at", "")
    form = SealingForm(page=page, initial={"happened_at": moment})
    return _asked(request, page, form)


def _work_at(request: HttpRequest, number: str) -> HttpResponse:
    page = look_at_sealing(sealing=number, **who_and_when(request))
    form = SealingForm(request.POST, page=page)
    _, kept = carried_out(form, lambda: _keep(request, form, number))
    if kept is None:
        return _asked(request, page, form)
    paper = paper_form_asked(request)
    page = look_at_sealing(sealing=number, **who_and_when(request))
    form = SealingForm(request.POST, page=page)
    if kept.conflicts:
        carried_out(form, lambda: _tell_of(kept))
    elif "finish" in request.POST:
        # Answers are kept whatever stands here; when it happened only a finish needs.
        add_late_fields(form, paper)
        _, sealed = carried_out(
            form,
            lambda: finish_sealing(
                sealing=number, happened=happened_of(form), **who_and_when(request)
            ),
        )
        if sealed:
            return _next_station(request, page, sealed, paper)
    else:
        messages.success(request, f"Kept at {_clock(kept)}.")
        moment = request.POST.get("happened_at", "")[:LONGEST]
        return redirect(_station_address(number, form=paper, happened_at=moment))
    return _asked(request, page, form)


def _keep(request: HttpRequest, form: SealingForm, number: str) -> Kept:
    seen = request.POST.get("seen", "")
    return keep_answers(
        sealing=number,
        answers=form.answers(),
        seen=int(seen) if seen.isdecimal() and len(seen) < 19 else 0,
        **who_and_when(request),
    )


def _tell_of(kept: Kept) -> None:
    raise Mistaken({name: [words] for name, words in kept.conflicts.items()})


def _asked(request: HttpRequest, page: SealingPage, form: SealingForm) -> HttpResponse:
    paper = paper_form_asked(request)
    if "happened_at" not in form.fields:
        add_late_fields(form, paper)
    return answer(request, "sealing/station.html", form, page=page, paper=paper)


def _next_station(
    request: HttpRequest, page: SealingPage, sealed: Sealed, paper: str
) -> HttpResponse:
    for envelope in sealed.envelopes:
        for reason in envelope.not_boxed:
            messages.warning(request, f"Not put into the box: {reason}")
    query = QueryDict(mutable=True)
    query.update({"contest": sealed.contest, "done": page.number})
    kept = {"intake": page.intake, "form": paper}
    query.update({name: number for name, number in kept.items() if number})
    return redirect(f"{reverse('sealing')}?{query.urlencode()}")


@require_POST
def sealing_keep(request: HttpRequest, number: str) -> HttpResponse:
    """Keep what was answered and say so; the page's script asks this."""
    page = look_at_sealing(sealing=number, **who_and_when(request))
    form = SealingForm(request.POST, page=page)
    try:
        kept = _keep(request, form, number)
    except Mistaken as mistaken:
        return JsonResponse({"told": mistaken.errors}, status=400)
    except Refused as refused:
        return JsonResponse({"refused": " ".join(refused.reasons)}, status=409)
    return JsonResponse(
        {
            "at": _clock(kept),
            "seen": kept.seen,
            "left": kept.left,
            "told": kept.told,
            "conflicts": kept.conflicts,
            "answers": kept.answers,
            "others": [
                {"name": o.name, "at": f"{timezone.localtime(o.at):%H:%M}"}
                for o in kept.others
            ],
        }
    )


def _clock(kept: Kept) -> str:
    return f"{timezone.localtime(kept.at):%H:%M}"


def sealing_leave(request: HttpRequest, number: str) -> HttpResponse:
    """Take a station off the table unsealed."""
    page = look_at_sealing(sealing=number, **who_and_when(request))
    form = LeaveOffForm(request.POST or None)
    done, _ = carried_out(
        form,
        lambda: leave_off(
            sealing=number,
            because=form.cleaned_data["because"],
            **who_and_when(request),
        ),
    )
    if done:
        messages.success(request, "The station was left off; its answers are kept.")
        query = QueryDict(mutable=True)
        query["contest"] = page.contest_number
        return redirect(f"{reverse('sealing')}?{query.urlencode()}")
    context: dict[str, Any] = {
        "page": page,
        "submit_label": "Leave it off",
        "cancel_url": reverse("sealing-station", args=[page.number]),
    }
    return answer(request, "sealing/leave.html", form, **context)
