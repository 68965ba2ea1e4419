"""Pages of transfers: handed over, taken over item by item, come back, confirmed."""

from collections.abc import Callable
from typing import Any

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse

from registry.rules.powers import Power
from registry.usecases import transfers
from registry.usecases.transfer_looks import (
    ItemRow,
    TransferFile,
    list_transfers,
    look_at_transfer,
    look_before_confirming,
    look_before_handing_over,
    look_before_taking_over,
    print_transfer_note,
)
from registry.web.addresses import address_of
from registry.web.forms import transfers as given
from registry.web.forms.late import add_late_fields, happened_of
from registry.web.late import paper_form_asked
from registry.web.pages import actor, answer, carried_out, given_out, who_and_when

COLUMNS = ("Transfer", "From", "To", "Carried by", "Handed over", "Where they are")


def transfer_list(request: HttpRequest) -> HttpResponse:
    """List transfers, the newest first."""
    rows = [
        [
            {"text": row.number, "url": address_of(row.number)},
            row.from_room,
            row.to_room,
            row.carrier,
            row.handed_over_at,
            _where(row),
        ]
        for row in list_transfers(**who_and_when(request))
    ]
    context = {
        "rows": rows,
        "columns": COLUMNS,
        "may_send": actor(request).may(Power.KEEP),
    }
    return render(request, "transfers/list.html", context)


def _where(row: Any) -> dict[str, str]:
    note = "the authority’s order is lacking" if row.order_lacking else ""
    if row.open_items:
        text = f"{row.open_items} of {row.items} on the way"
        return {"text": text, "tone": "wait", "note": note}
    return {"text": "ended", "tone": "ended", "note": note}


def transfer(request: HttpRequest, number: str) -> HttpResponse:
    """Show a transfer with what became of each container."""
    file = look_at_transfer(transfer=number, **who_and_when(request))
    context = {
        "file": file,
        "facts": _facts(file),
        "columns": ("Container", "What it is", "At departure", "Now", "On arrival"),
        "rows": [_row(item) for item in file.items],
        "entries": file.timeline,
        "acts": _acts(request, file),
    }
    return render(request, "transfers/file.html", context)


def _facts(file: TransferFile) -> list[tuple[str, Any]]:
    facts: list[tuple[str, Any]] = [
        ("From", file.from_room),
        ("To", file.to_room),
        ("Forced by" if file.emergency else "By order of", file.order),
        ("Handed over", file.handed_over_at),
        ("Handed over by", file.handed_over_by),
        ("Carried by", file.carrier),
        ("Seal of the vehicle", file.vehicle_seal or "none stated"),
    ]
    if file.emergency:
        facts.append(("The authority’s word due", file.order_due_on))
        facts.append(("The authority’s word", file.confirmed_order or "lacking"))
    if file.confirmed_order:
        facts.append(("Given on", file.confirmed_on))
        facts.append(("Recorded by", file.confirmed_by))
    if file.note:
        facts.append(("Note", file.note))
    return facts


def _row(item: ItemRow) -> list[Any]:
    url = address_of(item.number) if item.may_open else ""
    arrived = ", ".join(filter(None, [item.condition, item.taken_over_by]))
    return [
        {"text": item.number, **({"url": url} if url else {})},
        {"text": item.title, "note": f"{item.weight_kg} kg" if item.weight_kg else ""},
        item.sent,
        {"text": item.outcome_title, "tone": item.tone},
        arrived or "–",
    ]


def _acts(request: HttpRequest, file: TransferFile) -> list[dict[str, str]]:
    acts = []
    if file.left and file.may_take_over:
        acts.append(_act("Take over", "transfer-take-over", file))
        acts.append(_act("Record what did not arrive", "transfer-not-arrived", file))
    if file.left and file.may_take_back:
        acts.append(_act("Take back what came back", "transfer-came-back", file))
    lacking = file.emergency and not file.confirmed_order
    if lacking and actor(request).may(Power.RECORD_PERMISSION):
        acts.append(_act("Record the authority’s word", "transfer-order", file))
    acts.append(_act("Print the note for both sides", "transfer-note", file))
    return acts


def _act(label: str, name: str, file: TransferFile) -> dict[str, str]:
    return {"label": label, "url": reverse(name, args=[file.number])}


def new_transfer(request: HttpRequest) -> HttpResponse:
    """Hand containers over to a carrier, for another strong room."""
    who = who_and_when(request)
    rooms = look_before_handing_over(**who)
    paper = paper_form_asked(request)
    initial = {"containers": request.GET.get("container", "")}
    form = given.NewTransferForm(request.POST or None, rooms=rooms, initial=initial)
    add_late_fields(form, paper)
    done, sent = carried_out(
        form,
        lambda: transfers.hand_over_for_transfer(
            journey=form.journey(),
            containers=form.cleaned_data["containers"],
            happened=happened_of(form),
            **who,
        ),
    )
    if done and sent:
        messages.success(
            request, "They are handed over. Print the note for both sides."
        )
        for warning in sent.warnings:
            messages.warning(request, warning)
        return redirect("transfer", sent.number)
    return answer(
        request,
        "transfers/new.html",
        form,
        submit_label="Hand over",
        cancel_url=reverse("transfers"),
    )


def take_over_one(request: HttpRequest, number: str) -> HttpResponse:
    """Take over one container after the other; each seal is read first."""
    who = who_and_when(request)
    file = look_before_taking_over(transfer=number, **who)
    form = given.TakeOverForm(request.POST or None)
    return _one_by_one(
        request,
        file,
        form,
        lambda happened: transfers.take_over(
            transfer=file.number,
            arrived=form.arrived(),
            happened=happened,
            **who,
        ),
        "transfers/take_over.html",
        "Take over",
    )


def not_arrived(request: HttpRequest, number: str) -> HttpResponse:
    """Record that a container did not arrive."""
    who = who_and_when(request)
    file = look_before_taking_over(transfer=number, **who)
    form = given.ItemNoteForm(request.POST or None)
    return _one_by_one(
        request,
        file,
        form,
        lambda _: transfers.report_not_arrived(
            transfer=file.number, **_noted(form), **who
        ),
        "transfers/not_arrived.html",
        "Record as not arrived",
    )


def take_back_one(request: HttpRequest, number: str) -> HttpResponse:
    """Take back a container that the carrier brought back."""
    who = who_and_when(request)
    file = look_before_taking_over(transfer=number, **who)
    form = given.ItemNoteForm(request.POST or None)
    return _one_by_one(
        request,
        file,
        form,
        lambda happened: transfers.came_back(
            transfer=file.number, happened=happened, **_noted(form), **who
        ),
        "transfers/came_back.html",
        "Take back",
    )


def _noted(form: forms.Form) -> dict[str, Any]:
    return {name: form.cleaned_data[name] for name in ("container", "note")}


def _one_by_one(
    request: HttpRequest,
    file: TransferFile,
    form: forms.Form,
    act: Callable[[Any], Any],
    template: str,
    label: str,
) -> HttpResponse:
    """Do one act on one container, and come back for the next while some are left."""
    add_late_fields(form, paper_form_asked(request))
    done, told = carried_out(form, lambda: act(happened_of(form)))
    if done:
        of = form.cleaned_data["container"].strip().upper()
        what = f"seal {told}" if told else "recorded"
        messages.success(request, f"{of}: {what}.")
        onward = request.get_full_path() if len(file.left) > 1 else ""
        return redirect(onward or address_of(file.number))
    return answer(
        request,
        template,
        form,
        file=file,
        submit_label=label,
        cancel_url=address_of(file.number),
    )


def order(request: HttpRequest, number: str) -> HttpResponse:
    """Record the authority's word on a move that an emergency forced."""
    who = who_and_when(request)
    file = look_before_confirming(transfer=number, **who)
    form = given.ConfirmOrderForm(request.POST or None)
    done, _ = carried_out(
        form,
        lambda: transfers.confirm_emergency_order(
            transfer=file.number, **form.cleaned_data, **who
        ),
    )
    if done:
        messages.success(request, "The authority’s word is on record.")
        return redirect(address_of(file.number))
    return answer(
        request,
        "transfers/order.html",
        form,
        file=file,
        submit_label="Record the word",
        cancel_url=address_of(file.number),
    )


def note(request: HttpRequest, number: str) -> HttpResponse:
    """Give out the note that both sides sign."""
    return given_out(print_transfer_note(transfer=number, **who_and_when(request)))
