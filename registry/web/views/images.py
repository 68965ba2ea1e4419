"""Pages of images at risk, and of the paper that slips are printed on."""

from collections.abc import Callable

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse

from registry.rules.powers import Power
from registry.usecases.images import (
    list_images_at_risk,
    set_contest_paper,
    set_paper,
)
from registry.usecases.looks import look_at_container_to_act
from registry.web.addresses import address_of
from registry.web.forms.climate import PaperForm
from registry.web.pages import actor, answer, carried_out, who_and_when


def image_list(request: HttpRequest) -> HttpResponse:
    """List the images that fade, those of pending cases first."""
    contest = request.GET.get("contest", "")
    context = {
        "found": list_images_at_risk(contest=contest, **who_and_when(request)),
        "contest": contest,
        "may_keep": actor(request).may(Power.KEEP),
    }
    return render(request, "images/list.html", context)


def container_paper(request: HttpRequest, number: str) -> HttpResponse:
    """Record the paper of an envelope's slips, or of all those of a box."""
    who = who_and_when(request)
    brief = look_at_container_to_act(container=number, **who)
    return _paper_page(
        request,
        brief.number,
        address_of(brief.number),
        lambda form: set_paper(container=brief.number, **form.cleaned_data, **who),
    )


def contest_paper(request: HttpRequest, number: str) -> HttpResponse:
    """Record the paper of all slips of a contest of which it is not known yet."""
    who = who_and_when(request)
    list_images_at_risk(contest=number, **who)
    return _paper_page(
        request,
        number,
        f"{reverse('images-at-risk')}?contest={number}",
        lambda form: set_contest_paper(contest=number, **form.cleaned_data, **who),
    )


def _paper_page(
    request: HttpRequest, number: str, back: str, act: Callable[[PaperForm], int]
) -> HttpResponse:
    form = PaperForm(request.POST or None)
    done, envelopes = carried_out(form, lambda: act(form))
    if done:
        messages.success(request, f"Recorded for {envelopes} envelopes.")
        return redirect(back)
    return answer(
        request,
        "images/paper.html",
        form,
        number=number,
        submit_label="Record the paper",
        cancel_url=back,
    )
