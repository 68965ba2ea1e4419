"""Moments, as people type them or pick them: a day and a time."""

from typing import Any

from django import forms

WRITE_A_MOMENT = "Write the day and the time, such as 2026-04-16 14:05."


class MomentField(forms.DateTimeField):
    """A day and a time; browsers offer both, typing 2026-04-16 14:05 works as well."""

    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault(
            "widget",
            forms.DateTimeInput(
                format="%Y-%m-%dT%H:%M", attrs={"type": "datetime-local"}
            ),
        )
        messages = {
            "required": "Give the day and the time.",
            "invalid": WRITE_A_MOMENT,
        }
        kwargs["error_messages"] = messages | kwargs.get("error_messages", {})
        super().__init__(**kwargs)
