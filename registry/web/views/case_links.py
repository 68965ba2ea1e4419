"""The page on which a case is linked with another."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse

from registry.usecases.case_links import link_cases
from registry.usecases.case_looks import look_before_entry
from registry.usecases.contests import choices_for_entry
from registry.web.forms.cases import LinkForm
from registry.web.pages import answer, carried_out, who_and_when


def link_case(request: HttpRequest, number: str) -> HttpResponse:
    """Record how a case hangs together with another."""
    who = who_and_when(request)
    file = look_before_entry(case=number, **who)
    choices = choices_for_entry(election=file.election_number, **who)
    form = LinkForm(
        request.POST or None,
        cases=tuple(one for one in choices.cases if one[0] != file.row.number),
    )
    done, _ = carried_out(
        form, lambda: link_cases(case=number, **form.cleaned_data, **who)
    )
    if done:
        messages.success(
            request, "The link is recorded. Neither case settles the other."
        )
        return redirect("case", number)
    return answer(
        request,
        "cases/link.html",
        form,
        file=file,
        submit_label="Record the link",
        cancel_url=reverse("case", args=[number]),
    )
