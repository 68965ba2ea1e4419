"""Pages of people: appointed, given charge, ended, given a new password."""

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse

from registry.rules.powers import Power, Role
from registry.usecases.people import (
    Appointment,
    appoint_person,
    change_post,
    end_appointment,
    list_people,
    look_at_person,
    set_password_of,
)
from registry.usecases.set_up_looks import Offered, look_before_appointing
from registry.web.forms.people import (
    AppointForm,
    ChargeForm,
    ConfirmForm,
    TwicePassword,
)
from registry.web.pages import actor, answer, carried_out, who_and_when


def person_list(request: HttpRequest) -> HttpResponse:
    """List people."""
    rows = [
        [
            {"text": row.name, "url": reverse("person", args=[row.number])},
            row.role_title,
            row.post or "–",
            {"text": _charge(row) or "–"},
            _standing(row.is_active),
        ]
        for row in list_people(**who_and_when(request))
    ]
    context = {
        "rows": rows,
        "columns": ("Name", "Role", "Post", "In charge of", "Appointment"),
        "may_appoint": actor(request).may(Power.APPOINT),
    }
    return render(request, "people/list.html", context)


def _charge(row: Any) -> str:
    return ", ".join(name for _, name in (*row.rooms, *row.elections))


def _standing(is_active: bool) -> dict[str, str]:
    if is_active:
        return {"text": "in office", "tone": "clear"}
    return {"text": "ended", "tone": "ended"}


def person(request: HttpRequest, number: str) -> HttpResponse:
    """Show a person."""
    file = look_at_person(person=number, **who_and_when(request))
    context = {
        "file": file,
        "standing": _standing(file.is_active),
        "entries": file.timeline,
        "facts": [
            ("Log-in name", file.username),
            ("Role", file.role_title),
            ("Post", file.post),
            ("In charge of", _charge(file) or "nothing by name"),
        ],
        "acts": _acts(request, file),
    }
    return render(request, "people/file.html", context)


def _acts(request: HttpRequest, file: Any) -> list[dict[str, Any]]:
    acts: list[dict[str, Any]] = []
    if actor(request).may(Power.LOOK_AT_ACCESSES):
        url = f"{reverse('accesses')}?person={file.username}"
        acts.append({"label": "What this person did and saw", "url": url})
    if actor(request).may(Power.APPOINT) and file.is_active:
        for label, name in (
            ("Change post and charge", "person-charge"),
            ("Give a new password", "person-password"),
            ("End the appointment", "person-end"),
        ):
            url = reverse(name, args=[file.number])
            acts.append({"label": label, "url": url, "grave": name == "person-end"})
    return acts


def _offer(form: ChargeForm, offered: Offered) -> None:
    form.fields["rooms"].choices = offered.rooms  # type: ignore[attr-defined]
    form.fields["elections"].choices = offered.elections  # type: ignore[attr-defined]


def appoint(request: HttpRequest) -> HttpResponse:
    """Appoint a person."""
    offered = look_before_appointing(**who_and_when(request))
    form = AppointForm(request.POST or None)
    _offer(form, offered)
    done, number = carried_out(form, lambda: _appoint(form.cleaned_data, request))
    if done:
        messages.success(request, "The person is appointed and can log in.")
        return redirect("person", number)
    return answer(
        request,
        "people/appoint.html",
        form,
        submit_label="Appoint",
        cancel_url=reverse("people"),
    )


def _appoint(data: dict[str, Any], request: HttpRequest) -> str:
    appointment = Appointment(
        username=data["username"],
        name=data["name"],
        role=data["role"],
        post=data["post"],
        rooms=tuple(data["rooms"]),
        elections=tuple(data["elections"]),
    )
    return appoint_person(
        appointment=appointment, password=data["password"], **who_and_when(request)
    )


def charge(request: HttpRequest, number: str) -> HttpResponse:
    """Change a person's post and charge."""
    offered = look_before_appointing(**who_and_when(request))
    file = look_at_person(person=number, **who_and_when(request))
    initial = {
        "post": file.post,
        "rooms": [number for number, _ in file.rooms],
        "elections": [number for number, _ in file.elections],
    }
    form = ChargeForm(request.POST or None, initial=initial)
    _offer(form, offered)
    for name, role in (("rooms", Role.CUSTODIAN), ("elections", Role.LEGAL)):
        if file.role != role:
            del form.fields[name]
    done, _ = carried_out(
        form,
        lambda: change_post(
            person=number,
            post=form.cleaned_data["post"],
            rooms=form.cleaned_data.get("rooms", []),
            elections=form.cleaned_data.get("elections", []),
            **who_and_when(request),
        ),
    )
    if done:
        messages.success(request, "Post and charge are changed.")
        return redirect("person", number)
    return _form(request, "people/charge.html", form, file, "Change")


def new_password(request: HttpRequest, number: str) -> HttpResponse:
    """Give a person a new password."""
    look_before_appointing(**who_and_when(request))
    file = look_at_person(person=number, **who_and_when(request))
    form = TwicePassword(request.POST or None)
    done, _ = carried_out(
        form,
        lambda: set_password_of(
            person=number,
            password=form.cleaned_data["password"],
            **who_and_when(request),
        ),
    )
    if done:
        messages.success(request, f"{file.name} has a new password.")
        return redirect("person", number)
    return _form(request, "people/new_password.html", form, file, "Give this password")


def end(request: HttpRequest, number: str) -> HttpResponse:
    """End a person's appointment."""
    look_before_appointing(**who_and_when(request))
    file = look_at_person(person=number, **who_and_when(request))
    form = ConfirmForm(request.POST if request.method == "POST" else None)
    done, _ = carried_out(
        form, lambda: end_appointment(person=number, **who_and_when(request))
    )
    if done:
        messages.success(request, f"The appointment of {file.name} is ended.")
        return redirect("person", number)
    facts = [("Name", file.name), ("Role", file.role_title), ("In charge of",
             _charge(file) or "nothing by name")]  # fmt: skip
    return _form(
        request, "people/end.html", form, file, "End the appointment", facts=facts
    )


def _form(
    request: HttpRequest,
    template: str,
    form: Any,
    file: Any,
    submit_label: str,
    **context: Any,
) -> HttpResponse:
    return answer(
        request,
        template,
        form,
        file=file,
        submit_label=submit_label,
        cancel_url=reverse("person", args=[file.number]),
        **context,
    )
