"""Votes that control units show, entered to be held against the slips."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse

from registry.templatetags.formatting import count_of
from registry.usecases.reconciliation import look_at_reconciliation
from registry.usecases.votes import record_votes, record_votes_list
from registry.web.forms.materials import VotesForm
from registry.web.pages import answer, carried_out, who_and_when


def votes(request: HttpRequest, number: str) -> HttpResponse:
    """Record the votes of one control unit, or of a list of them."""
    file = look_at_reconciliation(contest=number, **who_and_when(request))
    form = VotesForm(request.POST or None, request.FILES or None)
    done, told = carried_out(form, lambda: _record(form, number, request))
    if done and told:
        messages.success(request, told)
        return redirect("votes", number=file.number)
    return answer(
        request,
        "reconciliation/votes.html",
        form,
        file=file,
        submit_label="Record the votes",
        cancel_url=reverse("reconciliation", args=[file.number]),
    )


def _record(form: VotesForm, number: str, request: HttpRequest) -> str:
    given = form.cleaned_data
    if given["file"]:
        taken = record_votes_list(
            contest=number,
            content=given["file"].read(),
            file_name=given["file"].name,
            source=given["source"],
            **who_and_when(request),
        )
        told = count_of(taken.recorded, "control unit,control units")
        return f"Votes of {told} are recorded; {taken.already} were known already."
    record_votes(
        contest=number,
        control_unit=given["control_unit"],
        votes=given["votes"],
        source=given["source"],
        **who_and_when(request),
    )
    return f"{given['votes']:,} votes of {given['control_unit']} are recorded."
