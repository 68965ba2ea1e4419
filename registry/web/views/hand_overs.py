"""Pages of the hand-over of charge: state, look, sign on both sides."""

from typing import Any

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse

from registry.rules.powers import Power
from registry.usecases.hand_over_looks import (
    HandOverPage,
    list_hand_overs,
    look_at_hand_over,
    look_before_handing_over,
    prepare_hand_over,
    print_hand_over,
)
from registry.usecases.hand_overs import (
    give_up_hand_over,
    look_at_handed_over,
    restate_stock,
    sign_in,
    sign_out,
    state_stock,
)
from registry.web.addresses import address_of
from registry.web.forms.hand_overs import (
    GiveUpForm,
    HandedLookForm,
    HandOverPlanForm,
    SignForm,
)
from registry.web.pages import actor, answer, carried_out, given_out, who_and_when

SECTIONS = (
    ("away", "Not in the room"),
    ("key", "Keys"),
    ("permission", "Permissions in force"),
    ("incident", "Open incidents"),
    ("discrepancy", "Open discrepancies"),
    ("round", "Inspection rounds"),
    ("material", "Numbered seals issued"),
)


def hand_over_list(request: HttpRequest) -> HttpResponse:
    """List the hand-overs of charge, the newest first."""
    rows = [
        [
            {
                "text": row.number,
                "url": reverse("hand-over-page", args=[row.number]),
                "note": row.room,
            },
            row.outgoing,
            row.incoming,
            {"text": row.state_title, "tone": row.tone},
            f"{row.containers:,}",
            row.stated_at,
        ]
        for row in list_hand_overs(**who_and_when(request))
    ]
    context = {
        "rows": rows,
        "columns": ("Hand-over", "Hands over", "Takes over", "State", "Containers",
                    "Stated"),
        "may_state": actor(request).may(Power.KEEP),
    }  # fmt: skip
    return render(request, "hand_overs/list.html", context)


def new_hand_over(request: HttpRequest) -> HttpResponse:
    """State the stock of a room that is handed over."""
    offered = prepare_hand_over(**who_and_when(request))
    form = HandOverPlanForm(
        request.POST or None,
        rooms=offered.rooms,
        custodians=offered.custodians,
        initial={"outgoing": offered.self_number},
    )
    done, number = carried_out(
        form, lambda: state_stock(plan=form.plan(), **who_and_when(request))
    )
    if done and number:
        messages.success(request, f"The stock is stated: {number}.")
        return redirect("hand-over-page", number)
    return answer(
        request,
        "hand_overs/new.html",
        form,
        submit_label="State the whole stock",
        cancel_url=reverse("hand-overs"),
    )


def hand_over(request: HttpRequest, number: str) -> HttpResponse:
    """Show a hand-over: the stock, what was looked at, who signed."""
    page = look_at_hand_over(hand_over=number, **who_and_when(request))
    of = page.file
    context = {
        "page": page,
        "file": of,
        "entries": of.timeline,
        "facts": _facts(page),
        "looks": _looks(page),
        "look_columns": ("Container", "Where it was stated", "Looked at", "As seen"),
        "sections": [
            (title, [[_linked(line.number), line.what, line.place] for line in lines])
            for name, title in SECTIONS
            if (lines := of.section(name))
        ],
        "columns": ("Number", "What it is", "Where, or how it stands"),
        "acts": _acts(page),
    }
    return render(request, "hand_overs/file.html", context)


def _linked(number: str) -> dict[str, str]:
    return {"text": number, "url": address_of(number)}


def _facts(page: HandOverPage) -> list[tuple[str, Any]]:
    of = page.file
    facts: list[tuple[str, Any]] = [
        ("Strong room", of.row.room),
        ("Hands over", of.row.outgoing),
        ("Takes over", of.row.incoming),
        ("By order", of.order),
        ("Stated", of.row.stated_at),
        ("By", of.stated_by),
        ("Boxes and loose envelopes", f"{of.row.containers:,}"),
        ("Outgoing officer’s charge", "ends" if of.charge_ends else "goes on"),
        ("Signed, handing over", of.signed_out_at or "not yet"),
        ("Signed, taking over", of.signed_in_at or "not yet"),
        ("Digest of the statement (SHA-256)", of.list_digest),
    ]
    if of.outgoing_absent:
        facts.insert(2, ("Outgoing officer absent", of.outgoing_absent))
    if of.ended_because:
        facts.append(("Given up because", of.ended_because))
    return facts


def _looks(page: HandOverPage) -> list[list[Any]]:
    return [
        [
            {**_linked(look.line.number), "note": look.line.what},
            look.line.place,
            _standing(look),
            "; ".join(seen.said for seen in look.seen) or "–",
        ]
        for look in page.file.looks
    ]


def _standing(look: Any) -> dict[str, str]:
    if not look.looked_at:
        return {"text": "not yet", "tone": "plain"}
    if look.in_order:
        return {"text": "in order", "tone": "clear"}
    return {"text": "not as stated", "tone": "stop"}


def _acts(page: HandOverPage) -> list[dict[str, Any]]:
    of = page.file
    state, acts = of.row.state, []
    if page.takes and state == "stated":
        acts.append(("hand-over-check", "Look at what is handed over"))
    if (page.gives and state == "stated") or (page.takes and state == "signed-out"):
        acts.append(("hand-over-sign", "Sign"))
    if page.gives and state in ("stated", "signed-out"):
        acts.append(("hand-over-restate", "State the stock anew"))
    acts.append(("hand-over-paper", "Print it"))
    if (page.gives or page.takes) and state in ("stated", "signed-out"):
        acts.append(("hand-over-give-up", "Give it up"))
    return [
        {
            "label": label,
            "url": reverse(name, args=[of.row.number]),
            "grave": name == "hand-over-give-up",
        }
        for name, label in acts
    ]


def check(request: HttpRequest, number: str) -> HttpResponse:
    """Enter what the incoming custodian sees, one container after the other."""
    form = HandedLookForm(request.POST or None)
    done, seen = carried_out(
        form,
        lambda: look_at_handed_over(
            hand_over=number,
            look=form.look(),
            shelf=form.cleaned_data["shelf"],
            **who_and_when(request),
        ),
    )
    if done and seen:
        for problem in seen.problems:
            messages.error(request, f"{seen.number} is not as stated. {problem}")
        if not seen.problems:
            messages.success(request, f"{seen.number} is as stated.")
        return redirect("hand-over-check", number)
    page = look_before_handing_over(hand_over=number, **who_and_when(request))
    left = sorted(page.file.left, key=lambda look: (look.line.place, look.line.number))
    context = {
        "file": page.file,
        "left": [[look.line.number, look.line.place, look.line.what] for look in left],
        "columns": ("Look at", "Where", "What it is"),
        "submit_label": "Record what was seen",
        "cancel_url": reverse("hand-over-page", args=[number]),
    }
    return answer(request, "hand_overs/check.html", form, **context)


def sign(request: HttpRequest, number: str) -> HttpResponse:
    """Sign, on the side on which one stands."""
    form = SignForm(request.POST if request.method == "POST" else None)
    page = look_before_handing_over(hand_over=number, **who_and_when(request))

    def put_name() -> None:
        act = sign_in if page.takes else sign_out
        act(hand_over=number, **who_and_when(request))

    told = (
        "You have taken over. The paper is kept with it."
        if page.takes
        else f"Signed. {page.file.row.incoming} signs next."
    )
    return _confirmed(
        request, page, form, put_name, "hand_overs/sign.html", "Sign", told
    )


def restate(request: HttpRequest, number: str) -> HttpResponse:
    """State the stock anew."""
    form = forms.Form(request.POST if request.method == "POST" else None)
    page = look_before_handing_over(hand_over=number, **who_and_when(request))
    return _confirmed(
        request,
        page,
        form,
        lambda: restate_stock(hand_over=number, **who_and_when(request)),
        "hand_overs/restate.html",
        "State the stock anew",
        "The stock is stated anew.",
    )


def give_up(request: HttpRequest, number: str) -> HttpResponse:
    """Give a hand-over up."""
    form = GiveUpForm(request.POST or None)
    page = look_before_handing_over(hand_over=number, **who_and_when(request))
    return _confirmed(
        request,
        page,
        form,
        lambda: give_up_hand_over(
            hand_over=number,
            reason=form.cleaned_data["reason"],
            **who_and_when(request),
        ),
        "hand_overs/give_up.html",
        "Give it up",
        "The hand-over is given up.",
        grave=True,
    )


def _confirmed(
    request: HttpRequest,
    page: HandOverPage,
    form: forms.Form,
    act: Any,
    template: str,
    label: str,
    told: str,
    grave: bool = False,
) -> HttpResponse:
    done, _ = carried_out(form, act)
    number = page.file.row.number
    if done:
        messages.success(request, told)
        return redirect("hand-over-page", number)
    return answer(
        request,
        template,
        form,
        page=page,
        file=page.file,
        facts=_facts(page),
        submit_label=label,
        cancel_url=reverse("hand-over-page", args=[number]),
        grave=grave,
    )


def paper(request: HttpRequest, number: str) -> HttpResponse:
    """Give out the paper for signatures by hand."""
    return given_out(print_hand_over(hand_over=number, **who_and_when(request)))
