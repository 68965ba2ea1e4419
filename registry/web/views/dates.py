"""The date reckoner: a legal period counted in the open."""

from typing import Any

from django.http import HttpRequest, HttpResponse

from registry.usecases.dates import PeriodAsked, count_period
from registry.web.forms.dates import PeriodForm
from registry.web.pages import answer, carried_out


def reckon(request: HttpRequest) -> HttpResponse:
    """Count a period; what was asked stands in the address, so it can be kept."""
    form = PeriodForm(request.GET or None)
    _, counted = carried_out(form, lambda: count_period(_asked(form.cleaned_data)))
    return answer(request, "dates/reckon.html", form, counted=counted)


def _asked(entered: dict[str, Any]) -> PeriodAsked:
    return PeriodAsked(
        starts=(entered["start"], *entered["other_starts"]),
        length=entered["length"],
        unit=entered["unit"],
        counting=entered["counting"],
        month_end=entered["month_end"],
        direction=entered["direction"],
        if_closed=entered["if_closed"],
        skip_closed_within=entered["skip_closed_within"] or 0,
        at_least_working_days=entered["at_least_working_days"] or 0,
        closed_weekdays=frozenset(int(day) for day in entered["closed_weekdays"]),
        closed=entered["closed"],
    )
