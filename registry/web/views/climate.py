"""Pages of the climate of strong rooms."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse

from registry.rules.powers import Power
from registry.usecases.climate import list_climate, look_at_climate, record_reading
from registry.web.forms.climate import ReadingForm
from registry.web.pages import actor, answer, carried_out, who_and_when


def climate_list(request: HttpRequest) -> HttpResponse:
    """List the rooms with their last readings."""
    return render(
        request, "climate/list.html", {"found": list_climate(**who_and_when(request))}
    )


def climate(request: HttpRequest, number: str) -> HttpResponse:
    """Show the climate of a room; whoever keeps it enters a reading here."""
    who = who_and_when(request)
    file = look_at_climate(room=number, **who)
    form = ReadingForm(request.POST or None)
    done, faults = False, None
    if request.method == "POST":
        done, faults = carried_out(
            form,
            lambda: record_reading(room=file.room_number, **form.cleaned_data, **who),
        )
    if done:
        if faults:
            said = f"The reading is out of limits: {'; '.join(faults)}."
            messages.warning(request, said)
        else:
            messages.success(request, "The reading is entered; it is within limits.")
        return redirect("climate-room", number)
    return answer(
        request,
        "climate/file.html",
        form,
        file=file,
        may_keep=actor(request).may(Power.KEEP),
        submit_label="Enter the reading",
        cancel_url=reverse("climate"),
    )
