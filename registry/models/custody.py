"""Waves of arrivals, and every change of place or of charge."""

from typing import ClassVar

from django.db import models
from django.db.models import Q

from registry.models.containers import Box, Envelope, of_one_container
from registry.models.history import Record
from registry.models.storage import StrongRoom


class Intake(Record):
    """One wave of arrivals: who brought it, who took it, and from which file."""

    room = models.ForeignKey(StrongRoom, on_delete=models.PROTECT, related_name="+")
    received_on = models.DateField()
    delivered_by = models.CharField(max_length=160, blank=True)
    received_by = models.ForeignKey(
        "registry.User", on_delete=models.PROTECT, null=True, related_name="+"
    )
    file_name = models.CharField(max_length=200, blank=True)
    file_digest = models.CharField(max_length=64, blank=True)
    containers = models.PositiveIntegerField(default=0)


class CustodyMovement(Record):
    """One change of place or of charge; never changed afterwards."""

    class Act(models.TextChoices):
        RECEIVED = "received", "received"
        BOXED = "boxed", "put into a box"
        SHELVED = "shelved", "shelved"
        MOVED = "moved", "moved"
        HANDED_OVER = "handed-over", "handed over"
        TAKEN_OUT = "taken-out", "taken out"
        RETURNED = "returned", "returned"
        KEPT = "kept", "kept by a court"
        DESPATCHED = "despatched", "sent to another room"
        TAKEN_OVER = "taken-over", "taken over"
        REPLACED = "replaced", "superseded by a new one"
        NOT_FOUND = "not-found", "not found"
        FOUND = "found", "found"
        DISPOSED = "disposed", "disposed of"

    act = models.CharField(max_length=12, choices=Act)
    envelope = models.ForeignKey(
        Envelope, on_delete=models.PROTECT, null=True, related_name="movements"
    )
    box = models.ForeignKey(
        Box, on_delete=models.PROTECT, null=True, related_name="movements"
    )
    from_place = models.CharField(max_length=200, blank=True)
    to_place = models.CharField(max_length=200, blank=True)
    from_person = models.CharField(max_length=160, blank=True)
    to_person = models.CharField(max_length=160, blank=True)
    occurred_at = models.DateTimeField()
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(
        "registry.User", on_delete=models.PROTECT, null=True, related_name="+"
    )
    permission = models.ForeignKey(
        "registry.Permission",
        on_delete=models.PROTECT,
        null=True,
        related_name="movements",
    )
    note = models.CharField(max_length=400, blank=True)

    class Meta:
        constraints: ClassVar = [
            of_one_container("movement_is_of_one_container"),
            models.CheckConstraint(
                condition=Q(occurred_at__lte=models.F("recorded_at")),
                name="movement_is_recorded_after_it_happened",
            ),
        ]
