"""What is not as it must be, open until it is resolved with a reason."""

from typing import ClassVar

from django.db import models
from django.db.models import Q

from registry.models.containers import CONTENT_CHOICES, ONE_CONTAINER, Box, Envelope
from registry.models.elections import Contest, PollingStation, UnitSet
from registry.models.history import Record
from registry.models.storage import StrongRoom
from registry.rules.arrivals import DiscrepancyKind

DISCREPANCY_TITLES = {
    DiscrepancyKind.MARKING_MISSING: "marking missing",
    DiscrepancyKind.MARKING_UNREADABLE: "marking unreadable",
    DiscrepancyKind.MARKING_DIFFERS: "marking differs",
    DiscrepancyKind.UNEXPECTED: "nobody expected it",
    DiscrepancyKind.DUPLICATE_SERIAL: "serial already on another envelope",
    DiscrepancyKind.DUPLICATE_SEAL: "seal number already on another container",
    DiscrepancyKind.SEAL_MISSING: "seal missing",
    DiscrepancyKind.SEAL_UNSIGNED: "paper seal not signed",
    DiscrepancyKind.SEAL_BROKEN: "seal broken or not as recorded",
    DiscrepancyKind.NOT_FOUND: "container not found",
    DiscrepancyKind.MISSING: "expected, not registered",
    DiscrepancyKind.SWAPPED: "serials of two stations swapped",
    DiscrepancyKind.COUNT_DIFFERS: "slip count differs from the control unit",
    DiscrepancyKind.WRONG_PLACE: "not where the register says",
    DiscrepancyKind.STRANGE: "found, not on the register",
    DiscrepancyKind.MATERIAL: "issued material not accounted for",
    DiscrepancyKind.KEY_LOST: "key of a strong room lost",
    DiscrepancyKind.OTHER: "other",
}


class Discrepancy(Record):
    """Something that is not as it must be; open until resolved with a reason."""

    kind = models.CharField(
        max_length=20,
        choices=[(k.value, title) for k, title in DISCREPANCY_TITLES.items()],
    )
    envelope = models.ForeignKey(
        Envelope, on_delete=models.PROTECT, null=True, related_name="discrepancies"
    )
    box = models.ForeignKey(
        Box, on_delete=models.PROTECT, null=True, related_name="discrepancies"
    )
    # Where no container is on record: what was expected, or the room it was seen in.
    contest = models.ForeignKey(
        Contest, on_delete=models.PROTECT, null=True, related_name="discrepancies"
    )
    station = models.ForeignKey(
        PollingStation, on_delete=models.PROTECT, null=True, related_name="+"
    )
    unit_set = models.ForeignKey(
        UnitSet, on_delete=models.PROTECT, null=True, related_name="+"
    )
    content = models.CharField(max_length=20, choices=CONTENT_CHOICES, blank=True)
    room = models.ForeignKey(
        StrongRoom, on_delete=models.PROTECT, null=True, related_name="discrepancies"
    )
    owner = models.ForeignKey(
        "registry.User", on_delete=models.PROTECT, null=True, related_name="+"
    )
    due_on = models.DateField(null=True, blank=True)
    marking = models.CharField(max_length=20, blank=True)
    written = models.CharField(max_length=400, blank=True)
    expected = models.CharField(max_length=400, blank=True)
    detail = models.CharField(max_length=400, blank=True)
    opened_at = models.DateTimeField()
    resolved_at = models.DateTimeField(null=True, blank=True)
    resolved_by = models.ForeignKey(
        "registry.User", on_delete=models.PROTECT, null=True, related_name="+"
    )
    resolution = models.CharField(max_length=400, blank=True)

    class Meta:
        verbose_name_plural = "discrepancies"
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=ONE_CONTAINER
                | Q(
                    Q(contest__isnull=False) | Q(room__isnull=False),
                    envelope__isnull=True,
                    box__isnull=True,
                ),
                name="discrepancy_is_of_a_container_a_contest_or_a_room",
            ),
            models.CheckConstraint(
                condition=Q(resolved_at__isnull=True, resolution="")
                | (Q(resolved_at__isnull=False) & ~Q(resolution="")),
                name="discrepancy_is_resolved_with_a_reason",
            ),
        ]
        indexes: ClassVar = [
            models.Index(
                fields=["opened_at"],
                condition=Q(resolved_at__isnull=True),
                name="open_discrepancies",
            )
        ]

    @property
    def about(self) -> Record:
        """The record on whose page it is shown: a container, a contest or a room."""
        return self.box or self.envelope or self.contest or self.room  # type: ignore[return-value]
