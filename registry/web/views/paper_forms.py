"""Numbered paper forms: given out, printed, entered from, accounted for."""

from collections.abc import Iterator
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.http import urlencode

from registry.rules.powers import Power
from registry.usecases import paper_forms
from registry.usecases.looks import look_at_container_to_act
from registry.usecases.paper_forms import FormFile, FormRow, FormsWanted
from registry.web.addresses import address_of
from registry.web.forms.paper_forms import (
    LINES,
    EndedForm,
    EnteredForm,
    IssueForm,
    NextLineForm,
    PaperFormFilter,
)
from registry.web.forms.scans import with_scan
from registry.web.pages import actor, answer, carried_out, given_out, who_and_when

# How a form may end: the words of the page, and the act.
ENDS = {
    "spoilt": (
        "Record that it was spoilt",
        "A spoilt sheet is kept with the others; its number stays accounted for.",
        paper_forms.spoil,
    ),
    "returned": (
        "Return it blank",
        "Strike the sheet through before it is handed back.",
        paper_forms.return_unused,
    ),
    "lost": (
        "Report that it cannot be found",
        "It stands at the desk until it turns up.",
        paper_forms.report_lost,
    ),
    "found": (
        "Report that it is found",
        "It stands again as it stood before it was lost.",
        paper_forms.report_found,
    ),
}


def form_list(request: HttpRequest) -> HttpResponse:
    """List paper forms, and account for every number of every room."""
    form = PaperFormFilter(request.GET)
    form.offer([(asked, asked) for asked in [request.GET.get("room", "")] if asked])
    chosen = form.cleaned_data if form.is_valid() else {}
    wanted = FormsWanted(
        room=chosen.get("room", ""),
        kind=chosen.get("kind", ""),
        state=chosen.get("state", ""),
        after=chosen.get("after") or 0,
    )
    found = paper_forms.list_forms(wanted=wanted, **who_and_when(request))
    form.offer(found.rooms)
    context = {
        "filter_form": form,
        "rows": [_row(row) for row in found.rows],
        "columns": ("Number", "Kind", "Strong room", "State", "Printed"),
        "accounts": [
            [part.room, part.kind_title, part.account.sentence, _closes(part.account)]
            for part in found.accounts
        ],
        "account_columns": ("Strong room", "Kind", "Account", "Every number"),
        "page": {"next_url": _next(request, found.next_after), "shown": ""},
        "may_print": actor(request).may(Power.KEEP),
    }
    return render(request, "paper_forms/list.html", context)


def _row(row: FormRow) -> list[Any]:
    state = f"{row.state_title}: passed over" if row.skipped else row.state_title
    used = f"{row.used} entered from it" if row.used else ""
    return [
        {"text": row.number, "url": reverse("paper-form", args=[row.number])},
        row.kind_title,
        row.room,
        {"text": state, "tone": row.tone, "note": used},
        {"text": row.printed_at, "note": row.printed_by},
    ]


def _closes(account: Any) -> dict[str, str]:
    if account.closes:
        return {"text": "accounted for", "tone": "clear"}
    note = ", ".join(account.skipped)
    note = f"passed over: {note}" if note else ""
    return {"text": "look for it", "tone": "stop", "note": note}


def _next(request: HttpRequest, after: int | None) -> str:
    if after is None:
        return ""
    query = request.GET.copy()
    query["after"] = str(after)
    return f"{reverse('paper-forms')}?{query.urlencode()}"


def issue(request: HttpRequest) -> HttpResponse:
    """Give out new numbers; the sheets are printed on the next page."""
    rooms = paper_forms.rooms_for_forms(**who_and_when(request))
    form = IssueForm(request.POST or None, rooms=rooms)
    done, numbers = carried_out(
        form,
        lambda: paper_forms.issue_forms(**form.cleaned_data, **who_and_when(request)),
    )
    if done and numbers:
        query = urlencode({"first": numbers[0], "count": str(len(numbers))})
        messages.success(
            request,
            f"{len(numbers)} numbers are given out. Print the sheets now.",
        )
        return redirect(f"{reverse('paper-forms-print')}?{query}")
    return answer(
        request,
        "paper_forms/new.html",
        form,
        submit_label="Give out the numbers",
        cancel_url=reverse("paper-forms"),
    )


def paper_form(request: HttpRequest, number: str) -> HttpResponse:
    """Show a paper form: what was entered from it, and what may be done with it."""
    file = paper_forms.look_at_form(form=number, **who_and_when(request))
    may_keep = actor(request).may(Power.KEEP)
    context = {
        "file": file,
        "entries": file.timeline,
        "uses": [
            [
                {"text": use.subject, "url": address_of(use.subject)},
                use.act,
                use.occurred_at,
                {"text": use.recorded_at, "note": use.recorded_by},
            ]
            for use in file.uses
        ],
        "use_columns": ("Container", "What was done", "It happened", "It was entered"),
        "acts": _acts(file) if may_keep else [],
    }
    return render(request, "paper_forms/file.html", context)


def _acts(file: FormFile) -> list[dict[str, str]]:
    number, state = file.row.number, file.row.state
    if state == "lost":
        return [_act("Report that it is found", "paper-form-found", number)]
    if state not in ("blank", "in-entry"):
        return []
    acts = [
        *_closings(file),
        {"label": "Enter from this form", "url": _enter_from(file)},
        *_stations(file),
    ]
    if file.uses:
        acts.append(_act("It is entered in full", "paper-form-entered", number))
    else:
        query = urlencode({"first": number, "count": "1"})
        address = f"{reverse('paper-forms-print')}?{query}"
        acts += [
            {"label": "Print the sheet", "url": address},
            _act("It was spoilt", "paper-form-spoilt", number),
            _act("Return it blank", "paper-form-returned", number),
        ]
    acts.append(_act("It cannot be found", "paper-form-lost", number))
    return acts


def _act(label: str, name: str, number: str) -> dict[str, str]:
    return {"label": label, "url": reverse(name, args=[number])}


def _closings(file: FormFile) -> Iterator[dict[str, str]]:
    """Yield the closing of each door whose opening was entered from this form."""
    query = urlencode({"form": file.row.number})
    for number in file.doors_not_closed:
        address = f"{reverse('door-close', args=[number])}?{query}"
        yield {"label": f"Enter the closing of {number}", "url": address}


def _stations(file: FormFile) -> Iterator[dict[str, str]]:
    """Yield the sealing table, where a form of intake took down stations sealed."""
    if file.row.kind == "intake":
        query = urlencode({"form": file.row.number, "room": file.room_number})
        address = f"{reverse('sealing')}?{query}"
        yield {"label": "Enter stations sealed", "url": address}


def _enter_from(file: FormFile) -> str:
    """Return the page on which the lines of a form of this kind are entered."""
    if file.row.kind in LINES:
        return reverse("paper-form-line", args=[file.row.number])
    asked = {"form": file.row.number}
    if file.row.kind == "door":
        asked = {"room": file.room_number} | asked
        return f"{reverse('door-open')}?{urlencode(asked)}"
    return f"{reverse('intake')}?{urlencode(asked)}"


def next_line(request: HttpRequest, number: str) -> HttpResponse:
    """Take up the next line of a form: the act's own page asks for the rest."""
    who = who_and_when(request)
    file = paper_forms.look_at_form_to_act(form=number, **who)
    form = NextLineForm(request.POST or None, kind=file.row.kind)
    done, brief = carried_out(
        form,
        lambda: look_at_container_to_act(
            container=form.cleaned_data["container"], **who
        ),
    )
    if done and brief:
        address = reverse(form.cleaned_data["done"], args=[brief.number])
        return redirect(f"{address}?{urlencode({'form': file.row.number})}")
    context = {
        "file": file,
        "submit_label": "Go on",
        "cancel_url": reverse("paper-form", args=[file.row.number]),
    }
    return answer(request, "paper_forms/line.html", form, **context)


def mark_entered(request: HttpRequest, number: str) -> HttpResponse:
    """Say that a form is entered in full, with a scan of it."""
    who = who_and_when(request)
    file = paper_forms.look_at_form_to_act(form=number, **who)
    form = EnteredForm(request.POST or None, request.FILES or None)
    done, _ = carried_out(
        form,
        lambda: paper_forms.mark_entered(
            form=file.row.number,
            **with_scan(form.cleaned_data, f"Paper form {file.row.number}"),
            **who,
        ),
    )
    heading = "It is entered in full"
    lead = "Compare each line with the list on the form's page first."
    return _ended(request, form, done, file, heading, lead)


def end(request: HttpRequest, number: str, name: str) -> HttpResponse:
    """Say what became of a form that was not used."""
    heading, lead, act = ENDS[name]
    who = who_and_when(request)
    file = paper_forms.look_at_form_to_act(form=number, **who)
    form = EndedForm(request.POST or None)
    done, _ = carried_out(
        form, lambda: act(form=file.row.number, **form.cleaned_data, **who)
    )
    return _ended(request, form, done, file, heading, lead)


def _ended(
    request: HttpRequest, form: Any, done: bool, file: FormFile, heading: str, lead: str
) -> HttpResponse:
    page = reverse("paper-form", args=[file.row.number])
    if done:
        messages.success(request, f"{file.row.number} is accounted for.")
        return redirect(page)
    context = {"file": file, "heading": heading, "lead": lead}
    return answer(
        request,
        "paper_forms/end.html",
        form,
        **context,
        submit_label=heading,
        cancel_url=page,
    )


def print_run(request: HttpRequest) -> HttpResponse:
    """Give the sheets out as a PDF; each printing is entered."""
    who = who_and_when(request)
    first, count = request.GET.get("first", ""), _count(request)
    run = paper_forms.look_at_run(first=first, count=count, **who)
    if request.method == "POST":
        numbers = [row.number for row in run]
        enter_at = request.build_absolute_uri(reverse("desk"))
        return given_out(
            paper_forms.print_forms(forms=numbers, enter_at=enter_at, **who)
        )
    return render(request, "paper_forms/print.html", {"run": run})


def _count(request: HttpRequest) -> int:
    text = request.GET.get("count", "1")
    return int(text) if text.isascii() and text.isdigit() and len(text) < 4 else 1
