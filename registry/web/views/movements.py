"""Out and back: containers handed out under an order, and their return."""

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.http import urlencode

from registry.rules.powers import Power
from registry.usecases.coming_back import take_back
from registry.usecases.production_looks import (
    list_productions,
    look_at_production,
    prepare_return,
    prepare_taking_out,
)
from registry.usecases.production_papers import (
    print_pick_list,
    print_production_receipt,
)
from registry.usecases.productions import (
    note_production,
    record_kept_by_court,
    record_sent_on,
)
from registry.usecases.taking_out import take_out
from registry.web.forms.movements import (
    KeptForm,
    NoteForm,
    SentOnForm,
    TakeBackForm,
    TakeOutForm,
)
from registry.web.pages import actor, answer, carried_out, given_out, who_and_when
from registry.web.views.disposals import told
from registry.web.views.openings import (
    container_address,
    told_problems,
    which_container,
)


def movement_list(request: HttpRequest) -> HttpResponse:
    """Show what is out, with whom and until when, and what came back lately."""
    found = list_productions(**who_and_when(request))
    context = {"found": found, "may_keep": actor(request).may(Power.KEEP)}
    return render(request, "movements/list.html", context)


def production(request: HttpRequest, number: str) -> HttpResponse:
    """Show one container's way out and back."""
    file = look_at_production(production=number, **who_and_when(request))
    return render(
        request,
        "movements/file.html",
        {"file": file, "acts": list(_acts(request, file)), "entries": ()},
    )


def _acts(request: HttpRequest, file: Any) -> list[dict[str, Any]]:
    number, container = file.row.number, file.row.container
    acts = [_link("Print the receipt", "production-receipt", number)]
    if actor(request).may(Power.KEEP) and file.is_out:
        query = urlencode({"container": container})
        back = f"{reverse('take-back')}?{query}"
        acts = [
            {"label": "Record that it came back", "url": back},
            _link("Enter their receipt, or the day named", "production-note", number),
            _link("A court keeps it", "production-kept", number),
            _link("It was sent on", "production-sent-on", number),
            *acts,
        ]
    return acts


def _link(label: str, name: str, number: str) -> dict[str, Any]:
    return {"label": label, "url": reverse(name, args=[number])}


def take_out_containers(request: HttpRequest) -> HttpResponse:
    """Hand out a container, or everything that a permission names and that is here."""
    container = request.GET.get("container", "")
    permission = request.GET.get("permission", "")
    if not container and not permission:
        return which_container(request, "Take a box or an envelope out")
    ahead = prepare_taking_out(
        container=container, permission=permission, **who_and_when(request)
    )
    relied_on = ahead.permission
    form = TakeOutForm(
        request.POST or None,
        things=ahead.things,
        conditions=relied_on.conditions if relied_on else (),
        initial={"permission": relied_on.number if relied_on else ""},
    )
    done, taken = carried_out(
        form,
        lambda: take_out(
            going=form.going(),
            permission=form.cleaned_data["permission"],
            handing=form.handing(),
            conditions_met=form.conditions_met,
            **who_and_when(request),
        ),
    )
    if done and taken:
        _tell_taken(request, taken)
        where = taken.productions
        return redirect("production", where[0]) if where else redirect("movements")
    one = ahead.things[0].number if container else ""
    context = {
        "ahead": ahead,
        "in_the_way": told(ahead.obstacles),
        "this_page": f"{reverse('take-out')}?container={one}",
        "submit_label": "Record that it is out",
        "cancel_url": container_address(one) if one else reverse("movements"),
    }
    return answer(request, "movements/take_out.html", form, **context)


def _tell_taken(request: HttpRequest, taken: Any) -> None:
    for number in taken.stayed:
        messages.error(
            request,
            f"{number} stays here: its seal does not read as recorded. A discrepancy "
            "is open. Touch nothing more; call the other key holder.",
        )
    n = len(taken.productions)
    if n:
        what = "container is" if n == 1 else "containers are"
        messages.success(request, f"{n} {what} out. All stay on the register.")


def take_back_container(request: HttpRequest) -> HttpResponse:
    """Record that a container came back, its seals read before they are compared."""
    if not request.GET.get("container"):
        return which_container(request, "Take a box or an envelope back")
    ahead = prepare_return(container=request.GET["container"], **who_and_when(request))
    form = TakeBackForm(
        request.POST or None, ahead=ahead, initial={"as_seen": ahead.seen}
    )
    done, back = carried_out(
        form,
        lambda: take_back(
            container=ahead.number,
            back=form.back(),
            as_seen=form.cleaned_data["as_seen"],
            **who_and_when(request),
        ),
    )
    if done and back:
        told_problems(request, [f"{back.number}: {d}" for d in back.differences])
        if not back.differences:
            messages.success(
                request, f"{back.number} is back as it went. Put it on its shelf."
            )
        return redirect(container_address(back.number))
    context = {
        "ahead": ahead,
        "submit_label": "Record that it is back",
        "cancel_url": reverse("movements"),
    }
    return answer(request, "movements/take_back.html", form, **context)


def kept(request: HttpRequest, number: str) -> HttpResponse:
    """Record that a court keeps what was handed out."""
    return _outside(
        request, number, KeptForm, record_kept_by_court,
        "A court keeps it",
        "It stays on the register as in the court’s custody; nothing disposes of it.",
    )  # fmt: skip


def sent_on(request: HttpRequest, number: str) -> HttpResponse:
    """Record that it was sent on to another court or office."""
    return _outside(
        request, number, SentOnForm, record_sent_on,
        "It was sent on",
        "It is still the same handing out; from now on somebody else has it.",
    )  # fmt: skip


def note(request: HttpRequest, number: str) -> HttpResponse:
    """Enter the receipt that came later, or the day now named."""
    return _outside(
        request, number, NoteForm, note_production,
        "Their receipt, or the day named",
        "Call who has it; enter what they say.",
    )  # fmt: skip


def _outside(
    request: HttpRequest, number: str, kind: Any, does: Any, heading: str, lead: str
) -> HttpResponse:
    file = look_at_production(production=number, **who_and_when(request))
    ahead = prepare_return(container=file.row.container, **who_and_when(request))
    form = kind(request.POST or None, initial={"as_seen": ahead.seen})
    done, _ = carried_out(
        form,
        lambda: does(
            container=ahead.number, **form.cleaned_data, **who_and_when(request)
        ),
    )
    if done:
        messages.success(request, f"{ahead.number}: recorded.")
        return redirect("production", number)
    context = {
        "file": file,
        "heading": heading,
        "lead": lead,
        "submit_label": "Record it",
        "cancel_url": reverse("production", args=[number]),
    }
    return answer(request, "movements/outside.html", form, **context)


def receipt(request: HttpRequest, number: str) -> HttpResponse:
    """Give out the receipt of what was handed out together."""
    return given_out(
        print_production_receipt(production=number, **who_and_when(request))
    )


def pick_list(request: HttpRequest, number: str) -> HttpResponse:
    """Give out the list of what is to be fetched under a permission."""
    return given_out(print_pick_list(permission=number, **who_and_when(request)))
