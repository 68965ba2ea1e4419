"""Coming in and going out."""

from django.contrib import messages
from django.contrib.auth import authenticate, login, logout, update_session_auth_hash
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.http import require_POST

from registry.rules.powers import Actor
from registry.usecases import Refused
from registry.usecases.people import (
    change_own_password,
    person_as_actor,
    record_log_in,
    record_log_out,
    refuse_log_in,
)
from registry.web.forms.front import LogInForm, OwnPasswordForm
from registry.web.pages import answer, carried_out, who_and_when


def log_in(request: HttpRequest) -> HttpResponse:
    """Let a person in; wrong passwords are entered, and too many lock for a while."""
    form = LogInForm(request.POST or None)
    wanted = request.POST.get("next") or request.GET.get("next") or ""
    if request.method == "POST" and form.is_valid():
        user = authenticate(request, **form.cleaned_data)
        if user is not None:
            login(request, user)
            record_log_in(
                actor=_actor(user.pk, request),
                at=request.at,  # type: ignore[attr-defined]
            )
            return redirect(_safe(wanted, request))
        _refuse(request, form.cleaned_data["username"])
        form.add_error(None, "Name and password do not fit. Try again.")
    context = {"form": form, "next": wanted}
    status = 400 if form.is_bound and form.errors else 200
    return render(request, "people/log_in.html", context, status=status)


def _actor(person_id: int, request: HttpRequest) -> Actor:
    address = request.META.get("REMOTE_ADDR", "")
    actor = person_as_actor(person_id, address=address, channel="web")
    assert actor is not None
    return actor


def _refuse(request: HttpRequest, username: str) -> None:
    nobody = Actor(
        person_id=None,
        username=username,
        name="",
        role=None,
        address=request.META.get("REMOTE_ADDR", ""),
    )
    locked = bool(getattr(request, "axes_locked_out", False))
    try:
        refuse_log_in(username=username, locked=locked, actor=nobody, at=request.at)  # type: ignore[attr-defined]
    except Refused:
        return


def _safe(wanted: str, request: HttpRequest) -> str:
    """Return an address of our own; never one that a stranger put into a link."""
    if url_has_allowed_host_and_scheme(
        wanted, {request.get_host()}, require_https=request.is_secure()
    ):
        return wanted
    return reverse("desk")


@require_POST
def log_out(request: HttpRequest) -> HttpResponse:
    """Let a person out."""
    if request.actor:  # type: ignore[attr-defined]
        record_log_out(**who_and_when(request))
    logout(request)
    return redirect("log-in")


def own_password(request: HttpRequest) -> HttpResponse:
    """Let a person change the own password."""
    form = OwnPasswordForm(request.POST or None)
    done, _ = carried_out(
        form,
        lambda: change_own_password(
            old=form.cleaned_data["old"],
            new=form.cleaned_data["password"],
            **who_and_when(request),
        ),
    )
    if done:
        request.user.refresh_from_db()  # type: ignore[union-attr]
        update_session_auth_hash(request, request.user)  # type: ignore[arg-type]
        messages.success(request, "Your password is changed.")
        return redirect("desk")
    return answer(request, "people/own_password.html", form)


def health(request: HttpRequest) -> HttpResponse:
    """Answer a monitor that the process is alive; it tells nothing else."""
    return JsonResponse({"alive": True})


def bad_request(request: HttpRequest, exception: Exception) -> HttpResponse:
    """Answer a request that makes no sense."""
    return render(request, "errors/400.html", {"message": ""}, status=400)


def forbidden(request: HttpRequest, exception: Exception) -> HttpResponse:
    """Answer a request that is not allowed."""
    return render(request, "errors/403.html", {"message": ""}, status=403)


def not_found(request: HttpRequest, exception: Exception) -> HttpResponse:
    """Answer an address that leads nowhere."""
    return render(request, "errors/404.html", {"message": ""}, status=404)


def failed(request: HttpRequest) -> HttpResponse:
    """Answer after a fault of ours."""
    return render(request, "errors/500.html", status=500)
