"""The desk of each role: what wants doing today."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render


def desk(request: HttpRequest) -> HttpResponse:
    """Show the desk."""
    return render(request, "desk/desk.html", {"tasks": []})
