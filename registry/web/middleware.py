"""Who asks, and when; and how a refusal is answered."""

import logging
from collections.abc import Callable

from django.conf import settings
from django.db import DatabaseError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.http import urlencode

from registry.rules.powers import PowerMissing
from registry.usecases import Mistaken, NotThere, Refused
from registry.usecases.people import person_as_actor
from registry.web.pages import as_obstacles

log = logging.getLogger(__name__)

Handler = Callable[[HttpRequest], HttpResponse]

# Addresses that answer without a log-in.
OPEN_ADDRESSES = ("/log-in/", "/health/")


class ActorMiddleware:
    """Give each request its actor and its moment; send strangers to the log-in."""

    def __init__(self, get_response: Handler) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        # The clock is read here, once for each request.
        request.at = timezone.now()  # type: ignore[attr-defined] # noqa: TID251
        request.actor = None  # type: ignore[attr-defined]
        if request.user.is_authenticated:
            request.actor = person_as_actor(  # type: ignore[attr-defined]
                request.user.pk,
                address=request.META.get("REMOTE_ADDR", ""),
                channel="web",
            )
        static = request.path.startswith(f"/{settings.STATIC_URL.lstrip('/')}")
        if request.actor or static or request.path in OPEN_ADDRESSES:  # type: ignore[attr-defined]
            response = self.get_response(request)
        else:
            response = redirect(
                f"{reverse('log-in')}?{urlencode({'next': request.get_full_path()})}"
            )
        # The camera is for scanning labels, on these pages alone.
        response.headers.setdefault(
            "Permissions-Policy", "camera=(self), microphone=(), geolocation=()"
        )
        if not static:
            # What is on record must not stay in a shared machine's cache.
            response.headers.setdefault("Cache-Control", "no-store")
        return response


class RefusalMiddleware:
    """Answer what the use cases refuse: 403, 404, 409 and 400, in plain words."""

    def __init__(self, get_response: Handler) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        return self.get_response(request)

    def process_exception(
        self, request: HttpRequest, error: Exception
    ) -> HttpResponse | None:
        """Turn a refusal into a page; anything else is Django's."""
        if isinstance(error, PowerMissing):
            return _page(request, "errors/403.html", 403, message=str(error))
        if isinstance(error, NotThere):
            return _page(request, "errors/404.html", 404, message=str(error))
        if isinstance(error, Mistaken):
            return _page(request, "errors/400.html", 400, message=str(error))
        if isinstance(error, Refused):
            return refusal_page(request, error)
        if isinstance(error, DatabaseError):
            log.error("the database did not answer: %s", error)
            return _page(request, "errors/500.html", 503)
        return None


def refusal_page(request: HttpRequest, refused: Refused) -> HttpResponse:
    """Show every reason for which something is not done."""
    return _page(
        request,
        "errors/refused.html",
        409,
        obstacles=as_obstacles(refused),
        back_url=request.META.get("HTTP_REFERER") or reverse("desk"),
    )


def _page(
    request: HttpRequest, template: str, status: int, **context: object
) -> HttpResponse:
    return render(request, template, context, status=status)
