"""Pages of stock-taking: plan, draw, look, conclude; the sheet and the report."""

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse

from registry.rules.powers import Power, Role
from registry.usecases.stock_take_looks import (
    PlanAhead,
    StockTakePage,
    contests_to_choose,
    export_report,
    list_stock_takes,
    look_at_stock_take,
    look_before_taking_stock,
    prepare_stock_take,
    print_report,
    print_sheet,
    reckon_stock_take,
)
from registry.usecases.stock_takes import (
    Seen,
    abandon_stock_take,
    conclude_stock_take,
    draw_sample,
    freeze_stock_take,
    look_at_drawn,
)
from registry.web.addresses import address_of
from registry.web.forms.stock_takes import (
    EndForm,
    FreezeForm,
    LookForm,
    SeedForm,
    StratumForm,
)
from registry.web.pages import actor, answer, carried_out, given_out, who_and_when


def stock_take_list(request: HttpRequest) -> HttpResponse:
    """List the stock-takes, the newest first."""
    rows = [
        [
            {
                "text": row.number,
                "url": reverse("stock-take", args=[row.number]),
                "note": row.of,
            },
            row.purpose,
            {"text": row.state_title, "tone": row.tone},
            f"{row.looked_at:,} of {row.sample_size:,}",
            f"{row.population:,}",
            row.seed_on if row.state == "frozen" else "–",
        ]
        for row in list_stock_takes(**who_and_when(request))
    ]
    context = {
        "rows": rows,
        "columns": ("Stock-take", "For", "State", "Looked at", "Population",
                    "Seed known on"),
        "may_take": actor(request).may(Power.TAKE_STOCK),
    }  # fmt: skip
    return render(request, "stock_takes/list.html", context)


def new_stock_take(request: HttpRequest) -> HttpResponse:
    """Say how many would be looked at; then freeze the list."""
    offered = prepare_stock_take(**who_and_when(request))
    contests = contests_to_choose(**who_and_when(request))
    asked = "noun" in request.GET
    stratum = StratumForm(
        request.GET if asked else None,
        rooms=offered.rooms,
        contests=contests,
        every_room=actor(request).role is not Role.CUSTODIAN,
    )
    reckoned, ahead = carried_out(
        stratum,
        lambda: reckon_stock_take(plan=stratum.plan(), **who_and_when(request)),
    )
    freeze = FreezeForm(request.POST or None, whole=bool(ahead and ahead.whole))
    done, number = (
        carried_out(
            freeze,
            lambda: freeze_stock_take(
                plan=stratum.plan(**freeze.cleaned_data), **who_and_when(request)
            ),
        )
        if reckoned
        else (False, None)
    )
    if done and number:
        messages.success(request, f"The list of {number} is frozen.")
        return redirect("stock-take", number)
    context: dict[str, Any] = {"stratum": stratum, "ahead": ahead}
    if ahead:
        context |= _ahead(ahead)
    shown = freeze if reckoned else stratum
    return answer(request, "stock_takes/new.html", shown, **context)


def _ahead(ahead: PlanAhead) -> dict[str, Any]:
    return {
        "facts": [
            ("Of", ahead.of),
            ("There should be", f"{ahead.population:,} {ahead.nouns}"),
            ("To be looked at", f"{ahead.size:,}"),
            *(
                (f"Not in the room: {where}", f"{n:,}, not drawn")
                for where, n in ahead.away
            ),
        ],
        "columns": ("If so many are lost", "one of them is among those looked at"),
        "rows": [[f"{loss:,}", f"with {chance}"] for loss, chance in ahead.finds],
        "submit_label": "Freeze the list",
        "cancel_url": reverse("stock-takes"),
    }


def stock_take(request: HttpRequest, number: str) -> HttpResponse:
    """Show a stock-take: what was drawn, what was seen, what it shows."""
    page = look_at_stock_take(stock_take=number, **who_and_when(request))
    of = page.file
    context = {
        "page": page,
        "file": of,
        "entries": of.timeline,
        "facts": _facts(page),
        "items": _items(page),
        "columns": ("Drawn", "Container", "Where", "Found", "As seen"),
        "acts": _acts(request, page),
    }
    return render(request, "stock_takes/file.html", context)


def _facts(page: StockTakePage) -> list[tuple[str, Any]]:
    of = page.file
    facts: list[tuple[str, Any]] = [
        ("Of", of.row.of),
        ("For", of.row.purpose),
        ("Population", f"{of.row.population:,} {of.nouns}"),
        ("Looked at", f"{of.row.looked_at:,} of {of.row.sample_size:,}"),
        ("List frozen", of.row.frozen_at),
        ("By", of.frozen_by),
        ("Digest of the list (SHA-256)", of.list_digest),
    ]
    if not of.row.whole:
        facts += [
            ("Public numbers announced", of.seed_announced),
            ("To be known on", of.row.seed_on),
            ("Seed", of.seed or "not entered yet"),
        ]
    if of.ended_at:
        facts += [("Ended", of.ended_at), ("By", of.ended_by)]
    return facts


WORDS = {
    "not looked at": "plain",
    "not found": "stop",
    "in order": "clear",
    "not in order": "stop",
}


def _items(page: StockTakePage) -> list[list[Any]]:
    return [
        [
            item.position,
            {
                "text": item.container.number,
                "url": address_of(item.container.number),
                "note": f"{item.container.content}, {item.container.constituency}",
            },
            {
                "text": item.container.place,
                "note": f"look at its box {item.look_at}" if item.by_its_box else "",
            },
            {"text": _word(item), "tone": WORDS[_word(item)]},
            "; ".join(f"{look.said} ({look.by})" for look in item.seen) or "–",
        ]
        for item in page.file.items
    ]


def _word(item: Any) -> str:
    if not item.looked_at:
        return "not looked at"
    if item.missing:
        return "not found"
    return "in order" if item.in_order else "not in order"


def _acts(request: HttpRequest, page: StockTakePage) -> list[dict[str, Any]]:
    state, number = page.file.row.state, page.file.row.number
    acts: list[tuple[str, str]] = []
    if actor(request).may(Power.TAKE_STOCK):
        if state == "frozen":
            acts.append(("stock-take-draw", "Enter the public numbers and draw"))
        if state == "drawn":
            acts.append(("stock-take-check", "Look at what was drawn"))
            acts.append(("stock-take-conclude", "Conclude"))
    if page.file.items:
        acts.append(("stock-take-sheet", "Print the sheet"))
        acts.append(("stock-take-report", "Print the report"))
        acts.append(("stock-take-lines", "Report as CSV"))
    if actor(request).may(Power.TAKE_STOCK) and state in ("frozen", "drawn"):
        acts.append(("stock-take-abandon", "Give it up"))
    return [
        {
            "label": label,
            "url": reverse(name, args=[number]),
            "grave": name == "stock-take-abandon",
        }
        for name, label in acts
    ]


def draw(request: HttpRequest, number: str) -> HttpResponse:
    """Enter the public numbers; the sample follows from them."""
    page = look_before_taking_stock(stock_take=number, **who_and_when(request))
    form = SeedForm(request.POST or None)
    done, drawn = carried_out(
        form,
        lambda: draw_sample(
            stock_take=number, seed=form.cleaned_data["seed"], **who_and_when(request)
        ),
    )
    if done:
        messages.success(request, f"{drawn:,} were drawn. Print the sheet, or scan.")
        return redirect("stock-take", number)
    return answer(
        request,
        "stock_takes/draw.html",
        form,
        file=page.file,
        submit_label="Draw the sample",
        cancel_url=reverse("stock-take", args=[number]),
        actions_note="A draw is made once.",
    )


def check(request: HttpRequest, number: str) -> HttpResponse:
    """Enter what was seen of one container after the other."""
    form = LookForm(request.POST or None)
    done, seen = carried_out(
        form,
        lambda: look_at_drawn(
            stock_take=number,
            look=form.look(),
            shelf=form.cleaned_data["shelf"],
            seen_at=form.cleaned_data["seen_at"],
            **who_and_when(request),
        ),
    )
    if done and seen:
        _tell(request, seen)
        return redirect("stock-take-check", number)
    page = look_before_taking_stock(stock_take=number, **who_and_when(request))
    behind: dict[tuple[str, str], list[str]] = {}
    for item in page.file.items:
        if not item.looked_at:
            stop = (item.container.place, item.look_at)
            behind.setdefault(stop, []).append(item.container.number)
    context = {
        "file": page.file,
        "left": [
            [look_at, place, ", ".join(numbers)]
            for (place, look_at), numbers in sorted(behind.items())
        ],
        "columns": ("Look at", "Where", "For"),
        "submit_label": "Record what was seen",
        "cancel_url": reverse("stock-take", args=[number]),
    }
    return answer(request, "stock_takes/check.html", form, **context)


def _tell(request: HttpRequest, seen: Seen) -> None:
    if not seen.problems:
        messages.success(request, f"{seen.number} is in order.")
        return
    for problem in seen.problems:
        messages.error(request, f"{seen.number} is not in order. {problem}")


def conclude(request: HttpRequest, number: str) -> HttpResponse:
    """Conclude a stock-take."""
    return _end(request, number, "stock_takes/conclude.html", "What came of it")


def abandon(request: HttpRequest, number: str) -> HttpResponse:
    """Give a stock-take up."""
    return _end(request, number, "stock_takes/abandon.html", "Why it is given up")


def _end(request: HttpRequest, number: str, template: str, label: str) -> HttpResponse:
    page = look_before_taking_stock(stock_take=number, **who_and_when(request))
    form = EndForm(request.POST or None, label=label)
    concludes = template.endswith("conclude.html")

    def end() -> None:
        said = form.cleaned_data["text"]
        if concludes:
            conclude_stock_take(
                stock_take=number, conclusion=said, **who_and_when(request)
            )
        else:
            abandon_stock_take(stock_take=number, reason=said, **who_and_when(request))

    done, _ = carried_out(form, end)
    if done:
        messages.success(request, f"{number} has ended.")
        return redirect("stock-take", number)
    return answer(
        request,
        template,
        form,
        page=page,
        file=page.file,
        facts=_facts(page),
        submit_label="Conclude" if concludes else "Give it up",
        cancel_url=reverse("stock-take", args=[number]),
        grave=not concludes,
        actions_note="This cannot be taken back.",
    )


def sheet(request: HttpRequest, number: str) -> HttpResponse:
    """Give out the sheet to walk with."""
    return given_out(print_sheet(stock_take=number, **who_and_when(request)))


def report(request: HttpRequest, number: str) -> HttpResponse:
    """Give out the report."""
    return given_out(print_report(stock_take=number, **who_and_when(request)))


def lines(request: HttpRequest, number: str) -> HttpResponse:
    """Give out the report's lines as CSV."""
    paper = export_report(stock_take=number, **who_and_when(request))
    return given_out(paper, shown="attachment")
