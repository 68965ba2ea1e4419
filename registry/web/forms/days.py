"""Days and spans of days, as people type them."""

import re
from datetime import date, datetime
from typing import Any

from django import forms
from django.http import HttpRequest
from django.utils.timezone import get_current_timezone

from registry.usecases.two_clocks import moment_named

WRITE_A_DAY = "Write the day as year-month-day, such as 2026-04-16."


class DayField(forms.DateField):
    """One day; browsers offer a calendar, and typing 2026-04-16 works everywhere."""

    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault(
            "widget", forms.DateInput(format="%Y-%m-%d", attrs={"type": "date"})
        )
        messages = {"required": "Give the day.", "invalid": WRITE_A_DAY}
        kwargs["error_messages"] = messages | kwargs.get("error_messages", {})
        super().__init__(**kwargs)


def day_asked(text: str) -> date | None:
    """Return the day that an address asks about; None where it names no day."""
    try:
        return a_day(text)
    except forms.ValidationError:
        return None


def clocks_asked(request: HttpRequest) -> dict[str, Any]:
    """Return the day and the moment of knowledge that an address asks about."""
    return {
        "as_of": day_asked(request.GET.get("as-of", "")),
        "known_at": moment_asked(
            request.GET.get("known-at", ""),
            request.at,  # type: ignore[attr-defined]
        ),
    }


def a_day(text: str) -> date:
    """Read one day; raises ValidationError with what to write instead."""
    try:
        # date.fromisoformat alone would also take 20260416 and 2026-W16-4.
        if re.fullmatch(r"[0-9]{4}-[0-9]{2}-[0-9]{2}", text):
            return date.fromisoformat(text)
    except ValueError:
        pass
    raise forms.ValidationError(f"“{text}” is not a day. {WRITE_A_DAY}")


def moment_asked(text: str, now: datetime) -> datetime | None:
    """Return the moment that an address asks about; None where it names none."""
    try:
        return moment_named(text, get_current_timezone(), now)
    except ValueError:
        return None


class DaysField(forms.CharField):
    """Several days, parted by commas or blanks."""

    def clean(self, value: Any) -> tuple[date, ...]:
        """Return the days."""
        text = super().clean(value)
        return tuple(a_day(part) for part in re.split(r"[\s,;]+", text) if part)


class SpansField(forms.CharField):
    """Days and spans of days: ``2026-04-16, 2026-05-01..2026-05-20``."""

    def clean(self, value: Any) -> tuple[tuple[date, date], ...]:
        """Return the spans, first and last day of each."""
        text = super().clean(value)
        spans = []
        for part in re.split(r"[\s,;]+", text):
            if part:
                first, dots, last = part.partition("..")
                spans.append((a_day(first), a_day(last if dots else first)))
        return tuple(spans)
