"""The plan of a strong room: a picture, the same as a table, and when places free."""

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse

from registry.rules.room_plans import STANDING_TITLES, RoomPlan, Standing
from registry.usecases.room_plans import look_at_plan
from registry.web.forms.rooms import PlanForm
from registry.web.pages import who_and_when


def plan(request: HttpRequest, number: str) -> HttpResponse:
    """Show the plan of a strong room."""
    form = PlanForm(request.GET or None)
    within = form.cleaned_data["within"] if form.is_valid() else None
    file = look_at_plan(room=number, within_days=within, **who_and_when(request))
    if not form.is_bound:
        form = PlanForm(initial={"within": file.free.within_days})
    context = {
        "file": file,
        "form": form,
        "legend": legend(file.plan),
        "columns": _COLUMNS if file.all_shown else _COLUMNS[:-1],
        "rows": _rows(file.plan, file.all_shown),
        "staying": sum(stay.boxes for stay in file.free.staying),
    }
    status = 400 if form.is_bound and form.errors else 200
    return render(request, "rooms/plan.html", context, status=status)


_COLUMNS = ("Shelf", "Boxes", "Contests", "How they stand", "Empty")


def legend(plan: RoomPlan) -> list[tuple[str, str, int]]:
    """Return each way in which a box is drawn, in words, with how many are."""
    return [(s.value, STANDING_TITLES[s], n) for s, n in plan.counts.items()]


def _rows(plan: RoomPlan, all_shown: bool) -> list[list[Any]]:
    return [
        [
            {
                "text": f"Bay {line.bay}, shelf {line.code}",
                "url": reverse("shelf", args=[line.number]),
                "note": f"level {line.level}" if line.level else "",
            },
            f"{line.taken} of {line.capacity}" if all_shown else line.taken,
            ", ".join(f"{title} ({n})" for title, n in line.contests) or "–",
            _how_they_stand(line.counts),
            *([line.empty or "full"] if all_shown else []),
        ]
        for line in plan.lines
    ]


def _how_they_stand(counts: dict[Standing, int]) -> str:
    told = [f"{n} {STANDING_TITLES[standing]}" for standing, n in counts.items() if n]
    return "; ".join(told) or "–"
