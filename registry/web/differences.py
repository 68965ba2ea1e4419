"""Accounts of a contest with differences: sent as a paper, taken in hand one by one."""

from collections.abc import Callable

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render

from registry.usecases import Mistaken, Refused
from registry.usecases.papers import Printed
from registry.web.pages import given_out


def report_given(request: HttpRequest, make: Callable[[], Printed]) -> HttpResponse:
    """Send an account as a file; say plainly where there is none of the form asked."""
    try:
        made = make()
    except Mistaken as mistaken:
        context = {"message": str(mistaken)}
        return render(request, "errors/400.html", context, status=400)
    return given_out(made, "attachment")


def taken_in_hand(
    request: HttpRequest, open_it: Callable[[str], str], then: str
) -> HttpResponse | Refused | None:
    """Open a discrepancy for the difference whose button was pressed.

    Args:
        open_it: opens it by its key; returns the number of the discrepancy.
        then: the address to go to once it is open.

    Returns:
        The way on, or why it was refused; None where no button was pressed.
    """
    if request.method != "POST":
        return None
    try:
        opened = open_it(request.POST.get("difference", ""))
    except Refused as refused:
        return refused
    messages.success(
        request, f"{opened} is open. Its owner and its day stand beside it."
    )
    return redirect(then)
