"""The stock account: what there was, what came and went, what there must be."""

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.urls import reverse
from django.utils.http import urlencode

from registry.rules.stock import AWAY, Flow
from registry.usecases.set_up_looks import look_before_reporting
from registry.usecases.stock_accounts import (
    AccountWanted,
    StockAccount,
    account_for_stock,
    export_stock_account,
)
from registry.web.forms.stock_accounts import StockAccountForm
from registry.web.pages import answer, carried_out, given_out, who_and_when

COLUMNS = (
    "Room and class",
    "Opening",
    *(flow.value.capitalize() for flow in Flow),
    "Closing",
    "Counted",
    "Of these not there",
)


def stock_account(request: HttpRequest) -> HttpResponse:
    """Show the account of a period, or send it as CSV."""
    offered = look_before_reporting(**who_and_when(request))
    form = StockAccountForm({name: request.GET.get(name, "") for name in _FIELDS})
    form.fields["room"].choices = [("", "all of them"), *offered.rooms]  # type: ignore[attr-defined]
    if request.GET.get("format") == "csv" and form.is_valid():
        done, paper = carried_out(
            form,
            lambda: export_stock_account(wanted=_wanted(form), **who_and_when(request)),
        )
        if done and paper:
            return given_out(paper, shown="attachment")
    done, account = carried_out(
        form, lambda: account_for_stock(wanted=_wanted(form), **who_and_when(request))
    )
    shown = _shown(account, form) if done and account else {}
    return answer(
        request, "reports/stock_account.html", form, filter_form=form, **shown
    )


_FIELDS = tuple(StockAccountForm.base_fields)


def _wanted(form: StockAccountForm) -> AccountWanted:
    return AccountWanted(**form.cleaned_data)


def _shown(account: StockAccount, form: StockAccountForm) -> dict[str, Any]:
    asked = {
        "room": form.cleaned_data["room"],
        "first_day": account.first_day.isoformat(),
        "last_day": account.last_day.isoformat(),
        "format": "csv",
    }
    return {
        "account": account,
        "facts": [
            ("Covers", account.scope_text),
            ("From the beginning of", account.first_day),
            ("To the end of", account.last_day),
            ("Days as in", account.zone),
            ("Opening", f"{account.opening:,}"),
            *((flow.value.capitalize(), f"{account.total(flow):,}") for flow in Flow),
            ("Closing", f"{account.closing:,}"),
        ],
        "columns": COLUMNS,
        "rows": [_row(row) for row in account.rows],
        "download": f"{reverse('stock-account')}?{urlencode(asked)}",
    }


def _row(row: Any) -> list[Any]:
    line = row.line
    away = [f"{n:,} {AWAY[where]}" for where, n in line.away.items()]
    nouns = "boxes" if row.noun == "box" else "envelopes"
    return [
        {"text": f"{row.content}, {nouns}", "note": row.room},
        f"{line.opening:,}",
        *(f"{line.flows[flow]:,}" for flow in Flow),
        f"{line.closing:,}",
        {"text": f"{line.counted:,}", "tone": "clear" if line.agrees else "stop"},
        "; ".join(away) or "none",
    ]
