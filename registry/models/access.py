"""Accesses: every look, act and refusal, done or not."""

from typing import ClassVar

from django.db import models
from django.db.models import Q


class AccessEntry(models.Model):
    """One access: who, when, what, from where, and how it ended; never changed."""

    class Outcome(models.TextChoices):
        DONE = "done", "done"
        REFUSED = "refused", "refused"
        FAILED = "failed", "failed"

    at = models.DateTimeField(db_index=True)
    person = models.ForeignKey(
        "registry.User", on_delete=models.PROTECT, null=True, related_name="accesses"
    )
    name = models.CharField(max_length=160, blank=True)
    role = models.CharField(max_length=20, blank=True)
    act = models.CharField(max_length=60)
    subject = models.CharField(
        max_length=16, blank=True, db_index=True, help_text="The number looked at."
    )
    outcome = models.CharField(max_length=8, choices=Outcome)
    reason = models.TextField(blank=True)
    detail = models.JSONField(default=dict)
    address = models.CharField(max_length=80, blank=True)
    channel = models.CharField(max_length=10)

    class Meta:
        verbose_name_plural = "access entries"
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=Q(outcome="done") | ~Q(reason=""),
                name="what_was_not_done_has_a_reason",
            )
        ]

    def __str__(self) -> str:
        return f"{self.name} {self.act} {self.subject} {self.outcome}"


class AccessShown(models.Model):
    """A container that a list or a search showed."""

    entry = models.ForeignKey(
        AccessEntry, on_delete=models.PROTECT, related_name="shown"
    )
    number = models.CharField(max_length=16, db_index=True)

    def __str__(self) -> str:
        return self.number
