"""Inspection rounds, what was seen in them, and the climate of a room."""

from typing import ClassVar

from django.db import models
from django.db.models import F, Q

from registry.models.containers import Box, Envelope
from registry.models.history import Record, RecordHistory
from registry.models.seals import SealEvent, SealFinding
from registry.models.stock import ChargeHandOver, StockTake
from registry.models.storage import Shelf, StrongRoom


class InspectionRound(Record):
    """A walk of a room, shelf by shelf, on the day planned or when there was need."""

    class State(models.TextChoices):
        WALKED = "walked", "being walked"
        DONE = "done", "done"
        LEFT = "left", "left off"

    room = models.ForeignKey(
        StrongRoom, on_delete=models.PROTECT, related_name="rounds"
    )
    state = models.CharField(max_length=6, choices=State, default=State.WALKED)
    due_on = models.DateField(null=True, blank=True)
    contested_only = models.BooleanField(
        default=False, help_text="Only what a case or an order holds."
    )
    on_paper = models.BooleanField(
        default=False, help_text="Walked with a printed sheet, typed in later."
    )
    walked_from = models.DateTimeField()
    begun_at = models.DateTimeField()
    begun_by = models.ForeignKey(
        "registry.User", on_delete=models.PROTECT, related_name="+"
    )
    witness = models.CharField(max_length=160, blank=True)
    ended_at = models.DateTimeField(null=True, blank=True)
    ended_by = models.ForeignKey(
        "registry.User", on_delete=models.PROTECT, null=True, related_name="+"
    )
    remarks = models.CharField(max_length=400, blank=True)

    class Meta:
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["room"],
                condition=Q(state="walked"),
                name="one_round_walked_at_a_time_per_room",
            ),
            models.CheckConstraint(
                condition=Q(walked_from__lte=F("begun_at")),
                name="round_is_recorded_after_it_was_walked",
            ),
        ]


class Sighting(models.Model):
    """A container, or something unknown, seen or looked for in vain; never changed.

    Every walk by sight leaves these: inspection rounds, stock-takes, hand-overs.
    The inspector reads the seal before the register shows the one on record.
    """

    room = models.ForeignKey(
        StrongRoom, on_delete=models.PROTECT, related_name="sightings"
    )
    round = models.ForeignKey(
        InspectionRound, on_delete=models.PROTECT, null=True, related_name="sightings"
    )
    stock_take = models.ForeignKey(
        StockTake, on_delete=models.PROTECT, null=True, related_name="sightings"
    )
    hand_over = models.ForeignKey(
        ChargeHandOver, on_delete=models.PROTECT, null=True, related_name="sightings"
    )
    # Empty where what was scanned is not on the register.
    box = models.ForeignKey(
        Box, on_delete=models.PROTECT, null=True, related_name="sightings"
    )
    envelope = models.ForeignKey(
        Envelope, on_delete=models.PROTECT, null=True, related_name="sightings"
    )
    scanned = models.CharField(max_length=200)
    found = models.BooleanField(
        default=True, help_text="False: it was looked for and is not there."
    )
    shelf = models.ForeignKey(
        Shelf, on_delete=models.PROTECT, null=True, related_name="+"
    )
    seal_read = models.CharField(max_length=60, blank=True)
    finding = models.CharField(max_length=18, choices=SealFinding, blank=True)
    label_legible = models.BooleanField(null=True)
    weight_kg = models.DecimalField(
        max_digits=6, decimal_places=2, null=True, blank=True
    )
    condition = models.CharField(max_length=400, blank=True)
    in_order = models.BooleanField(default=True)
    seal_event = models.OneToOneField(
        SealEvent, on_delete=models.PROTECT, null=True, related_name="sighting"
    )
    seen_at = models.DateTimeField()
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(
        "registry.User", on_delete=models.PROTECT, related_name="+"
    )

    history = RecordHistory()

    class Meta:
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=Q(envelope__isnull=True) | Q(box__isnull=True),
                name="sighting_is_of_one_container_at_most",
            ),
            models.CheckConstraint(
                condition=Q(seen_at__lte=F("recorded_at")),
                name="sighting_is_recorded_after_it_was_seen",
            ),
        ]
        indexes: ClassVar = [
            models.Index(fields=["box", "seen_at"], name="sighting_by_box"),
            models.Index(fields=["envelope", "seen_at"], name="sighting_by_envelope"),
        ]

    def __str__(self) -> str:
        return f"{self.scanned} at {self.seen_at}"


class ClimateReading(Record):
    """Temperature and humidity of a room at a moment."""

    room = models.ForeignKey(
        StrongRoom, on_delete=models.PROTECT, related_name="climate_readings"
    )
    taken_at = models.DateTimeField()
    temperature_c = models.DecimalField(max_digits=4, decimal_places=1)
    humidity_percent = models.DecimalField(max_digits=4, decimal_places=1)
    instrument = models.CharField(max_length=120, blank=True)
    note = models.CharField(max_length=400, blank=True)
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(
        "registry.User", on_delete=models.PROTECT, related_name="+"
    )

    class Meta:
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=Q(humidity_percent__gte=0) & Q(humidity_percent__lte=100),
                name="relative_humidity_is_a_percentage",
            ),
            models.CheckConstraint(
                condition=Q(temperature_c__gte=-60) & Q(temperature_c__lte=80),
                name="temperature_is_of_a_room",
            ),
            models.CheckConstraint(
                condition=Q(taken_at__lte=F("recorded_at")),
                name="climate_is_recorded_after_it_was_read",
            ),
        ]
        indexes: ClassVar = [
            models.Index(fields=["room", "taken_at"], name="climate_by_room")
        ]
